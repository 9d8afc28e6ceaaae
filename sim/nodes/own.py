"""The signals of the own interlocks on the simulated boat: put by hand, as a wire on the bench is.

Each place in a message that some interlock listens to has a raw code of its own on the panel. What no simulated part
measures says "good" until somebody puts it otherwise; what one does (a coolant temperature, say) says the truth until
then.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from sim.nodes.panel import Panel
from sim.nodes.readers import Reader
from sim.plant import PlantState
from supervisor.bus import OWN, BoatMap, InputRow, OwnSides

Fixed = tuple[tuple[str, int], ...]
"""Raw codes that tell one message from others of its kind."""

_DECIMALS = 9
"""A computer's 80.30000000000001 is 80.3."""


def own_rows(boat_map: BoatMap) -> list[InputRow]:
    """The rows of the own interlocks, in the order of the boat file."""
    return [row for row in boat_map.inputs if row.level == OWN]


def name_of(row: InputRow) -> str:
    """The interlock's name: `swim_ladder`."""
    return row.spec.name.removeprefix("interlock.")


def place_of(row: InputRow) -> str:
    """The signal that it listens to, as the panel calls it. Two interlocks on one signal have one place."""
    fixed = ",".join(f"{signal.name}={min(codes)}" for signal, codes in row.where)
    return f"{row.bus}/{row.message.name}[{fixed}].{row.signal.name}"


def sides_of(row: InputRow) -> OwnSides:
    """Its sides. Raises ValueError for a row that is no own interlock's."""
    if row.own is None:
        raise ValueError(f"{row.key} is no interlock of the owner's own")
    return row.own


def reading(row: InputRow, code: int) -> float | None:
    """What a raw code means to an interlock: a number in its unit, a contact as 0.0 or 1.0, None where it says nothing
    (also where no such value can be). The supervisor's mapping, restated."""
    if row.values is not None and code in row.values:
        value = row.values[code]
    elif code in row.signal.absent or row.values is not None:
        return None
    elif row.spec.is_contact:
        value = float(code)
    else:
        value = round(row.signal.physical(code) * row.factor + row.offset, _DECIMALS)
    if row.spec.is_contact:
        return None if value not in (0.0, 1.0) else float((value == 1.0) != row.invert)
    return value if row.low <= value <= row.high else None


def is_bad(row: InputRow, value: float) -> bool:
    """A value on its bad side."""
    sides = sides_of(row)
    return value == sides.bad_on if row.spec.is_contact else sides.bad(value)


def is_good(row: InputRow, value: float) -> bool:
    """A value on its good side."""
    sides = sides_of(row)
    return value != sides.bad_on if row.spec.is_contact else sides.good(value)


_FEW_BITS = 16
"""Signals of up to so many bits are gone through code by code."""


def _codes(row: InputRow) -> Iterable[int]:
    """Raw codes of the signal: all of them, or for a wide one those near its thresholds and its ends."""
    signal = row.signal
    if row.values is not None:
        return row.values
    lowest = -(1 << (signal.bits - 1)) if signal.signed else 0
    highest = lowest + (1 << signal.bits) - 1
    if signal.bits <= _FEW_BITS and not signal.is_float:
        return range(lowest, highest + 1)
    sides = sides_of(row)
    span = abs(sides.bad_at - sides.good_at)
    found: set[int] = set()
    for value in (sides.bad_at - span, sides.bad_at, sides.good_at, sides.bad_at + 2 * span, sides.good_at - 2 * span):
        code = signal.to_raw((value - row.offset) / row.factor)
        found.update(code + step for step in range(-2, 3))
    return sorted(code for code in found if lowest <= code <= highest)


class Edges(NamedTuple):
    """The values of a number nearest to its thresholds, as its signal can say them: the last that is not yet bad and
    the first that is, the last that is not yet good again and the first that is. None where there is no such value."""

    not_bad: float | None
    bad: float | None
    not_good: float | None
    good: float | None


def edges(row: InputRow) -> Edges:
    """The edges of an own interlock on a number. Raises ValueError for a contact."""
    if row.spec.is_contact:
        raise ValueError(f"{row.key} is a contact")
    sides = sides_of(row)
    values = sorted({value for code in _codes(row) if (value := reading(row, code)) is not None})
    bad = [value for value in values if sides.bad(value)]
    rest = [value for value in values if not sides.bad(value)]
    good = [value for value in values if sides.good(value)]
    between = [value for value in values if not sides.good(value)]
    if sides.high:
        return Edges(_end(rest, max), _end(bad, min), _end(between, min), _end(good, max))
    return Edges(_end(rest, min), _end(bad, max), _end(between, max), _end(good, min))


