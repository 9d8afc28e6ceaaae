"""The whole boat: deterministic, on real python-can buses, natural from cold, honest about what it cannot do."""

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import can
import pytest

from sim.bench.rig import EVENT_KINDS, Rig
from sim.rig.simulated import SimRig
from sim.rig.targets import targets_for
from supervisor.config import ConfigError, load_config
from supervisor.config.load import shipped_path
from supervisor.controller.decided import event_line
from supervisor.controller.events import Event, EventKind

MakeRig = Callable[..., SimRig]


def _enable(rig: SimRig) -> None:
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(2.0)
    assert rig.signals()["boat.mode"] == "READY", rig.explain("enable")


def _voyage(rig: SimRig) -> list[tuple[float, str, int, str]]:
    """Some of everything; every frame with its time."""
    frames: list[tuple[float, str, int, str]] = []
    rig.on_frame = lambda time_s, message, bus: frames.append((time_s, bus, message.arbitration_id, message.data.hex()))
    _enable(rig)
    rig.act("hotel.load_w", 400.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 45.0)
    rig.run(2.0)
    rig.inject("bad_crc", f"lever.{rig.shafts[0]}")
    rig.run(0.5)
    rig.clear("bad_crc", f"lever.{rig.shafts[0]}")
    rig.set_plant("bank.soc_pct", 30.0)
    rig.run(1.0)
    return frames


def test_it_is_a_rig(rig: SimRig) -> None:
    assert isinstance(rig, Rig)
    assert (rig.boat, tuple(rig.shafts), tuple(rig.buses)) == (
        "marsh_tern", ("port", "starboard"), ("private", "backbone"),
    )  # fmt: skip


@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_same_seed_same_frames(make_rig: MakeRig, boat: str) -> None:
    first, second = _voyage(make_rig(boat, seed=3)), _voyage(make_rig(boat, seed=3))
    assert len(first) > 1000
    assert first == second
    assert _voyage(make_rig(boat, seed=4)) != first


def test_frames_really_cross_the_virtual_bus(rig: SimRig) -> None:
    """A third bus object on each channel sees what was reported, frame for frame, in both directions."""
    reported: dict[str, list[tuple[int, bool, bytes]]] = {bus: [] for bus in rig.buses}

    def note(_time_s: float, message: can.Message, bus: str) -> None:
        reported[bus].append((message.arbitration_id, message.is_extended_id, bytes(message.data)))

    rig.on_frame = note
    third = {name: can.Bus(interface="virtual", channel=channel) for name, channel in rig.wires.channels.items()}
    try:
        rig.run(1.0)
        for name, bus in third.items():
            seen = []
            while (message := bus.recv(timeout=0)) is not None:
                seen.append((message.arbitration_id, message.is_extended_id, bytes(message.data)))
            assert seen == reported[name]
    finally:
        for bus in third.values():
            bus.shutdown()
    identifiers = {row[0] for row in reported["private"]}
    assert {0x012, 0x014, 0x021, 0x022, 0x031, 0x032, 0x03A, 0x049, 0x051, 0x079} <= identifiers
    assert {row[0] & 0x3FFFF00 for row in reported["backbone"]} == {0x1F20000, 0x1F20500}


def test_rigs_do_not_hear_each_other(make_rig: MakeRig) -> None:
    one, other = make_rig(), make_rig()
    one.run(1.0)
    assert other.wires.drain("private") == []
    assert other.supervisor.table.report()["private"]["frames"] == 0
    assert one.supervisor.table.report()["private"]["frames"] > 300


def test_from_cold(rig: SimRig) -> None:
    rig.run(2.0)
    signals = rig.signals()
    assert signals["boat.mode"] == "STANDBY"
    assert (signals["bank.contactor"], signals["bank.soc_pct"]) == (1.0, pytest.approx(70.0))
    for shaft in rig.shafts:
        assert (signals[f"{shaft}.link_v"], signals[f"{shaft}.engine_rpm"]) == (0.0, pytest.approx(0.0, abs=0.01))
        assert (signals[f"{shaft}.gear"], signals[f"{shaft}.clutch"], signals[f"{shaft}.lock"]) == (
            "neutral", "closed", "released",
        )  # fmt: skip
    assert rig.explain("enable") == []


def test_enable_in_gear_says_which_lever(rig: SimRig) -> None:
    rig.run(1.0)
    rig.act("port.lever_pct", 30.0)
    rig.run(0.2)
    assert rig.explain("enable") == ["port lever is not in neutral"]
    rig.act("helm.enable", "press")
    rig.run(1.0)
    assert rig.signals()["boat.mode"] == "NEUTRAL_WAIT"
    assert "port lever is not in neutral" in " ".join(rig.explain("enable"))
    refusals = [event for event in rig.events if event.kind == "refusal"]
    assert any("port lever is not in neutral" in event.text for event in refusals)


