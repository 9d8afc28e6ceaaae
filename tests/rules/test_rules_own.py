"""The owner's own interlocks as rules: when one is bad, and what it says to boat and shafts."""

from typing import Any

import pytest
from boatyard.boats import frozen
from boatyard.rig import Rig

from supervisor.config.limits import BoatLimits, OwnLimits
from supervisor.modes import ShaftMode
from supervisor.rules import own
from supervisor.rules.own import OwnOnShaft
from supervisor.rules.state import OwnState
from supervisor.signals import OwnInputs, ShaftPermit

LIM = frozen(shafts=2).limits
(WARN, INHIBIT_THRUST, STOP_THRUST, RAMP_THRUST, LIMIT_THRUST, INHIBIT_CHARGE, UNLOAD_CHARGE, STOP_CHARGE, STOP_BOTH,
 INHIBIT_START, TRIP_SHAFT, TRIP_BOAT) = range(12)  # fmt: skip
THRUST_START, THRUST_STAYS, THRUST, CHARGE_START, CHARGE_STAYS, CHARGE, SHAFT = (1 << n for n in range(40, 47))
ALL = THRUST_START | THRUST_STAYS | THRUST | CHARGE_START | CHARGE_STAYS | CHARGE | SHAFT
MAY_START, OWN_BOAT, BEGUN = 1 << 13, 1 << 15, 1 << 12
CONTACT = OwnLimits(number=0, bad_on=1, debounce_s=0.2, effect=STOP_THRUST, shafts=3)
HOT = OwnLimits(number=1, high=1, bad_at=70.0, good_at=65.0, debounce_s=0.2, effect=LIMIT_THRUST, shafts=3)
LOW = OwnLimits(number=1, high=0, bad_at=2.0, good_at=3.0, debounce_s=0.2, effect=UNLOAD_CHARGE, shafts=3)
TICK_S = 0.05
GOOD = OwnState()


def limits(*declared: OwnLimits) -> BoatLimits:
    return LIM._replace(own=(*declared, *[OwnLimits()] * (16 - len(declared))), own_count=len(declared))


def after(one: OwnLimits, seen: list[Any], was: OwnState = GOOD, dt_s: float = TICK_S) -> list[bool]:
    """Whether the one interlock is bad after each of the readings in turn; None: unknown."""
    lim = limits(one)
    found = []
    for value in seen:
        inputs = OwnInputs()
        if value is not None:
            inputs = OwnInputs(1, int(value is True), (float(value), *[0.0] * 15))
        was = own.own_state(lim, was, inputs, dt_s)
        found.append(was.bad == 1)
    return found


def on(effect: int, *, bad: bool = True, shafts: int = 3, index: int = 0, latches: int = 0, **more: Any) -> OwnOnShaft:
    lim = limits(OwnLimits(effect=effect, shafts=shafts, **more))
    return own.own_on_shaft(lim, OwnState(bad=int(bad)), index, latches)


@pytest.mark.sr("SR-50")
class TestBad:
    def test_a_contact_after_its_debounce(self) -> None:
        assert after(CONTACT, [True] * 6) == [False, False, False, False, True, True]
        assert after(CONTACT, [True, True, False, True, True]) == [False] * 5, "a bounce starts the time anew"
        assert after(CONTACT, [False] * 9) == [False] * 9

    def test_a_contact_that_is_bad_when_off(self) -> None:
        other = CONTACT._replace(bad_on=0)
        assert after(other, [False] * 5)[-1] is True
        assert after(other, [True] * 9) == [False] * 9

    def test_good_again_is_good_at_once(self) -> None:
        assert after(CONTACT, [True] * 6 + [False])[-2:] == [True, False]

    def test_unknown_is_bad_after_the_debounce(self) -> None:
        assert after(CONTACT, [None] * 5) == [False] * 4 + [True]
        assert after(HOT, [None] * 5) == [False] * 4 + [True]

    def test_unknown_may_count_as_good(self) -> None:
        assert after(CONTACT._replace(unknown_good=1), [None] * 9) == [False] * 9

    def test_no_debounce_is_at_once(self) -> None:
        assert after(CONTACT._replace(debounce_s=0.0), [True]) == [True]

    def test_the_debounce_is_seconds_not_ticks(self) -> None:
        assert after(CONTACT, [True] * 2, dt_s=0.2) == [False, True]
        assert after(CONTACT, [True] * 21, dt_s=0.01)[-2:] == [False, True]

    @pytest.mark.parametrize(("value", "bad"), [(69.99, False), (70.0, True), (70.01, True), (-40.0, False)])
    def test_a_number_above_its_threshold(self, value: float, bad: bool) -> None:
        assert after(HOT, [value] * 5)[-1] is bad

    @pytest.mark.parametrize(("value", "bad"), [(2.01, False), (2.0, True), (1.99, True), (9.0, False)])
    def test_a_number_below_its_threshold(self, value: float, bad: bool) -> None:
        assert after(LOW, [value] * 5)[-1] is bad

    @pytest.mark.parametrize(("one", "bad", "within", "good"), [(HOT, 71.0, 65.01, 65.0), (LOW, 1.0, 2.99, 3.0)])
    def test_hysteresis(self, one: OwnLimits, bad: float, within: float, good: float) -> None:
        assert after(one, [bad] * 5 + [within] * 9 + [good, within])[-3:] == [True, False, False]

    def test_what_crossed_its_threshold_keeps_its_debounce_within_the_hysteresis(self) -> None:
        assert after(HOT, [71.0, 66.0, 66.0, 66.0, 66.0])[-1] is True
        assert after(HOT, [66.0] * 9) == [False] * 9

    def test_nothing_is_good_at_power_up(self) -> None:
        unseen = OwnState(bad=1)
        assert after(CONTACT, [None], unseen) == [True]
        assert after(HOT, [66.0], unseen) == [True], "within the hysteresis: not seen good"
        assert after(CONTACT, [False], unseen) == [False]

    def test_a_late_tick_and_no_time_at_all(self) -> None:
        assert after(CONTACT, [True] * 9, dt_s=0.0) == [False] * 9
        assert after(CONTACT, [True, True], dt_s=60.0) == [False, True]

    def test_each_has_its_own_channel(self) -> None:
        lim = limits(CONTACT, HOT, LOW)
        state = OwnState()
        for _ in range(5):
            state = own.own_state(lim, state, OwnInputs(7, 0, (0.0, 71.0, 1.0, *[0.0] * 13)), TICK_S)
        assert state.bad == 0b110
        assert state.bad_s[0] == -1.0
        assert state.bad_s[1] == pytest.approx(0.2)
        assert state.bad_s[3:] == (-1.0,) * 13

    def test_without_own_interlocks_nothing_changes(self) -> None:
        state = OwnState()
        assert own.own_state(limits(), state, OwnInputs(0xFFFF, 0xFFFF), TICK_S) is state


