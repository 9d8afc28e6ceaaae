"""What a tick gathers and passes on: levers, the summary of the shafts, the boat's command, the first second."""

import pytest
from boatyard.boats import frozen
from boatyard.rig import Kept, Rig
from boatyard.states import FlatBoat, FlatShaft, flat_boat, flat_shaft, kept_boat, kept_shaft
from levels import ALL_SHAFT

from supervisor.rules import Boat, boat_word, finite, initial_memory, orders, run_tick, state
from supervisor.rules.boat_word import Summary
from supervisor.rules.orders import Levers
from supervisor.rules.readings import Lever
from supervisor.signals import Alarm, BoatInputs, ShaftInputs

BOAT = frozen(shafts=2)
MEMORY = initial_memory(BOAT)
REST = FlatShaft()
KNOWN = ShaftInputs(known=ALL_SHAFT)
NEUTRAL, ASKS, LOST = Lever(1, 0, 0), Lever(0, 1, 0), Lever(0, 0, 1)
HELD = REST._replace(neutral_s=0.5)


def levers(
    read: tuple[Lever, Lever] = (NEUTRAL, NEUTRAL), states: tuple[FlatShaft, FlatShaft] = (HELD, HELD),
    inputs: tuple[ShaftInputs, ShaftInputs] = (KNOWN, KNOWN), boat: Boat = BOAT,
) -> Levers:  # fmt: skip
    kept = tuple(kept_shaft(one) for one in states)
    return orders.gather_levers(boat.limits, boat.shafts, kept, read, inputs)


class TestLevers:
    @pytest.mark.sr("SR-01")
    def test_all_in_neutral_for_half_a_second(self) -> None:
        assert levers() == Levers(1, 1, 1, 1, 0)
        for moved in (ASKS, LOST, Lever(0, 0, 0)):
            assert levers((moved, NEUTRAL)) == levers((NEUTRAL, moved)) == Levers(0, 0, 1, 1, 0)
        short = REST._replace(neutral_s=0.49)
        assert levers(states=(short, HELD)) == levers(states=(HELD, short)) == Levers(0, 1, 1, 1, 0)
        assert levers(states=(HELD, REST._replace(neutral_s=9.0))) == Levers(1, 1, 1, 1, 0)

    def test_a_shaft_out_of_service_is_left_out(self) -> None:
        out = KNOWN._replace(on=1 << 21)
        for other in ((out, KNOWN), (KNOWN, out)):
            read = (ASKS if other[0] is out else NEUTRAL, ASKS if other[1] is out else NEUTRAL)
            assert levers(read, inputs=other) == Levers(1, 1, 1, 1, 0)

    @pytest.mark.parametrize(("pct", "known", "zero"), [
        (0.0, ALL_SHAFT, 1), (5.0, ALL_SHAFT, 1), (-5.0, ALL_SHAFT, 1), (5.01, ALL_SHAFT, 0), (-5.01, ALL_SHAFT, 0),
        (3.0, ALL_SHAFT, 1),
    ])  # fmt: skip
    def test_the_handsets_thrust(self, pct: float, known: int, zero: int) -> None:
        one = KNOWN._replace(handset_thrust_pct=pct)
        for pair in ((one, KNOWN), (KNOWN, one)):
            assert levers(inputs=pair) == Levers(1, 1, 1, zero, 0)
        for gone in (one._replace(known=ALL_SHAFT & ~2),):
            assert levers(inputs=(gone, KNOWN)) == levers(inputs=(KNOWN, gone)) == Levers(1, 1, 0, 0, 0)
        alone = one._replace(known=2)
        assert levers(inputs=(alone, KNOWN)) == Levers(1, 1, 1, zero, 0)

    @pytest.mark.sr("SR-03", "SR-31")
    def test_a_lost_input_that_trips_the_boat(self) -> None:
        shafts = tuple(lim._replace(react=lim.react._replace(trip_boat=1 << 3 | 1 << 8)) for lim in BOAT.shafts)
        boat = BOAT._replace(shafts=shafts)
        assert levers(boat=boat).inputs_lost == 0
        only = KNOWN._replace(known=1 << 3 | 1 << 8 | 1 << 21 | 2)
        assert levers(inputs=(only, only), boat=boat).inputs_lost == 0
        for bit in (1 << 3, 1 << 8):
            gone = KNOWN._replace(known=ALL_SHAFT & ~bit)
            for pair in ((gone, KNOWN), (KNOWN, gone)):
                assert levers(inputs=pair, boat=boat).inputs_lost == 1
                assert levers(inputs=pair).inputs_lost == 0
            assert levers(inputs=(gone._replace(on=1 << 21), KNOWN), boat=boat).inputs_lost == 0