def test_truth_and_what_is_seen(rig: SimRig) -> None:
    """Currents and torques keep their sign on the way over the bus; quantisation is the bus's own."""
    _enable(rig)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 60.0)
    rig.run(4.0)
    signals = rig.signals()
    assert signals["bank.current_a"] < -60.0
    assert signals["bank.seen_current_a"] == pytest.approx(signals["bank.current_a"], abs=1.0)
    for shaft in rig.shafts:
        assert signals[f"{shaft}.torque_nm"] > 40.0
        assert signals[f"{shaft}.seen_torque_nm"] == pytest.approx(signals[f"{shaft}.torque_nm"], abs=0.06)
        assert signals[f"{shaft}.seen_torque_nm"] * 10 == pytest.approx(round(signals[f"{shaft}.seen_torque_nm"] * 10))
        assert signals[f"{shaft}.seen_current_a"] < -20.0
        assert signals[f"{shaft}.seen_machine_speed_rpm"] == pytest.approx(signals[f"{shaft}.speed_rpm"], abs=0.2)


def test_signals_keep_their_keys(rig: SimRig) -> None:
    before = rig.signals()
    assert math.isnan(float(before["bank.seen_soc_pct"]))
    _enable(rig)
    after = rig.signals()
    assert list(before) == list(after)
    for key, value in after.items():
        assert isinstance(value, str) is isinstance(before[key], str), key
        assert isinstance(value, (str, float)), key


def test_events_are_of_the_known_kinds(rig: SimRig) -> None:
    _voyage(rig)
    kinds = {event.kind for event in rig.events}
    assert kinds <= set(EVENT_KINDS)
    assert {"mode", "alarm", "gone", "action", "fault"} <= kinds
    times = [event.time_s for event in rig.events]
    assert times == sorted(times)


@pytest.mark.parametrize("boat", ["marsh_tern", "reed_warbler"])
def test_every_target_of_the_bench_is_understood(make_rig: MakeRig, boat: str) -> None:
    """Each `do` target is done, or refused with a sentence that names a part this boat has not."""
    rig = make_rig(boat)
    for target, kind in targets_for(tuple(rig.shafts)).items():
        value: Any = kind.words[0] if kind.words else (kind.low if kind.low <= kind.high else True)
        lacks = ("at_rest", "harvest", "clutch", "lock", "stop_and_lock")
        missing = boat == "reed_warbler" and target.split(".")[-1] in lacks
        if missing or (boat == "reed_warbler" and target.startswith("handset")):
            with pytest.raises(ValueError, match=r"not_fitted|no handset"):
                rig.act(target, value)
        else:
            rig.act(target, value)
    rig.run(0.2)


@pytest.mark.parametrize(
    ("target", "value"),
    [("helm.enable", 3.0), ("helm.horn", "press"), ("port.lever_pct", 101.0), ("port.lever_pct", True),
     ("port.gear", "reverse"), ("port.charge", True), ("middle.lever_pct", 0.0), ("hotel.load_w", -1.0),
     ("bank.isolator", "off"), ("handset.held", 1.0), ("handset.middle_pct", 0.0), ("port.nothing", 1.0)],
)  # fmt: skip
def test_wrong_actions_are_refused_and_named(rig: SimRig, target: str, value: Any) -> None:
    with pytest.raises(ValueError, match=target.partition(".")[0]):
        rig.act(target, value)


def test_starter_needs_the_permit(rig: SimRig) -> None:
    """In gear the starter's circuit is open: it does not crank, and the crew is told why."""
    rig.run(1.0)
    rig.act("port.gear", "ahead")
    rig.run(1.0)
    rig.act("port.engine", "start")
    refusal = rig.events[-1]
    assert (refusal.kind, refusal.subject) == ("refusal", "port")
    assert "gearbox is said to be in gear" in refusal.text
    rig.run(2.0)
    assert rig.signals()["port.engine_rpm"] < 1.0
    rig.act("port.gear", "neutral")
    rig.run(1.0)
    rig.act("port.engine", "start")
    rig.run(3.0)
    assert rig.signals()["port.engine_rpm"] > 700.0
    rig.act("port.engine", "stop")
    rig.run(5.0)
    assert rig.signals()["port.engine_rpm"] < 50.0


def test_lock_engages_only_on_a_still_shaft(rig: SimRig) -> None:
    rig.act("port.lock", "engage")
    assert rig.events[-1].kind == "refusal"
    rig.run(3.0)
    rig.act("port.lock", "engage")
    assert rig.events[-1].kind == "action"
    rig.run(3.0)
    assert rig.signals()["port.lock"] == "engaged"


