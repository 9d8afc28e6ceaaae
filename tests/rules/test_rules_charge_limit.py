"""Taper, cold, heat and the monitor's limit: the limit on bank current while charging (design, section 5, Taper)."""

import pytest
from boatyard.rig import Kept, Rig
from boatyard.suites import LinearLimitSuite
from hypothesis import given
from hypothesis import strategies as st

FRESH = Kept(Rig)


def charge_limit(**signals: float | bool | None) -> float:
    """The limit in force (A) with some of the bank's signals changed."""
    rig = FRESH()
    for name, value in signals.items():
        rig[f"bank.{name}"] = value
    rig["helm.full_charge"] = False
    return rig.tick().boat_command.charge_limit_a


@pytest.mark.sr("SR-15")
class TestSocTaper(LinearLimitSuite):
    FULL, FULL_AT, ZERO_AT, STEP, BEYOND = 240.0, 88.0, 94.0, 0.01, (95.0, 100.0)

    def limit(self, value: float | None) -> float:
        return charge_limit(soc_pct=value)


@pytest.mark.sr("SR-15")
class TestCellVoltageTaper(LinearLimitSuite):
    FULL, FULL_AT, ZERO_AT, STEP, BEYOND = 240.0, 3.45, 3.55, 0.0005, (3.6, 3.65, 5.0)

    def limit(self, value: float | None) -> float:
        return charge_limit(cell_max_v=value)


@pytest.mark.sr("SR-16")
class TestHotTaper(LinearLimitSuite):
    FULL, FULL_AT, ZERO_AT, STEP, BEYOND = 240.0, 40.0, 45.0, 0.01, (46.0, 80.0, 125.0)

    def limit(self, value: float | None) -> float:
        return charge_limit(cell_hot_c=value)


@pytest.mark.sr("SR-15", "SR-16")
class TestCold:
    """Zero at or below 0 degC, 0.2C (120 A of 600 Ah) up to 10 degC; unknown is zero."""

    @pytest.mark.parametrize(
        ("cold_c", "limit_a"),
        [(-40.0, 0), (-0.01, 0), (0.0, 0), (0.01, 120), (5.0, 120), (9.99, 120), (10.0, 120), (10.01, 240), (20.0, 240),
         (None, 0), (float("nan"), 0)],
    )  # fmt: skip
    def test_limit(self, cold_c: float | None, limit_a: float) -> None:
        assert charge_limit(cell_cold_c=cold_c) == limit_a

    def test_the_cold_limit_and_the_taper_do_not_add_up(self) -> None:
        assert charge_limit(cell_cold_c=5.0, soc_pct=93.0) == pytest.approx(40.0)
        assert charge_limit(cell_cold_c=5.0, soc_pct=89.0) == pytest.approx(120.0)


@pytest.mark.sr("SR-15")
class TestMonitorsLimit:
    """Never more than the monitor's own limit; zero or unknown is zero."""

    @pytest.mark.parametrize(
        ("monitor_a", "limit_a"),
        [(0.0, 0), (0.05, 0.05), (239.99, 239.99), (240.0, 240), (240.01, 240), (5000.0, 240), (None, 0),
         (float("nan"), 0)],
    )  # fmt: skip
    def test_limit(self, monitor_a: float | None, limit_a: float) -> None:
        assert charge_limit(charge_limit_a=monitor_a) == pytest.approx(limit_a)

    @given(st.floats(0, 5000), st.floats(80, 100), st.floats(3.3, 3.65), st.floats(-10, 60))
    def test_the_smallest_of_all_limits_wins(self, monitor_a: float, soc: float, cell_v: float, cell_c: float) -> None:
        limits = [
            240.0 if soc <= 88 else max(0.0, 240.0 * (94 - soc) / 6),
            240.0 if cell_v <= 3.45 else max(0.0, 240.0 * (3.55 - cell_v) / 0.1),
            240.0 if cell_c <= 40 else max(0.0, 240.0 * (45 - cell_c) / 5),
            0.0 if cell_c <= 0 else 120.0 if cell_c <= 10 else 240.0,
            monitor_a,
        ]
        got = charge_limit(
            charge_limit_a=monitor_a, soc_pct=soc, cell_max_v=cell_v, cell_hot_c=cell_c, cell_cold_c=cell_c
        )
        assert got == pytest.approx(min(limits), rel=1e-9, abs=1e-9)


