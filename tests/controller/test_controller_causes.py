"""The one cause that holds: a bit with several possible causes is told by the one that holds at this tick."""

import random
from typing import Any

import pytest
from boatyard.boats import boat_config
from boatyard.rig import Rig
from boatyard.wandering import Wandering

from supervisor.controller import Controller
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, ShaftInputs, ShaftPermit


def told(changes: dict[str, Any], subject: str, goal: str, ticks: int = 1) -> str:
    """What is missing, in READY, once these inputs have stood for some ticks."""
    rig = Rig().ready()
    for name, value in changes.items():
        rig[name] = value
    for _ in range(ticks):
        rig.tick()
    return "; ".join(rig.controller.explain(subject, goal)[0].words)


SELECTED = {"port.shaft.charge_under_way": True}


@pytest.mark.parametrize(("changes", "words"), [
    ({"bank.soc_pct": 95.0}, "bank accepts no charging current: full, SOC 95 %"),
    ({"bank.cell_max_v": 3.56}, "bank accepts no charging current: highest cell at 3.56 V"),
    ({"bank.cell_hot_c": 46.0}, "bank accepts no charging current: hot, 46 degC"),
    ({"bank.cell_cold_c": -1.0}, "bank accepts no charging current: cold, -1 degC"),
    ({"bank.charge_limit_a": 4.0}, "bank accepts no charging current: bank monitor's limit 4 A"),
    ({"bank.soc_pct": None}, "bank accepts no charging current: state of charge of the bank unknown"),
    ({"bank.cell_max_v": None}, "bank accepts no charging current: highest cell voltage unknown"),
    ({"bank.soc_pct": 95.0, "bank.cell_cold_c": -1.0}, "bank accepts no charging current: full, SOC 95 %, cold, -1 "
        "degC"),
    ({"bank.charge_permit": False}, "bank monitor does not permit charging: permit withdrawn"),
    ({"bank.charge_permit": None}, "bank monitor does not permit charging: permit unknown"),
    ({"bank.charge_limit_a": 0.0}, "bank monitor does not permit charging: limit 0 A"),
])  # fmt: skip
def test_why_the_bank_takes_no_charge(changes: dict[str, Any], words: str) -> None:
    assert words in told({**SELECTED, **changes}, "port", "GENERATE")


@pytest.mark.parametrize(("changes", "words"), [
    ({"helm.diver_lockout": True}, "diver lockout is set"),
    ({"helm.diver_lockout": None}, "diver lockout: unknown"),
    ({"helm.shore_connected": True}, "shore cable is connected"),
    ({"helm.shore_connected": None}, "shore cable connected: unknown"),
    ({"bank.soc_pct": 17.0}, "bank is at its lower limit: SOC 17 %"),
    ({"bank.cell_min_v": 2.7}, "bank is at its lower limit: lowest cell 2.7 V"),
    ({"port.drive.motor_c": 150.0}, "motor, inverter or coolant is too hot"),
    ({"bank.discharge_permit": False}, "bank monitor does not permit discharging: permit withdrawn"),
    ({"port.lever.lever_pct": None}, "lever signal is lost"),
])  # fmt: skip
def test_why_there_is_no_thrust(changes: dict[str, Any], words: str) -> None:
    assert words in told(changes, "port", "PROPEL").split("; ")


def test_a_lost_diver_contact_is_not_called_a_lost_lever() -> None:
    words = told({"helm.diver_lockout": None}, "port", "PROPEL")
    assert "signal is lost: diver lockout" in words
    assert "lever signal" not in words


@pytest.mark.parametrize(("changes", "goal", "words"), [
    ({"helm.diver_lockout": True}, "CLUTCH_CLOSE", "diver lockout is set"),
    ({"helm.diver_lockout": True}, "ENGINE_START", "diver lockout is set"),
    ({"port.gearbox.neutral": False}, "ENGINE_START", "gearbox is said to be in gear"),
    ({"port.drive.torque_nm": 50.0}, "ENGINE_START", "drive torque is not zero"),
    ({"port.lever.lever_pct": 30.0}, "CLUTCH_CLOSE", "lever is not in neutral"),
    ({"port.drive.machine_speed_rpm": 80.0}, "CLUTCH_CLOSE",
     "both sides of the clutch turn too differently: 80 rpm apart"),
    ({"port.shaft.propeller_speed_rpm": None}, "CLUTCH_CLOSE", "speed of one side of the clutch is unknown"),
    ({"port.drive.machine_speed_rpm": 80.0}, "LOCK_ENGAGE", "shaft has not been still for long enough"),
    ({"bank.contactor_closed": False}, "DRIVE_ENABLE", "bank contactor is not confirmed closed"),
])  # fmt: skip
def test_a_refused_permit_names_its_cause_and_no_other(changes: dict[str, Any], goal: str, words: str) -> None:
    found = told(changes, "port", goal).split("; ")
    assert words in found
    if goal != "DRIVE_ENABLE":
        assert found == [words]


def test_a_permit_that_is_given_misses_nothing() -> None:
    for permit in (ShaftPermit.ENGINE_START, ShaftPermit.CLUTCH_CLOSE, ShaftPermit.DRIVE_ENABLE):
        assert told({}, "port", str(permit.name)) == ""


@pytest.mark.parametrize("mode", [mode for mode in ShaftMode if mode != ShaftMode.REST])
def test_a_mode_to_which_no_row_leads_is_never_said_to_miss_nothing(mode: ShaftMode) -> None:
    """From REST with everything permitted: either something is missing, or nothing leads there."""
    rig = Rig().ready()
    ways = rig.controller.explain("port", mode.name)
    assert ways
    assert all(way.words for way in ways)


def test_from_another_mode_rest_comes_first() -> None:
    rig = Rig().propel(60.0, 1.0, 500.0)
    assert (
        rig.controller.explain("port", "HARVEST")[0].words[0] == "shaft is in PROPEL; HARVEST can start only from REST"
    )
    assert rig.controller.explain("boat", "NEUTRAL_WAIT")[0].words == (
        "there is no direct change from READY to NEUTRAL_WAIT",
    )


def test_causes_are_told_on_any_inputs_without_failing() -> None:
    """Every mode and permit asked on random ticks, with every input unknown now and then: words, never an error."""
    luck = random.Random(3)
    controller = Controller(boat_config())
    about = Wandering(BOAT_INPUTS, {}, luck)
    shafts = [Wandering(SHAFT_INPUTS, {}, luck) for _ in range(2)]
    for number in range(400):
        about.move(5)
        for shaft in shafts:
            shaft.move(5)
        controller.tick(number * 0.02, about.inputs(BoatInputs), [shaft.inputs(ShaftInputs) for shaft in shafts])
        for goal in (*ShaftMode.__members__, *ShaftPermit.__members__):
            for way in controller.explain("starboard", goal):
                assert all(way.words), (goal, way)
        for goal in BoatMode.__members__:
            for way in controller.explain("boat", goal):
                assert all(way.words), (goal, way)
