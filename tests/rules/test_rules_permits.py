"""Permits: withdrawn, stale or a limit of 0 ends torque in the tick that sees it, whatever ramp was running."""

from collections.abc import Callable

import pytest
from boatyard.rig import Rig

from supervisor.signals import Alarm


class PermitSuite:
    """A way into a working mode, and every way in which its permit can end."""

    RULE: str
    WAYS_OUT: tuple[tuple[str, object], ...]
    TRIPS = ("bank.opening", "bank.contactor_closed")
    """Signals whose loss trips the boat as well."""

    def begin(self) -> Rig:
        """A boat in the mode, with torque on."""
        raise NotImplementedError

    def again(self, rig: Rig) -> None:
        """Nothing: what happens when the permit is back is checked by the subclass."""

    def test_the_mode_has_torque_before(self) -> None:
        rig = self.begin()
        assert all(abs(rig.torque(name)) > 1.0 for name in rig.names)

    def test_torque_is_zero_in_the_tick_of_the_frame(self) -> None:
        begin = self.begin()
        back = begin.save()
        for signal, value in self.WAYS_OUT:
            back()
            begin[signal] = value
            begin.tick()
            begin.expect_zero(self.RULE, signal=signal)
            for name in begin.names:
                assert begin.mode(name) == "REST", begin.report(self.RULE, "REST", begin.mode(name), name, signal)

    def test_torque_stays_zero_while_it_is_away(self) -> None:
        begin = self.begin()
        back = begin.save()
        for signal, value in self.WAYS_OUT:
            back()
            begin[signal] = value
            for _ in range(100):
                begin.tick()
                begin.expect_zero(self.RULE, signal=signal)


@pytest.mark.sr("SR-14")
class TestDischargePermitInPropel(PermitSuite):
    RULE = "a discharge permit withdrawn or stale, or a limit of 0, ends propulsion at once"
    WAYS_OUT = (
        ("bank.discharge_permit", False), ("bank.discharge_permit", None), ("bank.discharge_limit_a", 0.0),
        ("bank.discharge_limit_a", None), ("bank.discharge_limit_a", float("nan")), ("bank.opening", True),
        ("bank.contactor_closed", False), ("bank.contactor_closed", None), ("bank.opening", None),
    )  # fmt: skip

    def begin(self) -> Rig:
        return Rig().propel(60.0, 1.0, 600.0)

    def test_thrust_does_not_come_back_by_itself(self) -> None:
        rig = self.begin()
        rig["bank.discharge_permit"] = False
        rig.tick()
        rig["bank.discharge_permit"] = True
        for _ in range(150):
            rig.tick()
            rig.expect_zero("no path into motion", signal="bank.discharge_permit")
        rig.levers(0)
        rig.run(0.7)
        rig.levers(60)
        rig.run(0.5)
        rig.expect("fresh neutral rearms", "port", "PROPEL")

    @pytest.mark.sr("SR-49")
    def test_a_charge_permit_is_not_asked_for_thrust(self) -> None:
        rig = self.begin()
        rig["bank.charge_permit"], rig["bank.charge_limit_a"] = False, 0.0
        rig.run(1.0)
        rig.expect("thrust needs no charge permit", "port", "PROPEL")

    def test_the_crew_is_told(self) -> None:
        rig = self.begin()
        rig["bank.discharge_permit"] = False
        rig.tick()
        assert rig.alarms() & Alarm.DISCHARGE_WITHDRAWN
        assert rig.out is not None
        assert rig.out.boat_command.sounder == 1


_CHARGE_WAYS_OUT = (
    ("bank.charge_permit", False), ("bank.charge_permit", None), ("bank.charge_limit_a", 0.0),
    ("bank.charge_limit_a", None), ("bank.charge_limit_a", float("nan")), ("bank.opening", True),
    ("bank.contactor_closed", False), ("bank.contactor_closed", None), ("bank.opening", None),
)  # fmt: skip


