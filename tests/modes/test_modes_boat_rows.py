"""Every row of the boat table, from healthy words by hand; trips first, READY only through NEUTRAL_WAIT."""

import pytest
from boatyard.witness import witness
from hypothesis import given
from hypothesis import strategies as st

from supervisor.modes import BOAT_COMPILED, BOAT_TABLE, NO_ROW, BoatCondition, BoatMode, first_row

C, M = BoatCondition, BoatMode
NO = C(0)
SOUND = C.CONTACTOR_CLOSED | C.SHAFT_AVAILABLE | C.SHAFTS_AT_REST | C.OWN_BOAT
HEALTHY = {
    "standby": (M.STANDBY, SOUND | C.LEVERS_NEUTRAL),
    "waiting": (M.NEUTRAL_WAIT, SOUND),
    "ready": (M.READY, SOUND | C.LEVERS_NEUTRAL | C.LINKS_CHARGED),
    "working": (M.READY, (SOUND | C.LINKS_CHARGED) & ~C.SHAFTS_AT_REST),
    "tripped": (M.TRIPPED, SOUND | C.LEVERS_NEUTRAL | C.RESET_EDGE),
}
TRIPS = (C.EMERGENCY_STOP, C.MONITOR_FAULT, C.RUNTIME_FAULT, C.INPUT_LOST)
FAULTS = (C.EMERGENCY_STOP, C.MONITOR_FAULT)

CASES = [
    *((name, NO, NO, None) for name in ("standby", "waiting", "ready", "working")),
    # trips
    *(("standby", trip, NO, M.TRIPPED) for trip in FAULTS),
    *((name, trip, NO, M.TRIPPED) for name in ("waiting", "ready", "working") for trip in TRIPS),
    ("standby", C.INPUT_LOST, NO, None),  # switched on piece by piece
    ("standby", C.RUNTIME_FAULT, NO, None),
    # an own interlock that trips the boat; in STANDBY it bars
    *((name, NO, C.OWN_BOAT, M.TRIPPED) for name in ("waiting", "ready", "working")),
    ("standby", NO, C.OWN_BOAT, None),
    ("standby", C.ENABLE_EDGE, C.OWN_BOAT, None),
    ("tripped", NO, C.OWN_BOAT, None),
    ("ready", NO, C.CONTACTOR_CLOSED, M.TRIPPED),
    ("working", NO, C.CONTACTOR_CLOSED, M.TRIPPED),
    # enable
    ("standby", C.ENABLE_EDGE, NO, M.NEUTRAL_WAIT),
    ("standby", C.ENABLE_EDGE | C.LINKS_CHARGED, NO, M.NEUTRAL_WAIT),  # never straight to READY
    ("standby", C.ENABLE_EDGE | C.INPUT_LOST, NO, None),
    ("standby", C.ENABLE_EDGE | C.RUNTIME_FAULT, NO, None),
    ("standby", C.ENABLE_EDGE | C.OFF_ORDER, NO, None),
    ("standby", C.ENABLE_EDGE, C.SHAFT_AVAILABLE, None),
    ("standby", C.RESET_EDGE, NO, None),
    # waiting
    ("waiting", C.LEVERS_NEUTRAL | C.LINKS_CHARGED, NO, M.READY),
    ("waiting", C.LEVERS_NEUTRAL, NO, None),
    ("waiting", C.LINKS_CHARGED, NO, None),
    ("waiting", C.LEVERS_NEUTRAL | C.LINKS_CHARGED, C.CONTACTOR_CLOSED, None),
    ("waiting", C.LEVERS_NEUTRAL | C.LINKS_CHARGED, C.SHAFT_AVAILABLE, None),
    ("waiting", C.LEVERS_NEUTRAL | C.LINKS_CHARGED | C.OFF_ORDER, NO, M.STANDBY),
    ("waiting", C.OFF_ORDER, NO, M.STANDBY),
    ("waiting", C.WAIT_EXPIRED, NO, M.STANDBY),
    ("waiting", C.ENABLE_EDGE, NO, None),
    # ready
    ("ready", C.OFF_ORDER, NO, M.STANDBY),
    ("working", C.OFF_ORDER, NO, None),
    ("working", C.OFF_ORDER | C.OFF_OVERDUE, NO, M.STANDBY),
    ("ready", C.IDLE_EXPIRED, NO, M.STANDBY),
    ("working", C.IDLE_EXPIRED, NO, None),
    ("ready", C.ENABLE_EDGE | C.RESET_EDGE, NO, None),
    # tripped: latched; reset leads to STANDBY
    ("tripped", NO, NO, M.STANDBY),
    ("tripped", NO, C.RESET_EDGE, None),
    ("tripped", C.ENABLE_EDGE | C.LINKS_CHARGED, C.RESET_EDGE, None),
    *(("tripped", trip, NO, None) for trip in TRIPS),
    ("tripped", NO, C.CONTACTOR_CLOSED, M.STANDBY),
]


