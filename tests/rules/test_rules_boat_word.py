"""The boat's word, orders and timers, called directly: each bit by its own cause, alone and at its limit."""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatBoat, flat
from levels import ALL_BOAT, boat, crowded, hidden

from supervisor.rules import boat_timers, boat_word, outputs
from supervisor.rules import orders as ordering
from supervisor.rules.bank import BankView
from supervisor.rules.boat_word import Summary
from supervisor.rules.orders import Levers, Orders
from supervisor.rules.state import OwnState
from supervisor.signals import BoatInputs

BOAT = frozen(shafts=1)
LIM = BOAT.limits
START = FlatBoat()
NO_LEVERS, NO_SHAFTS, NO_ORDERS = Levers(0, 0, 0, 0, 0), Summary(0, 0, 0, 0, 0), Orders(0, 0, 0, 0, 0, 0, 0)
GOOD = BoatInputs(known=ALL_BOAT, on=1 << 26 | 1 << 27)
"""Everything known, receive path and deadlines good, nothing else on."""
STANDBY, NEUTRAL_WAIT, READY, TRIPPED = 0, 1, 2, 3
OWN_BOAT = 1 << 15
ENABLE_WAS_OFF, RESET_WAS_OFF, HELD_WAS_OFF, OFF_WANTED, IN_CONTROL = 1, 2, 4, 8, 16
CHARGE_ENDED, DERATE_ENDED, FULL_DONE, WAS_LOST, ACKNOWLEDGE_WAS_OFF = 32, 64, 128, 256, 512
ALL_LATCHES = 1023


def word(
    inputs: BoatInputs = GOOD, state: FlatBoat = START, orders: Orders = NO_ORDERS, levers: Levers = NO_LEVERS,
    shafts: Summary = NO_SHAFTS,
) -> int:  # fmt: skip
    found: int = flat(boat_word.boat_word)(LIM, state, inputs, orders, levers, shafts)
    assert found & OWN_BOAT, "there are no own interlocks"
    return found & ~OWN_BOAT


class TestWord:
    def test_nothing_is_nothing(self) -> None:
        assert word() == 0

    @pytest.mark.sr("SR-03", "SR-34")
    @pytest.mark.parametrize(("contact", "bit"), [(19, 0), (13, 1), (12, 8)])
    def test_a_contact(self, contact: int, bit: int) -> None:
        on = GOOD.on | 1 << contact
        assert word(GOOD._replace(on=on)) == 1 << bit
        others = sum(1 << n for n in range(28) if n not in (19, 13, 12))
        assert word(GOOD._replace(on=others)) == 0
        unknown = GOOD._replace(known=ALL_BOAT & ~(1 << contact), on=on)
        assert word(unknown) == 8, "a required contact that is unknown is lost, not on"

    @pytest.mark.sr("SR-03")
    @pytest.mark.parametrize("contact", [26, 27])
    def test_a_failed_runtime(self, contact: int) -> None:
        assert word(GOOD._replace(on=GOOD.on & ~(1 << contact))) == 4
        assert word(GOOD._replace(known=ALL_BOAT & ~(1 << contact))) == 4 | 8

    @pytest.mark.sr("SR-03")
    @pytest.mark.parametrize("contact", [12, 13, 14, 16, 19, 26, 27])
    def test_an_indispensable_input_lost(self, contact: int) -> None:
        gone = GOOD._replace(known=ALL_BOAT & ~(1 << contact))
        assert word(gone) & 8
        assert word(GOOD._replace(known=1 << 12 | 1 << 13 | 1 << 14 | 1 << 16 | 1 << 19 | 1 << 26 | 1 << 27)) == 0

    def test_any_other_input_lost_is_none(self) -> None:
        for contact in set(range(28)) - {12, 13, 14, 16, 19, 26, 27}:
            assert word(GOOD._replace(known=ALL_BOAT & ~(1 << contact))) == 0

    def test_what_levers_shafts_and_orders_say(self) -> None:
        assert word(levers=Levers(1, 0, 0, 0, 0)) == 1 << 7
        assert word(levers=Levers(0, 1, 1, 1, 0)) == 0
        assert word(levers=Levers(0, 0, 0, 0, 1)) == 1 << 3
        assert word(shafts=Summary(1, 0, 0, 0, 0)) == 1 << 9
        assert word(shafts=Summary(0, 1, 0, 0, 0)) == 1 << 10
        assert word(shafts=Summary(0, 0, 1, 0, 0)) == 1 << 11
        assert word(shafts=Summary(0, 0, 0, 1, 0)) == 0
        assert word(orders=Orders(1, 0, 0, 0, 0, 0, 0)) == 1 << 4
        assert word(orders=Orders(0, 1, 0, 0, 0, 0, 0)) == 1 << 5
        assert word(orders=Orders(0, 0, 1, 0, 0, 0, 0)) == 1 << 6
        assert word(orders=Orders(0, 0, 0, 1, 1, 1, ALL_LATCHES)) == 0

    @pytest.mark.sr("SR-35", "SR-44", "SR-45")
    @pytest.mark.parametrize(("timer", "limit_s", "bit"), [
        ("wait_s", 30.0, 12), ("off_s", 5.0, 13), ("idle_s", 900.0, 14),
    ])  # fmt: skip
    def test_dwells(self, timer: str, limit_s: float, bit: int) -> None:
        for seconds, expected in ((limit_s - 0.01, 0), (limit_s, 1 << bit), (limit_s + 100.0, 1 << bit), (-1.0, 0)):
            assert word(state=START._replace(**{timer: seconds})) == expected


