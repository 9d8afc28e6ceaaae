"""Every row of the shaft table, reached from a healthy word by changing what a hand on the boat would change.

Words and destinations are typed by hand; the last test counts that no row was left out.
"""

import pytest
from boatyard.witness import witness
from hypothesis import given
from hypothesis import strategies as st

from supervisor.modes import NO_ROW, SHAFT_COMPILED, SHAFT_TABLE, ShaftCondition, ShaftMode, first_row

C, M = ShaftCondition, ShaftMode

LIVE = C.BOAT_READY | C.BOAT_LIVE
SOUND = (
    LIVE | C.REARMED | C.IN_SERVICE | C.LINK_CHARGED | C.NO_SHORE | C.NO_DIVER | C.LOCK_RELEASED | C.LOCK_SETTLED
    | C.DISCHARGE_PERMIT | C.CHARGE_PERMIT | C.DERATE_OPEN | C.CHARGE_WANTED | C.TRAILING_OK
    | C.OWN_THRUST_START | C.OWN_THRUST_STAYS | C.OWN_THRUST
    | C.OWN_CHARGE_START | C.OWN_CHARGE_STAYS | C.OWN_CHARGE | C.OWN_SHAFT
)  # fmt: skip
STOPPED = C.ENGINE_STOPPED | C.ENGINE_CLEAR | C.GEAR_NEUTRAL
RUNNING = C.ENGINE_RUNNING | C.GEAR_AHEAD

WAY_OUT = C.RESET_EDGE | C.LEVER_NEUTRAL | C.TORQUE_ZERO | C.OBEDIENT | C.TRUSTED

HEALTHY = {
    "rest": (M.REST, SOUND | STOPPED | C.CLUTCH_CLOSED | C.TORQUE_ZERO | C.PROPELLER_STILL | C.SHAFT_STILL),
    "propel": (M.PROPEL, SOUND | STOPPED | C.CLUTCH_CLOSED | C.THRUST_ORDER),
    "under way": (M.GENERATE, SOUND | RUNNING | C.CLUTCH_CLOSED | C.UNDER_WAY_ORDER),
    "at rest": (M.GENERATE, SOUND | RUNNING | C.CLUTCH_OPEN | C.AT_REST_ORDER | C.PROPELLER_STILL),
    "harvest": (M.HARVEST, SOUND | STOPPED | C.CLUTCH_CLOSED | C.HARVEST_ORDER),
    "unload": (M.UNLOAD, SOUND | STOPPED | C.CLUTCH_CLOSED),
    "reversal": (M.UNLOAD, SOUND | STOPPED | C.CLUTCH_CLOSED | C.THRUST_ORDER | C.UNLOAD_TO_PROPEL),
    "isolated": (M.ISOLATED, SOUND | STOPPED | C.CLUTCH_CLOSED | WAY_OUT),
}
TRIPS = (C.DRIVE_FAULT, C.DISOBEYED, C.PRECHARGE_FAILED, C.INPUT_LOST, C.LINK_LOST, C.COUPLING_LOST, C.JAMMED)
NO = C(0)