def test_jumps(rig: SimRig) -> None:
    rig.run(1.0)
    for target, value, signal in (
        ("bank.soc_pct", 22.5, "bank.soc_pct"), ("bank.temperature_c", 3.0, "bank.cold_c"),
        ("boat.speed_kn", 6.5, "boat.speed_kn"), ("port.motor_c", 130.0, "port.motor_c"),
    ):  # fmt: skip
        rig.set_plant(target, value)
        assert rig.signals()[signal] == pytest.approx(value)
    rig.run(1.0)
    assert rig.signals()["bank.seen_soc_pct"] == pytest.approx(22.5, abs=0.6)
    for target, value in (("bank.soc_pct", 101.0), ("bank.colour", 1.0), ("port.engine_c", 1.0)):
        with pytest.raises(ValueError, match=target.replace(".", r"\.")):
            rig.set_plant(target, value)
    assert "starboard.load_shock_nm" in rig.plant_targets()


def test_explain_names_what_is_allowed(rig: SimRig) -> None:
    rig.run(0.5)
    assert rig.explain("STANDBY") == []
    assert "boat is not READY" in rig.explain("port PROPEL")
    for what in ("port FLY", "middle PROPEL", "lunch"):
        with pytest.raises(ValueError, match="allowed"):
            rig.explain(what)


def test_isolator_opens_the_contactor(rig: SimRig) -> None:
    _enable(rig)
    rig.act("bank.isolator", False)
    rig.run(0.5)
    assert rig.signals()["bank.contactor"] == 0.0
    assert rig.signals()["boat.mode"] == "TRIPPED"
    rig.act("bank.isolator", True)
    rig.run(3.0)
    assert rig.signals()["bank.contactor"] == 1.0
    assert rig.signals()["boat.mode"] == "TRIPPED"


def test_a_push_button_is_let_go_by_itself(rig: SimRig) -> None:
    rig.act("helm.acknowledge", "press")
    rig.run(0.28)
    assert rig.panel.contact("acknowledge") == 1
    rig.run(0.1)
    assert rig.panel.contact("acknowledge") == 0
    rig.act("helm.acknowledge", True)
    rig.run(5.0)
    assert rig.panel.contact("acknowledge") == 1
    rig.act("helm.acknowledge", False)
    assert rig.panel.contact("acknowledge") == 0


def test_reed_warbler_goes(make_rig: MakeRig) -> None:
    rig = make_rig("reed_warbler")
    _enable(rig)
    rig.act("main.lever_pct", 50.0)
    rig.run(5.0)
    assert rig.signals()["main.mode"] == "PROPEL"
    assert rig.signals()["boat.speed_kn"] > 0.5


def test_boats_that_cannot_be_simulated_say_so(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="listens"):
        SimRig("house_bank_24v")
    with pytest.raises(ConfigError, match="no such boat"):
        SimRig("no_such_boat")
    with pytest.raises(ConfigError, match="as many"):
        SimRig("marsh_tern", plant_path=shipped_path("plants/reed_warbler.toml"))
    broken = tmp_path / "plant.toml"
    broken.write_text("[hull]\nlength = 3\n", encoding="utf-8")
    with pytest.raises(ConfigError, match=r"plant\.toml"):
        SimRig("marsh_tern", plant_path=broken)
    with pytest.raises(ValueError, match="file it came from"):
        SimRig(load_config("marsh_tern"))


def test_the_bus_has_room(rig: SimRig) -> None:
    """Worst-case bits on the private bus stay below half of what 250 kbit/s carry."""
    bits = 0

    def note(_time_s: float, message: can.Message, bus: str) -> None:
        nonlocal bits
        if bus == "private":
            # stuffed frames at their longest: 55 + 10 n and 80 + 10 n bits (Davis et al., Real-Time Syst. 35, 2007)
            bits += (80 if message.is_extended_id else 55) + 10 * len(message.data)

    rig.on_frame = note
    rig.run(10.0)
    assert 0.2 < bits / 10.0 / 250_000 < 0.5


def test_an_event_about_a_missing_input_says_its_key_its_age_and_its_message(rig: SimRig) -> None:
    """And what was decided is the same without the ages: a controller without a bus knows none."""
    _enable(rig)
    rig.inject("node_silent", f"drive.{rig.shafts[0]}")
    rig.run(1.0)
    told = [event.text for event in rig.events if event.kind == "trip"]
    assert len(told) == 1
    assert re.search(r"drive\.torque_nm, .*: no good frame for 0\.1\d s, 0\.08 s allowed: DRIVE_A_1 0x021", told[0]), (
        told
    )
    seen = Event(1.0, EventKind.TRIP, "port", "a required input is missing", inputs=((0, 1),), detail="port x: silent")
    assert event_line(seen) == event_line(seen._replace(detail="", inputs=()))
    assert seen.told == "a required input is missing (port x: silent)"