def orders(
    inputs: BoatInputs, latches: int = 0, mode: int = STANDBY, levers: Levers = Levers(1, 1, 1, 1, 0)  # noqa: B008
) -> Orders:  # fmt: skip
    return flat(ordering.read_orders)(LIM, START._replace(latches=latches, mode=mode), inputs, levers)


class TestPushButtons:
    @pytest.mark.sr("SR-04")
    @pytest.mark.parametrize(("name", "was_off", "place"), [
        ("helm.enable", ENABLE_WAS_OFF, 0), ("helm.reset", RESET_WAS_OFF, 1),
        ("helm.acknowledge", ACKNOWLEDGE_WAS_OFF, 5),
    ])  # fmt: skip
    def test_it_must_have_been_seen_off(self, name: str, was_off: int, place: int) -> None:
        pressed = boat(on=(name,))
        for one in (pressed, pressed._replace(known=ALL_BOAT), GOOD._replace(on=GOOD.on | pressed.on)):
            for latches, edge in ((was_off, 1), (ALL_LATCHES, 1), (0, 0), (ALL_LATCHES & ~was_off, 0)):
                got = orders(one, latches)
                assert got[place] == edge
                assert not got.latches & was_off, "seen on: it must be let go first"
        for one in hidden(pressed, name):
            got = orders(one, ALL_LATCHES)
            assert got[place] == 0
            assert not got.latches & was_off, "unknown is not off"
        for one in hidden(boat(off=(name,)), name):
            assert not orders(one, 0).latches & was_off, "unknown is not off"
        for one in crowded(boat(off=(name,))):
            for latches in (0, ALL_LATCHES):
                got = orders(one, latches)
                assert got[place] == 0
                assert got.latches & was_off

    @pytest.mark.sr("SR-45")
    def test_off_is_kept_until_the_boat_is_neither_ready_nor_waiting(self) -> None:
        pressed, released = boat(on=("helm.disable",)), boat(off=("helm.disable",))
        for mode in (STANDBY, NEUTRAL_WAIT, READY, TRIPPED):
            for one in crowded(pressed):
                got = orders(one, 0, mode)
                assert (got.off_order, got.latches & OFF_WANTED) == (1, OFF_WANTED)
                assert orders(one, ALL_LATCHES, mode).latches & (OFF_WANTED | 1 << 10) == OFF_WANTED
            live = mode in (NEUTRAL_WAIT, READY)
            for one in [*crowded(released), *hidden(pressed, "helm.disable")]:
                got = orders(one, OFF_WANTED, mode)
                assert (got.off_order, got.latches & OFF_WANTED) == ((1, OFF_WANTED) if live else (0, 0))
                got = orders(one, ALL_LATCHES & ~OFF_WANTED, mode)
                assert (got.off_order, got.latches & OFF_WANTED) == (0, 0)

    def test_other_latches_pass(self) -> None:
        got = orders(GOOD, CHARGE_ENDED | DERATE_ENDED | FULL_DONE | WAS_LOST, READY)
        assert got.latches == (
            CHARGE_ENDED | DERATE_ENDED | FULL_DONE | WAS_LOST | ENABLE_WAS_OFF | RESET_WAS_OFF | ACKNOWLEDGE_WAS_OFF
        )
        assert orders(BoatInputs(), 0).latches == 0


