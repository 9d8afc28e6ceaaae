"""What each reading of a shaft proves, called directly: alone, among all other inputs, at its limit, and unknown."""

from collections.abc import Callable

import pytest
from boatyard.boats import frozen
from levels import ALL_SHAFT, boat, crowded, hidden, shaft

from supervisor.rules import readings
from supervisor.rules.bank import proven, proven_not
from supervisor.signals import ShaftInputs

LIM = frozen(shafts=1).shafts[0]
GEAR_REPORT = 1 << 11
ONLY_REPORT = LIM._replace(react=LIM.react._replace(mapped=GEAR_REPORT))
NO_REPORT = LIM._replace(react=LIM.react._replace(mapped=ALL_SHAFT & ~GEAR_REPORT))


@pytest.mark.parametrize(("known", "on", "is_on", "is_off"), [
    (0b1010, 0b1010, True, False), (0b1010, 0b0000, False, True), (0b1000, 0b1000, True, False),
    (0b1000, 0b0000, False, True), (0b0010, 0b1010, False, False), (0b0000, 0b0000, False, False),
    (0b0111, 0b0111, False, False), (0b0111, 0b1111, False, False), (0b1111, 0b0111, False, True),
])  # fmt: skip
def test_a_contact_is_proven_only_where_it_is_known(known: int, on: int, is_on: bool, is_off: bool) -> None:
    assert proven(known, on, 0b1000) == is_on
    assert proven_not(known, on, 0b1000) == is_off


@pytest.mark.sr("SR-01")
class TestLever:
    """Neutral band 5 %; a neutral contact made beyond three bands contradicts itself."""

    @pytest.mark.parametrize(("pct", "contact", "neutral", "asks", "lost"), [
        (0.0, True, 1, 0, 0), (5.0, True, 1, 0, 0), (-5.0, True, 1, 0, 0), (5.01, True, 0, 0, 0), (15.0, True, 0, 0, 0),
        (-15.0, True, 0, 0, 0), (15.01, True, 0, 0, 1), (-15.01, True, 0, 0, 1), (100.0, True, 0, 0, 1),
        (0.0, False, 0, 0, 0), (5.0, False, 0, 0, 0), (-5.0, False, 0, 0, 0), (5.01, False, 0, 1, 0),
        (-5.01, False, 0, 1, 0), (15.01, False, 0, 1, 0), (-100.0, False, 0, 1, 0),
    ])  # fmt: skip
    def test_values(self, pct: float, contact: bool, neutral: int, asks: int, lost: int) -> None:
        name = ("lever.neutral",)
        level = shaft(on=name if contact else (), off=() if contact else name, lever_pct=pct)
        for one in crowded(level):
            assert readings.read_lever(LIM, one) == (neutral, asks, lost, lost)
        for unknown in ("lever_pct", "lever.neutral"):
            for one in hidden(level, unknown):
                assert readings.read_lever(LIM, one) == (0, 0, 1, 0)
        assert readings.read_lever(LIM, ShaftInputs()) == (0, 0, 1, 0)

    @pytest.mark.sr("SR-33")
    @pytest.mark.parametrize(("for_s", "lost"), [(-1.0, 0), (0.0, 0), (0.19, 0), (0.2, 1), (5.0, 1)])
    def test_a_contradiction_asks_nothing_at_once_and_is_a_loss_when_it_lasts(self, for_s: float, lost: int) -> None:
        for one in crowded(shaft(on=("lever.neutral",), lever_pct=80.0)):
            assert readings.read_lever(LIM, one, True, for_s) == (0, 0, lost, 1)

    @pytest.mark.parametrize(("pct", "was_asking", "asks"), [
        (5.0, True, 1), (2.51, True, 1), (-2.51, True, 1), (2.5, True, 0), (-2.5, True, 0), (0.0, True, 0), (5.0,
        False, 0),
        (80.0, True, 1), (80.0, False, 1),
    ])  # fmt: skip
    def test_a_lever_that_asks_does_so_down_to_half_the_band(self, pct: float, was_asking: bool, asks: int) -> None:
        for one in crowded(shaft(off=("lever.neutral",), lever_pct=pct)):
            assert readings.read_lever(LIM, one, was_asking, -1.0) == (0, asks, 0, 0)
        for one in crowded(shaft(on=("lever.neutral",), lever_pct=min(pct, 14.0))):
            assert readings.read_lever(LIM, one, was_asking, -1.0)[1] == 0, "its contact made ends it"


