"""Every fault leads to the reaction that the catalogue requires, in every mode that matters.

Limits are retyped here: stale times of marsh_tern (0.08, 0.12, 0.16 and 0.5 s), its tick (0.02 s), the drive's
response (0.04 s), 5 % of 110 N m and 5 A as "zero".
"""

from collections.abc import Callable
from typing import NamedTuple

import pytest
from fault_scenes import SCENES

from sim.rig.simulated import SimRig

TICK_S = 0.02
DRIVE_S = 0.02 + 0.04  # the order is on the wire, the drive takes it up in its next tick, and responds
ZERO_NM = 5.5
ZERO_A = 5.0
MODES = ("REST", "PROPEL", "GENERATE", "HARVEST")
WORKING = ("PROPEL", "GENERATE", "HARVEST")

MakeRig = Callable[..., SimRig]


class Course(NamedTuple):
    """What happened after a fault: times in s after it, None where it did not happen within the time watched."""

    boat_tripped_s: float | None
    port_left_s: float | None
    port_isolated_s: float | None
    port_order_zero_s: float | None
    port_torque_zero_s: float | None
    own_current_zero_s: float | None
    starboard_left_s: float | None
    peak_v: float
    signals: dict[str, float | str]


def watch(rig: SimRig, seconds: float) -> Course:
    """Run, and note when things happened for good: a value that returns counts as not having happened."""
    start_s = rig.now_s
    before = dict(rig.signals())
    times: dict[str, float | None] = dict.fromkeys(Course._fields[:7])
    signals = before
    for _ in range(round(seconds / TICK_S)):
        rig.step()
        signals = dict(rig.signals())
        since_s = round(rig.now_s - start_s, 4)
        current_a = max(abs(float(signals[f"{shaft}.current_a"])) for shaft in rig.shafts)
        found = (
            signals["boat.mode"] == "TRIPPED",
            signals["port.mode"] != before["port.mode"],
            signals["port.mode"] == "ISOLATED",
            signals["port.order_nm"] == 0.0,
            abs(float(signals["port.torque_nm"])) <= ZERO_NM,
            current_a <= ZERO_A,
            signals["starboard.mode"] != before["starboard.mode"],
        )
        for name, now in zip(times, found, strict=True):
            times[name] = (since_s if times[name] is None else times[name]) if now else None
    return Course(*times.values(), peak_v=float(signals["bank.link_peak_v"]), signals=signals)  # type: ignore[arg-type]


def at_most(seen_s: float | None, limit_s: float, what: str) -> None:
    assert seen_s is not None, f"{what}: never"
    assert seen_s <= limit_s + 1e-6, f"{what}: {seen_s} s, allowed {limit_s} s"


def begin(rig: SimRig, mode: str, fault: str, target: str, seconds: float = 1.0, **params: float | str) -> Course:
    SCENES[mode](rig)
    rig.inject(fault, target, **params)
    return watch(rig, seconds)


# ---- silence, in all its forms: the guarded frames of a node are no longer good

SILENT = ("node_silent", "frozen_counter", "bad_crc", "wrong_source", "delayed")
# silence in every mode; the other forms, which the supervisor cannot tell from it, in two
SILENCES = [("node_silent", mode) for mode in MODES]
SILENCES += [(fault, mode) for fault in SILENT[1:] for mode in ("PROPEL", "GENERATE")]


def _late(fault: str, period_s: float) -> float:
    """One tick; the first frame with a frozen counter is still a good one."""
    return TICK_S + (period_s if fault == "frozen_counter" else 0.0)


@pytest.mark.parametrize(("fault", "mode"), SILENCES)
@pytest.mark.parametrize(("node", "stale_s"), [("monitor", 0.12), ("helm", 0.16)])
def test_monitor_or_helm_lost_trips_the_boat(rig: SimRig, fault: str, node: str, stale_s: float, mode: str) -> None:
    params = {"delay_s": 0.5} if fault == "delayed" else {}
    course = begin(rig, mode, fault, node, **params)
    limit_s = stale_s + _late(fault, 0.04)
    at_most(course.boat_tripped_s, limit_s, "boat TRIPPED")
    at_most(course.port_order_zero_s, limit_s, "port order zero")
    at_most(course.port_torque_zero_s, limit_s + DRIVE_S, "port torque zero")
    assert course.signals["port.drive_enable"] == 0.0