@pytest.mark.sr("SR-16", "SR-40")
@pytest.mark.parametrize(
    "signal", ["soc_pct", "cell_max_v", "cell_hot_c", "cell_cold_c", "charge_limit_a", "charge_permit", "voltage_v"]
)
def test_any_unknown_signal_of_charging_is_no_charging(signal: str) -> None:
    assert charge_limit(**{signal: None}) == 0.0


@pytest.mark.parametrize(
    ("volts", "believed"), [(22.3, False), (22.5, True), (63.3, True), (63.4, False), (900.0, False)]
)
def test_a_voltage_that_this_bank_cannot_have_is_no_reading(volts: float, believed: bool) -> None:
    """Half the lowest (44.8 V) to 1.1 of the highest (57.6 V) working voltage."""
    assert (charge_limit(voltage_v=volts) > 0) == believed


@pytest.mark.sr("SR-17")
class TestLatchedEnd:
    """Charging ends, latched, when the limit falls below 10 A, and restarts below 91 %."""

    def charging(self, **signals: float) -> bool:
        for name, value in signals.items():
            self.rig[f"bank.{name}"] = value
        self.rig.run(30.0)  # the stop output lets go no more often
        return self.rig.tick().boat_command.stop_sources == 0

    @pytest.fixture(autouse=True)
    def _rig(self) -> None:
        self.rig = FRESH()

    def test_it_goes_on_while_the_limit_is_10_a(self) -> None:
        assert self.charging(soc_pct=93.749)  # 240 A x 0.251 / 6 = 10.04 A

    def test_it_ends_below_10_a(self) -> None:
        assert not self.charging(soc_pct=93.751)

    @pytest.mark.parametrize(("soc", "again"), [(93.0, False), (91.5, False), (91.0, False), (90.99, True)])
    def test_it_restarts_only_below_91(self, soc: float, again: bool) -> None:
        assert not self.charging(soc_pct=94.0)
        assert self.charging(soc_pct=soc) == again

    def test_between_restart_and_end_it_depends_on_where_it_came_from(self) -> None:
        assert self.charging(soc_pct=92.0)
        assert not self.charging(soc_pct=94.0)
        assert not self.charging(soc_pct=92.0)

    def test_the_monitors_limit_ends_it_too(self) -> None:
        assert self.charging(charge_limit_a=10.0)
        assert not self.charging(charge_limit_a=9.99)
        assert not self.charging(charge_limit_a=14.9)  # a limit that hovers does not chatter
        assert self.charging(charge_limit_a=15.0)

    def test_a_relaxing_cell_does_not_restart_it(self) -> None:
        assert not self.charging(cell_max_v=3.549)
        assert not self.charging(cell_max_v=3.50)
        assert not self.charging(cell_max_v=3.4501)
        assert self.charging(cell_max_v=3.45)

    def test_a_cell_that_hovers_at_freezing_does_not_restart_it(self) -> None:
        assert not self.charging(cell_cold_c=0.0)
        for cold_c in (0.1, 0.0, 0.2, -0.1, 0.9, 1.0):
            assert not self.charging(cell_cold_c=cold_c)
        assert self.charging(cell_cold_c=1.1)

    def test_a_cell_that_cools_restarts_it_only_below_the_hot_band(self) -> None:
        assert not self.charging(cell_hot_c=45.0)
        assert not self.charging(cell_hot_c=41.0)
        assert self.charging(cell_hot_c=40.0)

    def test_a_limit_that_is_only_unknown_does_not_latch(self) -> None:
        assert self.charging(soc_pct=92.5)
        self.rig["bank.charge_limit_a"] = None
        assert not self.charging()
        assert self.charging(charge_limit_a=300.0)

    def test_what_has_ended_stays_ended_over_a_gap(self) -> None:
        assert not self.charging(soc_pct=94.0)
        self.rig["bank.charge_limit_a"] = None
        self.charging()
        assert not self.charging(charge_limit_a=300.0, soc_pct=92.0)

    def test_generate_ends_and_restarts_with_it(self) -> None:
        rig = Rig().generate(2.0)
        rig["bank.soc_pct"] = 93.8
        rig.run(1.0)
        rig.expect("charging ends, latched, below 10 A", "port", "REST", signal="bank.soc_pct")
        rig["bank.soc_pct"] = 91.0
        rig.run(1.0)
        rig.expect("charging restarts only below 91 %", "port", "REST", signal="bank.soc_pct")
        rig["bank.soc_pct"] = 90.9
        rig.run(0.1)
        rig.expect("charging restarts below 91 %", "port", "GENERATE", signal="bank.soc_pct")
        assert abs(rig.current("port")) < 1.0, "a restart begins with a soft start"


