"""A shaft's word, called directly: each bit by its own cause, alone and at its limit."""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat
from levels import ALL_BOAT, ALL_SHAFT, hidden

from supervisor.config.limits import ShaftLimits
from supervisor.rules import shaft_word
from supervisor.rules.bank import BankView
from supervisor.rules.own import OwnOnShaft
from supervisor.rules.readings import Lever
from supervisor.signals import BoatInputs, ShaftInputs

BOAT = frozen(shafts=1)
BOAT_LIM, LIM = BOAT.limits, BOAT.shafts[0]
REST = FlatShaft()
NOTHING = BankView(0.0, 0.0, 0, 0, 0, 0, 0, 51.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0, 240.0, 0.0)
CALM = Lever(0, 0, 0)
TURNING = ShaftInputs(known=ALL_SHAFT, machine_speed_rpm=600.0, propeller_speed_rpm=600.0, torque_nm=50.0)
"""Everything known, no contact on, the shaft turning."""
KNOWN = BoatInputs(known=ALL_BOAT, on=1 << 22 | 1 << 23)
"""Everything known; shore cable in and a diver below, so that nothing is safe."""
NOT_TRAILING = LIM._replace(trailing_allowed=0)
NOTHING_OWN = OwnOnShaft(0, 0, 100.0, 100.0)
"""Own interlocks of every effect, all of them bad: no bit of theirs is set."""
# what follows from TURNING: its out-of-service contact is off, its engine is stopped
IN_SERVICE, STOPPED = 1 << 17, 1 << 25
# and from REST: its drive has never disobeyed
TRUSTED = 1 << 48 | 1 << 49
BASE = IN_SERVICE | STOPPED
PROPEL, GENERATE, UNLOAD, ISOLATED = 1, 2, 4, 5


def word(
    inputs: ShaftInputs = TURNING, state: FlatShaft = REST, bank: BoatInputs = KNOWN, view: BankView = NOTHING,
    lever: Lever = CALM, boat_latches: int = 0, handset_lost: bool = False, reset: bool = False,
    lim: ShaftLimits = NOT_TRAILING,
) -> int:  # fmt: skip
    """The word, less what follows from TURNING."""
    found = flat(shaft_word.shaft_word)(
        BOAT_LIM, lim, view, state, bank, inputs, lever, NOTHING_OWN, boat_latches, handset_lost, reset
    )  # fmt: skip
    return found & ~BASE & ~TRUSTED


def whole(inputs: ShaftInputs, **changes: object) -> int:
    """All bits."""
    return word_of(inputs, KNOWN, **changes)


def word_of(inputs: ShaftInputs, bank: BoatInputs, lim: ShaftLimits = NOT_TRAILING, state: FlatShaft = REST) -> int:
    """All bits, of inputs alone, less those of a drive that has never disobeyed."""
    return trust_of(inputs, bank, lim, state) & ~TRUSTED


def trust_of(inputs: ShaftInputs, bank: BoatInputs, lim: ShaftLimits = NOT_TRAILING, state: FlatShaft = REST) -> int:
    """All bits."""
    return flat(shaft_word.shaft_word)(BOAT_LIM, lim, NOTHING, state, bank, inputs, CALM, NOTHING_OWN, 0, False, False)


def lit(*numbers: int, also: int = 0) -> ShaftInputs:
    """TURNING with contacts on."""
    return TURNING._replace(on=sum(1 << n for n in numbers) | also)


