"""What the supervisor measures on a simulated boat without buses, as compiled functions.

Written from the readers of `sim.nodes.readers` and the registers of inputs; what a boat file maps, leaves out and
allows comes in as a record, `Seen`, so that one compiled module serves each boat of so many shafts.
"""

from collections.abc import Callable
from typing import Any, NamedTuple

from sim.fast.replaced import Replacement
from sim.nodes.readers import BOAT_READERS, SHAFT_READERS
from sim.rig.direct_inputs import DirectTable
from supervisor.signals import BOAT, BOAT_INPUTS, OWN_CHANNELS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs

PAIRED = "handset.ours"
"""The one contact that compares a number: the pairing code."""


class Seen(NamedTuple):
    """How one level of a boat file sees: bits that are mapped, bits that are known and on without being measured; for
    each number, by its place among the inputs' fields, the value without a measurement and the range that is believed;
    the pairing code (-1 for none)."""

    mapped: int
    known: int
    on: int
    paired: int
    fixed: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]


def seen_of(table: DirectTable, level: int) -> Seen:
    """How a level of this boat sees: BOAT or the number of a shaft."""
    size = len((BoatInputs if level == BOAT else ShaftInputs)._fields) - (3 if level == BOAT else 2)
    known, on, numbers = table.fixed(level)
    low, high, mapped, paired = [0.0] * size, [0.0] * size, 0, -1
    for cell in table.cells(level):
        mapped |= cell.bit
        paired = max(paired, cell.paired)
        if cell.place >= 0:
            low[cell.place], high[cell.place] = float(cell.low), float(cell.high)
    fixed = tuple(numbers.get(place, 0.0) for place in range(size))
    return Seen(mapped, known, on, paired, fixed, tuple(low), tuple(high))


def boat_senses(seen: Seen, plant: Any, hands: Any) -> BoatInputs:
    """The boat's inputs of a tick. Stands for a text: see `replacements`."""
    raise NotImplementedError


def shaft_senses(seen: Seen, plant: Any, hands: Any, index: int) -> ShaftInputs:
    """The inputs of shaft `index`. Stands for a text: see `replacements`."""
    raise NotImplementedError


def replacements() -> dict[Callable[..., Any], Replacement]:
    """The texts of the two functions."""
    return {
        boat_senses: _senses("Boat", BoatInputs._fields, BOAT_INPUTS, BOAT_READERS, ""),
        shaft_senses: _senses("Shaft", ShaftInputs._fields, SHAFT_INPUTS, SHAFT_READERS, ", index"),
    }


def _senses(kind: str, fields: tuple[str, ...], specs: tuple[InputSpec, ...], readers: Any, index: str) -> Replacement:
    calls: dict[str, Callable[..., Any]] = {}
    lines = [f"def REPLACED(seen, plant, hands{index}):", "    known, on = seen.known, seen.on"]
    numbers = [name for name in fields if name not in ("known", "on", "own")]
    lines += [f"    {name} = seen.fixed[{place}]" for place, name in enumerate(numbers)]
    for spec in specs:
        if spec.name not in readers:
            continue
        call = f"READ_{spec.name.replace('.', '_').upper()}_"
        calls[call] = readers[spec.name]
        bit = int(spec.bit)
        here = "index" if index else "0"
        lines += [f"    if seen.mapped & {bit}:", f"        number = float({call}(plant, hands, {here}))"]
        if spec.is_contact:
            on = "number == seen.paired" if spec.name == PAIRED else "number != 0.0"
            lines += [
                "        if number == number:",
                f"            known |= {bit}",
                f"            if {on}: on |= {bit}",
            ]
        else:
            place = numbers.index(spec.field)
            lines += [
                f"        if seen.low[{place}] <= number <= seen.high[{place}]:",
                f"            known |= {bit}",
                f"            {spec.field} = number",
            ]
    given = ", ".join(f"Own(0, 0, {(0.0,) * OWN_CHANNELS})" if name == "own" else name for name in fields)
    return Replacement("\n".join([*lines, f"    return {kind}({given})"]), calls)
