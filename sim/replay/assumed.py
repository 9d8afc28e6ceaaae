"""Values taken for inputs that a recording does not hold, so that the rest of it can be judged (`--assume`).

They are said to be assumed wherever they matter; an input that the boat file maps can never be assumed over.
"""

from collections.abc import Iterable, Mapping
from typing import Any

from sim.replay.errors import ReplayError
from supervisor.bus import BoatMap
from supervisor.signals import BOAT, BOAT_INPUT_BY_NAME, SHAFT_INPUT_BY_NAME, BoatInputs, InputSpec, ShaftInputs


def parse_assumptions(texts: Iterable[str]) -> dict[str, float]:
    """`--assume bank.cell_max_v=3.35` options; contacts are 0 or 1. Raises ReplayError."""
    found: dict[str, float] = {}
    for text in texts:
        name, equals, value = text.partition("=")
        try:
            found[name.strip()] = float(value)
        except ValueError:
            equals = ""
        if not equals:
            raise ReplayError(f"--assume {text}: is not NAME=NUMBER, for example bank.cell_max_v=3.35")
    return found


class _Level:
    """What is assumed of the boat, or of one shaft."""

    def __init__(self) -> None:
        self.known = 0
        self.on = 0
        self.numbers: dict[str, Any] = {}

    def add(self, spec: InputSpec, value: float) -> None:
        self.known |= int(spec.bit)
        if not spec.is_contact:
            self.numbers[spec.field] = value
        elif value:
            self.on |= int(spec.bit)


class Assumed:
    """Lays assumptions over the inputs of a tick."""

    def __init__(self, values: Mapping[str, float], boat_map: BoatMap) -> None:
        self._boat = _Level()
        self._shafts = [_Level() for _ in boat_map.shaft_names]
        mapped = {(row.level, int(row.spec.bit)) for row in boat_map.inputs}
        for name, value in values.items():
            level, spec = _find(name, boat_map)
            if (level, int(spec.bit)) in mapped:
                raise ReplayError(f"--assume {name}: the boat file maps it, and the recorded value is used")
            inside = value in (0.0, 1.0) if spec.is_contact else spec.low <= value <= spec.high
            if not inside:
                allowed = "0 or 1" if spec.is_contact else f"{spec.low:g} to {spec.high:g} {spec.unit}".rstrip()
                raise ReplayError(f"--assume {name}={value:g}: allowed: {allowed}")
            (self._boat if level == BOAT else self._shafts[level]).add(spec, value)

    def over(self, boat: BoatInputs, shafts: tuple[ShaftInputs, ...]) -> tuple[BoatInputs, tuple[ShaftInputs, ...]]:
        """The inputs with what is assumed."""
        mine = self._boat
        if mine.known:
            boat = boat._replace(known=boat.known | mine.known, on=boat.on | mine.on, **mine.numbers)
        if any(level.known for level in self._shafts):
            shafts = tuple(
                shaft._replace(known=shaft.known | level.known, on=shaft.on | level.on, **level.numbers)
                for shaft, level in zip(shafts, self._shafts, strict=True)
            )
        return boat, shafts


def _find(name: str, boat_map: BoatMap) -> tuple[int, InputSpec]:
    if name in BOAT_INPUT_BY_NAME and not name.startswith("runtime."):
        return BOAT, BOAT_INPUT_BY_NAME[name]
    shaft, _, rest = name.partition(".")
    if shaft in boat_map.shaft_names and rest in SHAFT_INPUT_BY_NAME:
        return boat_map.shaft_names.index(shaft), SHAFT_INPUT_BY_NAME[rest]
    shafts = f", or SHAFT.INPUT for {', '.join(boat_map.shaft_names)}" if boat_map.shaft_names else ""
    raise ReplayError(f"--assume {name}: no such input; one of {', '.join(BOAT_INPUT_BY_NAME)}{shafts}")
