"""Other sources on the bus bar: too much, stopped, told, returned (SR-56, SR-13)."""

from itertools import pairwise

import pytest
from boatyard.boats import frozen
from boatyard.rig import Kept, Rig

from supervisor.modes import BoatCondition, BoatMode
from supervisor.rules.bank import BankView, bank_view
from supervisor.rules.sources import sources_state
from supervisor.rules.state import BankMemory, BoatState, SourcesState
from supervisor.rules.torque import cut_short
from supervisor.signals import Alarm, BoatInputs
from supervisor.signals import BoatInput as B

LIM = frozen(shafts=1).limits
TRIPPED = int(BoatMode.TRIPPED)
SOUND = int(BoatCondition.OWN_BOAT)
HEALTHY = BoatInputs(
    known=(1 << 28) - 1, on=int(B.CHARGE_PERMIT | B.DISCHARGE_PERMIT | B.CONTACTOR_CLOSED),
    soc_pct=60.0, voltage_v=52.0,
    cell_max_v=3.3, cell_min_v=3.3, cell_hot_c=20.0, cell_cold_c=20.0, charge_limit_a=300.0, discharge_limit_a=500.0,
)  # fmt: skip
RESTED = SourcesState(held_s=30.0, stop=0)


def seen(others: int = 0, others_a: float = 0.0, limit_a: float = 240.0, permit: int = 1, wanted: int = 1) -> BankView:
    return BankView(
        limit_a, 500.0, permit, 1, wanted, 1, 1, 52.0, 100.0, 0.0, 0.0, 0.0, limit_a, 500.0, 0, 0, 0, 300.0, 0.0,
        others=others, others_a=others_a,
    )  # fmt: skip


def after(
    was: SourcesState, view: BankView, dt_s: float = 0.1, word: int = SOUND, mode: int = 0, reset: bool = False
) -> SourcesState:
    return sources_state(LIM, was, view, word, mode, reset, dt_s)


@pytest.mark.sr("SR-56")
class TestTooMuch:
    """5 A beyond the limit for 2 s; stopped for 300 s at least, and until the limit exceeds what they gave."""

    def test_the_time_runs_while_it_is_so(self) -> None:
        first = after(RESTED, seen(1, 78.0, 20.0))
        assert (first.over_s, first.stopped_s, first.stop) == (0.0, -1.0, 0)
        assert after(first._replace(over_s=1.85), seen(1, 78.0, 20.0)).stop == 0
        assert after(first._replace(over_s=1.85), seen(0, 18.0, 20.0)).over_s == -1.0
        assert after(first._replace(over_s=1.85), seen(-1, 0.0, 20.0)).over_s == 1.85, (
            "unknown neither counts nor clears"
        )

    def test_then_they_are_stopped_and_what_they_gave_is_remembered(self) -> None:
        now = after(RESTED._replace(over_s=1.9), seen(1, 78.0, 20.0))
        assert (now.over_s, now.gave_a, now.stopped_s, now.stop) == (2.0, 78.0, 0.0, 1)
        more = after(now, seen(1, 80.0, 20.0))
        assert (more.over_s, more.gave_a, more.stopped_s) == (2.0, 80.0, 0.0), "they do not obey"
        less = after(now, seen(1, 60.0, 20.0))
        assert (less.gave_a, less.stopped_s) == (78.0, 0.0)
        blind = after(now, seen(-1, 0.0, 20.0))
        assert (blind.gave_a, blind.stopped_s) == (78.0, 0.0)
        anew = after(RESTED._replace(over_s=1.9, gave_a=200.0), seen(1, 78.0, 20.0))
        assert anew.gave_a == 78.0, "what they gave another time counts for nothing"

    @pytest.mark.parametrize(("stopped_s", "limit_a", "ends"), [
        (299.8, 240.0, False), (299.95, 240.0, True), (300.0, 78.0, False), (300.0, 78.1, True), (0.0, 240.0, False),
    ])  # fmt: skip
    def test_how_it_ends(self, stopped_s: float, limit_a: float, ends: bool) -> None:
        was = SourcesState(gave_a=78.0, stopped_s=stopped_s, held_s=30.0, stop=1)
        now = after(was, seen(0, 0.0, limit_a))
        assert (now.stopped_s == -1.0, now.stop == 0) == (ends, ends)
        if not ends:
            assert now.stopped_s == pytest.approx(min(stopped_s + 0.1, 300.0))

    def test_a_reset_lets_them_try_again(self) -> None:
        was = SourcesState(over_s=2.0, gave_a=78.0, stopped_s=3.0, held_s=30.0, stop=1)
        now = after(was, seen(1, 78.0, 20.0), reset=True)
        assert (now.over_s, now.stopped_s, now.stop) == (-1.0, -1.0, 0)