@pytest.mark.sr("SR-06")
class TestTrust:
    @pytest.mark.parametrize(("pardon_s", "obeyed_s", "obedient"), [
        (1e9, -1.0, True), (600.0, -1.0, True), (599.9, -1.0, False), (0.0, 0.0, False), (5.0, 1.99, False),
        (5.0, 2.0, True), (0.0, 900.0, True),
    ])  # fmt: skip
    def test_obedient(self, pardon_s: float, obeyed_s: float, obedient: bool) -> None:
        state = REST._replace(pardon_s=pardon_s, obeyed_s=obeyed_s)
        assert bool(trust_of(TURNING, KNOWN, state=state) & 1 << 48) == obedient

    @pytest.mark.parametrize(("machine", "propeller", "trusted"), [
        (600.0, 600.0, False), (4.9, 4.9, True), (5.0, 0.0, False), (0.0, 5.0, False), (0.0, 0.0, True),
    ])  # fmt: skip
    def test_trusted(self, machine: float, propeller: float, trusted: bool) -> None:
        inputs = TURNING._replace(machine_speed_rpm=machine, propeller_speed_rpm=propeller)
        assert trust_of(inputs, KNOWN) & 1 << 49
        relapsed = REST._replace(latches=1 << 13)
        assert bool(trust_of(inputs, KNOWN, state=relapsed) & 1 << 49) == trusted
        for name in ("machine_speed_rpm", "propeller_speed_rpm"):
            for blind in hidden(inputs, name):
                assert not trust_of(blind, KNOWN, state=relapsed) & 1 << 49


def test_nothing_is_nothing() -> None:
    assert word() == 0
    assert whole(TURNING) == BASE


@pytest.mark.sr("SR-30")
class TestTrips:
    def test_a_fault(self) -> None:
        assert word(lit(20)) == 1
        assert word(lit(20)._replace(known=ALL_SHAFT & ~(1 << 20))) == 8, "an unknown flag is lost, not on"

    @pytest.mark.sr("SR-32")
    @pytest.mark.parametrize(("disobey_s", "bit"), [(-1.0, 0), (0.0, 0), (0.099, 0), (0.1, 2), (5.0, 2)])
    def test_disobedience(self, disobey_s: float, bit: int) -> None:
        assert word(state=REST._replace(disobey_s=disobey_s)) == bit

    @pytest.mark.sr("SR-33")
    @pytest.mark.parametrize(("latches", "reset", "failed"), [
        (0, False, False), (8, False, True), (8, True, False), (8 | 16, False, True), (8 | 16, True, True),
        (16, True, False), (16, False, False),
    ])  # fmt: skip
    def test_a_precharge_that_failed_is_retried_once(self, latches: int, reset: bool, failed: bool) -> None:
        assert word(state=REST._replace(latches=latches), reset=reset) == (4 if failed else 0)
        others = 1 << 8 | 1 << 7 | 1 << 10
        assert word(state=REST._replace(latches=latches | others), reset=reset) == (4 if failed else 0)

    def test_an_indispensable_input(self) -> None:
        for number in range(26):
            gone = word(TURNING._replace(known=ALL_SHAFT & ~(1 << number)))
            assert bool(gone & 8) == (number in (3, 5, 6, 7, 20)), number
        assert word(TURNING._replace(known=sum(1 << n for n in (3, 5, 6, 7, 20)))) & 8 == 0
        lim = BOAT_LIM._replace(react=BOAT_LIM.react._replace(trip_shaft=1 << 2 | 1 << 3))
        for known, lost in (
            (ALL_BOAT, 0),
            (1 << 2 | 1 << 3, 0),
            (ALL_BOAT & ~(1 << 2), 8),
            (ALL_BOAT & ~(1 << 3), 8),
            (0, 8),
        ):
            for inputs, expected in ((TURNING, lost), (lit(21), 0)):
                got = flat(shaft_word.shaft_word)(
                    lim, LIM, NOTHING, REST, KNOWN._replace(known=known), inputs, CALM, NOTHING_OWN, 0, False, False
                )
                assert got & 8 == expected, "a shaft out of service misses nothing"

    @pytest.mark.sr("SR-33")
    @pytest.mark.parametrize(("link_off_s", "bit"), [(-1.0, 0), (0.0, 0), (0.2, 0), (0.201, 16), (3.0, 16)])
    def test_a_lost_link(self, link_off_s: float, bit: int) -> None:
        assert word(state=REST._replace(link_off_s=link_off_s)) == bit