@pytest.mark.parametrize(("fault", "mode"), SILENCES)
def test_drive_lost_isolates_its_shaft_only(rig: SimRig, fault: str, mode: str) -> None:
    course = begin(rig, mode, fault, "drive.port", **({"delay_s": 0.5} if fault == "delayed" else {}))
    limit_s = 0.08 + _late(fault, 0.02)
    at_most(course.port_isolated_s, limit_s, "port ISOLATED")
    at_most(course.port_torque_zero_s, limit_s + DRIVE_S, "port torque zero")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)
    assert course.signals["port.drive_enable"] == 0.0
    assert course.signals["starboard.drive_enable"] == 1.0


@pytest.mark.parametrize("mode", WORKING)
@pytest.mark.parametrize("fault", ["node_silent", "bad_crc"])
def test_contacts_lost_ends_torque(rig: SimRig, fault: str, mode: str) -> None:
    course = begin(rig, mode, fault, "contacts.port")
    at_most(course.port_order_zero_s, 0.16 + TICK_S, "port order zero")
    at_most(course.port_torque_zero_s, 0.16 + TICK_S + DRIVE_S, "port torque zero")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


@pytest.mark.parametrize("fault", ["node_silent", "bad_crc"])
def test_lever_box_lost_in_propel_ramps_down(rig: SimRig, fault: str) -> None:
    """A dead lever box is a lost lever: ramp to zero in 3 s, not a drop, and no trip of the shaft."""
    course = begin(rig, "PROPEL", fault, "lever.port", seconds=6.0)
    at_most(course.port_torque_zero_s, 0.16 + TICK_S + 3.0 + DRIVE_S, "port torque zero")
    assert course.port_torque_zero_s is not None
    assert course.port_torque_zero_s > 2.0, "the torque dropped instead of ramping down"
    assert (course.boat_tripped_s, course.port_isolated_s, course.starboard_left_s) == (None, None, None)
    assert course.signals["port.rearmed"] == 0.0
    assert "lever signal lost" in str(course.signals["boat.alarms"])


@pytest.mark.parametrize("mode", ["GENERATE", "HARVEST"])
def test_lever_box_lost_ends_charging(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "node_silent", "lever.port", seconds=3.0)
    at_most(course.port_torque_zero_s, 2.0, "port torque zero")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


def test_engine_gateway_lost_ends_charging_on_its_engine(rig: SimRig) -> None:
    course = begin(rig, "GENERATE", "node_silent", "engine.port", seconds=2.0)
    at_most(course.port_left_s, 0.5 + TICK_S, "port leaves GENERATE")
    at_most(course.port_torque_zero_s, 1.0, "port torque zero")
    assert (course.boat_tripped_s, course.port_isolated_s, course.starboard_left_s) == (None, None, None)


@pytest.mark.parametrize("mode", ["PROPEL", "HARVEST", "REST"])
def test_gateways_fall_silent_with_the_ignition_off(rig: SimRig, mode: str) -> None:
    SCENES[mode](rig)
    rig.inject("node_silent", "engine.port")
    rig.inject("node_silent", "engine.starboard")
    course = watch(rig, 2.0)
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)


# ---- faults that must do nothing


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("fault", ["duplicated", "reordered"])
def test_counted_and_nothing_else(rig: SimRig, fault: str, mode: str) -> None:
    """On all nodes at once: nothing ends, nothing begins."""
    SCENES[mode](rig)
    for node in rig.nodes.all:
        rig.inject(fault, node)
    course = watch(rig, 1.0)
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)
    for message, least in (("MONITOR_GUARD", 12), ("DRIVE_A_1", 24), ("LEVER_2", 12), ("CONTACTS_1", 12)):
        counted = rig.supervisor.table.counts("private", message)
        assert sum(counted.values()) >= least, message


