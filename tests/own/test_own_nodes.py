"""The simulated boat sends what own interlocks listen to, and a hand can put each of them as it likes."""

from pathlib import Path
from typing import Any

import can
import pytest
from own_boat import BILGE, LADDER, SEAL, write_boat

from sim.nodes.own import edges, own_rows, reading, side_code, unknown_code
from sim.rig.direct import DirectRig
from sim.rig.simulated import SimRig
from supervisor.bus import compile_boat
from supervisor.bus.e2e import GuardChecker, Verdict
from supervisor.config import load_config
from supervisor.signals import OwnInputs

Rig = SimRig | DirectRig


def rig_of(folder: Path, *entries: dict[str, Any], buses: bool = True) -> Rig:
    file = write_boat(folder, *entries)
    return SimRig(file) if buses else DirectRig(file)


def own(rig: Rig) -> OwnInputs:
    if isinstance(rig, DirectRig):
        return rig.inputs[0].own
    return rig.supervisor.table.snapshot(rig.now_s)[0].own


@pytest.fixture(params=[True, False], ids=["buses", "direct"])
def buses(request: pytest.FixtureRequest) -> bool:
    return bool(request.param)


class TestByHand:
    def test_all_are_good_at_power_up(self, tmp_path: Path, buses: bool) -> None:
        rig = rig_of(tmp_path, LADDER, BILGE | {"good_when": "off"}, SEAL, buses=buses)
        rig.run(1.0)
        now = own(rig)
        assert (now.known, now.on) == (0b111, 0b001)
        assert now.values[2] <= 70.0
        rig.close()

    @pytest.mark.parametrize(("value", "known", "on"), [("good", 1, 1), ("bad", 1, 0), ("unknown", 0, 0)])
    def test_a_contact(self, tmp_path: Path, buses: bool, value: str, known: int, on: int) -> None:
        rig = rig_of(tmp_path, LADDER, buses=buses)
        rig.run(1.0)
        rig.act("interlock.swim_ladder", value)
        rig.run(0.1)
        assert own(rig)[:2] == (known, on)
        rig.act("interlock.swim_ladder", "good")
        rig.run(0.1)
        assert own(rig)[:2] == (1, 1)
        rig.close()

    def test_a_number(self, tmp_path: Path, buses: bool) -> None:
        rig = rig_of(tmp_path, SEAL, buses=buses)
        for value, seen in (("good", None), ("bad", None), (79.9, 79.9), (80, 80.0), (-40.0, -40.0), (200.0, 200.0)):
            rig.act("interlock.shaft_seal", value)
            rig.run(0.2)
            assert own(rig).known == 1
            if seen is not None:
                assert own(rig).values[0] == pytest.approx(seen)
            else:
                assert (own(rig).values[0] >= 80.0) == (value == "bad")
        rig.act("interlock.shaft_seal", "unknown")
        rig.run(0.2)
        assert own(rig) == OwnInputs()
        rig.close()

    @pytest.mark.parametrize(
        ("target", "value", "words"),
        [
            ("interlock.swim_lader", "bad", "there is no interlock.swim_lader; allowed: interlock.swim_ladder"),
            ("interlock.swim_ladder", "down", '"good", "bad", "unknown"'),
            ("interlock.swim_ladder", True, '"good", "bad", "unknown"'),
            ("interlock.swim_ladder", 1.0, '"good", "bad", "unknown"'),
            ("interlock.shaft_seal", "hot", "a number of -40 to 200 degC"),
            ("interlock.shaft_seal", 201.0, "SealTemp cannot say so, -40 to 200 degC"),
        ],
    )
    def test_what_cannot_be_put(self, tmp_path: Path, target: str, value: float | str | bool, words: str) -> None:
        rig = rig_of(tmp_path, LADDER, SEAL, buses=False)
        with pytest.raises(ValueError, match=target) as caught:
            rig.act(target, value)
        assert words in str(caught.value)

    def test_a_boat_without_any_says_so(self) -> None:
        with pytest.raises(ValueError, match="none in the boat file"):
            DirectRig("marsh_tern").act("interlock.swim_ladder", "bad")

    def test_two_limits_on_one_signal(self, tmp_path: Path, buses: bool) -> None:
        """Too cold and too hot: two interlocks, one wire."""
        cold = {key: value for key, value in SEAL.items() if key != "bad_above"}
        cold |= {"name": "cold", "bad_below": 2.0, "hysteresis": 1.0, "effect": "warn"}
        del cold["limit_pct"]
        rig = rig_of(tmp_path, SEAL, cold, buses=buses)
        rig.run(0.5)
        assert own(rig).values[0] == own(rig).values[1]
        assert 3.0 <= own(rig).values[0] <= 70.0
        rig.act("interlock.cold", "bad")
        rig.run(0.2)
        assert own(rig).values[0] == own(rig).values[1] <= 2.0
        rig.close()

    def test_a_signal_without_a_code_for_it_falls_silent(self, tmp_path: Path, buses: bool) -> None:
        rig = rig_of(tmp_path, LADDER | {"message": "PLAIN", "signal": "Single", "stale_s": 0.4}, buses=buses)
        rig.run(1.0)
        rig.act("interlock.swim_ladder", "unknown")
        rig.run(0.6)
        assert own(rig).known == 0
        rig.act("interlock.swim_ladder", "bad")
        rig.run(0.6)
        assert own(rig)[:2] == (1, 0)
        rig.close()

    def test_a_moment_keeps_how_they_were_put(self, tmp_path: Path) -> None:
        rig = rig_of(tmp_path, LADDER, buses=False)
        assert isinstance(rig, DirectRig)
        rig.run(0.5)
        moment = rig.save()
        rig.act("interlock.swim_ladder", "bad")
        rig.run(0.5)
        rig.restore(moment)
        rig.run(0.1)
        assert own(rig)[:2] == (1, 1)