IN_SERVICE, LINK = 1 << 17, 1 << 18
OWN_SHAFT = 1 << 46
GOOD = IN_SERVICE | LINK


def summary(one: int = GOOD, other: int = GOOD, modes: tuple[int, int] = (0, 0)) -> Summary:
    """Words without an own interlock that trips; see the last test."""
    one, other = one | OWN_SHAFT, other | OWN_SHAFT
    states = [REST._replace(mode=mode) for mode in modes]
    assert boat_word.summary_of(states[::-1], [other, one]) == boat_word.summary_of(states, [one, other]), (
        "in any order"
    )
    return boat_word.summary_of(states, [one, other])


@pytest.mark.sr("SR-31")
class TestSummary:
    def test_an_own_interlock_that_trips_a_shaft_makes_it_unavailable(self) -> None:
        states = [REST, REST]
        assert boat_word.summary_of(states, [GOOD, GOOD]) == Summary(0, 0, 1, 0, 0)
        assert boat_word.summary_of(states, [GOOD | OWN_SHAFT, GOOD]) == Summary(1, 1, 1, 0, 0)

    @pytest.mark.sr("SR-33")
    def test_links_and_service(self) -> None:
        assert summary() == Summary(1, 1, 1, 0, 0)
        assert summary(IN_SERVICE) == Summary(0, 1, 1, 0, 0)
        assert summary(IN_SERVICE, IN_SERVICE) == Summary(0, 1, 1, 0, 0)
        assert summary(LINK) == Summary(1, 1, 1, 0, 0), "one out of service is left out"
        assert summary(0) == Summary(1, 1, 1, 0, 0)
        assert summary(0, 0) == Summary(0, 0, 1, 0, 0)
        assert summary(0, IN_SERVICE) == Summary(0, 1, 1, 0, 0)
        assert summary(LINK, LINK | 1 << 30) == Summary(0, 0, 1, 0, 0)
        for trip in range(5):
            assert summary(IN_SERVICE | 1 << trip) == Summary(1, 1, 1, 0, 0)
            assert summary(IN_SERVICE | 1 << trip, 0) == Summary(0, 0, 1, 0, 0)
        for other in set(range(39)) - {0, 1, 2, 3, 4, 17, 18}:
            assert summary(IN_SERVICE | 1 << other, 0)[:3] == (0, 1, 1)
        assert summary(IN_SERVICE, GOOD, (5, 0)) == Summary(1, 1, 1, 0, 0)
        assert summary(GOOD, 0, (5, 0)) == Summary(0, 0, 1, 0, 0)

    @pytest.mark.sr("SR-11")
    def test_lying_still_in_neutral(self) -> None:
        still = GOOD | 1 << 30 | 1 << 47
        assert summary(still, still).lies == 1
        assert summary(still, GOOD | 1 << 30).lies == 0, "a lever is not in neutral"
        assert summary(still, GOOD | 1 << 47).lies == 0, "a shaft turns"
        assert summary(still, LINK).lies == 1, "one out of service is left out"
        assert summary(LINK, LINK).lies == 0, "nobody lies at a berth without a shaft"

    def test_at_rest(self) -> None:
        for mode in range(6):
            assert summary(modes=(mode, 0)).at_rest == summary(modes=(0, mode)).at_rest == (1 if mode in (0, 5) else 0)

    def test_orders(self) -> None:
        under_way, at_rest, harvest, running, still = 1 << 12, 1 << 13, 1 << 14, 1 << 26, 1 << 30
        for order in (under_way, at_rest, under_way | at_rest):
            assert summary(GOOD | order | running).ordered == 1
            assert summary(GOOD | order).ordered == 0
            assert summary(GOOD | order | still | 1 << 25 | 1 << 27).ordered == 0
        assert summary(GOOD | running).ordered == 0
        assert summary(GOOD | harvest).ordered == 1
        assert summary(GOOD | harvest | still).ordered == 0
        assert summary(GOOD | still).ordered == 0
        assert summary(GOOD | harvest | 1 << 29 | 1 << 31).ordered == 1
        assert summary(1 << 12 | running).ordered == 1