# start, bits set, bits cleared, destination (None: stays), REARMED cleared
CASES = [
    # each healthy word stays where it is
    *((name, NO, NO, None, False) for name in ("rest", "propel", "under way", "at rest", "harvest", "unload")),
    # a trip of this shaft isolates it, from every mode
    *((name, trip, NO, M.ISOLATED, True) for name in HEALTHY if name != "isolated" for trip in TRIPS),
    # an own interlock that trips the shaft, while the boat is live
    *((name, NO, C.OWN_SHAFT, M.ISOLATED, True) for name in HEALTHY if name != "isolated"),
    ("rest", NO, C.OWN_SHAFT | LIVE, None, False),
    ("isolated", NO, C.OWN_SHAFT, None, False),
    # own interlocks: what inhibits bars beginnings only, what stops does so from UNLOAD too
    *(("rest", C.THRUST_ORDER, bit, None, False) for bit in (C.OWN_THRUST_START, C.OWN_THRUST_STAYS, C.OWN_THRUST)),
    *(("rest", RUNNING | C.UNDER_WAY_ORDER, STOPPED | bit, None, False) for bit in (
        C.OWN_CHARGE_START, C.OWN_CHARGE_STAYS, C.OWN_CHARGE)),
    *(("rest", RUNNING | C.AT_REST_ORDER | C.CLUTCH_OPEN, STOPPED | C.CLUTCH_CLOSED | bit, None, False) for bit in (
        C.OWN_CHARGE_START, C.OWN_CHARGE_STAYS, C.OWN_CHARGE)),
    *(("rest", C.HARVEST_ORDER, bit, None, False) for bit in (C.OWN_CHARGE_START, C.OWN_CHARGE_STAYS, C.OWN_CHARGE)),
    ("propel", NO, C.OWN_THRUST_START, None, False),
    ("propel", NO, C.OWN_THRUST_STAYS, M.UNLOAD, True),
    ("propel", NO, C.OWN_THRUST, M.REST, True),
    ("propel", NO, C.OWN_CHARGE_START | C.OWN_CHARGE_STAYS | C.OWN_CHARGE, None, False),
    *((name, NO, C.OWN_CHARGE_START, None, False) for name in ("under way", "at rest", "harvest")),
    *((name, NO, C.OWN_CHARGE_STAYS, M.UNLOAD, True) for name in ("under way", "at rest", "harvest")),
    *((name, NO, C.OWN_CHARGE, M.REST, True) for name in ("under way", "at rest", "harvest")),
    *((name, NO, C.OWN_THRUST_START | C.OWN_THRUST_STAYS | C.OWN_THRUST, None, False)
      for name in ("under way", "at rest", "harvest")),
    ("unload", NO, C.OWN_THRUST, M.REST, True),
    ("unload", NO, C.OWN_CHARGE, None, False),
    ("unload", C.UNLOADS_SOURCE, C.OWN_CHARGE, M.REST, True),
    ("unload", C.UNLOADS_SOURCE, C.OWN_THRUST, None, False),
    ("reversal", C.TORQUE_ZERO, C.OWN_THRUST_START, M.REST, False),
    # ways out of REST
    ("rest", C.THRUST_ORDER, NO, M.PROPEL, False),
    ("rest", RUNNING | C.UNDER_WAY_ORDER, STOPPED, M.GENERATE, False),
    ("rest", RUNNING | C.AT_REST_ORDER | C.CLUTCH_OPEN, STOPPED | C.CLUTCH_CLOSED, M.GENERATE, False),
    ("rest", C.HARVEST_ORDER, NO, M.HARVEST, False),
    ("rest", RUNNING | C.UNDER_WAY_ORDER | C.AT_REST_ORDER, STOPPED, None, False),
    ("rest", C.HARVEST_ORDER | C.THRUST_ORDER, C.REARMED, None, False),
    # PROPEL: at once
    ("propel", NO, C.BOAT_READY, M.REST, True),
    ("propel", NO, C.BOAT_READY | C.BOAT_LIVE, M.REST, True),
    *(("propel", NO, bit, M.REST, True) for bit in (
        C.IN_SERVICE, C.NO_DIVER, C.NO_SHORE, C.LOCK_RELEASED, C.LOCK_SETTLED, C.CLUTCH_CLOSED,
        C.DISCHARGE_PERMIT)),
    ("propel", C.HANDSET_LOST, NO, M.REST, True),
    # PROPEL: a pause
    ("propel", C.PAUSED, C.CLUTCH_CLOSED, M.REST, False),
    ("propel", C.PAUSED, C.ENGINE_CLEAR, M.REST, False),
    ("propel", C.PAUSED | C.DRIVE_FAULT, C.LOCK_RELEASED, M.ISOLATED, True),
    ("propel", C.PAUSE_FAILED, C.CLUTCH_CLOSED, M.REST, True),
    ("rest", C.THRUST_ORDER | C.PAUSE_FAILED, NO, None, False),
    # PROPEL: by ramp
    ("propel", C.CONTROL_LOST, NO, M.UNLOAD, True),
    ("propel", C.OFF_ORDER, NO, M.UNLOAD, True),
    *(("propel", NO, bit, M.UNLOAD, True) for bit in (C.ENGINE_CLEAR, C.DERATE_OPEN, C.LINK_CHARGED)),
    ("propel", NO, C.THRUST_ORDER, M.UNLOAD, False),
    ("propel", NO, C.CHARGE_PERMIT | C.CHARGE_WANTED | C.TRAILING_OK, None, False),
    # GENERATE: at once
    *((name, NO, bit, M.REST, True) for name in ("under way", "at rest") for bit in (
        C.BOAT_READY, C.IN_SERVICE, C.NO_DIVER, C.LOCK_SETTLED, C.CHARGE_PERMIT, C.ENGINE_RUNNING)),
    ("under way", NO, C.CLUTCH_CLOSED, M.REST, True),
    ("at rest", NO, C.CLUTCH_OPEN, M.REST, True),
    ("under way", NO, C.LOCK_RELEASED, M.REST, True),
    ("under way", C.CLUTCH_OPEN, C.CLUTCH_CLOSED, M.REST, True),
    ("at rest", C.CLUTCH_CLOSED, C.CLUTCH_OPEN, M.REST, True),
    ("at rest", NO, C.PROPELLER_STILL, M.REST, True),
    ("at rest", NO, C.LOCK_RELEASED, None, False),  # the lock may hold the propeller while the clutch is open
    # GENERATE: by ramp
    *((name, C.OFF_ORDER, NO, M.UNLOAD, True) for name in ("under way", "at rest")),
    *((name, NO, bit, M.UNLOAD, True) for name in ("under way", "at rest") for bit in (
        C.GEAR_AHEAD, C.CHARGE_WANTED, C.LINK_CHARGED)),
    ("under way", NO, C.UNDER_WAY_ORDER, M.UNLOAD, True),
    ("at rest", NO, C.AT_REST_ORDER, M.UNLOAD, True),
    ("under way", NO, C.DISCHARGE_PERMIT | C.DERATE_OPEN, None, False),
    # HARVEST: at once
    *(("harvest", NO, bit, M.REST, True) for bit in (
        C.BOAT_READY, C.IN_SERVICE, C.NO_DIVER, C.NO_SHORE, C.LOCK_RELEASED, C.LOCK_SETTLED, C.CLUTCH_CLOSED,
        C.CHARGE_PERMIT)),
    # HARVEST: by ramp
    ("harvest", C.OFF_ORDER, NO, M.UNLOAD, True),
    ("harvest", C.THRUST_ORDER, NO, M.UNLOAD, False),
    ("harvest", C.THRUST_ORDER, C.REARMED, M.UNLOAD, True),
    *(("harvest", NO, bit, M.UNLOAD, True) for bit in (
        C.ENGINE_STOPPED, C.GEAR_NEUTRAL, C.TRAILING_OK, C.CHARGE_WANTED, C.LINK_CHARGED)),
    ("harvest", NO, C.HARVEST_ORDER, M.UNLOAD, False),
    # UNLOAD
    *(("unload", NO, bit, M.REST, True) for bit in (C.BOAT_READY, C.IN_SERVICE, C.NO_DIVER, C.LOCK_SETTLED)),
    ("unload", NO, C.CLUTCH_CLOSED, M.REST, True),
    ("unload", NO, C.LOCK_RELEASED, M.REST, True),
    ("unload", NO, C.NO_SHORE, M.REST, True),
    ("unload", C.HANDSET_LOST, NO, M.REST, True),
    ("unload", C.PAUSED, C.LOCK_SETTLED, M.REST, False),
    ("unload", C.TORQUE_ZERO, NO, M.REST, False),
    ("unload", C.UNLOAD_OVERDUE, NO, M.REST, True),
    ("unload", C.THRUST_ORDER, NO, M.UNLOAD, False),
    ("reversal", C.TORQUE_ZERO, NO, M.PROPEL, False),
    ("reversal", C.TORQUE_ZERO, C.REARMED, M.REST, False),
    ("reversal", C.TORQUE_ZERO, C.UNLOAD_TO_PROPEL, M.UNLOAD, False),
    # ISOLATED
    ("isolated", NO, NO, M.REST, True),
    ("isolated", NO, C.RESET_EDGE, None, False),
    *(("isolated", NO, bit, None, False) for bit in (C.LEVER_NEUTRAL, C.TORQUE_ZERO, C.OBEDIENT, C.TRUSTED)),
    *(("isolated", trip, NO, None, False) for trip in TRIPS),
    ("isolated", C.THRUST_ORDER | C.REARMED, C.RESET_EDGE, None, False),
]  # fmt: skip


