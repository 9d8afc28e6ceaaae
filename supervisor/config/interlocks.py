"""The `[[interlock]]` tables of a boat file by themselves: what contradicts itself is refused, in words that say what
to write instead. What needs the DBC files is checked where they are read (`supervisor.bus`)."""

import difflib
from collections.abc import Iterator

from supervisor.config.errors import ConfigError
from supervisor.config.schema import BoatConfig, Interlock
from supervisor.signals import OwnEffect

BOAT_EFFECTS = frozenset({OwnEffect.WARN, OwnEffect.TRIP_BOAT})
"""Effects on the whole boat: `shafts` says nothing there."""

ENDS_THRUST = frozenset(
    {
        OwnEffect.STOP_THRUST,
        OwnEffect.RAMP_THRUST,
        OwnEffect.STOP_BOTH,
        OwnEffect.TRIP_SHAFT,
        OwnEffect.TRIP_BOAT,
    }
)
"""Effects that end thrust that runs."""

ENDING_EFFECTS = ENDS_THRUST | {OwnEffect.STOP_CHARGE}
"""Effects that end what runs. A boat that loses thrust in a fairway is in danger: one frame out of nowhere must not do
it, so that these need a guarded signal, or three frames that agree."""

_LARGEST = 1e9
"""No signal carries more, in whatever unit."""


def effect_of(entry: Interlock) -> OwnEffect:
    """What it does, as the rules name it."""
    return OwnEffect[entry.effect.upper()]


def is_number(entry: Interlock) -> bool:
    """A number with a threshold; otherwise a contact."""
    return entry.good_when is None


def acts_on(config: BoatConfig, entry: Interlock) -> list[int]:
    """Numbers of the shafts that it acts on: all of them for an effect on the whole boat."""
    if entry.shafts is None or effect_of(entry) in BOAT_EFFECTS:
        return list(range(len(config.shaft)))
    return [number for number, shaft in enumerate(config.shaft) if shaft.name in entry.shafts]


def key_of(entry: Interlock) -> str:
    """The table as complaints name it: `interlock.swim_ladder`."""
    return f"interlock.{entry.name}"


def refused_interlocks(config: BoatConfig, file: str) -> Iterator[ConfigError]:
    """What contradicts itself in the interlocks, or names what the boat does not have."""
    names: set[str] = set()
    for number, entry in enumerate(config.interlock):
        if entry.name in names:
            yield ConfigError(file, f"interlock.{number}.name", f"{entry.name!r} is used twice", "Name each one once")
        names.add(entry.name)
        for key, problem, remedy in _contradictions(config, entry):
            yield ConfigError(file, f"{key_of(entry)}.{key}", problem, remedy)


def _contradictions(config: BoatConfig, entry: Interlock) -> Iterator[tuple[str, str, str]]:
    """(key, what is wrong, what to do) of one interlock."""
    yield from _words(entry)
    if entry.bus not in config.buses:
        yield "bus", f"{entry.bus!r} is no bus", f"Allowed: {', '.join(config.buses)}"
    yield from _badness(entry)
    yield from _effect(entry)
    yield from _shafts(config, entry)


def _words(entry: Interlock) -> Iterator[tuple[str, str, str]]:
    for key, words in (("good", entry.good), ("bad", entry.bad)):
        if not words.strip() or not words.isprintable():
            yield key, f"{words!r} cannot be shown", "Give one line of words, as the crew shall read it"
    if entry.good.strip().lower() == entry.bad.strip().lower():
        yield "bad", "says the same as good", 'Say both, as good = "swim ladder is up", bad = "swim ladder is down"'


