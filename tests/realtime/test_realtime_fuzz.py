"""Random and mutated frames, poured over a boat at work: no exception, no unsafe command, every bad frame counted.

A frame with up to three flipped bits is never accepted: the guard's polynomial has a Hamming distance of 4 at these
lengths (checked here, not believed). A wholly random one passes the checksum once in 256 and the counter then three
times in 15: what it says is believed, so the invariants of the outputs are those that hold whatever is believed.
"""

import random
from collections import Counter

import can
import pytest

from sim.rig.simulated import SimRig
from supervisor.bus.codec import MessageCodec
from supervisor.bus.inputs import InputTable
from supervisor.modes import BoatMode, ShaftMode
from supervisor.runtime.serial_line import SerialLine

CI_FRAMES, ALL_FRAMES = 100_000, 10_000_000
A_TICK = 50


def flip(draw: random.Random, data: bytearray, bits: int) -> None:
    for bit in draw.sample(range(8 * len(data)), bits):
        data[bit // 8] ^= 1 << bit % 8


class Fuzzer:
    """Makes frames. `guarded` are messages with a guard, `heard` the last good frame of each."""

    def __init__(self, rig: SimRig, seed: int) -> None:
        self.rig = rig
        self.draw = random.Random(seed)
        codecs = {row.message.name: row.message for row in rig.boat_map.inputs if row.bus == "private"}
        self.guarded: list[MessageCodec] = [one for one in codecs.values() if one.data_id is not None]
        self.numbers = [one.arbitration_id for one in codecs.values()]
        self.heard: dict[int, bytes] = {}
        self.sent: Counter[str] = Counter()
        rig.on_frame = self._note

    def _note(self, _time_s: float, message: can.Message, bus: str) -> None:
        if bus == "private":
            self.heard[message.arbitration_id] = bytes(message.data)

    def pour(self) -> None:
        tap = self.rig.wires.taps["private"]
        for _ in range(A_TICK):
            tap.send(self._make())

    def _make(self) -> can.Message:
        draw = self.draw
        kind = draw.choice(("flipped", "flipped", "random", "foreign", "short", "long", "replayed", "remote", "error"))
        codec = draw.choice(self.guarded)
        good = bytearray(self.heard.get(codec.arbitration_id, bytes(codec.length)))
        self.sent[kind] += 1
        if kind == "flipped":
            flip(draw, good, draw.randint(1, 3))
        elif kind == "random":
            good = bytearray(draw.randbytes(codec.length))
        elif kind == "short":
            good = good[: draw.randrange(len(good))]
        elif kind == "long":
            if len(good) == 8:
                flip(draw, good, 1)
            else:
                good += draw.randbytes(draw.randint(1, 8 - len(good)))
        elif kind == "foreign":
            extended = draw.random() < 0.5
            number = draw.getrandbits(29) if extended else draw.randrange(0x100, 0x800)
            return can.Message(arbitration_id=number, is_extended_id=extended, data=draw.randbytes(draw.randrange(9)))
        elif kind == "remote":
            return can.Message(arbitration_id=codec.arbitration_id, is_extended_id=False, is_remote_frame=True, dlc=8)
        elif kind == "error":
            return can.Message(arbitration_id=0, is_error_frame=True, data=bytes(8))
        return can.Message(arbitration_id=codec.arbitration_id, is_extended_id=False, data=good)


def check_outputs(rig: SimRig) -> None:
    """What must hold whatever is believed."""
    outcome = rig.outcome
    assert outcome is not None
    for mode, command in zip(outcome.shaft_modes, outcome.shaft_commands, strict=True):
        assert -1000.0 <= command.torque_nm <= 1000.0  # NaN fails as well
        if outcome.boat_mode != BoatMode.READY or mode in (ShaftMode.REST, ShaftMode.ISOLATED):
            assert command.torque_nm == 0.0
        if mode is ShaftMode.ISOLATED or outcome.boat_mode in (BoatMode.TRIPPED, BoatMode.STANDBY):
            assert command.permits & 1 == 0  # DRIVE_ENABLE


def refused(rig: SimRig) -> Counter[str]:
    total: Counter[str] = Counter()
    report = rig.supervisor.table.report()["private"]
    messages = report["messages"]
    assert isinstance(messages, dict)
    for counts in messages.values():
        for reason, count in counts.items():
            if reason != "sources":
                total[reason] += count
    total["foreign"] = int(str(report["foreign"]))
    total["frames"] = int(str(report["frames"]))
    noted = report["noted"]
    assert isinstance(noted, dict)
    total.update(noted)
    return total


def run(frames: int, seed: int) -> None:
    rig = SimRig("marsh_tern", seed=seed)
    fuzzer = Fuzzer(rig, seed)
    modes: Counter[BoatMode] = Counter()
    for tick in range(frames // A_TICK):
        place = tick % 400
        if place == 0:  # the crew starts again and again
            rig.act("port.lever_pct", 0.0)
            rig.act("helm.reset", "press")
        elif place == 60:
            rig.act("helm.enable", "press")
        elif place == 180:
            rig.act("port.lever_pct", 60.0)
        if tick > 20:
            fuzzer.pour()
        was = rig.outcome.boat_mode if rig.outcome is not None else BoatMode.STANDBY
        rig.step()
        assert rig.outcome is not None
        check_outputs(rig)
        if was is BoatMode.TRIPPED:
            assert rig.outcome.boat_mode in (BoatMode.TRIPPED, BoatMode.STANDBY)
        modes[rig.outcome.boat_mode] += 1
    assert len(modes) > 1  # the boat was not only tripped from end to end
    seen = refused(rig)
    sent = fuzzer.sent
    assert seen["remote frame"] == sent["remote"]
    assert seen["error frame"] == sent["error"]
    # every data frame is in exactly one place: good, refused for a reason, or not for us (a good frame may besides hold
    # a value that is refused)
    values = ("value out of its plausible range", "value is not a number", "sender says not available")
    aside = ("frames", "remote frame", "error frame", *values)
    every = sum(count for reason, count in seen.items() if reason not in aside)
    assert every == seen["frames"]
    bad = every - seen["good"] - seen["foreign"]
    surely_bad = sent["flipped"] + sent["short"] + sent["long"]
    assert bad >= surely_bad
    rig.close()


def test_fuzz() -> None:
    run(CI_FRAMES, 1)


@pytest.mark.campaign
def test_fuzz_long() -> None:
    run(ALL_FRAMES, 2)


def test_no_guarded_frame_with_up_to_three_flipped_bits_is_used() -> None:
    """Each frame is offered where the counter would suit it: only checksum and length stand in its way."""
    rig = SimRig("marsh_tern")
    draw = random.Random(3)
    rig.run(0.5)
    frames: dict[int, bytes] = {}
    rig.on_frame = lambda _time_s, message, bus: frames.update({message.arbitration_id: bytes(message.data)})
    rig.run(0.5)
    heard = {row.message.arbitration_id: row.message for row in rig.boat_map.inputs if row.message.data_id is not None}
    for number, codec in heard.items():
        table = InputTable(rig.boat_map)
        good = frames[number]
        for _ in range(500):
            data = bytearray(good)
            flip(draw, data, draw.randint(1, 3))
            table.feed("private", number, False, data, 1.0)
        assert sum(table.counts("private", codec.name).values()) == 500
        assert table.snapshot(1.0)[0].known == InputTable(rig.boat_map).snapshot(1.0)[0].known
    rig.close()


class Bytes:
    """A port with bytes in it."""

    def __init__(self) -> None:
        self.waiting = b""

    @property
    def in_waiting(self) -> int:
        return len(self.waiting)

    def read(self, size: int) -> bytes:
        chunk, self.waiting = self.waiting[:size], self.waiting[size:]
        return chunk


def test_serial_line_under_random_bytes() -> None:
    """Whatever comes over the serial line, what leaves is whole frame lines, and the rest is counted."""
    draw = random.Random(4)
    port = Bytes()
    line = SerialLine(port)
    sent = whole = 0
    for _ in range(20_000):
        good = draw.random() < 0.3
        if good:
            text = f"t{draw.randrange(0x800):03X}2{draw.getrandbits(16):04X}".encode()
        else:
            text = bytes(draw.choice(b"tTrRzZFV0189AaGg \xff\x00") for _ in range(draw.randint(1, 30)))
        port.waiting += text + b"\r"
        sent += 1
        out = b"".join(line.read(1) for _ in range(line.in_waiting))
        assert out == b"" or out.endswith(b"\r")
        if good:
            assert out == text + b"\r"
        whole += out.count(b"\r")
    assert whole + line.garbled <= sent
    assert line.garbled > 10_000