class TestThrustOrder:
    THRUST = 1 << 9
    HANDSET = 1 << 4

    def test_by_the_lever(self) -> None:
        assert word(lever=Lever(0, 1, 0)) == self.THRUST
        assert word(lever=Lever(1, 0, 0)) == 1 << 47
        thrusting = TURNING._replace(handset_thrust_pct=80.0)
        assert word(thrusting) == 0, "a handset that is not in control asks nothing"
        assert word(thrusting, boat_latches=1023 & ~self.HANDSET) == 0

    @pytest.mark.parametrize(("order_pct", "asks"), [(5.0, 0), (5.01, 1), (-5.0, 0), (-5.01, 1), (0.0, 0)])
    def test_a_lost_lever_asks_what_it_asked_last(self, order_pct: float, asks: int) -> None:
        state = REST._replace(order_pct=order_pct)
        assert bool(word(state=state, lever=Lever(0, 0, 1)) & self.THRUST) == bool(asks)
        assert word(state=state) == 0, "a good lever is asked itself"

    @pytest.mark.parametrize(("pct", "asks"), [(5.0, 0), (5.01, 1), (-5.0, 0), (-5.01, 1), (100.0, 1), (3.0, 0)])
    def test_by_the_handset(self, pct: float, asks: int) -> None:
        for latches in (self.HANDSET, 1023):
            one = TURNING._replace(handset_thrust_pct=pct)
            assert word(one, boat_latches=latches) == asks * self.THRUST
            assert word(one, boat_latches=latches, lever=Lever(0, 1, 0)) == asks * self.THRUST
            assert word(one._replace(known=ALL_SHAFT & ~2), boat_latches=latches) == 0
            assert flat(shaft_word.shaft_word)(
                BOAT_LIM, NOT_TRAILING, NOTHING, REST, KNOWN, one._replace(known=2), CALM, NOTHING_OWN, latches,
                False, False
            ) & self.THRUST == asks * self.THRUST  # fmt: skip


@pytest.mark.sr("SR-26")
class TestControlLost:
    LOST = 1 << 10

    def test_a_lost_lever_or_an_input_that_ramps_down(self) -> None:
        assert word(lever=Lever(0, 0, 1)) == self.LOST
        for number in (0, 12):
            assert word(TURNING._replace(known=ALL_SHAFT & ~(1 << number))) == self.LOST
        assert word(bank=KNOWN._replace(known=ALL_BOAT & ~(1 << 23))) & self.LOST
        assert word(bank=KNOWN._replace(known=ALL_BOAT & ~(1 << 22))) & self.LOST == 0, (
            "the shore contact bars beginnings"
        )
        assert word(bank=KNOWN._replace(known=1 << 23)) & self.LOST == 0
        assert word(TURNING._replace(known=1 | 1 << 12)) & self.LOST == 0

    @pytest.mark.parametrize(("lost_s", "told"), [(-1.0, False), (0.0, False), (0.49, False), (0.5, True), (2.0, True)])
    def test_in_propel_a_lost_lever_may_be_held_for_a_moment(self, lost_s: float, told: bool) -> None:
        holding = NOT_TRAILING._replace(lever_hold_s=0.5)
        state = REST._replace(mode=PROPEL, lever_lost_s=lost_s)
        assert bool(word(state=state, lever=Lever(0, 0, 1), lim=holding) & self.LOST) == told
        assert word(state=state._replace(mode=GENERATE), lever=Lever(0, 0, 1), lim=holding) & self.LOST
        other = KNOWN._replace(known=ALL_BOAT & ~(1 << 23))
        assert word(state=state, bank=other, lim=holding) & self.LOST, "what is not the lever is not held"
        assert bool(word(state=state, bank=other, lever=Lever(0, 0, 1), lim=holding) & self.LOST) == told

    def test_a_lost_handset(self) -> None:
        assert word(handset_lost=True) == 1 << 11


