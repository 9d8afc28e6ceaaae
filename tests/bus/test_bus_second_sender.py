"""A second sender of a guarded message, as a laptop that was left on the bus: what docs/safety.md says of it.

The guard finds faults, not enemies: nothing tells two sound senders apart. This is measured, not wanted.
"""

import pytest
from bus_support import Sender

from supervisor.bus import BoatMap, InputTable
from supervisor.signals import ShaftInput

STEPS = 15
"""Counters run from 0 to 14 (AUTOSAR E2E profile 1)."""
LEVER = {"Neutral": 0, "OutOfService": 0, "ChargeUnderWay": 0, "ChargeAtRest": 0, "Harvest": 0}
REAL_PCT, LAPTOP_PCT = 20.0, 90.0


def believed(boat_map: BoatMap, step: int) -> set[float | None]:
    """What the lever is believed to say over two seconds, once both senders have run for a second; None: unknown.
    `step` is how far the laptop's counter is ahead of the real one's."""
    table = InputTable(boat_map)
    real, laptop = Sender(boat_map, table), Sender(boat_map, table)
    for _ in range(step):
        laptop.bytes_of("LEVER_1", LEVER | {"Position": LAPTOP_PCT})
    seen: set[float | None] = set()
    for number in range(75):
        time_s = number * 0.04
        real.send("LEVER_1", LEVER | {"Position": REAL_PCT}, time_s)
        laptop.send("LEVER_1", LEVER | {"Position": LAPTOP_PCT}, time_s + 0.02)
        shaft = table.snapshot(time_s + 0.02)[1][0]
        if time_s > 1.0:
            seen.add(shaft.lever_pct if shaft.known & ShaftInput.LEVER else None)
    return seen


@pytest.mark.sr("SR-47")
def test_at_most_one_of_two_senders_is_believed_and_never_a_mixture(marsh_map: BoatMap) -> None:
    """In 6 of the 15 steps one is believed all the while, the laptop in three of them; in the other 9 neither is."""
    seen = [believed(marsh_map, step) for step in range(STEPS)]
    assert seen.count({None}) == 9
    assert seen.count({REAL_PCT}) == 3
    assert seen.count({LAPTOP_PCT}) == 3