@pytest.mark.parametrize("mode", MODES)
def test_half_a_bus_of_babble_is_borne(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "babbling", "private", load_pct=50.0)
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)
    assert rig.supervisor.table.report()["private"]["foreign"] > 900  # type: ignore[operator]


# ---- the bus itself


@pytest.mark.parametrize("mode", MODES)
def test_a_bus_full_of_babble_stops_everything(rig: SimRig, mode: str) -> None:
    """The supervisor hears nothing and is not heard: it trips, and the drives stop by themselves."""
    course = begin(rig, mode, "babbling", "private")
    at_most(course.port_isolated_s, 0.08 + TICK_S, "port ISOLATED")
    at_most(course.boat_tripped_s, 0.12 + TICK_S, "boat TRIPPED")
    at_most(course.port_torque_zero_s, 0.2 + DRIVE_S, "port torque zero")


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("fault", ["bus_off", "adapter_unplugged"])
def test_private_bus_lost(rig: SimRig, fault: str, mode: str) -> None:
    course = begin(rig, mode, fault, "private")
    at_most(course.boat_tripped_s, TICK_S, "boat TRIPPED")
    at_most(course.port_torque_zero_s, 0.2 + DRIVE_S, "port torque zero, by the drive itself")


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("fault", ["bus_off", "adapter_unplugged"])
def test_backbone_lost(rig: SimRig, fault: str, mode: str) -> None:
    course = begin(rig, mode, fault, "backbone", seconds=2.0)
    assert course.boat_tripped_s is None
    if mode == "GENERATE":
        at_most(course.port_left_s, 0.5 + TICK_S, "port leaves GENERATE")
        at_most(course.port_torque_zero_s, 1.0, "port torque zero")
    else:
        assert (course.port_left_s, course.starboard_left_s) == (None, None)


@pytest.mark.parametrize("mode", MODES)
def test_receive_overflow_on_the_private_bus(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "receive_overflow", "private")
    at_most(course.boat_tripped_s, 2 * TICK_S, "boat TRIPPED")
    at_most(course.port_torque_zero_s, 2 * TICK_S + DRIVE_S, "port torque zero")


def test_receive_overflow_on_the_backbone_is_counted(rig: SimRig) -> None:
    course = begin(rig, "PROPEL", "receive_overflow", "backbone")
    assert (course.boat_tripped_s, course.port_left_s) == (None, None)


@pytest.mark.parametrize("fault", ["bus_off", "adapter_unplugged"])
def test_private_bus_comes_back(rig: SimRig, fault: str) -> None:
    """TRIPPED stays until reset, STANDBY after it, and a lever left ahead moves nothing."""
    begin(rig, "PROPEL", fault, "private", seconds=3.0)
    rig.clear(fault, "private")
    course = watch(rig, 15.0)  # reopening waits longer from try to try, 10 s at most
    assert course.signals["boat.mode"] == "TRIPPED"
    assert rig.supervisor.port.receive_ok
    rig.act("helm.reset", "press")
    rig.run(1.0)
    assert rig.signals()["boat.mode"] == "STANDBY"
    rig.act("helm.enable", "press")
    for _ in range(100):
        rig.step()
        assert abs(float(rig.signals()["port.torque_nm"])) <= 0.5
    assert rig.signals()["boat.mode"] == "NEUTRAL_WAIT"


# ---- permits, monitor, contactor


@pytest.mark.parametrize("mode", ["GENERATE", "HARVEST", "AT_REST"])
def test_charge_permit_withdrawn(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "permit_withdrawn", "monitor", permit="charge")
    at_most(course.own_current_zero_s, 0.2, "own current of both drives zero")
    at_most(course.port_order_zero_s, 0.04 + TICK_S, "port order zero")
    assert course.boat_tripped_s is None
    assert course.signals["boat.stop_sources"] == 1.0


def test_charge_permit_withdrawn_in_propel(rig: SimRig) -> None:
    course = begin(rig, "PROPEL", "permit_withdrawn", "monitor", permit="charge")
    assert (course.boat_tripped_s, course.port_left_s) == (None, None)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", -60.0)
    for _ in range(300):  # reversal, with braking barred: never a current into the bank
        rig.step()
        for shaft in rig.shafts:
            assert float(rig.signals()[f"{shaft}.current_a"]) <= ZERO_A
    assert float(rig.signals()["port.torque_nm"]) < -20.0