@pytest.mark.sr("SR-13")
class TestStopOutput:
    @pytest.mark.parametrize(("permit", "wanted"), [(0, 1), (1, 0), (0, 0)])
    def test_it_is_set_at_once(self, permit: int, wanted: int) -> None:
        assert after(RESTED._replace(held_s=0.0), seen(permit=permit, wanted=wanted)).stop == 1

    def test_it_lets_go_no_more_often_than_every_30_s(self) -> None:
        state, changes, was = RESTED, [], 0
        for tick in range(400):  # a permit that toggles each 1.3 s for 40 s
            state = after(state, seen(permit=0 if tick % 13 < 6 else 1))
            if state.stop != was:
                changes.append(tick)
            was = state.stop
        assert len(changes) <= 5
        releases = changes[1::2]
        assert all(later - earlier >= 299 for earlier, later in pairwise(releases))

    @pytest.mark.parametrize(("bits", "stops"), [
        (SOUND, False), (SOUND | int(BoatCondition.EMERGENCY_STOP), False), (SOUND | int(BoatCondition.INPUT_LOST),
        False),
        (SOUND | int(BoatCondition.MONITOR_FAULT), True), (SOUND | int(BoatCondition.RUNTIME_FAULT), True), (0, True),
    ])  # fmt: skip
    def test_trips_that_stop_them_and_trips_that_do_not(self, bits: int, stops: bool) -> None:
        now = after(RESTED, seen(), word=bits, mode=TRIPPED)
        assert (now.faulted == 1, now.stop == 1) == (stops, stops)
        later = after(now._replace(held_s=30.0), seen(), word=SOUND, mode=TRIPPED)
        assert (later.faulted == 1, later.stop == 1) == (stops, stops), "until the reset"
        over = after(later._replace(held_s=30.0), seen(), word=SOUND, mode=0)
        assert (over.faulted, over.stop) == (0, 0)


@pytest.mark.sr("SR-56", "SR-13")
class TestWhole:
    READY = Kept(lambda: Rig().ready())

    def test_an_emergency_stop_at_the_berth_stops_no_charger(self) -> None:
        rig = self.READY()
        rig.run(31.0)
        rig["helm.emergency_stop"] = True
        rig.run(5.0)
        rig.expect("the boat is tripped", "boat", "TRIPPED")
        assert rig.tick().boat_command.stop_sources == 0
        rig["bank.fault"] = True
        rig["helm.emergency_stop"] = False
        assert rig.tick().boat_command.stop_sources == 1

    def test_a_charger_beyond_the_monitors_limit(self) -> None:
        rig = self.READY()
        rig.run(31.0)
        rig["bank.charge_limit_a"] = 20.0
        rig.hotel_a = -78.0
        rig.run(1.5)
        assert not rig.alarms() & Alarm.SOURCES_OVER
        rig.run(1.5)
        command = rig.tick().boat_command
        assert command.alarms & Alarm.SOURCES_OVER
        assert (command.stop_sources, command.sounder) == (1, 1)


@pytest.mark.sr("SR-56")
@pytest.mark.parametrize(("bank_a", "drives_a", "others", "others_a"), [
    (245.0, 0.0, 0, 245.0), (245.1, 0.0, 1, 245.1), (300.0, 60.0, 0, 240.0), (305.2, 60.0, 1, 245.2),
    (200.0, -60.0, 1, 260.0), (-20.0, -20.0, 0, 0.0),
])  # fmt: skip
def test_what_others_feed_is_the_banks_current_less_the_drives(
    bank_a: float, drives_a: float, others: int, others_a: float
) -> None:
    """Limit 240 A, 5 A more allowed."""
    state = BoatState(bank=BankMemory(drives_a=drives_a))
    got = bank_view(LIM, state, HEALTHY._replace(current_a=bank_a), drives_a, True, False, 0.1)
    assert (got.others, got.others_a) == (others, pytest.approx(others_a))
    moving = bank_view(LIM, BoatState(), HEALTHY._replace(current_a=bank_a), 60.0, True, False, 0.1)
    assert moving.others == -1, "bank and drives speak of different moments"
    assert bank_view(LIM, state, HEALTHY._replace(current_a=bank_a), drives_a, False, False, 0.1).others == -1


@pytest.mark.sr("SR-57")
@pytest.mark.parametrize(("was", "budget_a", "asked_a", "asked", "short"), [
    (False, 100.0, 100.0, True, False), (False, 99.9, 100.0, True, True), (True, 109.9, 100.0, True, True),
    (True, 110.1, 100.0, True, False), (False, 0.0, 0.0, True, True), (True, 0.0, 0.0, True, True),
    (True, 0.0, 100.0, False, False), (False, 1.0, 0.0, True, False),
])  # fmt: skip
def test_thrust_is_cut(was: bool, budget_a: float, asked_a: float, asked: bool, short: bool) -> None:
    assert cut_short(was, budget_a, asked_a, asked) == short