def _name(case: object) -> str:
    return str(case) if not isinstance(case, ShaftCondition) else f"{case!r}".split(".")[-1].split(":")[0]


@pytest.mark.sr("SR-02", "SR-07", "SR-08", "SR-09", "SR-10", "SR-11", "SR-12", "SR-27", "SR-41", "SR-45", "SR-50")
@pytest.mark.parametrize(("start", "sets", "clears", "dest", "disarms"), CASES, ids=_name)
def test_one_change_leads_where_the_specification_says(
    start: str, sets: ShaftCondition, clears: ShaftCondition, dest: ShaftMode | None, disarms: bool
) -> None:
    mode, word = HEALTHY[start]
    word = int((word | sets) & ~clears)
    row = first_row(SHAFT_COMPILED[mode], word)
    got = SHAFT_TABLE[row] if row != NO_ROW else None
    story = f"{mode.name}, set {sets!r}, clear {clears!r}"
    assert (got.dest if got else None) == dest, story
    assert (got.disarms if got else False) == disarms, story


@pytest.mark.sr("SR-49")
def test_every_row_is_reached_by_a_case_above() -> None:
    reached = set()
    for start, sets, clears, _, _ in CASES:
        mode, word = HEALTHY[start]
        reached.add(first_row(SHAFT_COMPILED[mode], int((word | sets) & ~clears)))
    left = [f"{r.source.name} -> {r.dest.name}: {r.words}" for n, r in enumerate(SHAFT_TABLE) if n not in reached]
    assert left == []