def test_discharge_permit_withdrawn(rig: SimRig) -> None:
    course = begin(rig, "PROPEL", "permit_withdrawn", "monitor", permit="discharge")
    at_most(course.port_order_zero_s, 0.04 + TICK_S, "port order zero")
    at_most(course.port_torque_zero_s, 0.04 + TICK_S + DRIVE_S, "port torque zero")
    rig.clear("permit_withdrawn", "monitor")
    again = watch(rig, 2.0)
    assert again.signals["port.torque_nm"] == pytest.approx(0.0, abs=0.5), "moved without fresh neutral"
    assert again.signals["port.rearmed"] == 0.0


@pytest.mark.parametrize("mode", ["GENERATE", "HARVEST"])
def test_discharge_permit_withdrawn_while_charging(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "permit_withdrawn", "monitor", permit="discharge")
    assert (course.boat_tripped_s, course.port_left_s) == (None, None)


@pytest.mark.parametrize("mode", [*MODES, "AT_REST", "HANDSET"])
def test_monitor_fault(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "monitor_fault", "monitor", seconds=6.0)
    at_most(course.boat_tripped_s, 0.04 + TICK_S, "boat TRIPPED")
    at_most(course.own_current_zero_s, 0.2, "own current zero, well before the contactor opens")
    assert course.signals["bank.contactor"] == 0.0
    assert course.peak_v < 57.6  # no load dump: never above the bank's highest working voltage
    rig.act("helm.reset", "press")
    rig.run(0.5)
    assert rig.signals()["boat.mode"] == "TRIPPED"


@pytest.mark.parametrize("mode", MODES)
def test_contactor_warning(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "contactor_warning", "monitor", seconds=3.0)
    at_most(course.port_order_zero_s, 0.04 + TICK_S, "port order zero")
    at_most(course.own_current_zero_s, 0.2, "own current zero")
    at_most(course.boat_tripped_s, 2.0 + 0.04 + 2 * TICK_S, "boat TRIPPED")
    assert course.peak_v < 57.6


# ---- one shaft


@pytest.mark.parametrize("mode", MODES)
def test_drive_fault(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "drive_fault", "port")
    at_most(course.port_isolated_s, 2 * TICK_S, "port ISOLATED")
    assert course.signals["port.drive_enable"] == 0.0
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


def test_drive_fault_is_left_by_reset_and_fresh_neutral(rig: SimRig) -> None:
    begin(rig, "PROPEL", "drive_fault", "port")
    rig.act("helm.reset", "press")
    rig.run(0.5)
    assert rig.signals()["port.mode"] == "ISOLATED", "reset with the cause standing"
    rig.clear("drive_fault", "port")
    rig.run(1.0)
    rig.act("helm.reset", "press")
    rig.run(0.5)
    assert rig.signals()["port.mode"] == "ISOLATED", "reset with the lever ahead"
    rig.act("port.lever_pct", 0.0)
    rig.set_plant("boat.speed_kn", 5.0)
    rig.run(1.0)
    rig.act("helm.reset", "press")
    rig.run(0.1)
    assert rig.signals()["port.mode"] == "REST"
    assert float(rig.signals()["port.speed_rpm"]) > 20.0, "under way"
    rig.run(3.0)
    assert abs(float(rig.signals()["port.torque_nm"])) < 0.5, "moved without an order"
    rig.act("port.lever_pct", 40.0)
    rig.run(1.0)
    assert rig.signals()["port.mode"] == "PROPEL", rig.explain("port PROPEL")


@pytest.mark.parametrize("torque_nm", [30.0, -30.0])
def test_drive_disobeys_at_rest(rig: SimRig, torque_nm: float) -> None:
    course = begin(rig, "REST", "drive_disobeys", "port", torque_nm=torque_nm)
    # 30 N m shows in the first frame, must last 0.1 s, then the hard-wired enable falls
    at_most(course.port_isolated_s, TICK_S + 0.1 + TICK_S, "port ISOLATED")
    at_most(course.port_torque_zero_s, TICK_S + 0.1 + TICK_S + DRIVE_S, "port torque zero, by the hard-wired enable")
    assert course.signals["port.drive_enable"] == 0.0
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


