"""What four own interlocks cost a tick, beside the same boat without them, in one run.

    python tests/benchmarks/bench_own.py

The live controller on inputs of a boat under thrust; blocks of ticks alternate between the two boats, so that a machine
that slows down slows both. Two of the interlocks are contacts, two are numbers, one of each bad. Prints us a tick and
the ratio of the medians.
"""

import statistics
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from boatyard.boats import boat_config
from boatyard.rig import Rig

from supervisor.controller import Controller
from supervisor.signals import OwnInputs

BLOCKS, TICKS = 40, 500
SOURCE = {"bus": "private", "message": "DECK", "stale_s": 0.2}
FOUR = [
    {**SOURCE, "name": "ladder", "good": "ladder is up", "bad": "ladder is down", "signal": "A", "good_when": "on",
     "effect": "stop_thrust"},
    {**SOURCE, "name": "bilge", "good": "bilge is dry", "bad": "water in the bilge", "signal": "B", "good_when": "off",
     "effect": "stop_charge"},
    {**SOURCE, "name": "seal", "good": "seal is cool", "bad": "seal is hot", "signal": "C", "bad_above": 70.0,
     "hysteresis": 5.0, "effect": "limit_thrust", "limit_pct": 40.0},
    {**SOURCE, "name": "tank", "good": "tank has fuel", "bad": "tank is low", "signal": "D", "bad_below": 10.0,
     "hysteresis": 2.0, "effect": "warn"},
]  # fmt: skip
READINGS = OwnInputs(0b1111, 0b11, (0.0, 0.0, 50.0, 8.0, *[0.0] * 12))
"""Ladder up, water in the bilge, seal at 50 degC, tank at 8 %."""


def us_a_tick(controller: Controller, rig: Rig, own: OwnInputs, now_s: float) -> float:
    """One block of ticks (us each); `now_s` is where it begins."""
    boat_in, shaft_in = rig.boat_in()._replace(own=own), rig.shaft_in()
    began = time.process_time()
    for number in range(TICKS):
        controller.tick(now_s + number * 0.02, boat_in, shaft_in)
    return (time.process_time() - began) / TICKS * 1e6


def main() -> None:
    plain, owned = Rig().propel(60.0, 1.0, 400.0), Rig().propel(60.0, 1.0, 400.0)
    with_four = Controller(boat_config({"interlock": FOUR}))
    # a way into thrust for the boat with interlocks: the same presses, its own inputs beside them
    for number, (boat_in, shaft_in) in enumerate(way_into_thrust()):
        with_four.tick(number * 0.02, boat_in._replace(own=READINGS), shaft_in)
    times: dict[str, list[float]] = {"without": [], "with four": []}
    for block in range(BLOCKS):
        begin_s = 1000.0 + block * TICKS * 0.02
        times["without"].append(us_a_tick(plain.controller, plain, OwnInputs(), begin_s))
        times["with four"].append(us_a_tick(with_four, owned, READINGS, begin_s))
    for name, found in times.items():
        print(f"{name:>10}: {statistics.median(found):6.1f} us a tick, quickest {min(found):.1f}")
    ratio = statistics.median(times["with four"]) / statistics.median(times["without"])
    modes = [mode.name for mode in with_four.shaft_modes]
    print(f"ratio {ratio:.2f}; shafts {', '.join(modes)}; own interlocks bad {with_four.memory.boat.own.bad:04b}")


def way_into_thrust() -> list[tuple[object, list[object]]]:
    """The inputs, tick by tick, that bring the tests' boat from power-up into thrust."""
    kept: list[tuple[object, list[object]]] = []
    rig = Rig()
    tick = rig.controller.tick

    def noted(now_s: float, boat_in: object, shaft_in: list[object]) -> object:
        kept.append((boat_in, list(shaft_in)))
        return tick(now_s, boat_in, shaft_in)  # type: ignore[arg-type]

    rig.controller.tick = noted  # type: ignore[method-assign, assignment]
    rig.propel(60.0, 1.0, 400.0)
    return kept


if __name__ == "__main__":
    main()
