"""Timers and input latches of a shaft, called directly: each on its own condition, alone and at its limit."""

import pytest
from boatyard.boats import frozen
from boatyard.states import FlatShaft, flat
from levels import ALL_BOAT, ALL_SHAFT

from supervisor.config.limits import ShaftLimits
from supervisor.rules import shaft_timers
from supervisor.rules.own import NO_OWN
from supervisor.rules.readings import Lever
from supervisor.signals import BoatInputs, ShaftInputs

BOAT = frozen(shafts=1)
LIM = BOAT.shafts[0]
REST = FlatShaft()
STANDBY, NEUTRAL_WAIT, READY, TRIPPED = 0, 1, 2, 3
REST_MODE, PROPEL, GENERATE, HARVEST, UNLOAD, ISOLATED = range(6)
REARMED, TO_PROPEL, LINK, FAILED, RETRIED, CHARGE_ARMED, HARVEST_ARMED, SLOW, SAGGING, SOURCE, SERVING, OUT = (
    1 << n for n in range(12)
)
IN_CONTROL = 16
KNOWN = BoatInputs(known=ALL_BOAT, on=1 << 12, voltage_v=52.0)
"""Everything known, the contactor closed."""
INPUTS = ShaftInputs(known=ALL_SHAFT, machine_speed_rpm=600.0, propeller_speed_rpm=600.0, link_v=0.0)
"""Everything known, no contact on, the shaft turning, the link empty."""
CALM = Lever(0, 0, 0)
HOLD_ARMED = 1 << 16


def timers(
    state: FlatShaft = REST, inputs: ShaftInputs = INPUTS, lever: Lever = CALM, mode: int = STANDBY,
    boat_latches: int = 0, bank: BoatInputs = KNOWN, believed: bool = True, dt_s: float = 0.05, lim: ShaftLimits = LIM,
) -> FlatShaft:  # fmt: skip
    return flat(shaft_timers.shaft_timers)(
        BOAT.limits, lim, state, bank, inputs, lever, NO_OWN, mode, boat_latches, believed, dt_s
    )


@pytest.mark.sr("SR-25", "SR-39")
class TestDwells:
    def test_each_starts_at_zero_and_counts(self) -> None:
        cases = [
            ("neutral_s", {"lever": Lever(1, 0, 0)}),
            ("lever_lost_s", {"lever": Lever(0, 0, 1)}),
            ("disobey_s", {"inputs": INPUTS._replace(torque_nm=6.0)}),
            ("still_s", {"inputs": INPUTS._replace(machine_speed_rpm=0.0, propeller_speed_rpm=0.0)}),
            ("gear_contradicts_s", {"inputs": INPUTS._replace(on=1 << 13, gear_report=1.0)}),
            ("engine_contradicts_s", {"inputs": INPUTS._replace(engine_speed_rpm=60.0)}),
        ]
        for name, changes in cases:
            idle = timers(REST._replace(**{name: 3.0}))
            assert getattr(idle, name) == -1.0, f"{name} does not run by itself"
            assert getattr(timers(**changes), name) == 0.0
            going = timers(REST._replace(**{name: 3.0}), **changes)
            assert getattr(going, name) == pytest.approx(3.05)
            late = timers(REST._replace(**{name: 3.0}), dt_s=2.0, **changes)
            credit_s = 0.1 if name in ("neutral_s", "still_s") else 2.0
            assert getattr(late, name) == pytest.approx(3.0 + credit_s), f"{name} and a late tick"

    def test_unloading(self) -> None:
        for mode in range(6):
            got = timers(REST._replace(mode=mode, unload_s=1.0)).unload_s
            assert got == (pytest.approx(1.05) if mode == UNLOAD else -1.0)

    @pytest.mark.parametrize(("torque_nm", "zero_s"), [(0.0, 1.05), (0.1, -1.0), (-0.1, -1.0)])
    def test_zero_ordered(self, torque_nm: float, zero_s: float) -> None:
        assert timers(REST._replace(torque_nm=torque_nm, zero_s=1.0)).zero_s == pytest.approx(zero_s)
        assert timers(REST._replace(zero_s=1.0), dt_s=2.0).zero_s == pytest.approx(1.1)

    def test_disobedience_is_judged_against_the_order_that_stands(self) -> None:
        state = REST._replace(torque_nm=50.0)
        assert timers(state, INPUTS._replace(torque_nm=50.0, current_a=-90.0)).disobey_s == -1.0
        assert timers(state, INPUTS._replace(torque_nm=-50.0)).disobey_s == 0.0

    def test_what_is_only_carried(self) -> None:
        state = FlatShaft(PROPEL, 0, *(float(n) for n in range(10, 19)), 19.0, -1, *(float(n) for n in range(20, 28)))
        got = timers(state, INPUTS._replace(known=0), Lever(0, 0, 1))
        for name in ("mode", "torque_nm", "last_sign", "charge_a", "order_pct", "sag_ref_rpm", "lever_ref_pct",
                     "ramp_nm_per_s"):  # fmt: skip
            assert getattr(got, name) == getattr(state, name), name