@pytest.mark.sr("SR-50")
class TestEffects:
    @pytest.mark.parametrize(("effect", "cleared"), [
        (WARN, 0), (INHIBIT_THRUST, THRUST_START), (STOP_THRUST, THRUST), (RAMP_THRUST, THRUST_STAYS),
        (LIMIT_THRUST, 0), (INHIBIT_CHARGE, CHARGE_START), (UNLOAD_CHARGE, CHARGE_STAYS), (STOP_CHARGE, CHARGE),
        (STOP_BOTH, THRUST | CHARGE), (INHIBIT_START, 0), (TRIP_SHAFT, SHAFT), (TRIP_BOAT, 0),
    ])  # fmt: skip
    def test_which_bits_each_clears(self, effect: int, cleared: int) -> None:
        assert on(effect).word == ALL & ~cleared
        assert on(effect, bad=False).word == ALL
        assert on(effect).permit == (0 if effect == INHIBIT_START else MAY_START)
        assert on(effect, bad=False).permit == MAY_START
        for shafts, index in ((0b01, 1), (0b10, 0)):
            assert on(effect, shafts=shafts, index=index) == (ALL, MAY_START, 100.0, 100.0), "the other shaft"
        assert on(effect, shafts=0b10, index=1).word == ALL & ~cleared

    def test_inhibiting_bars_the_first_thrust_only(self) -> None:
        assert on(INHIBIT_THRUST, latches=BEGUN).word == ALL

    def test_a_limit_acts_ahead_and_astern_only_if_asked(self) -> None:
        assert on(LIMIT_THRUST, limit_pct=40.0)[2:] == (40.0, 100.0)
        assert on(LIMIT_THRUST, limit_pct=40.0, astern=1)[2:] == (40.0, 40.0)
        two = limits(
            OwnLimits(effect=LIMIT_THRUST, shafts=1, limit_pct=40.0, astern=1),
            OwnLimits(effect=LIMIT_THRUST, shafts=1, limit_pct=25.0),
        )
        assert own.own_on_shaft(two, OwnState(bad=3), 0, 0)[2:] == (25.0, 40.0), "the tightest one"

    def test_the_boat_trips_for_its_own_effect_only(self) -> None:
        for effect in range(12):
            lim = limits(OwnLimits(effect=effect, shafts=3))
            assert own.own_boat_bit(lim, OwnState(bad=1)) == (0 if effect == TRIP_BOAT else OWN_BOAT)
            assert own.own_boat_bit(lim, OwnState(bad=0)) == OWN_BOAT

    def test_several_add_up(self) -> None:
        lim = limits(OwnLimits(effect=STOP_CHARGE, shafts=1), OwnLimits(effect=RAMP_THRUST, shafts=1))
        assert own.own_on_shaft(lim, OwnState(bad=3), 0, 0).word == ALL & ~(CHARGE | THRUST_STAYS)
        assert own.own_on_shaft(lim, OwnState(bad=2), 0, 0).word == ALL & ~THRUST_STAYS