@pytest.mark.sr("SR-33")
class TestLink:
    """Within 5 % of the bank voltage; a link that was charged may stray by twice that."""

    @pytest.mark.parametrize(("link_v", "was", "charged"), [
        (100.0, False, True), (95.0, False, True), (94.99, False, False), (105.0, False, True), (105.01, False, False),
        (95.0, True, True), (90.0, True, True), (89.99, True, False), (110.0, True, True), (110.01, True, False),
        (0.0, False, False), (0.0, True, False),
    ])  # fmt: skip
    def test_values(self, link_v: float, was: bool, charged: bool) -> None:
        bank, level = boat(voltage_v=100.0), shaft(link_v=link_v)
        for one in crowded(level):
            for other in crowded(bank):
                assert readings.link_charged(LIM, other, one, was) == charged
        for one in hidden(level, "link_v"):
            assert not readings.link_charged(LIM, bank, one, was)
        for other in hidden(bank, "voltage_v"):
            assert not readings.link_charged(LIM, other, level, was)


@pytest.mark.sr("SR-09")
class TestGear:
    @pytest.mark.parametrize(("neutral", "ahead", "report", "is_neutral", "is_ahead", "lies"), [
        (True, False, None, True, False, False), (True, False, 0.0, True, False, False),
        (True, False, 1.0, False, False, True), (True, False, -1.0, False, False, True),
        (False, True, None, False, True, False), (False, True, 1.0, False, True, False),
        (False, True, 0.0, False, False, True), (False, True, -1.0, False, False, True),
        (False, False, 0.0, False, False, False), (False, False, 1.0, False, False, False),
        (True, True, 0.0, False, False, True), (True, True, 1.0, False, False, True),
        (True, None, 0.0, True, False, False), (None, True, 1.0, False, False, False),
        (None, None, 0.0, False, False, False), (None, None, None, False, False, False),
        (True, False, 2.0, False, False, True), (False, True, 2.0, False, False, True),
        (False, None, 1.0, False, False, False), (None, False, 0.0, False, False, False),
    ])  # fmt: skip
    def test_values(
        self, neutral: bool | None, ahead: bool | None, report: float | None, is_neutral: bool, is_ahead: bool,
        lies: bool,
    ) -> None:  # fmt: skip
        contacts = {"gearbox.neutral": neutral, "gearbox.ahead": ahead}
        on = tuple(name for name, value in contacts.items() if value)
        off = tuple(name for name, value in contacts.items() if value is False)
        level = shaft(on, off, **({} if report is None else {"gear_report": report}))
        kinds = [LIM, ONLY_REPORT]
        higher = 1 << 20
        around = [level, level._replace(known=level.known | 1),
                  level._replace(known=level.known | higher, on=level.on | higher)]  # fmt: skip
        for lim in kinds:
            for one in around:
                assert readings.gear_neutral(lim, one) == is_neutral
                assert readings.gear_ahead(lim, one) == is_ahead
                assert readings.gear_contradicts(lim, one) == lies
                assert readings.reported(lim, one) == (report is not None)

    def test_a_report_that_is_not_fitted_or_not_fresh_contradicts_nothing(self) -> None:
        neutral = shaft(("gearbox.neutral",), ("gearbox.ahead",), gear_report=1.0)
        ahead = shaft(("gearbox.ahead",), ("gearbox.neutral",), gear_report=-1.0)
        stale = [(LIM, one) for one in (neutral, ahead)]
        cases = [(NO_REPORT, neutral), (NO_REPORT, ahead)]
        cases += [(lim, one._replace(known=one.known & ~GEAR_REPORT)) for lim, one in stale]
        for lim, one in cases:
            assert not readings.reported(lim, one)
            assert not readings.gear_contradicts(lim, one)
            assert readings.gear_neutral(lim, one) == bool(one.on & 1 << 13)
            assert readings.gear_ahead(lim, one) == bool(one.on & 1 << 14)


@pytest.mark.sr("SR-09", "SR-23")
class TestEngine:
    """Stopped by its contact, contradicted above 50 rpm; running by its contact and half of 800 rpm."""

    @pytest.mark.parametrize(("contact", "rpm", "stopped", "running", "lies"), [
        (False, 0.0, True, False, False), (False, 50.0, True, False, False), (False, 50.01, False, False, True),
        (False, 2000.0, False, False, True), (True, 0.0, False, False, False), (True, 399.99, False, False, False),
        (True, 400.0, False, True, False), (True, 400.01, False, True, False), (True, 3000.0, False, True, False),
    ])  # fmt: skip
    def test_values(self, contact: bool, rpm: float, stopped: bool, running: bool, lies: bool) -> None:
        name = ("engine.running",)
        level = shaft(name if contact else (), () if contact else name, engine_speed_rpm=rpm)
        for one in crowded(level):
            assert readings.engine_stopped(one) == stopped
            assert readings.engine_running(LIM, one) == running
            assert readings.engine_contradicts(one) == lies
        for one in hidden(level, "engine.running"):
            assert not readings.engine_stopped(one)
            assert not readings.engine_running(LIM, one)
            assert not readings.engine_contradicts(one)
        for one in hidden(level, "engine_speed_rpm"):
            assert readings.engine_stopped(one) == (not contact)
            assert not readings.engine_running(LIM, one)
            assert not readings.engine_contradicts(one)