READY = Kept(lambda: Rig().ready())


class TestCommand:
    def test_limits_are_told_only_with_their_permits(self) -> None:
        rig = READY()
        command = rig.tick().boat_command
        assert (command.stop_sources, command.charge_limit_a, command.derate_pct) == (0, 240.0, 100.0)
        rig["bank.charge_permit"] = False
        command = rig.tick().boat_command
        assert (command.stop_sources, command.charge_limit_a, command.derate_pct) == (1, 0.0, 100.0)
        rig["bank.charge_permit"], rig["bank.discharge_permit"] = True, False
        command = rig.tick().boat_command
        assert (command.stop_sources, command.charge_limit_a, command.derate_pct) == (1, 240.0, 0.0)

    def test_sources_stop_when_charging_is_not_wanted(self) -> None:
        rig = READY()
        rig["bank.soc_pct"] = 94.0
        command = rig.tick().boat_command
        assert (command.stop_sources, command.charge_limit_a) == (1, 0.0)
        rig = Rig()
        assert rig.tick().boat_command.stop_sources == 0, "a shore charger may work in STANDBY"

    def test_the_sounder(self) -> None:
        rig = READY()
        rig["bank.discharge_permit"] = False
        assert rig.tick().boat_command.sounder == 1
        assert rig.alarms() == Alarm.DISCHARGE_WITHDRAWN
        rig["helm.acknowledge"] = True
        assert rig.tick().boat_command.sounder == 0
        assert rig.tick().boat_command.sounder == 0
        rig = READY()
        rig["bank.charge_permit"] = False
        assert rig.tick().boat_command.sounder == 0, "shown, not sounded"
        assert rig.alarms() == Alarm.CHARGE_WITHDRAWN

    def test_standby_is_silent_whatever_is_amiss(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"], rig["port.lever.lever_pct"], rig["bank.cell_min_v"] = None, None, 2.7
        rig.run(2.0)
        assert rig.alarms() & Alarm.SOC_UNKNOWN
        assert rig.alarms() & Alarm.LEVER_LOST
        assert rig.tick().boat_command.sounder == 0

    def test_what_is_acknowledged_is_silent_what_comes_next_is_not(self) -> None:
        rig = READY()
        rig["bank.discharge_permit"] = False
        rig.tick()
        rig["helm.acknowledge"] = True
        rig.tick()
        rig["port.drive.fault"] = True
        command = rig.tick().boat_command
        assert (command.sounder, rig.alarms()) == (1, Alarm.DISCHARGE_WITHDRAWN | Alarm.SHAFT_ISOLATED)
        rig["helm.acknowledge"] = False
        rig.tick()
        rig["helm.acknowledge"] = True
        assert rig.tick().boat_command.sounder == 0

    def test_the_contactor_decides_on_precharge(self) -> None:
        rig = READY()
        assert all(rig.permits(name) & 3 == 3 for name in rig.names)
        rig["bank.contactor_closed"] = None
        rig.tick()
        assert all(rig.permits(name) & 3 == 0 for name in rig.names)
        waits = Rig()
        waits.run(0.7)
        waits["bank.contactor_closed"] = False
        waits.press("helm.enable")
        waits.expect("waiting for the contactor", "boat", "NEUTRAL_WAIT")
        assert all(waits.permits(name) & 3 == 0 for name in waits.names)

    @pytest.mark.sr("SR-29")
    def test_the_handset_is_shown(self) -> None:
        rig = Rig().handset()
        assert rig.tick().boat_command.handset_in_control == 1
        assert READY().tick().boat_command.handset_in_control == 0

    @pytest.mark.sr("SR-28")
    def test_the_handsets_thrust_is_halved_only_for_the_handset(self) -> None:
        assert READY().tick().boat_command.handset_in_control == 0
        rig = Rig().propel(100.0, 1.5, 10.0)
        assert rig.torque() == pytest.approx(110.0)
        rig = Rig()
        rig.ready()
        rig["handset.held"] = True
        rig.run(0.8)
        for name in rig.names:
            rig[f"{name}.handset.thrust_pct"] = 100.0
            rig.speed(name, 10.0)
        rig.run(1.5)
        assert rig.torque() == pytest.approx(55.0)


class TestFirstSecond:
    def test_nothing_is_called_lost_before_its_first_frame_may_have_come(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"], rig["port.lever.lever_pct"] = None, None
        lost = Alarm.SOC_UNKNOWN | Alarm.INPUT_LOST | Alarm.LEVER_LOST
        for _ in range(50):  # the first tick has no length: 0.98 s
            rig.tick()
            assert not rig.alarms() & lost
        rig.run(0.06)
        assert rig.alarms() & lost == lost

    def test_the_second_has_passed_at_1_s(self) -> None:
        lost = Alarm.SOC_UNKNOWN | Alarm.INPUT_LOST | Alarm.LEVER_LOST
        for age_s, told in ((0.25, False), (0.5, True), (0.75, True)):
            memory = MEMORY._replace(boat=kept_boat(FlatBoat(age_s=age_s)))
            got = run_tick(BOAT, memory, BoatInputs(), [ShaftInputs()] * 2, 0.5).boat_command.alarms
            assert bool(got & lost) == told

    def test_any_other_alarm_comes_at_once(self) -> None:
        rig = Rig()
        rig["bank.soc_pct"] = 25.0
        rig.tick()
        assert rig.alarms() == Alarm.DERATE_BAND


class TestCurrents:
    def test_the_drives_currents_add_up_and_count_only_if_all_are_known(self) -> None:
        boat_in = BoatInputs(known=1 << 2, current_a=-10.0)
        both = [ShaftInputs(known=1 << 6, current_a=30.0), ShaftInputs(known=1 << 6, current_a=20.0)]
        settled = MEMORY._replace(boat=kept_boat(FlatBoat(drives_a=50.0)))
        got = run_tick(BOAT, settled, boat_in, both, 0.1).view
        assert got.drives_a == pytest.approx(50.0)
        assert got.load_a == pytest.approx(60.0 * 0.1 / 0.4)
        for number in (0, 1):
            some = list(both)
            some[number] = ShaftInputs(known=ALL_SHAFT & ~(1 << 6), current_a=0.0)
            got = run_tick(BOAT, settled, boat_in, some, 0.1).view
            assert (got.hotel_a, got.load_a) == (0.0, 0.0)


class TestDecisions:
    def test_the_executor_is_asked_for_the_boat_then_for_each_shaft(self) -> None:
        asked = []

        def decide(which: int, mode: int, word: int) -> int:
            asked.append((which, mode))
            return -1

        memory = MEMORY._replace(shafts=(kept_shaft(REST), kept_shaft(REST._replace(mode=4))))
        run_tick(BOAT, memory, BoatInputs(), [KNOWN, KNOWN], 0.02, decide)
        assert asked == [(-1, 0), (0, 0), (1, 4)]

    def test_unequal_numbers_of_shafts_are_refused(self) -> None:
        """Else a shaft would be left out without a word."""
        with pytest.raises(ValueError, match="numbers of shafts"):
            run_tick(BOAT, MEMORY, BoatInputs(), [KNOWN], 0.02)
        with pytest.raises(ValueError, match="numbers of shafts"):
            run_tick(BOAT, MEMORY._replace(shafts=MEMORY.shafts[:1]), BoatInputs(), [KNOWN, KNOWN], 0.02)

    def test_a_shaft_that_goes_on_unloading_is_on_its_way_to_rest(self) -> None:
        rig = Rig().generate(3.0)
        rig["port.shaft.charge_under_way"] = False
        for _ in range(3):
            rig.tick()
            rig.expect("unloading", "port", "UNLOAD")
            assert rig.controller.memory.shafts[0].latches & 1 << 1 == 0

    @pytest.mark.sr("SR-15")
    def test_the_whole_budget_is_shared_out(self) -> None:
        """20 A at 52 V through 0.8 at 600 rpm (62.83 rad/s): 832 W are 13.24 N m, on one shaft or on two."""
        for shafts in (1, 2):
            rig = Rig(shafts=shafts).propel(100.0, 2.0, 600.0)
            rig.obey = False
            for name in rig.names:
                rig[f"{name}.drive.current_a"] = 0.0
            rig["bank.current_a"], rig["bank.discharge_limit_a"] = 0.0, 20.0
            rig.run(5.0)
            rig["bank.discharge_limit_a"] = 20.0
            rig.tick()
            total_nm = sum(rig.torque(name) for name in rig.names)
            assert total_nm == pytest.approx(20.0 * 52.0 * 0.8 / (600.0 * 0.10471975511965978), rel=1e-6)


class TestFinite:
    @pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf")])
    def test_what_is_not_finite_is_absent(self, bad: float) -> None:
        boat_in = BoatInputs(known=(1 << 28) - 1, on=1 << 12, soc_pct=bad, voltage_v=52.0, handset_minutes=bad)
        got = finite.finite_boat(boat_in)
        assert got == BoatInputs(known=(1 << 28) - 1 & ~(1 | 1 << 9), on=1 << 12, voltage_v=52.0)
        shaft_in = ShaftInputs(known=ALL_SHAFT, on=1 << 12, lever_pct=bad, link_v=52.0, gear_report=bad)
        assert finite.finite_shaft(shaft_in) == ShaftInputs(known=ALL_SHAFT & ~(1 | 1 << 11), on=1 << 12, link_v=52.0)
        few = BoatInputs(known=2, soc_pct=bad, voltage_v=52.0)
        assert finite.finite_boat(few) == BoatInputs(known=2, voltage_v=52.0)
        lone = ShaftInputs(known=1 << 7, lever_pct=bad, link_v=52.0)
        assert finite.finite_shaft(lone) == ShaftInputs(known=1 << 7, link_v=52.0)

    def test_what_is_finite_is_left_alone(self) -> None:
        boat_in, shaft_in = BoatInputs(known=7, on=7, soc_pct=50.0), ShaftInputs(known=7, on=7, lever_pct=50.0)
        assert finite.finite_boat(boat_in) is boat_in
        assert finite.finite_shaft(shaft_in) is shaft_in
        huge = BoatInputs(known=7, on=3, soc_pct=1.7e308, voltage_v=1.7e308)
        assert finite.finite_boat(huge) == huge, "only the sum overflows"


class TestState:
    @pytest.mark.sr("SR-36")
    def test_power_up(self) -> None:
        kept = (state.BoatState(), state.ShaftState())
        boat, shaft = flat_boat(kept[0]), flat_shaft(kept[1])
        assert boat == (0, 0, -1.0, -1.0, -1.0, 0.0, 100.0, 0.0, 0.0, 0.0, 0.0, 0, 0.0, 0.0, -1.0, -1.0,
                        100.0, 0.0, -1.0, 0.0, -1.0, 1e9, 0, 1)  # fmt: skip
        assert shaft == (0, 0, -1.0, -1.0, -1.0, 0.0, -1.0, -1.0, -1.0, 0.0, 1e9, 0.0, 0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
                         -1.0, -1.0, 100.0, 100.0, -1.0, 1e9, -1.0, -1.0, 1e9, 1e9, 0.0, -1.0,
                         -1.0, 0.0, -1.0, 0.0, 0.0, 0.0, 0.0, -1.0, -1.0, 0.0)  # fmt: skip
        assert kept[0].own == (0, (-1.0,) * 16)
        assert initial_memory(BOAT) == (kept[0], (kept[1], kept[1]))

    def test_latches_are_bits_of_their_own(self) -> None:
        assert [int(bit) for bit in state.BoatLatch] == [1 << n for n in range(14)]
        assert [int(bit) for bit in state.ShaftLatch] == [1 << n for n in range(18)]

    @pytest.mark.parametrize(("timer", "running", "dt", "after"), [
        (-1.0, True, 5.0, 0.0), (-0.5, True, 5.0, 0.0), (0.0, True, 0.5, 0.5), (3.0, True, 0.5, 3.5),
        (3.0, False, 0.5, -1.0),
        (0.5, True, 0.0, 0.5), (1e9, True, 0.5, 1e9), (999999999.75, True, 0.5, 1e9),
        (999999999.0, True, 0.5, 999999999.5),
        (2e9, True, 0.5, 1e9),
    ])  # fmt: skip
    def test_count(self, timer: float, running: bool, dt: float, after: float) -> None:
        assert state.count(timer, running, dt) == after

    @pytest.mark.sr("SR-24")
    @pytest.mark.parametrize(("dt", "tick_s", "ramp_s"), [
        (0.02, 0.02, 0.02), (0.0, 0.0, 0.0), (-0.5, 0.0, -0.5), (0.1, 0.1, 0.1), (0.11, 0.11, 0.1), (60.0, 60.0, 0.1),
        (60.5, 60.0, 0.1), (59.5, 59.5, 0.1), (0.5, 0.5, 0.1),
    ])  # fmt: skip
    def test_lengths(self, dt: float, tick_s: float, ramp_s: float) -> None:
        assert (state.tick_length(dt), state.ramp_length(dt)) == (tick_s, ramp_s)