class _ChargePermitSuite(PermitSuite):
    RULE = "a charge permit withdrawn or stale, or a limit of 0, ends every source's own current at once"
    WAYS_OUT = _CHARGE_WAYS_OUT

    def test_hotel_load_does_not_keep_a_source_feeding(self) -> None:
        """A source still feeding when the monitor opens its contactor destroys electronics (load dump)."""
        rig = self.begin()
        rig.hotel_a = 80.0
        rig.run(10.0)
        for signal, value in (("bank.charge_permit", False), ("bank.charge_limit_a", 0.0)):
            back = rig.save()
            rig[signal] = value
            rig.tick()
            rig.expect_zero(self.RULE, signal=signal)
            back()

    def test_other_sources_are_asked_to_stop(self) -> None:
        rig = self.begin()
        assert rig.out is not None
        assert rig.out.boat_command.stop_sources == 0
        for signal, value in self.WAYS_OUT:
            back = rig.save()
            rig[signal] = value
            rig.tick()
            assert rig.out.boat_command.stop_sources == 1, signal
            assert rig.out.boat_command.charge_limit_a == 0.0
            back()

    def test_the_crew_is_told(self) -> None:
        rig = self.begin()
        rig["bank.charge_permit"] = False
        rig.tick()
        assert rig.alarms() & Alarm.CHARGE_WITHDRAWN

    def test_when_it_is_back_charging_starts_softly(self) -> None:
        rig = self.begin()
        rig["bank.charge_permit"] = False
        rig.run(0.1)
        rig["bank.charge_permit"] = True
        rig.run(0.1)
        for name in rig.names:
            assert abs(rig.current(name)) <= 4.0 * 0.12 + 1e-6


@pytest.mark.sr("SR-13")
class TestChargePermitUnderWay(_ChargePermitSuite):
    def begin(self) -> Rig:
        return Rig().generate(10.0)


@pytest.mark.sr("SR-13")
class TestChargePermitAtRest(_ChargePermitSuite):
    def begin(self) -> Rig:
        return Rig().generate_at_rest(10.0)


@pytest.mark.sr("SR-13")
class TestChargePermitInHarvest(_ChargePermitSuite):
    def begin(self) -> Rig:
        return Rig().harvest(5.0)


@pytest.mark.sr("SR-13")
class TestChargePermitWhileBraking:
    """Torque that opposes rotation feeds the bank in every mode, and needs the same permit."""

    @pytest.fixture
    def braking(self) -> Rig:
        rig = Rig().propel(80.0, 1.0, 800.0)
        rig.levers(0)
        rig.run(1.0)
        rig.levers(-80)
        rig.run(3.0)
        rig.expect_that("braking", rig.torque() < -1.0, "torque against rotation", rig.torque(), "port")
        return rig

    @pytest.mark.parametrize(
        ("signal", "value"),
        [
            *_CHARGE_WAYS_OUT[:6], ("bank.cell_max_v", 3.55),
        ],
    )  # fmt: skip
    def test_no_braking_without_the_permit(self, braking: Rig, signal: str, value: object) -> None:
        braking[signal] = value
        braking.tick()
        braking.expect_zero("braking needs the permit, and cells that are not full", signal=signal)

    @pytest.mark.sr("SR-51", "SR-52")
    @pytest.mark.parametrize(
        ("signal", "value"), [("bank.soc_pct", 94.0), ("bank.soc_pct", None), ("bank.soc_pct", 100.0)]
    )
    def test_a_full_or_unknown_soc_takes_no_braking_away(self, braking: Rig, signal: str, value: object) -> None:
        before_nm = braking.torque()
        braking[signal] = value
        braking.run(1.0)
        assert braking.torque() <= before_nm

    @pytest.mark.sr("SR-51")
    @pytest.mark.parametrize(("signal", "value"), [
        ("bank.cell_cold_c", 0.0), ("bank.cell_hot_c", 45.0), ("bank.cell_max_v", None), ("bank.cell_cold_c", None),
    ])  # fmt: skip
    def test_cells_that_should_not_be_charged_are_braked_into_for_10_s(
        self, braking: Rig, signal: str, value: object
    ) -> None:
        """0.05C of 600 Ah is 30 A for both shafts together, and after 10 s of it nothing."""
        braking[signal] = value
        braking.tick()
        assert 0.0 < sum(braking.current(name) for name in braking.names) <= 30.0 + 1e-9
        braking.run(9.9)
        assert sum(braking.current(name) for name in braking.names) > 0.0
        braking.run(0.2)
        braking.expect_zero("the short allowance is spent", signal=signal)
        for _ in range(98):
            braking.run(1.0, 0.1)
            braking.expect_zero("and comes back ten times slower", signal=signal)
        braking.run(3.0, 0.1)
        assert sum(braking.current(name) for name in braking.names) > 0.0

    def test_reversal_waits_for_the_shaft_to_slow(self, braking: Rig) -> None:
        braking["bank.charge_permit"] = False
        for rpm in (800, 400, 100, 20, 6):
            for name in braking.names:
                braking.speed(name, rpm)
            braking.run(0.2)
            braking.expect_zero("if braking is barred, reversal waits for the shaft to slow")
        for name in braking.names:
            braking.speed(name, 0)
        braking.run(0.5)
        braking.expect_that("then it goes astern", braking.torque() < -1.0, "astern", braking.torque(), "port")