@pytest.mark.sr("SR-46")
class TestSelectors:
    @pytest.mark.parametrize(("contact", "armed", "bit"), [(22, 32, 12), (23, 32, 13), (24, 64, 14)])
    def test_armed_and_on(self, contact: int, armed: int, bit: int) -> None:
        for latches in (armed, 32 | 64):
            assert word(lit(contact), REST._replace(latches=latches)) == 1 << bit
        for latches in (0, 4095 & ~(armed | 1 | 2 | 4 | 8 | 512)):
            assert word(lit(contact), REST._replace(latches=latches)) == 0
        assert word(lit(), REST._replace(latches=32 | 64)) == 0
        unknown = lit(contact)._replace(known=ALL_SHAFT & ~(1 << contact))
        assert word(unknown, REST._replace(latches=32 | 64)) == 0

    def test_latches_show(self) -> None:
        assert word(state=REST._replace(latches=1)) == 1 << 15
        assert word(state=REST._replace(latches=2)) == 1 << 16
        assert word(state=REST._replace(latches=512)) == 1 << 39
        assert word(state=REST._replace(latches=128 | 256)) == 0

    def test_own_interlocks_show(self) -> None:
        """The bits that own interlocks leave are passed on as they are."""
        for bit in range(40, 47):
            own = OwnOnShaft(1 << bit, 0, 100.0, 100.0)
            found = flat(shaft_word.shaft_word)(
                BOAT_LIM, NOT_TRAILING, NOTHING, REST, KNOWN, TURNING, CALM, own, 0, False, False
            )
            assert found & ~BASE & ~TRUSTED == 1 << bit