@pytest.mark.sr("SR-49")
@pytest.mark.parametrize("index", range(len(SHAFT_TABLE)))
def test_every_row_can_win(index: int) -> None:
    word = witness(SHAFT_TABLE, index)
    assert first_row(SHAFT_COMPILED[SHAFT_TABLE[index].source], word) == index


ALL = (1 << len(ShaftCondition)) - 1
WORD = st.one_of(
    st.integers(0, ALL),
    st.builds(lambda base, flips: int(HEALTHY[base][1]) ^ sum({1 << f for f in flips}),
              st.sampled_from(list(HEALTHY)), st.lists(st.integers(0, len(ShaftCondition) - 1), max_size=4)),
)  # fmt: skip


def taken(mode: ShaftMode, word: int) -> ShaftMode:
    row = first_row(SHAFT_COMPILED[mode], word)
    return mode if row == NO_ROW else SHAFT_TABLE[row].dest


@pytest.mark.sr("SR-30", "SR-32")
@given(st.sampled_from([m for m in M if m != M.ISOLATED]), WORD, st.sampled_from(TRIPS))
def test_a_trip_wins_over_everything(mode: ShaftMode, word: int, trip: ShaftCondition) -> None:
    assert taken(mode, word | int(trip | C.BOAT_LIVE)) == M.ISOLATED


@pytest.mark.sr("SR-06")
@given(WORD, st.sampled_from(TRIPS))
def test_no_word_with_a_trip_leaves_isolated(word: int, trip: ShaftCondition) -> None:
    assert taken(M.ISOLATED, word | int(trip)) == M.ISOLATED


@pytest.mark.sr("SR-06")
@given(st.sampled_from(list(M)), WORD)
def test_isolated_leads_to_rest_only_and_never_without_reset_neutral_and_zero_torque(
    mode: ShaftMode, word: int
) -> None:
    dest = taken(M.ISOLATED, word)
    assert dest in (M.ISOLATED, M.REST)
    if dest == M.REST:
        assert word & int(WAY_OUT) == int(WAY_OUT)


