"""The survey and its proposed boat file, on recordings with engines and several banks made by another encoder."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import pytest

from sim.cli.app import dispatch
from sim.replay.propose import propose
from sim.replay.session import Session
from sim.replay.survey import survey
from supervisor.config import load_config

nmea2000 = pytest.importorskip("nmea2000", reason="PyPI nmea2000 encodes the recordings of these tests")


class Encoder:
    """PyPI nmea2000 fed with a template of each message and new values: an encoder that is not ours."""

    # one frame of each message, fields to be overwritten; the layouts are the encoder's own
    TEMPLATES: ClassVar[dict[str, list[str]]] = {
        "rapid": ["09F20016#007A0CFFFF7FFFFF"],
        "dynamic": ["09F20116#001A00E8030A0B0C", "09F20116#010D0E0F10111213", "09F20116#0214150000000000",
                    "09F20116#03000000007F7FFF"],
        "gear": ["09F20516#00FCFFFFFFFF00FF"],
        "battery": ["19F21416#00610A8FFFF475F4"],
        "detail": ["19F21216#000BFF00FF58FFFF", "19F21216#01FFFFFFFFFFFFFF"],
    }  # fmt: skip

    def __init__(self) -> None:
        from nmea2000.decoder import NMEA2000Decoder
        from nmea2000.encoder import create_encoder

        self._encoder = create_encoder("python_can")
        self._messages: dict[str, Any] = {}
        for name, frames in self.TEMPLATES.items():
            decoder = NMEA2000Decoder()
            for frame in frames:
                found = decoder.decode(f"(1.0) can0 {frame}")
                if found is not None:
                    self._messages[name] = found
        assert set(self._messages) == set(self.TEMPLATES)

    def lines(self, stamp: float, name: str, source: int, channel: str = "can1", **values: float | None) -> list[str]:
        message = self._messages[name]
        message.source = source
        for field in message.fields:
            if field.id in values:
                field.value = field.raw_value = values[field.id]
        frames = self._encoder.encode(message)
        return [
            f"({stamp + 0.0006 * k:.6f}) {channel} {frame.arbitration_id:08X}#{bytes(frame.data).hex().upper()}"
            for k, frame in enumerate(frames)
        ]


def trial(encoder: Encoder) -> Iterator[str]:
    """60 s: two engines at 10 Hz, gears, engine dynamics, two banks from two monitors, and some nonsense."""
    for k in range(600):
        stamp = 1_780_000_000.0 + k / 10
        yield from encoder.lines(stamp, "rapid", 22, instance=0, speed=800.0 + k)
        yield from encoder.lines(stamp + 0.01, "rapid", 23, instance=1, speed=2000.0 - k)
        if k % 5 == 0:
            yield from encoder.lines(stamp + 0.02, "dynamic", 22, instance=0, oilPressure=300_000.0 + 100 * k)
        if k % 10 == 0:
            yield from encoder.lines(stamp + 0.03, "gear", 22, instance=0, transmissionGear=k // 50 % 3)
            yield from encoder.lines(stamp + 0.04, "battery", 40, instance=0, voltage=12.8, current=None)
            yield from encoder.lines(stamp + 0.05, "battery", 41, instance=1, voltage=26.4, current=-5.0 + k / 100)
        if k % 15 == 0:
            yield from encoder.lines(stamp + 0.06, "detail", 41, instance=1, stateOfCharge=80 - k // 100)
        yield f"({stamp + 0.07:.6f}) can1 1CEFFF05#{k & 0xFF:02X}00FFFFFFFFFFFF"


@pytest.fixture(scope="module")
def engine_log(tmp_path_factory: pytest.TempPathFactory) -> str:
    path = tmp_path_factory.mktemp("survey") / "engines.log"
    path.write_text("".join(f"{line}\n" for line in trial(Encoder())), encoding="ascii")
    return str(path)


def test_survey_finds_engines_and_banks(engine_log: str) -> None:
    found = survey(engine_log)
    assert found.bad == {}
    assert found.health.damaged == 0
    devices = {(device.message, device.source, device.instance): decoded for device, decoded in found.devices.items()}
    assert set(devices) == {
        ("ENGINE_RAPID", 22, 0), ("ENGINE_RAPID", 23, 1), ("ENGINE_DYNAMIC", 22, 0), ("TRANSMISSION", 22, 0),
        ("BATTERY_STATUS", 40, 0), ("BATTERY_STATUS", 41, 1), ("DC_DETAILED_STATUS", 41, 1),
    }  # fmt: skip
    port = devices["ENGINE_RAPID", 22, 0]
    assert port.count == 600
    assert port.interval_s == pytest.approx(0.1, rel=0.01)
    assert (port.fields["Speed"].least, port.fields["Speed"].most) == (800.0, 1399.0)
    assert devices["ENGINE_DYNAMIC", 22, 0].count == 120
    assert devices["ENGINE_DYNAMIC", 22, 0].fields["OilPressure"].most == pytest.approx(359_500.0)
    assert devices["BATTERY_STATUS", 40, 0].fields["Current"].alive == "not available"
    assert devices["BATTERY_STATUS", 40, 0].fields["Voltage"].alive == "constant"
    assert devices["BATTERY_STATUS", 41, 1].fields["Current"].alive == "alive"
    proprietary = next(one for one in found.heard if one.place.arbitration_id == 0x1CEFFF05)
    assert proprietary.bytes_text() == "bytes 0 move, 2 3 4 5 6 7 always FF"


def test_proposed_file_replays_the_same_recording(engine_log: str, tmp_path: Path) -> None:
    text = propose(survey(engine_log))
    data = tomllib.loads(text)
    # the bank that tells its state of charge is taken, not the one that comes first
    assert {entry["where"]["Instance"] for entry in data["inputs"].values()} == {1}
    assert set(data["inputs"]) == {
        "bank.voltage_v", "bank.current_a", "bank.soc_pct", "bank.cell_hot_c", "bank.cell_cold_c",
    }  # fmt: skip
    assert [shaft["name"] for shaft in data["shaft"]] == ["port", "starboard"]
    assert "instance 0 from 40" in text  # what was not mapped is said
    path = tmp_path / "proposed.toml"
    path.write_text(text, encoding="utf-8")
    assert load_config(path).boat.listen_only
    session = Session(path, engine_log)
    session.run()
    readings = {reading.name: reading for reading in session.result().run.readings}
    assert (readings["port.engine.engine_speed_rpm"].least, readings["port.engine.engine_speed_rpm"].most) == (
        802,
        1399,
    )
    assert readings["starboard.engine.engine_speed_rpm"].last == 1401.0
    assert (readings["port.gearbox.gear_report"].least, readings["port.gearbox.gear_report"].most) == (-1.0, 1.0)
    assert readings["bank.voltage_v"].last == pytest.approx(26.4)
    assert readings["bank.soc_pct"].last == 75.0
    for name in ("port.engine.engine_speed_rpm", "bank.voltage_v", "bank.soc_pct"):
        assert readings[name].known_pct > 97.0, name


def written(path: Path, lines: list[str]) -> str:
    path.write_text("".join(f"{line}\n" for line in sorted(lines)), encoding="ascii")
    return str(path)


def test_an_engine_of_another_instance_on_another_channel(tmp_path: Path) -> None:
    """One engine, instance 2, on a channel of its own; state of charge under an instance of its own; nothing of it is
    left out, and the proposed file goes to another computer with its DBC file."""
    encoder = Encoder()
    lines: list[str] = []
    for k in range(100):
        stamp = 1_780_000_000.0 + k / 10
        lines += encoder.lines(stamp, "rapid", 3, channel="can5", instance=2, speed=1500.0 + k)
        lines += encoder.lines(stamp + 0.01, "gear", 3, channel="can5", instance=2, transmissionGear=1)
        lines += encoder.lines(stamp + 0.03, "dynamic", 3, channel="can5", instance=2)
        if k % 15 == 0:
            lines += encoder.lines(stamp + 0.02, "battery", 40, channel="can4", instance=7, voltage=26.4, current=-5.0)
            lines += encoder.lines(stamp + 0.04, "detail", 40, channel="can4", instance=8, stateOfCharge=64)
    log = written(tmp_path / "odd.log", lines)
    folder = tmp_path / "boat"
    assert dispatch(["replay", "--survey", log, "--out", str(folder)]) == 0
    assert {path.name for path in folder.iterdir()} == {"surveyed_boat.toml", "nmea2000.dbc"}
    moved = folder.rename(tmp_path / "elsewhere")
    text = (moved / "surveyed_boat.toml").read_text(encoding="utf-8")
    assert "check that both are the same bank" in text
    assert "ENGINE_DYNAMIC instance 2 from 3" in text
    session = Session(moved / "surveyed_boat.toml", log)
    session.run()
    last = {reading.name: reading.last for reading in session.result().run.readings}
    assert last["main.engine.engine_speed_rpm"] == 1599.0
    assert last["main.gearbox.gear_report"] == 0.0  # NMEA 2000: 1 is neutral
    assert last["bank.voltage_v"] == pytest.approx(26.4)
    assert last["bank.soc_pct"] == 64.0


def test_first_values_and_glitches_do_not_hide_a_bank_or_an_engine(tmp_path: Path) -> None:
    """A monitor that says 0 V once after power-up is taken all the same, before one that says nothing but the voltage;
    an engine speed that was damaged once neither hides the engine nor makes it a racing one."""
    encoder = Encoder()
    lines: list[str] = []
    for k in range(60):
        stamp = 1_780_000_000.0 + k
        lines += encoder.lines(stamp, "battery", 40, instance=1, voltage=0.0 if k == 0 else 51.2, current=-5.0)
        lines += encoder.lines(stamp + 0.1, "battery", 30, instance=1, voltage=327.0 if k == 5 else 51.0, current=None)
        lines += encoder.lines(stamp + 0.2, "detail", 40, instance=1, stateOfCharge=70)
        lines += encoder.lines(stamp + 0.3, "rapid", 22, instance=0, speed=16_000.0 if k == 9 else 1200.0)
    data = tomllib.loads(propose(survey(written(tmp_path / "glitches.log", lines))))
    assert data["inputs"]["bank.voltage_v"]["source"] == 40
    assert data["inputs"]["bank.current_a"]["source"] == 40
    assert data["bank"]["cells_in_series"] == 16
    (shaft,) = data["shaft"]
    assert shaft["name"] == "main"
    assert shaft["engine"]["max_rpm"] == 1500.0


def test_two_senders_about_one_instance_are_told_apart(tmp_path: Path) -> None:
    encoder = Encoder()
    lines: list[str] = []
    for k in range(20):
        lines += encoder.lines(1000.0 + k, "battery", 40, instance=0, voltage=13.0, current=1.0)
        lines += encoder.lines(1000.5 + k, "battery", 50, instance=0, voltage=26.0, current=2.0)
    path = tmp_path / "two.log"
    path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
    entry = tomllib.loads(propose(survey(str(path))))["inputs"]["bank.voltage_v"]
    assert entry["source"] in (40, 50)


def test_survey_command_line(engine_log: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert dispatch(["replay", "--survey", engine_log]) == 0
    out = capsys.readouterr().out
    assert "engine parameters, rapid" in out
    assert "ENGINE_RAPID from 23, instance 1: 600 messages, every 0.1 s" in out
    assert "[buses.backbone]" in out
    folder = tmp_path / "survey"
    assert dispatch(["replay", engine_log, "--survey", "--out", str(folder)]) == 0
    capsys.readouterr()
    assert dispatch(["replay", str(folder / "surveyed_boat.toml"), engine_log]) == 0
    assert "starboard.engine.engine_speed_rpm" in capsys.readouterr().out


def test_survey_of_the_real_recording(recording: str) -> None:
    found = survey(recording)
    banks = {device.instance for device in found.devices if device.message == "BATTERY_STATUS"}
    assert banks == {0, 2, 3}  # the README beside the recording: three instances, 0 is the live one
    entry = tomllib.loads(propose(found))["inputs"]["bank.soc_pct"]
    assert entry["where"] == {"Instance": 0}


def test_survey_of_an_rvc_bus(tmp_path: Path) -> None:
    """RV-C DC source status 1 and 2, instance 1, from address 0x46; layouts as in docs/bus.md."""
    lines = []
    for k in range(50):
        volts = round((51.0 + k / 100) / 0.05).to_bytes(2, "little").hex().upper()
        milliamps = (2_000_000_000 + 1000 * k).to_bytes(4, "little").hex().upper()
        lines.append(f"({k * 0.1:.6f}) can0 19FFFD46#0178{volts}{milliamps}")
        if k % 5 == 0:
            lines.append(f"({k * 0.1 + 0.01:.6f}) can0 19FFFC46#0178{round((25 + 273) / 0.03125):04X}8CFFFFFF")
    path = tmp_path / "rvc.log"
    path.write_text("".join(f"{line}\n" for line in lines), encoding="ascii")
    data = tomllib.loads(propose(survey(str(path))))
    assert data["buses"]["private"]["kind"] == "private"
    assert data["inputs"]["bank.current_a"]["factor"] == -1
    proposed = tmp_path / "proposed.toml"
    proposed.write_text(propose(survey(str(path))), encoding="utf-8")
    session = Session(proposed, str(path))
    session.run()
    readings = {reading.name: reading for reading in session.result().run.readings}
    assert readings["bank.current_a"].least == pytest.approx(-49.0)  # RV-C counts out of the bank, we count into it
    assert readings["bank.soc_pct"].last == 70.0