@pytest.mark.parametrize("mode", WORKING)
def test_drive_that_disobeys_is_found_out_at_the_end_of_its_mode(rig: SimRig, mode: str) -> None:
    begin(rig, mode, "drive_disobeys", "port", torque_nm=25.0)
    rig.act("port.lever_pct", 0.0)
    rig.act("port.charge", "off")
    rig.act("port.harvest", False)
    course = watch(rig, 4.0)
    at_most(course.port_isolated_s, 3.0, "port ISOLATED")
    at_most(course.port_torque_zero_s, 3.0 + DRIVE_S, "port torque zero")
    assert course.boat_tripped_s is None


def test_precharge_failure_before_ready(rig: SimRig) -> None:
    """That shaft is isolated after 3 s, the other one makes the boat READY; one retry, then it stays."""
    rig.run(1.0)
    rig.inject("precharge_failure", "port")
    rig.act("helm.enable", "press")
    course = watch(rig, 6.0)
    at_most(course.port_isolated_s, 0.02 + 3.0 + 2 * TICK_S, "port ISOLATED")
    assert course.signals["boat.mode"] == "READY"
    assert course.signals["starboard.mode"] == "REST"
    rig.act("helm.reset", "press")
    rig.run(1.0)
    assert rig.signals()["port.mode"] != "ISOLATED", "no retry by hand"
    rig.run(4.0)
    assert rig.signals()["port.mode"] == "ISOLATED"
    rig.clear("precharge_failure", "port")
    rig.run(1.0)
    rig.act("helm.reset", "press")
    rig.run(2.0)
    assert rig.signals()["port.mode"] == "ISOLATED", "a second failure stays"


@pytest.mark.parametrize("mode", MODES)
def test_link_lost_in_service(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "precharge_failure", "port", seconds=6.0)
    at_most(course.port_isolated_s, 5.0, "port ISOLATED")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


@pytest.mark.parametrize("mode", ["GENERATE", "AT_REST"])
def test_engine_stall(rig: SimRig, mode: str) -> None:
    SCENES[mode](rig)
    rig.inject("engine_stall", "port")
    for number in range(200):
        rig.step()
        signals = rig.signals()
        assert float(signals["port.engine_rpm"]) > -1.0, "the engine was turned backwards"
        if number >= 5:
            assert signals["port.order_nm"] == 0.0
            assert abs(float(signals["port.torque_nm"])) <= ZERO_NM
    assert signals["port.mode"] == "REST"
    assert signals["boat.mode"] == "READY"


@pytest.mark.parametrize("mode", ["PROPEL", "HARVEST", "REST"])
def test_engine_without_fuel_elsewhere(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "engine_stall", "port")
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)


def test_lever_wire_breaks_in_propel(rig: SimRig) -> None:
    SCENES["PROPEL"](rig)
    was_nm = float(rig.signals()["port.torque_nm"])
    rig.inject("lever_lost", "port")
    rig.run(1.5)
    assert float(rig.signals()["port.torque_nm"]) == pytest.approx(was_nm / 2, abs=0.1 * was_nm)  # half-way down
    course = watch(rig, 3.0)
    at_most(course.port_torque_zero_s, 1.5 + 0.04 + TICK_S + DRIVE_S, "port torque zero")
    assert (course.boat_tripped_s, course.port_isolated_s, course.starboard_left_s) == (None, None, None)
    assert "lever signal lost" in str(course.signals["boat.alarms"])
    rig.clear("lever_lost", "port")
    again = watch(rig, 2.0)
    assert again.signals["port.torque_nm"] == pytest.approx(0.0, abs=0.5), "moved without fresh neutral"


@pytest.mark.parametrize("mode", ["GENERATE", "HARVEST", "REST"])
def test_lever_wire_breaks_elsewhere(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "lever_lost", "port", seconds=2.0)
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)
    assert "lever signal lost" in str(course.signals["boat.alarms"])