HELD = boat(on=("handset.held", "handset.ours"), handset_minutes=15.0)
LET_GO = boat(on=("handset.ours",), off=("handset.held",), handset_minutes=15.0)
NEUTRAL = Levers(1, 1, 1, 1, 0)


@pytest.mark.sr("SR-29")
class TestHandset:
    """It takes control in READY, on an edge of its button, ours, 15 min left, levers neutral, asking no thrust."""

    def taken(self, inputs: BoatInputs = HELD, latches: int = HELD_WAS_OFF, mode: int = READY,
              levers: Levers = NEUTRAL) -> bool:  # fmt: skip
        return bool(orders(inputs, latches, mode, levers).latches & IN_CONTROL)

    def test_with_everything_there(self) -> None:
        assert self.taken()
        assert self.taken(HELD._replace(known=ALL_BOAT))
        assert self.taken(HELD._replace(handset_minutes=120.0))
        assert self.taken(latches=HELD_WAS_OFF | CHARGE_ENDED | ENABLE_WAS_OFF | WAS_LOST)

    def test_not_with_one_thing_missing(self) -> None:
        for name in ("handset.held", "handset.ours", "handset_minutes"):
            for one in hidden(HELD, name):
                assert not self.taken(one)
        assert not self.taken(HELD._replace(handset_minutes=14.99))
        assert not self.taken(HELD._replace(on=1 << 24)), "a neighbour's"
        assert not self.taken(HELD._replace(on=1 << 25)), "not held"
        for latches in (0, ALL_LATCHES & ~(HELD_WAS_OFF | IN_CONTROL | OFF_WANTED)):
            assert not self.taken(latches=latches), "held since before"
        for mode in (STANDBY, NEUTRAL_WAIT, TRIPPED):
            assert not self.taken(mode=mode)
        for levers in (Levers(0, 1, 1, 1, 0), Levers(1, 1, 0, 1, 0), Levers(1, 1, 1, 0, 0)):
            assert not self.taken(levers=levers)
        assert not self.taken(latches=HELD_WAS_OFF | OFF_WANTED)
        assert not self.taken(HELD._replace(known=HELD.known | 1 << 16, on=HELD.on | 1 << 16)), "off is pressed"

    def test_it_keeps_control_while_held(self) -> None:
        for levers in (NEUTRAL, Levers(0, 1, 1, 0, 0)):
            got = orders(HELD, IN_CONTROL, READY, levers)
            assert (got.latches & IN_CONTROL, got.handset_lost, got.handset_conflict) == (IN_CONTROL, 0, 0)
        assert orders(HELD._replace(handset_minutes=0.0), IN_CONTROL, READY).latches & IN_CONTROL

    def test_let_go_it_gives_control_back_and_is_not_lost(self) -> None:
        got = orders(LET_GO, IN_CONTROL, READY)
        assert (got.latches & (IN_CONTROL | WAS_LOST), got.handset_lost) == (0, 0)

    @pytest.mark.sr("SR-27")
    def test_it_is_lost_with_its_link_or_a_moved_lever(self) -> None:
        lost = [(one, NEUTRAL) for name in ("handset.held", "handset.ours") for one in hidden(HELD, name)]
        lost += [(HELD._replace(on=1 << 24), NEUTRAL), (HELD, Levers(0, 0, 1, 1, 0)), (HELD, Levers(1, 1, 0, 1, 0))]
        for one, levers in lost:
            got = orders(one, IN_CONTROL, READY, levers)
            assert (got.latches & (IN_CONTROL | WAS_LOST), got.handset_lost) == (WAS_LOST, 1)
            again = orders(one, IN_CONTROL | WAS_LOST, READY, levers).latches
            seen_off = HELD_WAS_OFF | ENABLE_WAS_OFF | RESET_WAS_OFF | ACKNOWLEDGE_WAS_OFF
            assert again & ~(seen_off | OFF_WANTED) == WAS_LOST
            for mode in (STANDBY, NEUTRAL_WAIT, TRIPPED):
                got = orders(one, IN_CONTROL, mode, levers)
                assert (got.latches & (IN_CONTROL | WAS_LOST), got.handset_lost) == (0, 0)
            got = orders(one, ALL_LATCHES & ~(IN_CONTROL | WAS_LOST | OFF_WANTED), READY, levers)
            assert (got.latches & (IN_CONTROL | WAS_LOST), got.handset_lost) == (0, 0), "it had no control to lose"

    def test_a_lost_one_is_remembered_until_acknowledged_or_taken_again(self) -> None:
        assert orders(LET_GO, WAS_LOST, READY).latches & WAS_LOST
        assert orders(boat(on=("helm.acknowledge",)), WAS_LOST, READY).latches & WAS_LOST, "no edge"
        pressed = boat(on=("helm.acknowledge",))
        assert not orders(pressed, WAS_LOST | ACKNOWLEDGE_WAS_OFF, READY).latches & WAS_LOST
        assert not orders(pressed, WAS_LOST | ACKNOWLEDGE_WAS_OFF, STANDBY).latches & WAS_LOST
        assert not orders(HELD, WAS_LOST | HELD_WAS_OFF, READY).latches & WAS_LOST
        assert orders(HELD, WAS_LOST | IN_CONTROL, READY).latches & WAS_LOST, "kept is not taken"

    def test_held_beside_a_moved_lever_is_a_conflict(self) -> None:
        moved, still = Levers(0, 0, 1, 1, 0), Levers(0, 1, 1, 1, 0)
        assert orders(HELD, 0, READY, moved).handset_conflict == 1
        assert orders(HELD, 0, STANDBY, moved).handset_conflict == 1
        assert orders(HELD, 0, READY, still).handset_conflict == 0
        assert orders(LET_GO, 0, READY, moved).handset_conflict == 0
        assert orders(HELD._replace(on=1 << 24), 0, READY, moved).handset_conflict == 0
        assert orders(HELD._replace(on=1 << 24 | 1 << 27, known=ALL_BOAT), 0, READY, moved).handset_conflict == 0
        for one in hidden(HELD, "handset.held"):
            assert orders(one, 0, READY, moved).handset_conflict == 0

    def test_only_our_own_let_go_counts_as_off(self) -> None:
        for one in (LET_GO, LET_GO._replace(known=ALL_BOAT)):
            assert orders(one, 0, READY).latches & HELD_WAS_OFF
        for one in (HELD, LET_GO._replace(on=0), *hidden(LET_GO, "handset.ours"), *hidden(LET_GO, "handset.held")):
            assert not orders(one, ALL_LATCHES & ~OFF_WANTED, READY).latches & HELD_WAS_OFF
        assert not orders(LET_GO, 0, READY, Levers(1, 1, 0, 1, 0)).latches & HELD_WAS_OFF


