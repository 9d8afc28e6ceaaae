"""What the own interlocks leave of a boat's propulsion: a boat without thrust in a fairway or a lock is in danger."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from supervisor.config.finding import Finding
from supervisor.config.interlocks import ENDS_THRUST, acts_on, effect_of, key_of
from supervisor.config.schema import BoatConfig, Interlock
from supervisor.signals import OwnEffect

TAKES_THRUST = ENDS_THRUST | {OwnEffect.INHIBIT_THRUST}
TAKES_STARTS = frozenset({OwnEffect.INHIBIT_ENGINE_START})


class Left(NamedTuple):
    """What is left while some interlocks are bad or not known: names of the shafts with electric thrust, and of those
    whose engine may be started; whether thrust that runs ends."""

    thrust: tuple[str, ...]
    starts: tuple[str, ...]
    ends: bool


def left_by(config: BoatConfig, entries: Sequence[Interlock]) -> Left:
    """What all of `entries` together leave."""
    thrust, starts = set(range(len(config.shaft))), set(range(len(config.shaft)))
    ends = False
    for entry in entries:
        effect = effect_of(entry)
        if effect in TAKES_THRUST:
            thrust -= set(acts_on(config, entry))
        if effect in TAKES_STARTS:
            starts -= set(acts_on(config, entry))
        ends = ends or effect in ENDS_THRUST
    names = [shaft.name for shaft in config.shaft]
    return Left(tuple(names[i] for i in sorted(thrust)), tuple(names[i] for i in sorted(starts)), ends)


def check_interlocks(config: BoatConfig) -> Iterator[Finding]:
    """Interlocks that leave no propulsion, alone or by one cause; words that cannot be told apart."""
    if not config.shaft:
        return
    for entry in config.interlock:
        left = left_by(config, [entry])
        if not left.thrust:
            yield _no_thrust(entry, left)
    yield from _common_causes(config)
    yield from _same_words(config)


def _no_thrust(entry: Interlock, left: Left) -> Finding:
    runs = ", and running thrust ends" if left.ends else "; running thrust goes on"
    level = "note" if left.starts else "warning"
    return Finding(
        level,
        f"{key_of(entry)}.effect",
        f'"{entry.bad}", or its signal unknown: no electric thrust is left on any shaft{runs}; {_starts(left)}',
        "Name fewer shafts, or write it in the hand-over document",
    )


def _starts(left: Left) -> str:
    if not left.starts:
        return "no engine start is left either"
    return f"an engine may still be started on {', '.join(left.starts)}"


def _common_causes(config: BoatConfig) -> Iterator[Finding]:
    """Interlocks that one box, or one bus, takes down together; and all of them at once."""
    told: set[tuple[str, ...]] = set()
    causes = [(f"{entry.message} falls silent", (entry.bus, entry.message)) for entry in config.interlock]
    causes += [(f"bus {entry.bus} is lost", (entry.bus, "")) for entry in config.interlock]
    causes += [("all of them are bad at once", ("", ""))]
    for words, (bus, message) in dict.fromkeys(causes):
        entries = [entry for entry in config.interlock if bus in ("", entry.bus) and message in ("", entry.message)]
        names = tuple(entry.name for entry in entries)
        left = left_by(config, entries)
        if left.thrust or left.starts or names in told or len(entries) < 2:
            continue
        told.add(names)
        level = "note" if not bus else "warning"
        yield Finding(
            level,
            "interlock",
            f"when {words}, {', '.join(names)} together leave no electric thrust and no engine start",
            "Take their signals from different boxes, or do not let these interlocks block the engine start",
        )


def _same_words(config: BoatConfig) -> Iterator[Finding]:
    owners: dict[str, str] = {}
    for entry in config.interlock:
        first = owners.setdefault(entry.bad.strip().lower(), entry.name)
        if first != entry.name:
            yield Finding(
                "warning",
                f"{key_of(entry)}.bad",
                f"says the same as that of interlock.{first}: the crew cannot tell the two apart",
                'Name the place, as in "port shaft seal is hot"',
            )