def _end(values: Sequence[float], which: Callable[[Sequence[float]], float]) -> float | None:
    return which(values) if values else None


def side_code(row: InputRow, *, bad: bool) -> int:
    """A raw code well on one side. Raises ValueError where the signal has none."""
    on_side = is_bad if bad else is_good
    found = [(code, value) for code in _codes(row) if (value := reading(row, code)) is not None and on_side(row, value)]
    if not found:
        raise ValueError(f"{row.key}: no code of {row.signal.name} is {'bad' if bad else 'good'}")
    if row.spec.is_contact:
        return found[0][0]
    sides = sides_of(row)
    span = abs(sides.bad_at - sides.good_at)
    well = (sides.bad_at if bad else sides.good_at) + (span if bad == bool(sides.high) else -span)
    return min(found, key=lambda pair: abs(pair[1] - well))[0]


def unknown_code(row: InputRow) -> int | None:
    """A raw code that says nothing; None where every code says something."""
    signal = row.signal
    if signal.not_available is not None:
        return signal.not_available
    if signal.absent:
        return min(signal.absent)
    if row.spec.is_contact and signal.bits <= _FEW_BITS:
        return next((code for code in range(1 << signal.bits) if reading(row, code) is None), None)
    return None


class OwnKind(NamedTuple):
    """What an own interlock may be put to besides "good", "bad" and "unknown": a number from `low` to `high` in `unit`,
    where `number` says so."""

    number: bool
    low: float
    high: float
    unit: str


def kinds_of(boat_map: BoatMap) -> dict[str, OwnKind]:
    """The own interlocks of a boat by name, in the order of the boat file."""
    return {
        name_of(row): OwnKind(not row.spec.is_contact, row.low, row.high, row.spec.unit) for row in own_rows(boat_map)
    }


class OwnControl:
    """The hand on one own interlock's signal."""

    def __init__(self, row: InputRow, panel: Panel) -> None:
        self.row = row
        self.name = name_of(row)
        self._panel = panel
        self._place = place_of(row)
        self._message = f"{row.bus}/{row.message.name}"

    def put(self, value: float | bool | str) -> None:
        """ "good", "bad", "unknown" or, for a number, a value in its unit. Raises ValueError for anything else.

        "unknown" is a code that says so; a signal that has none falls silent with its whole message.
        """
        row, panel = self.row, self._panel
        panel.silent.discard(self._message)
        if value in ("good", "bad"):
            panel.own[self._place] = side_code(row, bad=value == "bad")
        elif value == "unknown":
            code = unknown_code(row)
            if code is None:
                panel.silent.add(self._message)
            else:
                panel.own[self._place] = code
        elif isinstance(value, bool | str) or row.spec.is_contact:
            allowed = '"good", "bad", "unknown"' + ("" if row.spec.is_contact else f", a number of {self._unit()}")
            raise ValueError(f"interlock.{self.name} = {value!r} is not allowed: {allowed}")
        else:
            code = row.signal.to_raw((value - row.offset) / row.factor) if row.values is None else self._coded(value)
            if reading(row, code) is None or not row.low <= value <= row.high:
                raise ValueError(f"interlock.{self.name} = {value:g}: {row.signal.name} cannot say so, {self._unit()}")
            panel.own[self._place] = code

    def _coded(self, value: float) -> int:
        values = self.row.values or {}
        return min(values, key=lambda code: abs(values[code] - value))

    def _unit(self) -> str:
        row = self.row
        return f"{row.low:g} to {row.high:g} {row.spec.unit}".rstrip()


def own_reader(row: InputRow, truth: Reader | None) -> Reader:
    """What is put by hand, as `row` reads it; else the truth of the simulated boat; else nothing."""
    place = place_of(row)

    def read(plant: PlantState, panel: Panel, shaft: int) -> float | None:
        code = panel.own.get(place)
        if code is not None:
            return reading(row, code)
        return truth(plant, panel, shaft) if truth is not None else None

    return read


def put_good(rows: Sequence[InputRow], panel: Panel) -> None:
    """Interlocks that share one place, all good: at power-up nobody has put anything. Where no code is good for all of
    them the first has its way."""
    first = rows[0]
    for code in (side_code(first, bad=False), *_codes(first)):
        values = [reading(row, code) for row in rows]
        if all(value is not None and is_good(row, value) for row, value in zip(rows, values, strict=True)):
            panel.own[place_of(first)] = code
            return
    panel.own[place_of(first)] = side_code(first, bad=False)