@pytest.mark.sr("SR-06", "SR-12")
class TestStill:
    """Still is less than 5 rpm."""

    @pytest.mark.parametrize(("rpm", "still"), [
        (0.0, True), (4.99, True), (-4.99, True), (5.0, False), (-5.0, False), (300.0, False), (-300.0, False),
    ])  # fmt: skip
    def test_each_side(self, rpm: float, still: bool) -> None:
        sides = shaft(machine_speed_rpm=0.0, propeller_speed_rpm=rpm)
        for one in crowded(sides):
            assert readings.propeller_still(LIM, one) == still
            assert readings.shaft_still(LIM, one) == still
        for one in crowded(shaft(machine_speed_rpm=rpm, propeller_speed_rpm=0.0)):
            assert readings.propeller_still(LIM, one)
            assert readings.shaft_still(LIM, one) == still
        for one in crowded(shaft(propeller_speed_rpm=rpm)):
            assert readings.propeller_still(LIM, one) == still

    def test_unknown_is_never_still(self) -> None:
        sides = shaft(machine_speed_rpm=0.0, propeller_speed_rpm=0.0)
        for one in hidden(sides, "propeller_speed_rpm"):
            assert not readings.propeller_still(LIM, one)
            assert not readings.shaft_still(LIM, one)
        for one in hidden(sides, "machine_speed_rpm"):
            assert readings.propeller_still(LIM, one)
            assert not readings.shaft_still(LIM, one)


class TestService:
    """IN_SERVICE is latch bit 10, OUT_OF_SERVICE bit 11."""

    IN, OUT, OTHERS = 1 << 10, 1 << 11, 0b1111111111

    @pytest.mark.parametrize(("latches", "said_in", "said_out"), [
        (0, False, False), (IN, True, False), (OUT, False, True), (OTHERS, False, False), (IN | OTHERS, True, False),
        (OUT | OTHERS, False, True),
    ])  # fmt: skip
    def test_as_the_contact_says_else_as_it_said_last(self, latches: int, said_in: bool, said_out: bool) -> None:
        name = ("shaft.out_of_service",)
        for one in crowded(shaft(on=name)):
            assert readings.out_of_service(one, latches)
            assert not readings.in_service(one, latches)
        for one in crowded(shaft(off=name)):
            assert not readings.out_of_service(one, latches)
            assert readings.in_service(one, latches)
        for contact in (shaft(on=name), shaft(off=name)):
            for one in hidden(contact, name[0]):
                assert readings.out_of_service(one, latches) == said_out
                assert readings.in_service(one, latches) == said_in


@pytest.mark.sr("SR-32")
class TestDisobedience:
    """Beyond 5.5 N m or 5 A with zero ordered; beyond 5.5 N m of the wrong sign with an order."""

    @pytest.mark.parametrize(("ordered_nm", "torque_nm", "current_a", "disobeys"), [
        (0.0, 5.5, 0.0, False), (0.0, 5.51, 0.0, True), (0.0, -5.5, 0.0, False), (0.0, -5.51, 0.0, True),
        (0.0, 0.0, 5.0, False), (0.0, 0.0, 5.01, True), (0.0, 0.0, -5.0, False), (0.0, 0.0, -5.01, True),
        (10.0, -5.5, 0.0, False), (10.0, -3.0, 0.0, False), (10.0, -5.51, 0.0, True), (10.0, 5.51, 0.0, False),
        (10.0, 90.0, 250.0, False),
        (-10.0, 5.5, 0.0, False), (-10.0, 5.51, 0.0, True), (-10.0, -5.51, 0.0, False), (-10.0, -90.0, 250.0, False),
        (0.5, -5.51, 0.0, True), (-0.5, 5.51, 0.0, True),
    ])  # fmt: skip
    def test_values(self, ordered_nm: float, torque_nm: float, current_a: float, disobeys: bool) -> None:
        level = shaft(torque_nm=torque_nm, current_a=current_a)
        for one in crowded(level):
            assert readings.disobeys(LIM, one, ordered_nm) == disobeys
        for one in hidden(level, "torque_nm"):
            assert readings.disobeys(LIM, one, ordered_nm) == (ordered_nm == 0.0 and abs(current_a) > 5.0)
        for one in hidden(level, "current_a"):
            assert readings.disobeys(LIM, one, ordered_nm) == (disobeys and abs(current_a) <= 5.0)

    @pytest.mark.parametrize(("ordered_nm", "torque_nm", "disobeys"), [
        (10.0, 0.8, False), (10.0, -0.8, True), (-10.0, 0.8, True), (-10.0, -0.8, False),
    ])  # fmt: skip
    def test_a_small_drive(self, ordered_nm: float, torque_nm: float, disobeys: bool) -> None:
        small = LIM._replace(disobey_torque_nm=0.5)
        assert readings.disobeys(small, shaft(torque_nm=torque_nm, current_a=0.0), ordered_nm) == disobeys