@pytest.mark.sr("SR-50")
def test_a_limit_comes_at_once_and_returns_by_the_derates_rate() -> None:
    """2 % a second; a late tick is no licence to jump."""
    assert own.own_limit_pct(100.0, 40.0, LIM, 0.02) == 40.0
    assert own.own_limit_pct(40.0, 100.0, LIM, 0.1) == pytest.approx(40.2)
    assert own.own_limit_pct(40.0, 100.0, LIM, 9.0) == pytest.approx(40.2)
    assert own.own_limit_pct(99.99, 100.0, LIM, 0.1) == 100.0


@pytest.mark.sr("SR-50")
class TestOnTheBoat:
    """What an effect does to what is ordered and permitted, on a boat whose interlock is good and then bad."""

    def rig(self, effect: str, **more: Any) -> Rig:
        rig = Rig({"interlock": [{**LADDER, "effect": effect, **more}]})
        rig["own.0"] = True
        return rig

    @pytest.mark.parametrize(("rpm", "whole_nm", "limited_nm"), [
        (10.0, 110.0, 44.0), (900.0, 10000.0 / (900.0 * 0.10471975511965977), 4000.0 / (900.0 * 0.10471975511965977)),
    ], ids=["torque", "power"])  # fmt: skip
    def test_a_limit_holds_torque_and_power(self, rpm: float, whole_nm: float, limited_nm: float) -> None:
        """40 % of 110 N m and of 10 kW, in the tick in which it is bad; unknown is bad."""
        rig = self.rig("limit_thrust", limit_pct=40.0, debounce_s=0.0).propel(100.0, 3.0, rpm)
        assert rig.torque() == pytest.approx(whole_nm, rel=0.01)
        for bad in (False, None):
            rig["own.0"] = bad
            rig.run(1.0)
            assert 0.9 * limited_nm < rig.torque() <= limited_nm * (1 + 1e-9)
            assert rig.mode("port") == "PROPEL"

    def test_an_engine_start_is_barred(self) -> None:
        rig = self.rig("inhibit_engine_start", debounce_s=0.0).ready()
        assert rig.permits("port") & ShaftPermit.ENGINE_START
        for bad in (False, None):
            rig["own.0"] = bad
            rig.tick()
            assert not rig.permits("port") & ShaftPermit.ENGINE_START


OWN = 1 << 22
LADDER = {
    "name": "ladder", "good": "ladder is up", "bad": "ladder is down", "bus": "private", "message": "DECK",
    "signal": "A", "stale_s": 0.2, "good_when": "on", "effect": "stop_thrust", "debounce_s": 0.1,
}  # fmt: skip


@pytest.mark.sr("SR-50")
class TestAlarm:
    """An own interlock that was bad for a moment and stopped a shaft is still told when the crew looks."""

    def rig(self) -> Rig:
        rig = Rig({"interlock": [LADDER, {**LADDER, "name": "second", "bad": "second is bad"}]})
        rig["own.0"] = rig["own.1"] = True
        return rig

    def test_it_ends_thrust_stays_until_acknowledged_and_thrust_returns_after_neutral(self) -> None:
        rig = self.rig().propel(60.0, 1.0, 400.0)
        assert not rig.alarms() & OWN
        rig["own.0"] = False
        rig.run(0.14)
        assert rig.controller.shaft_modes == (ShaftMode.REST, ShaftMode.REST)
        assert rig.alarms() & OWN
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 1
        assert "ladder is down" in [event.text for event in rig.events]
        rig["own.0"] = True
        rig.run(1.0)
        assert rig.alarms() & OWN, "good again, and not acknowledged"
        assert rig.controller.shaft_modes == (ShaftMode.REST, ShaftMode.REST), "the lever stands ahead: no path back"
        assert (
            "; ".join(rig.controller.explain("port", "PROPEL")[0].words)
            == "first put the lever in neutral (fresh neutral)"
        )
        rig.press("helm.acknowledge")
        rig.run(0.1)
        assert not rig.alarms() & OWN
        for side in ("port", "starboard"):
            rig[f"{side}.lever.lever_pct"], rig[f"{side}.lever.neutral"] = 0.0, True
        rig.run(0.6)
        for side in ("port", "starboard"):
            rig[f"{side}.lever.lever_pct"], rig[f"{side}.lever.neutral"] = 60.0, False
        rig.run(0.1)
        assert rig.controller.shaft_modes == (ShaftMode.PROPEL, ShaftMode.PROPEL), "under way, without a reset"

    def test_an_acknowledged_one_does_not_silence_the_next(self) -> None:
        rig = self.rig().ready()
        rig["own.0"] = False
        rig.run(0.2)
        rig.press("helm.acknowledge")
        rig.run(0.1)
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 0
        rig["own.1"] = False
        rig.run(0.2)
        assert rig.out.boat_command.sounder == 1

    def test_a_bounce_shorter_than_the_debounce_stops_nothing(self) -> None:
        rig = self.rig().propel(60.0, 1.0, 400.0)
        for _ in range(20):
            rig["own.0"] = False
            rig.run(0.08)
            rig["own.0"] = True
            rig.run(0.04)
        assert rig.controller.shaft_modes == (ShaftMode.PROPEL, ShaftMode.PROPEL)
        assert not rig.alarms() & OWN