class TestNeutralAndOrder:
    @pytest.mark.sr("SR-05")
    @pytest.mark.parametrize(
        ("pct", "neutral"), [(0.0, True), (5.0, True), (-5.0, True), (5.01, False), (-5.01, False)]
    )
    def test_the_handset_must_be_neutral_too_while_it_is_in_control(self, pct: float, neutral: bool) -> None:
        one, level = INPUTS._replace(handset_thrust_pct=pct), Lever(1, 0, 0)
        for latches in (IN_CONTROL, 1023):
            assert timers(inputs=one, lever=level, boat_latches=latches).neutral_s == (0.0 if neutral else -1.0)
            assert timers(inputs=one, boat_latches=latches).neutral_s == -1.0
            unknown = one._replace(known=ALL_SHAFT & ~2)
            assert timers(inputs=unknown, lever=level, boat_latches=latches).neutral_s == -1.0
            alone = one._replace(known=2)
            assert timers(inputs=alone, lever=level, boat_latches=latches).neutral_s == (0.0 if neutral else -1.0)
        assert timers(inputs=one, lever=level, boat_latches=1023 & ~IN_CONTROL).neutral_s == 0.0

    def test_what_is_asked(self) -> None:
        one = INPUTS._replace(lever_pct=40.0, handset_thrust_pct=-60.0)
        state = REST._replace(order_pct=25.0)
        assert timers(state, one, Lever(0, 1, 0)).order_pct == 40.0
        assert timers(state, one, Lever(1, 0, 0)).order_pct == 0.0
        assert timers(state, one, Lever(0, 0, 1)).order_pct == 25.0, "kept while the lever is lost"
        for latches in (IN_CONTROL, 1023):
            for lever in (Lever(0, 1, 0), Lever(0, 0, 1)):
                assert timers(state, one, lever, boat_latches=latches).order_pct == -60.0
                assert timers(state, one._replace(known=2), lever, boat_latches=latches).order_pct == -60.0
                unknown = one._replace(known=ALL_SHAFT & ~2)
                assert timers(state, unknown, lever, boat_latches=latches).order_pct == 0.0


FULL = INPUTS._replace(link_v=52.0)


@pytest.mark.sr("SR-33")
class TestLink:
    def test_charged_in_a_live_boat(self) -> None:
        for mode, live in ((STANDBY, False), (NEUTRAL_WAIT, True), (READY, True), (TRIPPED, False)):
            got = timers(REST._replace(precharge_s=2.0), FULL, mode=mode)
            assert (got.latches & LINK != 0, got.link_off_s, got.precharge_s) == (live, -1.0, 0.0)

    @pytest.mark.parametrize(("link_v", "was", "charged"), [
        (49.0, False, False), (49.4, False, True), (47.0, True, True), (46.7, True, False), (47.0, False, False),
    ])  # fmt: skip
    def test_tolerance(self, link_v: float, was: bool, charged: bool) -> None:
        for others in (0, REARMED | CHARGE_ARMED):
            state = REST._replace(latches=others | (LINK if was else 0), link_off_s=-1.0)
            got = timers(state, INPUTS._replace(link_v=link_v + 1e-9), mode=READY)
            assert got.latches & LINK == (LINK if charged or was else 0)
            assert got.link_off_s == (0.0 if was and not charged else -1.0)
            assert got.precharge_s == (0.05 if not was and not charged and others & LINK else got.precharge_s)

    def test_an_unknown_bank_voltage(self) -> None:
        """In READY it is the voltage that is lost, not the link; before READY it proves nothing."""
        blind = KNOWN._replace(known=ALL_BOAT & ~2)
        state = REST._replace(latches=LINK | RETRIED, link_off_s=0.1)
        got = timers(state, FULL, mode=READY, bank=blind, believed=False)
        assert (got.latches & (LINK | RETRIED), got.link_off_s) == (LINK, -1.0)
        for latches in (LINK, LINK | REARMED):
            got = timers(REST._replace(latches=latches), FULL, mode=NEUTRAL_WAIT, bank=blind, believed=False)
            assert (got.latches & LINK, got.link_off_s) == (0, -1.0)
        got = timers(REST, FULL, mode=READY, bank=blind, believed=False)
        assert (got.latches & LINK, got.link_off_s) == (0, -1.0)
        assert timers(state, FULL, mode=NEUTRAL_WAIT, bank=KNOWN, believed=False).latches & LINK == 0
        assert timers(REST, FULL, mode=NEUTRAL_WAIT, bank=KNOWN, believed=False).latches & LINK == 0

    def test_forgotten_when_not_live_out_of_service_or_isolated(self) -> None:
        held = REST._replace(latches=LINK | SERVING)
        assert timers(held, FULL, mode=READY).latches & LINK
        assert not timers(held, FULL, mode=STANDBY).latches & LINK
        assert not timers(held, FULL, mode=TRIPPED).latches & LINK
        assert not timers(held._replace(mode=ISOLATED), FULL, mode=READY).latches & LINK
        assert not timers(held, FULL._replace(on=1 << 21), mode=READY).latches & LINK
        for mode in (PROPEL, GENERATE, HARVEST, UNLOAD):
            assert timers(held._replace(mode=mode), FULL, mode=READY).latches & LINK
        gone = timers(held, FULL._replace(on=1 << 21), mode=READY)
        assert gone.latches & ~(CHARGE_ARMED | HARVEST_ARMED | HOLD_ARMED) == OUT