NEEDS = {
    # design, section 5, typed by hand
    M.PROPEL: C.BOAT_READY | C.IN_SERVICE | C.LINK_CHARGED | C.THRUST_ORDER | C.REARMED | C.NO_SHORE | C.NO_DIVER
    | C.LOCK_RELEASED | C.LOCK_SETTLED | C.CLUTCH_CLOSED | C.ENGINE_CLEAR | C.DISCHARGE_PERMIT | C.DERATE_OPEN,
    M.GENERATE: C.BOAT_READY | C.IN_SERVICE | C.LINK_CHARGED | C.CHARGE_PERMIT | C.CHARGE_WANTED | C.NO_DIVER
    | C.LOCK_SETTLED | C.ENGINE_RUNNING | C.GEAR_AHEAD,
    M.HARVEST: C.BOAT_READY | C.IN_SERVICE | C.LINK_CHARGED | C.CHARGE_PERMIT | C.CHARGE_WANTED | C.NO_DIVER
    | C.LOCK_SETTLED | C.LOCK_RELEASED | C.HARVEST_ORDER | C.ENGINE_STOPPED | C.GEAR_NEUTRAL | C.CLUTCH_CLOSED
    | C.TRAILING_OK | C.NO_SHORE,
}  # fmt: skip


@pytest.mark.sr("SR-05", "SR-12", "SR-41", "SR-50")
@pytest.mark.parametrize("goal", NEEDS, ids=lambda m: m.name)
@given(data=st.data())
def test_no_word_that_lacks_a_permissive_enters_a_working_mode(goal: ShaftMode, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from([m for m in M if m != goal]))
    missing = data.draw(st.sampled_from([bit for bit in C if NEEDS[goal] & bit]))
    word = data.draw(st.one_of(st.just(ALL & ~0x3F ^ 0), st.integers(0, ALL))) & ~int(missing)
    assert taken(source, word) != goal


STOPS = {M.PROPEL: C.OFF_ORDER | C.CONTROL_LOST | C.HANDSET_LOST, M.GENERATE: C.OFF_ORDER,
         M.HARVEST: C.OFF_ORDER | C.THRUST_ORDER}  # fmt: skip


@pytest.mark.parametrize("goal", STOPS, ids=lambda m: m.name)
@given(data=st.data())
def test_no_word_with_a_stop_enters_a_working_mode(goal: ShaftMode, data: st.DataObject) -> None:
    source = data.draw(st.sampled_from([m for m in M if m != goal]))
    stop = data.draw(st.sampled_from([bit for bit in C if STOPS[goal] & bit]))
    word = data.draw(WORD) | int(NEEDS[goal] | stop)
    assert taken(source, word) != goal


@pytest.mark.parametrize("mode", [M.PROPEL, M.GENERATE, M.HARVEST])
def test_working_modes_lead_to_each_other_only_through_unload_or_rest(mode: ShaftMode) -> None:
    dests = {row.dest for row in SHAFT_TABLE if row.source == mode}
    assert dests <= {M.UNLOAD, M.REST, M.ISOLATED}


@given(WORD)
def test_unload_leads_to_propel_only_with_torque_zero(word: int) -> None:
    if taken(M.UNLOAD, word) == M.PROPEL:
        assert word & int(C.TORQUE_ZERO)
        assert word & int(C.UNLOAD_TO_PROPEL)


@pytest.mark.sr("SR-02")
@given(st.sampled_from([M.PROPEL, M.GENERATE, M.HARVEST, M.UNLOAD]), WORD)
def test_no_working_mode_outlives_ready(mode: ShaftMode, word: int) -> None:
    assert taken(mode, word & ~int(C.BOAT_READY)) in (M.REST, M.ISOLATED)


@pytest.mark.sr("SR-07", "SR-08", "SR-09", "SR-10", "SR-11", "SR-18")
@given(WORD)
def test_propel_outlives_none_of_its_permissives(word: int) -> None:
    """Whatever PROPEL needed to begin must keep holding; REARMED alone was asked at the door."""
    if taken(M.PROPEL, word) == M.PROPEL:
        kept = NEEDS[M.PROPEL] & ~C.REARMED
        assert word & int(kept) == int(kept)


@pytest.mark.sr("SR-07", "SR-08", "SR-10")
@pytest.mark.parametrize("goal", [M.GENERATE, M.HARVEST], ids=lambda m: m.name)
@given(data=st.data())
def test_charging_outlives_none_of_its_permissives(goal: ShaftMode, data: st.DataObject) -> None:
    word = data.draw(WORD)
    if taken(goal, word) == goal:
        kept = NEEDS[goal]
        assert word & int(kept) == int(kept)
        assert not word & int(C.OFF_ORDER)