class TestFrames:
    def frames(self, rig: Rig, seconds: float, identifier: int) -> list[tuple[float, can.Message]]:
        found: list[tuple[float, can.Message]] = []

        def sink(time_s: float, message: can.Message, bus: str) -> None:
            if message.arbitration_id == identifier:
                found.append((time_s, message))

        rig.on_frame = sink
        rig.run(seconds)
        rig.close()
        return found

    def test_a_guarded_message_is_guarded_and_on_time(self, tmp_path: Path) -> None:
        found = self.frames(rig_of(tmp_path, LADDER), 2.0, 0x0A0)
        assert len(found) == pytest.approx(50, abs=1)
        checker = GuardChecker(0xB5A0)
        verdicts = [checker.check(message.data) for _, message in found]
        assert verdicts[1:] == [Verdict.OK] * (len(found) - 1)
        assert {len(message.data) for _, message in found} == {6}
        assert {message.data[1] >> 4 & 3 for _, message in found} == {1}  # up

    def test_a_plain_one_by_its_period(self, tmp_path: Path) -> None:
        found = self.frames(rig_of(tmp_path, LADDER | {"message": "PLAIN", "stale_s": 0.4}), 2.0, 0x500)
        assert len(found) == pytest.approx(20, abs=1)
        # what no interlock listens to says "not available" where it can: bilge 3, seal 65535
        assert {bytes(message.data) for _, message in found} == {bytes([0b1101, 0, 0xFF, 0xFF])}

    def test_a_source_address_is_kept(self, tmp_path: Path) -> None:
        seal = SEAL | {"message": "SEAL", "signal": "Temp", "source": 33, "where": {"Instance": 4}, "stale_s": 0.4}
        found = self.frames(rig_of(tmp_path, seal), 1.0, 0x1A000021)
        assert len(found) == pytest.approx(10, abs=1)
        assert {message.data[0] for _, message in found} == {4}

    def test_a_silent_node_is_unknown_in_the_end(self, tmp_path: Path, buses: bool) -> None:
        rig = rig_of(tmp_path, LADDER, buses=buses)
        rig.run(1.0)
        rig.inject("node_silent", "own.deck")
        rig.run(0.1)
        assert own(rig).known == 1
        rig.run(0.2)
        assert own(rig).known == 0
        rig.close()

    @pytest.mark.parametrize("fault", ["value_stuck", "value_out_of_range", "value_drift"])
    def test_faults_of_values(self, tmp_path: Path, buses: bool, fault: str) -> None:
        rig = rig_of(tmp_path, SEAL, buses=buses)
        rig.run(1.0)
        before = own(rig).values[0]
        rig.inject(fault, "interlock.shaft_seal")
        rig.act("interlock.shaft_seal", "bad")
        rig.run(2.0)
        if fault == "value_stuck":
            assert own(rig).values[0] == pytest.approx(before)
        elif fault == "value_drift":
            assert own(rig).values[0] > 90.5
        else:
            assert own(rig).known == 0
        rig.clear(fault, "interlock.shaft_seal")
        rig.run(0.2)
        assert own(rig).values[0] == pytest.approx(90.0)
        rig.close()