@pytest.mark.parametrize(("fault", "stale_s"), [("handset_lost", 0.04), ("node_silent", 0.12), ("bad_crc", 0.12)])
def test_handset_lost_in_control(rig: SimRig, fault: str, stale_s: float) -> None:
    course = begin(rig, "HANDSET", fault, "handset")
    at_most(course.port_order_zero_s, stale_s + TICK_S, "port order zero")
    at_most(course.port_torque_zero_s, stale_s + TICK_S + DRIVE_S, "port torque zero")
    assert course.boat_tripped_s is None
    assert any(
        event.kind == "alarm" and "handset link lost, or a lever left neutral" in event.text for event in rig.events
    )
    rig.clear(fault, "handset")
    again = watch(rig, 2.0)
    assert again.signals["port.torque_nm"] == pytest.approx(0.0, abs=0.5), "moved by itself when the link came back"


@pytest.mark.parametrize("mode", MODES)
def test_handset_lost_elsewhere(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "handset_lost", "handset")
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)


@pytest.mark.parametrize("mode", [*WORKING, "AT_REST", "HANDSET"])
@pytest.mark.parametrize("fault", ["clutch_stuck_in_transit", "lock_unproven"])
def test_clutch_or_lock_unproven(rig: SimRig, fault: str, mode: str) -> None:
    course = begin(rig, mode, fault, "port")
    at_most(course.port_order_zero_s, 0.04 + TICK_S, "port order zero")
    at_most(course.port_torque_zero_s, 0.04 + TICK_S + DRIVE_S, "port torque zero")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)


@pytest.mark.parametrize("fault", ["clutch_stuck_in_transit", "lock_unproven"])
def test_no_thrust_begins_on_an_unproven_line(rig: SimRig, fault: str) -> None:
    begin(rig, "REST", fault, "port")
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 40.0)
    rig.run(1.0)
    assert (rig.signals()["port.mode"], rig.signals()["starboard.mode"]) == ("REST", "PROPEL")
    assert any(word in " ".join(rig.explain("port PROPEL")) for word in ("clutch", "lock"))


@pytest.mark.parametrize("contact", ["port.clutch.closed", "port.lock.released"])
def test_a_contact_that_bounces_once_is_a_pause(rig: SimRig, contact: str) -> None:
    course = begin(rig, "PROPEL", "contact_bounces", contact, seconds=0.08, away_s=0.1, every_s=60.0)
    at_most(course.port_order_zero_s, 0.04 + TICK_S, "port order zero")
    assert (course.boat_tripped_s, course.starboard_left_s) == (None, None)
    rig.run(1.5)
    assert rig.signals()["port.mode"] == "PROPEL"
    assert "was stopped" not in str(rig.signals()["boat.alarms"])


def test_one_that_goes_on_bouncing_ends_thrust(rig: SimRig) -> None:
    begin(rig, "PROPEL", "contact_bounces", "port.clutch.closed")
    rig.run(2.0)
    assert (rig.signals()["port.mode"], rig.signals()["starboard.mode"]) == ("REST", "PROPEL")
    assert "port was stopped" in str(rig.signals()["boat.alarms"])


@pytest.mark.parametrize("mode", ["PROPEL", "HARVEST"])
def test_a_shore_contact_that_bounces_under_way_stops_nothing(rig: SimRig, mode: str) -> None:
    course = begin(rig, mode, "contact_bounces", "helm.shore_connected")
    assert (course.boat_tripped_s, course.port_left_s, course.starboard_left_s) == (None, None, None)


def test_a_diver_contact_that_bounces_ends_thrust_and_says_so(rig: SimRig) -> None:
    begin(rig, "PROPEL", "contact_bounces", "helm.diver_lockout", away_s=0.1, every_s=60.0)
    rig.run(1.0)
    assert (rig.signals()["port.mode"], rig.signals()["starboard.mode"]) == ("REST", "REST")
    for shaft in rig.shafts:
        assert f"{shaft} was stopped" in str(rig.signals()["boat.alarms"])