@pytest.mark.sr("SR-15")
class TestFullCharge:
    """A requested full charge lifts the SOC limit to 100 %, cell taper still acting; reminder every 30 days."""

    @pytest.fixture(autouse=True)
    def _rig(self) -> None:
        self.rig = Rig()
        self.rig["helm.full_charge"] = True

    def limit(self) -> float:
        return self.rig.tick().boat_command.charge_limit_a

    @pytest.mark.parametrize("soc", [87.0, 93.0, 94.0, 99.0, 100.0])
    def test_soc_no_longer_limits(self, soc: float) -> None:
        self.rig["bank.soc_pct"] = soc
        assert self.limit() == 240.0
        assert "FULL_CHARGE_ACTIVE" in repr(self.rig.alarms())

    @pytest.mark.parametrize(("cell_v", "limit_a"), [(3.45, 240.0), (3.50, 120.0), (3.55, 0.0)])
    def test_the_cells_still_do(self, cell_v: float, limit_a: float) -> None:
        self.rig["bank.soc_pct"], self.rig["bank.cell_max_v"] = 97.0, cell_v
        assert self.limit() == pytest.approx(limit_a, abs=1e-6)

    def test_an_unknown_soc_is_still_no_charging(self) -> None:
        self.rig["bank.soc_pct"] = None
        assert self.limit() == 0.0

    def test_a_soc_above_100_is_no_charging(self) -> None:
        self.rig["bank.soc_pct"] = 100.5
        assert self.limit() == 0.0

    @pytest.mark.sr("SR-17")
    def test_it_restarts_charging_that_had_ended(self) -> None:
        self.rig["helm.full_charge"] = False
        self.rig["bank.soc_pct"] = 95.0
        assert self.rig.tick().boat_command.stop_sources == 1
        self.rig["helm.full_charge"] = True
        assert self.rig.tick().boat_command.stop_sources == 0

    def test_once_full_it_is_done_although_the_switch_stays_on(self) -> None:
        self.rig["bank.soc_pct"], self.rig["bank.cell_max_v"] = 99.0, 3.549
        self.limit()
        self.rig["bank.cell_max_v"] = 3.40
        self.rig.run(1.0)
        assert self.limit() == 0.0
        assert "FULL_CHARGE_ACTIVE" not in repr(self.rig.alarms())
        self.rig["helm.full_charge"] = False
        self.limit()
        self.rig["helm.full_charge"] = True
        assert self.limit() == 240.0

    def test_the_reminder_comes_after_30_days_and_goes_with_a_full_charge(self) -> None:
        from supervisor.controller import Controller
        from supervisor.signals import Alarm

        rig = Rig()
        rig.controller = Controller(rig.config, since_full_s=30 * 86400.0 - 1.0)
        rig.run(0.9)
        assert not rig.alarms() & Alarm.FULL_CHARGE_DUE
        rig.run(0.3)
        assert rig.alarms() & Alarm.FULL_CHARGE_DUE
        rig["helm.full_charge"], rig["bank.soc_pct"], rig["bank.cell_max_v"] = True, 99.5, 3.549
        rig.run(0.1)
        rig["helm.full_charge"], rig["bank.cell_max_v"] = False, 3.35
        rig.run(0.1)
        assert not rig.alarms() & Alarm.FULL_CHARGE_DUE

    def test_a_high_cell_without_a_request_is_no_full_charge(self) -> None:
        from supervisor.controller import Controller
        from supervisor.signals import Alarm

        rig = Rig()
        rig.controller = Controller(rig.config, since_full_s=31 * 86400.0)
        rig["bank.cell_max_v"] = 3.549
        rig.run(0.1)
        assert rig.alarms() & Alarm.FULL_CHARGE_DUE