class TestSharedWithAPart:
    def test_a_signal_that_a_part_measures_says_the_truth_until_put(self, tmp_path: Path, buses: bool) -> None:
        """The motor's own temperature as an own interlock: the drive sends it anyway."""
        motor = SEAL | {"name": "motor", "message": "DRIVE_B_1", "signal": "MotorTemp", "stale_s": 0.4}
        rig = rig_of(tmp_path, motor, buses=buses)
        rig.run(0.5)
        assert own(rig).values[0] == pytest.approx(rig.plant.shafts[0].drive.motor_c, abs=1.0)
        rig.set_plant("port.motor_c", 95.0)
        rig.run(0.5)
        assert own(rig).values[0] == pytest.approx(95.0, abs=2.0)
        rig.act("interlock.motor", "good")
        rig.run(0.5)
        assert own(rig).values[0] <= 70.0
        shaft = rig.inputs[1][0] if isinstance(rig, DirectRig) else rig.supervisor.table.snapshot(rig.now_s)[1][0]
        assert shaft.motor_c == own(rig).values[0]  # one wire: what is put by hand reaches both
        rig.close()

    def test_a_contact_of_the_helm(self, tmp_path: Path, buses: bool) -> None:
        shore = LADDER | {"name": "shore", "message": "HELM_CONTACTS", "signal": "ShoreConnected", "good_when": "off"}
        rig = rig_of(tmp_path, shore, buses=buses)
        rig.run(0.5)
        assert own(rig)[:2] == (1, 0)
        rig.act("helm.shore_connected", True)
        rig.run(0.2)
        assert own(rig)[:2] == (1, 1)
        rig.close()


class TestEdges:
    """The values nearest to a threshold, for a procedure that looks at both sides of it."""

    def row(self, folder: Path, entry: dict[str, Any]) -> Any:
        file = write_boat(folder, entry)
        return own_rows(compile_boat(load_config(file), file))[0]

    def test_upwards(self, tmp_path: Path) -> None:
        found = edges(self.row(tmp_path, SEAL))
        assert found == (pytest.approx(79.9), pytest.approx(80.0), pytest.approx(70.1), pytest.approx(70.0))

    def test_downwards_between_codes(self, tmp_path: Path) -> None:
        entry = {key: value for key, value in SEAL.items() if key != "bad_above"}
        entry |= {"signal": "Tank", "bad_below": 10.3, "hysteresis": 5.0}
        found = edges(self.row(tmp_path, entry))
        assert found == (10.5, 10.0, 15.0, 15.5)

    def test_at_the_end_of_the_signal(self, tmp_path: Path) -> None:
        found = edges(self.row(tmp_path, SEAL | {"bad_above": 201.0, "hysteresis": 1.5}))
        assert found == (200.0, None, pytest.approx(199.6), pytest.approx(199.5))

    def test_codes_of_both_sides(self, tmp_path: Path) -> None:
        for number, entry in enumerate((LADDER, SEAL, LADDER | {"invert": True}, BILGE | {"good_when": "off"})):
            row = self.row(tmp_path / str(number), entry)
            good, bad = reading(row, side_code(row, bad=False)), reading(row, side_code(row, bad=True))
            assert good is not None
            assert bad is not None
            assert good != bad
            unknown = unknown_code(row)
            assert unknown is not None
            assert reading(row, unknown) is None


class TestFastPackets:
    def test_the_engines_own_coolant_from_the_backbone(self, tmp_path: Path, buses: bool) -> None:
        """A message of 26 bytes that no input of this boat listens to: it says the truth of the simulated engine until
        it is put by hand, in degC out of kelvin."""
        coolant = {
            "name": "port_coolant", "good": "port engine is cool", "bad": "port engine is hot", "bus": "backbone",
            "message": "ENGINE_DYNAMIC", "signal": "CoolantTemperature", "offset": -273.15, "where": {"Instance": 0},
            "stale_s": 2.5, "bad_above": 98.0, "hysteresis": 6.0, "debounce_s": 2.0, "effect": "warn",
        }  # fmt: skip
        rig = rig_of(tmp_path, coolant, buses=buses)
        rig.run(3.0)
        truth_c = rig.plant.shafts[0].engine.temperature_c
        assert own(rig).known == 1
        assert own(rig).values[0] == pytest.approx(truth_c, abs=0.1)
        rig.act("interlock.port_coolant", 98.0)
        rig.run(2.0)
        assert own(rig).values[0] == pytest.approx(98.0)
        rig.act("interlock.port_coolant", "unknown")
        rig.run(3.5)
        assert own(rig).known == 0
        rig.close()