class TestMachinery:
    def test_service(self) -> None:
        assert whole(lit(21)) == STOPPED
        unknown = TURNING._replace(known=ALL_SHAFT & ~(1 << 21))
        assert whole(unknown) & IN_SERVICE == 0

    @pytest.mark.parametrize(("latches", "link_off_s", "charged"), [
        (4, -1.0, True), (4, 0.0, False), (4, 0.1, False), (0, -1.0, False), (64 | 32, -1.0, False),
        (4 | 64, -1.0, True),
        (4, -0.5, True),
    ])  # fmt: skip
    def test_link(self, latches: int, link_off_s: float, charged: bool) -> None:
        got = word(state=REST._replace(latches=latches, link_off_s=link_off_s))
        assert bool(got & 1 << 18) == charged

    @pytest.mark.sr("SR-10", "SR-11")
    @pytest.mark.parametrize(("diver", "shore", "no_diver", "no_shore"), [
        (False, False, True, True), (False, True, True, False), (True, False, False, True), (True, True, False, False),
        (None, False, False, True), (False, None, True, False), (None, None, False, False),
    ])  # fmt: skip
    def test_diver_and_shore_cable(
        self, diver: bool | None, shore: bool | None, no_diver: bool, no_shore: bool
    ) -> None:
        known = ALL_BOAT & ~((1 << 23 if diver is None else 0) | (1 << 22 if shore is None else 0))
        for on in ((1 << 23 if diver else 0) | (1 << 22 if shore else 0),):
            got = word(bank=KNOWN._replace(known=known, on=on))
            assert (bool(got & 1 << 38), bool(got & 1 << 19)) == (no_diver, no_shore)

    @pytest.mark.sr("SR-07")
    @pytest.mark.parametrize(("released", "engaged", "is_released", "settled"), [
        (True, False, True, True), (False, True, False, True), (True, True, False, False), (False, False, False, False),
        (True, None, False, False), (None, True, False, False), (None, False, False, False),
        (False, None, False, False),
    ])  # fmt: skip
    def test_lock(self, released: bool | None, engaged: bool | None, is_released: bool, settled: bool) -> None:
        for one in self.pair(18, released, 19, engaged):
            got = whole(one)
            assert (bool(got & 1 << 20), bool(got & 1 << 21)) == (is_released, settled)

    @pytest.mark.sr("SR-08")
    @pytest.mark.parametrize(("closed", "opened", "is_closed", "is_open"), [
        (True, False, True, False), (False, True, False, True), (True, True, False, False),
        (False, False, False, False),
        (True, None, False, False), (None, True, False, False), (None, False, False, False),
        (False, None, False, False),
    ])  # fmt: skip
    def test_clutch(self, closed: bool | None, opened: bool | None, is_closed: bool, is_open: bool) -> None:
        for one in self.pair(16, closed, 17, opened):
            got = whole(one)
            assert (bool(got & 1 << 22), bool(got & 1 << 23)) == (is_closed, is_open)

    @staticmethod
    def pair(a: int, a_on: bool | None, b: int, b_on: bool | None) -> list[ShaftInputs]:
        gone = (1 << a if a_on is None else 0) | (1 << b if b_on is None else 0)
        on = (1 << a if a_on else 0) | (1 << b if b_on else 0)
        return [
            TURNING._replace(known=ALL_SHAFT & ~gone, on=on),
            TURNING._replace(known=(1 << a | 1 << b) & ~gone, on=on),
        ]

    @pytest.mark.sr("SR-09")
    @pytest.mark.parametrize(("on", "rpm", "report", "bits"), [
        ((), 0.0, 0.0, 1 << 25), ((15,), 800.0, 0.0, 1 << 26), ((15,), 300.0, 0.0, 0), ((), 60.0, 0.0, 0),
        ((13,), 0.0, 0.0, 1 << 24 | 1 << 25 | 1 << 27), ((13, 15), 800.0, 0.0, 1 << 24 | 1 << 26 | 1 << 27),
        ((14,), 0.0, 1.0, 1 << 25 | 1 << 28), ((14, 15), 800.0, 1.0, 1 << 26 | 1 << 28),
        ((13, 14), 60.0, 0.0, 0),
    ])  # fmt: skip
    def test_engine_and_gear(self, on: tuple[int, ...], rpm: float, report: float, bits: int) -> None:
        got = whole(lit(*on)._replace(engine_speed_rpm=rpm, gear_report=report))
        assert got == IN_SERVICE | bits

    @pytest.mark.sr("SR-09")
    @pytest.mark.parametrize(("on", "rpm", "clear"), [
        ((), 0.0, True), ((14,), 0.0, True), ((13,), 0.0, True), ((13, 15), 800.0, True), ((14, 15), 800.0, False),
        ((14,), 60.0, False),
    ])  # fmt: skip
    def test_a_gearbox_declared_open_when_stopped(self, on: tuple[int, ...], rpm: float, clear: bool) -> None:
        one = lit(*on)._replace(engine_speed_rpm=rpm, gear_report=1.0 if 14 in on else 0.0)
        assert bool(whole(one, lim=NOT_TRAILING._replace(open_when_stopped=1)) & 1 << 24) == clear

    @pytest.mark.sr("SR-12")
    @pytest.mark.parametrize(("machine", "propeller", "bits"), [
        (0.0, 0.0, 1 << 29 | 1 << 30), (5.0, 0.0, 1 << 29), (0.0, 5.0, 0), (600.0, 600.0, 0),
        (4.9, -4.9, 1 << 29 | 1 << 30),
    ])  # fmt: skip
    def test_still(self, machine: float, propeller: float, bits: int) -> None:
        assert word(TURNING._replace(machine_speed_rpm=machine, propeller_speed_rpm=propeller)) == bits

    @pytest.mark.sr("SR-41")
    @pytest.mark.parametrize(("allowed", "limit_s", "trail_s", "ok"), [
        (0, 0.0, 0.0, False), (1, 0.0, 0.0, True), (1, 0.0, 1e9, True), (1, 60.0, 59.9, True), (1, 60.0, 60.0, False),
        (0, 60.0, 0.0, False), (1, -1.0, 5.0, True), (1, 0.5, 0.4, True), (1, 0.5, 0.6, False), (1, 1.0, 5.0, False),
    ])  # fmt: skip
    def test_trailing(self, allowed: int, limit_s: float, trail_s: float, ok: bool) -> None:
        lim = LIM._replace(trailing_allowed=allowed, trailing_limit_s=limit_s)
        assert word(state=REST._replace(trail_s=trail_s), lim=lim) == (1 << 31 if ok else 0)