@pytest.mark.sr("SR-33")
class TestPrecharge:
    """Ordered in a live boat with the contactor closed; 3 s, forgotten five times slower than it was spent."""

    SERVES = REST._replace(latches=SERVING, precharge_s=1.0)

    def test_it_counts_while_ordered(self) -> None:
        for mode in (NEUTRAL_WAIT, READY):
            assert timers(self.SERVES, mode=mode).precharge_s == pytest.approx(1.05)

    def test_it_cools_else(self) -> None:
        for mode in (STANDBY, TRIPPED):
            assert timers(self.SERVES, mode=mode).precharge_s == pytest.approx(0.99)
        opened = KNOWN._replace(on=0)
        unknown = KNOWN._replace(known=ALL_BOAT & ~(1 << 12))
        for bank in (opened, unknown):
            assert timers(self.SERVES, mode=READY, bank=bank).precharge_s == pytest.approx(0.99)
        assert timers(self.SERVES._replace(mode=ISOLATED), mode=READY).precharge_s == pytest.approx(0.99)
        assert timers(self.SERVES, INPUTS._replace(on=1 << 21), mode=READY).precharge_s == pytest.approx(0.99)
        was = self.SERVES._replace(latches=SERVING | LINK)
        assert timers(was, mode=READY).precharge_s == pytest.approx(0.99), "a link that fell away is not precharged"

    def test_never_below_zero(self) -> None:
        assert timers(self.SERVES._replace(precharge_s=0.005)).precharge_s == 0.0
        assert timers(self.SERVES._replace(precharge_s=0.5)).precharge_s == pytest.approx(0.49)
        assert timers(REST).precharge_s == 0.0

    @pytest.mark.parametrize(("precharge_s", "failed"), [(2.9, False), (2.9499, False), (2.96, True), (5.0, True)])
    def test_too_long(self, precharge_s: float, failed: bool) -> None:
        for others in (0, REARMED, FAILED):
            got = timers(self.SERVES._replace(precharge_s=precharge_s, latches=SERVING | others), mode=READY)
            got_latches = got.latches & ~(CHARGE_ARMED | HARVEST_ARMED | HOLD_ARMED)
            assert got_latches == SERVING | others | (FAILED if failed else 0)

    def test_exactly_3_s_is_in_time(self) -> None:
        lim = LIM._replace(precharge_s=1.5)
        got = timers(self.SERVES, mode=READY, dt_s=0.5, lim=lim)
        assert (got.precharge_s, got.latches & FAILED) == (1.5, 0)

    def test_a_charged_link_forgets_the_retry(self) -> None:
        for others in (0, REARMED | CHARGE_ARMED):
            state = self.SERVES._replace(latches=SERVING | RETRIED | others)
            assert timers(state, FULL, mode=READY).latches & (RETRIED | LINK) == LINK
            assert timers(state, mode=READY).latches & (RETRIED | LINK) == RETRIED
            assert timers(state._replace(latches=SERVING | others), FULL, mode=READY).latches & RETRIED == 0