VIEW = BankView(
    0.0, 0.0, 0, 0, 0, 0, 0, 51.0, 60.0, 11.0, 12.0, 13.0, 0.0, 0.0, 0, 0, 0, 14.0, 15.0, -1.0, -1, 0.0, 77.0, 66.0,
    44.0,
)  # fmt: skip
KEPT = {"cell_pct": 66.0, "given_a": 44.0}


class TestTimers:
    STATE = FlatBoat(READY, 0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10, 11.0, 12.0)
    IDLE = Summary(1, 1, 1, 0, 0)

    def after(self, state: FlatBoat = STATE, view: BankView = VIEW, orders: Orders = NO_ORDERS,
              shafts: Summary = IDLE) -> FlatBoat:  # fmt: skip
        return flat(boat_timers.boat_timers)(LIM, state, view, orders, shafts, OwnState(), 0.5)

    @pytest.mark.sr("SR-44")
    def test_each_counts_on_its_own_condition(self) -> None:
        assert self.after() == FlatBoat(
            READY, 0, -1.0, -1.0, 3.5, 4.5, 77.0, 11.0, 12.0, 13.0, 9.5, 10, 14.0, 15.0, **KEPT
        )
        ordered_off = self.after(orders=Orders(0, 0, 1, 0, 0, 0, 0))
        assert ordered_off == FlatBoat(
            READY, 0, -1.0, 2.5, 3.5, 4.5, 77.0, 11.0, 12.0, 13.0, 9.5, 10, 14.0, 15.0, **KEPT
        )
        for mode, wait_s in ((NEUTRAL_WAIT, 1.5), (STANDBY, -1.0), (TRIPPED, -1.0)):
            got = self.after(self.STATE._replace(mode=mode), orders=Orders(0, 0, 1, 0, 0, 0, 0))
            assert got == FlatBoat(
                mode, 0, wait_s, -1.0, -1.0, 4.5, 77.0, 11.0, 12.0, 13.0, 9.5, 10, 14.0, 15.0, **KEPT
            )

    def test_what_is_no_idleness(self) -> None:
        assert self.after(shafts=Summary(1, 1, 0, 0, 0)).idle_s == -1.0
        assert self.after(shafts=Summary(1, 1, 1, 1, 0)).idle_s == -1.0
        assert self.after(orders=Orders(0, 0, 0, 0, 0, 1, 0)).idle_s == -1.0

    def test_a_full_charge_starts_the_time_since_anew(self) -> None:
        full = self.after(view=VIEW._replace(full_reached=1))
        assert full.since_full_s == -1.0

    def test_the_latches_of_the_bank_come_from_its_view_the_others_from_the_orders(self) -> None:
        bank = CHARGE_ENDED | DERATE_ENDED | FULL_DONE
        got = self.after(view=VIEW._replace(latches=ALL_LATCHES), orders=Orders(0, 0, 0, 0, 0, 0, 0))
        assert got.latches == bank
        got = self.after(view=VIEW._replace(latches=0), orders=Orders(0, 0, 0, 0, 0, 0, ALL_LATCHES))
        assert got.latches == ALL_LATCHES & ~bank
        for one in (CHARGE_ENDED, DERATE_ENDED, FULL_DONE):
            got = self.after(view=VIEW._replace(latches=one), orders=Orders(0, 0, 0, 0, 0, 0, ALL_LATCHES))
            assert got.latches == ALL_LATCHES & ~bank | one

    def test_entering_a_mode_starts_the_dwells_anew_and_nothing_else(self) -> None:
        assert flat(boat_timers.enter_boat_mode)(self.STATE, TRIPPED) == FlatBoat(
            TRIPPED, 0, -1.0, -1.0, -1.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10, 11.0, 12.0
        )

    def test_an_acknowledgement_covers_what_is_shown_until_it_goes(self) -> None:
        shown = self.STATE._replace(acknowledged=0b0110)
        assert flat(outputs.acknowledge)(shown, NO_ORDERS, 0b0101, 0) == shown._replace(acknowledged=0b0100)
        pressed = Orders(0, 0, 0, 0, 0, 1, 0)
        assert flat(outputs.acknowledge)(shown, pressed, 0b1011, 0) == shown._replace(acknowledged=0b1011)
