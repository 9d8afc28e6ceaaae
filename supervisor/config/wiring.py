"""Buses and mappings against each other: what a copied line leaves behind."""

from collections.abc import Iterator

from supervisor.config.finding import Finding
from supervisor.config.schema import BoatConfig, InputMap


def check_wiring(config: BoatConfig) -> Iterator[Finding]:
    """Two buses on one adapter; two inputs that read the same; a current counted the wrong way round."""
    yield from _adapters(config)
    if not config.boat.listen_only:
        yield from _read_twice(config)
    yield from _current_sign(config)


def _adapters(config: BoatConfig) -> Iterator[Finding]:
    owners: dict[tuple[str, str], str] = {}
    for name, bus in config.buses.items():
        first = owners.setdefault((bus.interface, bus.channel), name)
        if first != name:
            yield Finding(
                "error", f"buses.{name}.channel", f"{bus.channel!r} is the adapter of buses.{first} already",
                "Give each bus an adapter of its own",
            )  # fmt: skip


def _mappings(config: BoatConfig) -> Iterator[tuple[str, InputMap]]:
    for name, mapping in config.inputs.items():
        yield f"inputs.{name}", mapping
    for shaft in config.shaft:
        for name, mapping in shaft.inputs.items():
            yield f"shaft.{shaft.name}.inputs.{name}", mapping


def _read_twice(config: BoatConfig) -> Iterator[Finding]:
    """A warning, not an error: one lever for two shafts, or one relay for both permits, is possible."""
    owners: dict[object, str] = {}
    for key, mapping in _mappings(config):
        what = mapping.model_dump(exclude={"stale_s", "reaction", "low", "high"})
        first = owners.setdefault(repr(what), key)
        if first != key:
            yield Finding(
                "warning", f"{key}.signal", f"{mapping.message}.{mapping.signal} is read by {first} as well",
                "Correct one of the two, or accept it where one part serves both",
            )  # fmt: skip


def _current_sign(config: BoatConfig) -> Iterator[Finding]:
    """RV-C's DC_SOURCE_STATUS_1 counts current out of the bank in the decoder that the shipped file follows."""
    mapping = config.inputs.get("bank.current_a")
    if mapping is not None and mapping.message == "DC_SOURCE_STATUS_1" and mapping.factor > 0.0:
        yield Finding(
            "warning", "inputs.bank.current_a.factor", f"{mapping.factor:g}: DC_SOURCE_STATUS_1 counts current out of "
            "the bank as a rule, so that charging would read as discharging",
            "factor = -1, and check with a clamp meter while charging",
        )  # fmt: skip