@pytest.mark.sr("SR-46")
class TestSelectors:
    """Armed when seen off in READY."""

    @pytest.mark.parametrize(("armed", "contacts"), [(CHARGE_ARMED, (22, 23)), (HARVEST_ARMED, (24,))])
    def test_arming(self, armed: int, contacts: tuple[int, ...]) -> None:
        kept = CHARGE_ARMED | HARVEST_ARMED
        for before in (0, armed, kept, REARMED):
            state = REST._replace(latches=before)
            assert timers(state, mode=READY).latches & armed == armed
            for mode in (STANDBY, NEUTRAL_WAIT, TRIPPED):
                assert timers(state, mode=mode).latches & armed == 0
            assert timers(state._replace(mode=ISOLATED), mode=READY).latches & armed == 0
            for contact in contacts:
                unknown = INPUTS._replace(known=ALL_SHAFT & ~(1 << contact))
                assert timers(state, unknown, mode=READY).latches & armed == 0
                on = INPUTS._replace(on=1 << contact)
                assert timers(state, on, mode=READY).latches & armed == before & armed, "on, it stays as it was"
            alone = INPUTS._replace(known=sum(1 << n for n in contacts))
            assert timers(state, alone, mode=READY).latches & armed == armed
            others = INPUTS._replace(on=ALL_SHAFT & ~sum(1 << n for n in (*contacts, 21)))
            assert timers(state, others, mode=READY).latches & armed == armed


class TestService:
    def test_remembered(self) -> None:
        for before in (0, SERVING, OUT, SERVING | OUT, REARMED):
            state = REST._replace(latches=before)
            others = before & REARMED
            assert timers(state).latches == SERVING | others
            assert timers(state, INPUTS._replace(on=1 << 21)).latches == OUT | others
            unknown = INPUTS._replace(known=ALL_SHAFT & ~(1 << 21))
            expected = before & ~OUT if before & SERVING else before
            assert timers(state, unknown).latches == expected


class TestThrottle:
    """A lever that moved by more than 2 % is not steady."""

    @pytest.mark.parametrize(
        ("pct", "steady"), [(50.0, True), (52.0, True), (48.0, True), (52.01, False), (47.99, False)]
    )
    def test_steady(self, pct: float, steady: bool) -> None:
        state = REST._replace(lever_ref_pct=50.0, steady_s=4.0)
        for known in (ALL_SHAFT, 1):
            got = timers(state, INPUTS._replace(known=known, lever_pct=pct))
            expected = (50.0, pytest.approx(4.05)) if steady else (pct, 0.0)
            assert (got.lever_ref_pct, got.steady_s) == expected
        got = timers(state, INPUTS._replace(known=ALL_SHAFT & ~1, lever_pct=pct))
        assert (got.lever_ref_pct, got.steady_s) == (50.0, pytest.approx(4.05))
        assert timers(state, INPUTS._replace(lever_pct=50.0), dt_s=2.0).steady_s == pytest.approx(4.1)
        for long_s in (1e9, 2e9):
            assert timers(state._replace(steady_s=long_s), INPUTS._replace(lever_pct=50.0)).steady_s == long_s


@pytest.mark.sr("SR-41")
class TestTrailing:
    def test_it_counts_in_harvest_and_is_forgotten_at_rest_or_with_the_engine(self) -> None:
        state = REST._replace(trail_s=7.0)
        assert timers(state._replace(mode=HARVEST)).trail_s == pytest.approx(7.05)
        assert timers(state._replace(mode=HARVEST), dt_s=2.0).trail_s == 9.0
        for mode in (REST_MODE, PROPEL, GENERATE, UNLOAD, ISOLATED):
            assert timers(state._replace(mode=mode)).trail_s == 7.0, "turning, it is remembered"
            still = INPUTS._replace(machine_speed_rpm=0.0, propeller_speed_rpm=0.0)
            assert timers(state._replace(mode=mode), still).trail_s == 0.0
            runs = INPUTS._replace(on=1 << 15, engine_speed_rpm=800.0)
            assert timers(state._replace(mode=mode), runs).trail_s == 0.0
        still = INPUTS._replace(machine_speed_rpm=0.0, propeller_speed_rpm=0.0)
        assert timers(state._replace(mode=HARVEST), still).trail_s == pytest.approx(7.05)
        for long_s in (1e9, 2e9):
            assert timers(state._replace(mode=HARVEST, trail_s=long_s)).trail_s == long_s
