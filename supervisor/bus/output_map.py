"""The `outputs` and `periods` of a boat file against its DBC files."""

from collections.abc import Iterable, Mapping
from functools import partial

from supervisor.bus.lookup import Lookup, hint
from supervisor.bus.register import BOAT_OUTPUTS, SHAFT_OUTPUTS, OutputSpec
from supervisor.bus.rows import OutputRow
from supervisor.config.interlocks import key_of
from supervisor.config.schema import OutputMap, SignalMap
from supervisor.signals import BOAT

ORDER_PERIOD_MAX_S = 0.06
"""Orders to a drive are sent at least this often: a drive that hears nothing for 200 ms stops, three may be lost."""


class OutputCompiler:
    """Compiles the outputs of the boat and of its shafts. What cannot be used is kept among the lookup's complaints."""

    def __init__(self, lookup: Lookup) -> None:
        self._lookup = lookup
        self._config = lookup.config
        self._error = lookup.error

    def rows(self) -> tuple[OutputRow, ...]:
        """One row for each mapped output."""
        config = self._config
        rows = list(self._outputs(BOAT, "outputs", config.outputs, BOAT_OUTPUTS))
        for level, shaft in enumerate(config.shaft):
            rows += self._outputs(level, f"shaft.{shaft.name}.outputs", shaft.outputs, SHAFT_OUTPUTS)
        self._lookup.attempt(partial(self._check, rows))
        return tuple(rows)

    def _outputs(
        self, level: int, prefix: str, maps: Mapping[str, OutputMap], register: Mapping[str, OutputSpec]
    ) -> Iterable[OutputRow]:
        if maps and self._config.boat.listen_only:
            raise self._error(prefix, "a boat with listen_only sends nothing", "Remove the outputs, or listen_only")
        for name, entry in maps.items():
            row = self._lookup.attempt(partial(self._one, level, prefix, name, entry, register))
            if row is not None:
                yield row
        if not self._config.boat.listen_only:
            for name, needed in register.items():
                if needed.required and name not in maps:
                    self._lookup.complaints.append(
                        self._error(f"{prefix}.{name}", f"{needed.text} goes nowhere", f"Map {name} to a signal")
                    )

    def _one(
        self, level: int, prefix: str, name: str, entry: OutputMap, register: Mapping[str, OutputSpec]
    ) -> OutputRow:
        key = f"{prefix}.{name}"
        spec = register.get(name)
        if spec is None:
            raise self._error(key, "no such output", hint(name, register))
        message = self._lookup.message(key, entry.bus, entry.message)
        signal = self._lookup.signal(key, message, entry.signal)
        if spec.guarded and message.data_id is None:
            raise self._error(
                f"{key}.message", f"{message.name} has no counter and checksum", "Map it to a guarded message"
            )
        if message.length > 8:
            raise self._error(f"{key}.message", f"{message.name} has {message.length} bytes", "At most 8 are sent")
        if signal.name in message.multiplexed or signal.big_endian or signal.is_float:
            raise self._error(
                f"{key}.signal", f"{signal.name} is multiplexed, big-endian or a float",
                "Outputs are plain little-endian integers",
            )  # fmt: skip
        return OutputRow(level, key, spec, entry.bus, message, signal)

    def _check(self, outputs: Iterable[OutputRow]) -> None:
        taken: dict[tuple[str, str, str], str] = {}
        heard = {(name, entry.bus, entry.message) for name, entry in self._all_inputs()}
        for row in outputs:
            place = (row.bus, row.message.name, row.signal.name)
            if place in taken:
                raise self._error(row.key, f"goes where {taken[place]} goes", "Give each output a signal of its own")
            taken[place] = row.key
            for name, bus, message in heard:
                if (bus, message) == place[:2]:
                    raise self._error(row.key, f"sends {message}, which {name} listens to", "Choose another message")

    def _all_inputs(self) -> Iterable[tuple[str, SignalMap]]:
        yield from ((key_of(entry), entry) for entry in self._config.interlock)
        yield from self._config.inputs.items()
        for shaft in self._config.shaft:
            for name, entry in shaft.inputs.items():
                yield f"shaft.{shaft.name}.inputs.{name}", entry

    def periods(self, outputs: Iterable[OutputRow]) -> dict[tuple[str, str], float]:
        """Period of sending of each message, s; 0.0 for every tick."""
        rows = list(outputs)
        sent = sorted({row.message.name for row in rows})
        for name, period_s in self._config.periods.items():
            if name not in sent:
                raise self._error(f"periods.{name}", "no output goes into this message", hint(name, sent))
            if not self._config.boat.tick_s <= period_s <= 10.0:
                raise self._error(f"periods.{name}", f"{period_s:g} s is not allowed", "From one tick to 10 s")
        result: dict[tuple[str, str], float] = {}
        for row in rows:
            period_s = self._config.periods.get(row.message.name, 0.0)
            if row.spec.required and period_s > ORDER_PERIOD_MAX_S:
                raise self._error(
                    f"periods.{row.message.name}", f"{period_s:g} s is too slow for orders to a drive",
                    f"At most {ORDER_PERIOD_MAX_S:g} s; leave it out to send each tick",
                )  # fmt: skip
            result[row.bus, row.message.name] = period_s
        return result
