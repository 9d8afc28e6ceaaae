"""Part (d), the common part: a claim on numbers, looked at over a whole grid of inputs."""

from collections.abc import Callable, Iterator
from typing import Any

from sim.prove.result import Shown
from supervisor.config import BoatConfig
from supervisor.rules import Boat
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInput, BoatInputs, ShaftInput, ShaftInputs

ALL_BOAT = sum(int(spec.bit) for spec in BOAT_INPUTS)
ALL_SHAFT = sum(int(spec.bit) for spec in SHAFT_INPUTS)

ROUNDING = 1e-9
"""Relative slack for the order of floating-point operations."""


class Grid:
    """One numeric claim. Call `check` for each case; the first that fails is kept, in words."""

    def __init__(self, requirement: str, claim: str, text: str) -> None:
        self.requirement = requirement
        self.claim = claim
        self.text = text
        self.cases = 0
        self.against = ""

    def check(self, good: bool, words: Callable[[], str]) -> None:
        """One case."""
        self.cases += 1
        if not good and not self.against:
            self.against = words()

    def shown(self, left_out: str = "") -> Shown:
        """The verdict."""
        against = self.against
        if self.cases == 0:
            against = "no case was looked at"
        return Shown(self.requirement, self.claim, "numeric", self.text, self.cases, left_out, against)


def steps(low: float, high: float, step: float) -> list[float]:
    """low, low + step, ... high, each made by one multiplication, as a DBC's scaling does."""
    count = round((high - low) / step)
    return [low + i * step for i in range(count + 1)]


class Numbers:
    """The boat under proof: its file, its frozen limits, sound inputs to vary."""

    def __init__(self, config: BoatConfig, boat: Boat) -> None:
        self.config = config
        self.boat = boat
        self.lim = boat.limits
        self.tick_s = float(config.boat.tick_s)

    @property
    def volts(self) -> float:
        """A voltage in the middle of the bank's working range (V)."""
        return (self.config.bank.min_voltage_v + self.config.bank.max_voltage_v) / 2.0

    def bank(self, *, on: int = 0, off: int = 0, unknown: int = 0, **numbers: float) -> BoatInputs:
        """A sound bank and helm: everything permitted and known, nothing pressed; with changes."""
        sound = (
            BoatInput.CHARGE_PERMIT | BoatInput.DISCHARGE_PERMIT | BoatInput.CONTACTOR_CLOSED | BoatInput.RECEIVE_OK
            | BoatInput.DEADLINE_OK
        )  # fmt: skip
        known = ALL_BOAT & ~int(unknown)
        values: dict[str, Any] = {
            "soc_pct": 60.0, "voltage_v": self.volts, "current_a": 0.0, "cell_max_v": 3.3, "cell_min_v": 3.25,
            "cell_hot_c": 20.0, "cell_cold_c": 18.0, "charge_limit_a": 5000.0, "discharge_limit_a": 5000.0,
            "handset_minutes": 120.0,
        }  # fmt: skip
        values.update(numbers)
        return BoatInputs(known, (int(sound) | int(on)) & ~int(off) & known, **values)

    def shaft(self, *, on: int = 0, off: int = 0, unknown: int = 0, **numbers: float) -> ShaftInputs:
        """A sound shaft at rest, lever in neutral, clutch closed, lock released, gear neutral; with changes."""
        sound = (
            ShaftInput.LEVER_NEUTRAL | ShaftInput.GEAR_NEUTRAL | ShaftInput.CLUTCH_CLOSED | ShaftInput.LOCK_RELEASED
        )  # fmt: skip
        known = ALL_SHAFT & ~int(unknown)
        values: dict[str, float] = {
            "link_v": self.volts, "motor_c": 20.0, "inverter_c": 20.0, "coolant_c": 20.0,
        }  # fmt: skip
        values.update(numbers)
        return ShaftInputs(known, (int(sound) | int(on)) & ~int(off) & known, **values)


def three_ways(bits: tuple[int, ...]) -> Iterator[tuple[int, int]]:
    """Every way in which contacts can be known on, known off, or unknown: (known, on) over these bits."""
    total = 3 ** len(bits)
    for number in range(total):
        known = on = 0
        rest = number
        for bit in bits:
            rest, way = divmod(rest, 3)
            if way:
                known |= int(bit)
            if way == 2:
                on |= int(bit)
        yield known, on