class TestBank:
    def test_permits(self) -> None:
        assert word(view=NOTHING._replace(discharge_permit=1)) == 1 << 32
        assert word(view=NOTHING._replace(charge_permit=1)) == 1 << 33

    @pytest.mark.sr("SR-18")
    @pytest.mark.parametrize(("mode", "going", "start", "is_open"), [
        (PROPEL, 1, 0, True), (PROPEL, 0, 1, False), (0, 1, 0, False), (0, 0, 1, True), (UNLOAD, 1, 0, False),
        (UNLOAD, 0, 1, True), (GENERATE, 0, 1, True), (PROPEL, 1, 1, True),
    ])  # fmt: skip
    def test_derate(self, mode: int, going: int, start: int, is_open: bool) -> None:
        view, state = NOTHING._replace(derate_open=going, derate_start=start), REST._replace(mode=mode)
        for hot_c, cool in ((139.9, True), (140.0, False)):
            got = word(TURNING._replace(motor_c=hot_c), state, view=view)
            assert got == (1 << 34 if is_open and cool else 0)

    def test_an_unknown_temperature_is_half_not_nothing(self) -> None:
        view = NOTHING._replace(derate_start=1)
        got = word(TURNING._replace(known=ALL_SHAFT & ~(1 << 8)), view=view)
        assert got == 1 << 34
        whole = BOAT_LIM._replace(unknown_soc_pct=100.0)
        blind = TURNING._replace(known=ALL_SHAFT & ~(1 << 8))
        assert (
            flat(shaft_word.shaft_word)(whole, LIM, view, REST, KNOWN, blind, CALM, NOTHING_OWN, 0, False, False)
            & 1 << 34
        )
        none = BOAT_LIM._replace(unknown_soc_pct=0.0)
        assert (
            flat(shaft_word.shaft_word)(none, LIM, view, REST, KNOWN, blind, CALM, NOTHING_OWN, 0, False, False)
            & 1 << 34
            == 0
        )

    def test_charge_wanted(self) -> None:
        view = NOTHING._replace(charge_wanted=1)
        assert word(view=view) == 1 << 35
        lim = NOT_TRAILING._replace(react=NOT_TRAILING.react._replace(inhibit_charge=1 << 2 | 1 << 9))
        for known, wanted in ((ALL_SHAFT, 1), (ALL_SHAFT & ~(1 << 2), 0), (ALL_SHAFT & ~(1 << 9), 0)):
            assert bool(word(TURNING._replace(known=known), view=view, lim=lim) & 1 << 35) == bool(wanted)
        only = TURNING._replace(known=1 << 2 | 1 << 9)
        assert word(only, view=view, lim=lim) & 1 << 35


class TestTorque:
    @pytest.mark.parametrize(("ordered_nm", "torque_nm", "zero"), [
        (0.0, 0.0, True), (0.0, 5.5, True), (0.0, -5.5, True), (0.0, 5.51, False), (0.0, -5.51, False),
        (0.1, 0.0, False),
        (-0.1, 0.0, False), (0.0, 3.0, True),
    ])  # fmt: skip
    def test_zero(self, ordered_nm: float, torque_nm: float, zero: bool) -> None:
        one, state = TURNING._replace(torque_nm=torque_nm), REST._replace(torque_nm=ordered_nm)
        assert word(one, state) == (1 << 36 if zero else 0)
        assert word(one._replace(known=ALL_SHAFT & ~(1 << 5)), state) == 8
        assert bool(whole(one._replace(known=1 << 5), state=state) & 1 << 36) == zero

    @pytest.mark.parametrize(("unload_s", "overdue"), [(-1.0, False), (10.5, False), (13.0, False), (13.1, True)])
    def test_overdue(self, unload_s: float, overdue: bool) -> None:
        assert word(state=REST._replace(unload_s=unload_s)) == (1 << 37 if overdue else 0)


@pytest.mark.parametrize(("mode", "bits"), [(0, 0), (1, 1 << 6), (2, 1 << 5 | 1 << 6), (3, 0)])
def test_with_boat(mode: int, bits: int) -> None:
    for word_in in (0, 1, 1 << 38):
        assert shaft_word.with_boat(word_in, mode, False, False) == word_in | bits
        assert shaft_word.with_boat(word_in, mode, True, False) == word_in | bits | 1 << 7
        assert shaft_word.with_boat(word_in, mode, False, True) == word_in | bits | 1 << 8


def test_unknown_inputs_prove_nothing() -> None:
    """Nothing known: a required input is missing, control is lost, no permissive holds."""
    assert word_of(ShaftInputs(), BoatInputs()) == 1 << 3 | 1 << 10
    everything_on = ShaftInputs(on=ALL_SHAFT)
    assert word_of(everything_on, BoatInputs(on=ALL_BOAT)) == 1 << 3 | 1 << 10