@pytest.mark.sr("SR-07", "SR-08", "SR-10", "SR-13", "SR-14")
class TestUnloadIgnoresNothing:
    """A ramp to zero never keeps torque on against a withdrawn permit."""

    @pytest.mark.parametrize(
        ("begin", "end", "signal"),
        [
            (lambda: Rig().generate(20.0), "shaft.charge_under_way", "bank.charge_permit"),
            (lambda: Rig().harvest(10.0), "shaft.harvest", "bank.charge_permit"),
            (lambda: Rig().propel(100.0, 2.0, 500.0), "lever", "bank.discharge_permit"),
        ],
    )
    def test_zero_at_once(self, begin: Callable[[], Rig], end: str, signal: str) -> None:
        rig = begin()
        for name in rig.names:
            if end == "lever":
                rig.lever(name, 0)
            else:
                rig[f"{name}.{end}"] = False
        rig.tick()
        rig.expect("unloading", "port", "UNLOAD")
        rig.expect_that("unloading", abs(rig.torque()) > 1.0, "torque still on", rig.torque(), "port")
        rig[signal] = None
        rig.tick()
        rig.expect_zero("a withdrawn permit ignores UNLOAD", signal=signal)

    @pytest.mark.parametrize("together", [False, True], ids=["while unloading", "as unloading begins"])
    @pytest.mark.parametrize(("signal", "value"), [
        ("helm.diver_lockout", True), ("helm.diver_lockout", None), ("lock.released", False), ("lock.released", None),
        ("clutch.closed", False), ("clutch.closed", None), ("clutch.open", True),
    ])  # fmt: skip
    @pytest.mark.parametrize(("begin", "end"), [
        (lambda: Rig().generate(20.0), "shaft.charge_under_way"), (lambda: Rig().harvest(10.0), "shaft.harvest"),
        (lambda: Rig().propel(100.0, 2.0, 500.0), "lever"),
    ], ids=["GENERATE", "HARVEST", "PROPEL"])  # fmt: skip
    def test_zero_at_once_when_somebody_dives_or_machinery_moves(
        self, begin: Callable[[], Rig], end: str, signal: str, value: object, together: bool
    ) -> None:
        rig = begin()
        for name in rig.names:
            if end == "lever":
                rig.lever(name, 0)
            else:
                rig[f"{name}.{end}"] = False
        if not together:
            rig.tick()
            rig.expect_that("unloading", abs(rig.torque()) > 1.0, "torque still on", rig.torque(), "port")
        for name in [signal] if signal.startswith("helm") else [f"{shaft}.{signal}" for shaft in rig.names]:
            rig[name] = value
        rig.tick()
        rig.expect_zero(f"{signal} = {value} ignores UNLOAD", signal=signal)