@pytest.mark.sr("SR-01", "SR-04", "SR-33", "SR-34", "SR-35", "SR-44", "SR-45", "SR-50")
@pytest.mark.parametrize(("start", "sets", "clears", "dest"), CASES)
def test_one_change_leads_where_the_specification_says(
    start: str, sets: BoatCondition, clears: BoatCondition, dest: BoatMode | None
) -> None:
    mode, word = HEALTHY[start]
    row = first_row(BOAT_COMPILED[mode], int((word | sets) & ~clears))
    assert (BOAT_TABLE[row].dest if row != NO_ROW else None) == dest


def test_every_row_is_reached_by_a_case_above() -> None:
    reached = set()
    for start, sets, clears, _ in CASES:
        mode, word = HEALTHY[start]
        reached.add(first_row(BOAT_COMPILED[mode], int((word | sets) & ~clears)))
    left = [f"{r.source.name} -> {r.dest.name}: {r.words}" for n, r in enumerate(BOAT_TABLE) if n not in reached]
    assert left == []


@pytest.mark.parametrize("index", range(len(BOAT_TABLE)))
def test_every_row_can_win(index: int) -> None:
    assert first_row(BOAT_COMPILED[BOAT_TABLE[index].source], witness(BOAT_TABLE, index)) == index


WORD = st.integers(0, (1 << len(BoatCondition)) - 1)


def taken(mode: BoatMode, word: int) -> BoatMode:
    row = first_row(BOAT_COMPILED[mode], word)
    return mode if row == NO_ROW else BOAT_TABLE[row].dest


@pytest.mark.sr("SR-03")
@given(st.sampled_from([M.NEUTRAL_WAIT, M.READY]), WORD, st.sampled_from(TRIPS))
def test_a_trip_wins_over_everything_while_live(mode: BoatMode, word: int, trip: BoatCondition) -> None:
    assert taken(mode, word | int(trip)) == M.TRIPPED


@pytest.mark.sr("SR-03")
@given(WORD, st.sampled_from(FAULTS))
def test_a_fault_trips_in_standby_too(word: int, trip: BoatCondition) -> None:
    assert taken(M.STANDBY, word | int(trip)) == M.TRIPPED


@pytest.mark.sr("SR-04")
@given(WORD, st.sampled_from(TRIPS))
def test_no_word_with_a_trip_leaves_tripped(word: int, trip: BoatCondition) -> None:
    assert taken(M.TRIPPED, word | int(trip)) == M.TRIPPED


@pytest.mark.sr("SR-04")
@given(WORD)
def test_tripped_leads_to_standby_never_to_ready(word: int) -> None:
    dest = taken(M.TRIPPED, word)
    assert dest in (M.TRIPPED, M.STANDBY)
    if dest == M.STANDBY:
        assert word & int(C.RESET_EDGE)


@pytest.mark.sr("SR-01")
@given(st.sampled_from(list(M)), WORD)
def test_ready_is_entered_from_neutral_wait_with_everything_proven(mode: BoatMode, word: int) -> None:
    if mode != M.READY and taken(mode, word) == M.READY:
        needed = int(C.LEVERS_NEUTRAL | C.CONTACTOR_CLOSED | C.LINKS_CHARGED | C.SHAFT_AVAILABLE)
        assert mode == M.NEUTRAL_WAIT
        assert word & needed == needed
        assert not word & int(C.OFF_ORDER | C.EMERGENCY_STOP | C.MONITOR_FAULT | C.RUNTIME_FAULT | C.INPUT_LOST)


@pytest.mark.sr("SR-34")
@given(WORD)
def test_ready_does_not_outlive_the_contactor(word: int) -> None:
    assert taken(M.READY, word & ~int(C.CONTACTOR_CLOSED)) == M.TRIPPED