def _badness(entry: Interlock) -> Iterator[tuple[str, str, str]]:
    """A contact has a state, a number one threshold with its hysteresis."""
    above, below = entry.bad_above is not None, entry.bad_below is not None
    threshold = "bad_above" if above else "bad_below"
    if entry.good_when is None and not above and not below:
        yield (
            "good_when",
            "nothing says when it is bad",
            'Give good_when = "on" or "off" for a contact, bad_above or bad_below for a number',
        )
    if entry.good_when is not None and (above or below):
        yield (
            threshold,
            "a contact has no threshold, and good_when says that this is a contact",
            f"Remove good_when for a number, {threshold} for a contact",
        )
    if above and below:
        yield (
            "bad_below",
            "both thresholds are given, and an interlock has one",
            "Remove one of the two; for a value that must stay between two limits make two interlocks",
        )
    if entry.hysteresis is not None and entry.good_when is not None:
        yield "hysteresis", "belongs to a threshold, and a contact has none", "Remove it; debounce_s is for contacts"
    if (above or below) and entry.hysteresis is None:
        yield (
            "hysteresis",
            "is missing: a value at its threshold would come and go with each frame",
            f"Give how far on the good side of {threshold} it is good again, in the unit of the signal",
        )
    if entry.hysteresis is not None and not entry.hysteresis > 0.0:
        side = "below" if above else "above"
        yield (
            "hysteresis",
            f"{entry.hysteresis:g} is not above 0",
            f"Give a positive number: it is good again that much {side} {threshold}",
        )
    level = entry.bad_above if above else entry.bad_below
    if level is not None and not abs(level) <= _LARGEST:
        yield (
            threshold,
            f"{level:g} is no value of any signal",
            "Give it in the unit of the signal, after factor and offset",
        )
    if entry.hysteresis is not None and level is not None and entry.hysteresis > 0.0:
        if entry.hysteresis < 1e-8 or level + entry.hysteresis == level or level - entry.hysteresis == level:
            yield (
                "hysteresis",
                f"{entry.hysteresis:g} is lost beside {threshold} = {level:g}",
                "Give a larger hysteresis",
            )
    if entry.good_when is not None and (entry.low is not None or entry.high is not None):
        yield "low" if entry.low is not None else "high", "is for numbers only, and this is a contact", "Remove it"
    if entry.invert and entry.good_when is None:
        yield "invert", "is for contacts only, and this is a number", "Use factor = -1 to turn a sign"


def _effect(entry: Interlock) -> Iterator[tuple[str, str, str]]:
    effect = effect_of(entry)
    if entry.unknown == "good" and effect is not OwnEffect.WARN:
        yield (
            "unknown",
            f'"good" is not allowed with effect = "{entry.effect}": a broken wire would then be no reason to act',
            'Remove it (an unknown signal counts as bad), or choose effect = "warn"',
        )
    if effect is OwnEffect.LIMIT_THRUST:
        if entry.limit_pct is None:
            yield "limit_pct", "is missing: how much thrust is left", "Give it in percent of rated torque, 1 to 99"
        return
    if entry.limit_pct is not None:
        yield (
            "limit_pct",
            f'belongs to effect = "limit_thrust", and this one is "{entry.effect}"',
            "Remove it, or correct effect",
        )
    if entry.astern:
        yield (
            "astern",
            f'belongs to effect = "limit_thrust", and this one is "{entry.effect}"',
            "Remove it, or correct effect",
        )


def _shafts(config: BoatConfig, entry: Interlock) -> Iterator[tuple[str, str, str]]:
    if entry.shafts is None:
        return
    names = [shaft.name for shaft in config.shaft]
    if effect_of(entry) in BOAT_EFFECTS:
        yield "shafts", f'"{entry.effect}" concerns the whole boat', "Remove shafts"
    if not entry.shafts:
        yield "shafts", "names no shaft: the interlock would do nothing", "Name its shafts, or leave it out for all"
    for name in entry.shafts:
        if name not in names:
            near = difflib.get_close_matches(name, names, n=1)
            hint = f"Did you mean {near[0]}? " if near else ""
            yield "shafts", f"{name!r} is no shaft of this boat", f"{hint}Allowed: {', '.join(names) or 'none'}"
    if len(set(entry.shafts)) < len(entry.shafts):
        yield "shafts", "names a shaft twice", "Name each shaft once"
