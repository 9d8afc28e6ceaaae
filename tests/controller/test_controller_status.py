"""What displays are told: which rule holds each limit, what the crew must do, what stopped a shaft."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.controller.controller import cause_number
from supervisor.controller.status import Answer, Rule, ShaftStatus
from supervisor.modes import SHAFT_TABLE, SHAFT_WORDS, ShaftCondition, ShaftMode
from supervisor.signals import Alarm, alarm_list

PROPELLING = Kept(lambda: Rig().propel(60.0, 2.0, 500.0))


def port(rig: Rig) -> ShaftStatus:
    return rig.controller.status()[1][0]


@pytest.mark.parametrize(("signal", "value", "rule"), [
    ("bank.soc_pct", 60.0, Rule.RATING), ("bank.soc_pct", 91.0, Rule.SOC), ("bank.cell_max_v", 3.5, Rule.CELL_VOLTAGE),
    ("bank.cell_hot_c", 43.0, Rule.TEMPERATURE), ("bank.cell_cold_c", 5.0, Rule.TEMPERATURE),
    ("bank.charge_limit_a", 30.0, Rule.MONITOR), ("bank.charge_permit", False, Rule.PERMIT),
    ("bank.cell_max_v", None, Rule.UNKNOWN), ("bank.soc_pct", 95.0, Rule.ENDED),
])  # fmt: skip
def test_which_rule_holds_charging(signal: str, value: float | bool | None, rule: Rule) -> None:
    rig = Rig().ready()
    rig[signal] = value
    rig.tick()
    assert Rule(rig.controller.status()[0].charge_rule) == rule


@pytest.mark.parametrize(("signal", "value", "pct", "rule"), [
    ("bank.soc_pct", 60.0, 100.0, Rule.RATING), ("bank.soc_pct", 22.0, 57.5, Rule.SOC),
    ("bank.soc_pct", None, 50.0, Rule.UNKNOWN), ("bank.cell_min_v", 2.9, 57.5, Rule.CELL_VOLTAGE),
    ("bank.discharge_permit", False, 0.0, Rule.PERMIT),
])  # fmt: skip
def test_which_rule_holds_thrust(signal: str, value: float | bool | None, pct: float, rule: Rule) -> None:
    rig = PROPELLING()
    rig[signal] = value
    rig.run(30.0)
    assert (port(rig).limit_pct, Rule(port(rig).limit_rule)) == (pytest.approx(pct), rule)


def test_heat_of_one_shaft_is_its_own() -> None:
    rig = PROPELLING()
    rig["port.drive.motor_c"] = 130.0
    rig.tick()
    states = rig.controller.status()[1]
    assert [Rule(one.limit_rule) for one in states] == [Rule.TEMPERATURE, Rule.RATING]


def test_a_fault_then_neutral_then_reset() -> None:
    rig = PROPELLING()
    assert port(rig)[:2] == (0, Answer.NOTHING)
    rig["port.drive.fault"] = True
    rig.tick()
    assert port(rig)[:2] == (int(ShaftCondition.DRIVE_FAULT).bit_length(), Answer.NEUTRAL)
    rig.lever("port", 0)
    rig["port.drive.fault"] = False
    rig.run(0.6)
    assert port(rig)[:2] == (1, Answer.RESET)


def test_a_stop_is_told_until_it_is_acknowledged() -> None:
    rig = PROPELLING()
    rig["helm.diver_lockout"] = True
    rig.tick()
    assert port(rig)[:2] == (int(ShaftCondition.NO_DIVER).bit_length(), Answer.NEUTRAL)
    rig["helm.diver_lockout"] = False
    rig.lever("port", 0)
    rig.run(0.6)
    assert port(rig)[:2] == (39, Answer.ACKNOWLEDGE)
    rig["helm.acknowledge"] = True
    rig.tick()
    assert port(rig)[:2] == (0, Answer.NOTHING)


def test_braking_to_be_had() -> None:
    """All of rated torque at rest; at 500 rpm what 5 A feed: 5 x 52 / (0.93 x 52.36) = 5.3 N m."""
    rig = PROPELLING()
    rig["bank.charge_limit_a"] = 5.0
    rig.tick()
    assert port(rig).brake_nm == pytest.approx(
        5.0 * 52.0 / (rig.controller.boat.shafts[0].efficiency * 52.3599), rel=1e-3
    )
    rig.speed("port", 0)
    rig.tick()
    assert port(rig).brake_nm == rig.controller.boat.shafts[0].rated_torque_nm


def test_before_the_first_tick_nothing_is_known() -> None:
    bank, states = Rig().controller.status()
    assert (Rule(bank.charge_rule), bank.brake_a, bank.discharge_a) == (Rule.UNKNOWN, 0.0, 0.0)
    assert states == (ShaftStatus(),) * 2


def test_each_alarm_has_one_declaration_and_says_something() -> None:
    assert set(alarm_list.BY_ALARM) == set(Alarm)
    for row in alarm_list.ALARM_LIST:
        assert all(len(text) > 3 for text in (row.cause, row.consequence, row.answer, row.goes)), row.alarm
    assert [row.priority for row in alarm_list.ALARM_LIST] == sorted(row.priority for row in alarm_list.ALARM_LIST)
    assert {row.priority for row in alarm_list.ALARM_LIST} == set(alarm_list.Priority)


def test_the_cause_of_a_stop_is_the_condition_whose_words_its_row_has() -> None:
    """Found by a fresh reader: rows that ask for one condition and go by another told the first, as the clutch where
    the lock was meant."""
    told = {(row.source, row.words): cause_number(row) for row in SHAFT_TABLE}
    checked = 0
    for (_, words), number in told.items():
        for bit in ShaftCondition:
            if words in SHAFT_WORDS[bit] and sum(words in SHAFT_WORDS[other] for other in ShaftCondition) == 1:
                assert number == int(bit).bit_length(), words
                checked += 1
    assert checked > 60
    lock = int(ShaftCondition.LOCK_RELEASED).bit_length()
    assert told[ShaftMode.GENERATE, "shaft lock is not confirmed released"] == lock
    assert told[ShaftMode.UNLOAD, "shaft lock is not confirmed released"] == lock