class TestTemperature:
    """Motor 120 to 140, inverter 75 to 85, coolant 60 to 70 degC; the lowest factor wins."""

    @pytest.mark.parametrize(("motor", "inverter", "coolant", "factor"), [
        (20.0, 20.0, 20.0, 1.0), (120.0, 75.0, 60.0, 1.0), (130.0, 20.0, 20.0, 0.5), (140.0, 20.0, 20.0, 0.0),
        (20.0, 80.0, 20.0, 0.5), (20.0, 85.0, 20.0, 0.0), (20.0, 20.0, 65.0, 0.5), (20.0, 20.0, 70.0, 0.0),
        (125.0, 80.0, 62.5, 0.5), (130.0, 76.0, 69.0, 0.1), (138.0, 80.0, 65.0, 0.1), (120.0, 84.0, 66.0, 0.1),
    ])  # fmt: skip
    def test_values(self, motor: float, inverter: float, coolant: float, factor: float) -> None:
        level = shaft(motor_c=motor, inverter_c=inverter, coolant_c=coolant)
        for one in crowded(level):
            assert readings.temperature_factor(LIM, one, 0.25) == pytest.approx(factor)

    @pytest.mark.parametrize("name", ["motor_c", "inverter_c", "coolant_c"])
    def test_an_unknown_one_counts_as_the_factor_given_at_most(self, name: str) -> None:
        cool = shaft(motor_c=20.0, inverter_c=20.0, coolant_c=20.0)
        hot = cool._replace(**{name: 500.0})
        for level in (cool, hot):
            for one in hidden(level, name):
                assert readings.temperature_factor(LIM, one, 0.25) == 0.25
                assert readings.temperature_factor(LIM, one, 1.0) == 1.0
                assert readings.temperature_factor(LIM._replace(react=LIM.react._replace(derate=0)), one, 0.25) == 1.0
        other = "inverter_c" if name == "motor_c" else "motor_c"
        worse = cool._replace(**{other: 83.0 if other == "inverter_c" else 136.0})
        for one in hidden(worse, name):
            assert readings.temperature_factor(LIM, one, 0.25) == pytest.approx(0.2)

    def test_the_reaction_looks_at_its_own_inputs_only(self) -> None:
        """An input of another kind that carries the reaction "derate" (here the drive's torque) counts as well."""
        lim = LIM._replace(react=LIM.react._replace(derate=1 << 5))
        known: Callable[[int], ShaftInputs] = lambda mask: ShaftInputs(known=mask)  # noqa: E731
        assert readings.temperature_factor(lim, known(1 << 5), 0.25) == 1.0
        assert readings.temperature_factor(lim, known(ALL_SHAFT), 0.25) == 1.0
        assert readings.temperature_factor(lim, known(0), 0.25) == 0.25
        assert readings.temperature_factor(lim, known(ALL_SHAFT & ~(1 << 5)), 0.25) == 0.25


@pytest.mark.sr("SR-32")
@pytest.mark.parametrize(("current_a", "loss_a", "disobeys"), [
    (-5.0, 0.0, False), (-5.1, 0.0, True), (-5.1, 3.0, False), (-8.0, 3.0, False), (-8.1, 3.0, True), (5.0, 3.0, False),
    (5.1, 3.0, True),
])  # fmt: skip
def test_a_declared_no_load_loss_may_be_drawn_and_never_fed(current_a: float, loss_a: float, disobeys: bool) -> None:
    lim = LIM._replace(no_load_a=loss_a)
    for one in crowded(shaft(current_a=current_a, torque_nm=0.0)):
        assert readings.disobeys(lim, one, 0.0) == disobeys
