"""Replay against python-can's bare reader, on the same generated logs in the same run.

    python tests/benchmarks/bench_replay.py [frames]

Targets: at least 60 % of the bare reader's frame rate where few frames are mapped, at least 25 % where half are; peak
memory below 200 MB and flat in the length of the log. Rates are by processor time, so that whatever else the computer
does weighs on neither side; each replay runs in a process of its own, which reports its peak memory.
"""

import random
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import can

from sim.replay.session import Options, Session

FEW_TARGET, HALF_TARGET, MEMORY_MB = 0.60, 0.25, 200.0


def backbone(frames: int, mapped_share: float, per_s: float, seed: int = 1) -> Iterator[str]:
    """An NMEA 2000 bus of some hundred identifiers; `mapped_share` of the frames are the bank's, moving."""
    rng = random.Random(seed)
    others = [f"{rng.choice((2, 3, 6)) << 26 | rng.randrange(0x1F000, 0x1FA00) << 8 | rng.randrange(1, 60):08X}"
              for _ in range(110)]  # fmt: skip
    stamp = 1_780_000_000.0
    amps, sequence, packet = 0, 0, ""
    for number in range(frames):
        stamp += rng.uniform(0.2, 1.8) / per_s
        pick = rng.random()
        if packet:
            name, data, packet = "19F21200", packet, ""
        elif pick < mapped_share * 0.2:
            sequence = (sequence + 1) % 8
            soc = 60 + number // 50_000 % 20
            name, data = "19F21200", f"{sequence << 5:02X}0BFF00FF{soc:02X}FFFF"
            packet = f"{sequence << 5 | 1:02X}FFFFFFFFFFFFFF"
        elif pick < mapped_share * 0.9:
            amps = max(-500, min(500, amps + rng.randrange(-9, 10)))
            little = (amps & 0xFFFF).to_bytes(2, "little").hex().upper()
            name, data = "19F21400", f"00610A{little}F475F4"
        else:
            name, data = others[number % 110], f"{rng.getrandbits(64):016X}"
        yield f"({stamp:.6f}) can0 {name}#{data}\n"


def hybrid(frames: int) -> Iterator[str]:
    """The private bus and backbone of marsh_tern as its simulator plays them, over and over; every second frame is one
    that concerns nobody."""
    from sim.rig.simulated import SimRig

    rig = SimRig("marsh_tern")
    channel = {bus: f"can{k}" for k, bus in enumerate(rig.buses)}
    played: list[tuple[float, str]] = []

    def note(time_s: float, message: can.Message, bus: str) -> None:
        width = 8 if message.is_extended_id else 3
        played.append((time_s, f"{channel[bus]} {message.arbitration_id:0{width}X}#{message.data.hex().upper()}"))

    rig.on_frame = note
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    for _ in range(3):
        for lever in (70.0, 0.0, -40.0, 0.0):
            rig.act("port.lever_pct", lever)
            rig.act("starboard.lever_pct", lever)
            rig.run(4.0)
    rig.close()
    rng = random.Random(2)
    written, round_s = 0, 0.0
    while True:
        for time_s, text in played:
            yield f"({round_s + time_s:.6f}) {text}\n"
            foreign = f"0DF1{rng.randrange(0x10, 0x20):02X}{rng.randrange(1, 40):02X}#FF{rng.getrandbits(56):014X}"
            yield f"({round_s + time_s:.6f}) can1 {foreign}\n"
            written += 2
            if written >= frames:
                return
        round_s += played[-1][0] + 0.02


def write(path: Path, lines: Iterator[str]) -> Path:
    with path.open("w", encoding="ascii") as file:
        file.writelines(lines)
    return path


def bare(path: Path) -> float:
    """Frames a second of python-can's own reader."""
    begun = time.process_time()
    count = sum(1 for _ in can.LogReader(path))
    return count / (time.process_time() - begun)


def replay(boat: str, path: str, rules: bool) -> None:
    """In a process of its own: print frames a second, peak MB, whole ticks, ticks."""
    begun = time.process_time()
    session = Session(boat, path, Options(rules=rules))
    session.run()
    took_s = time.process_time() - begun
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    engine = session.engine
    ticks = engine.tick if engine is not None else 0
    print(session.source.health.frames / took_s, peak_mb, session.subject.whole_ticks, ticks)


def measured(boat: str, path: Path, *, rules: bool) -> tuple[float, float, int, int]:
    command = [sys.executable, __file__, "--replay", boat, str(path), str(int(rules))]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    rate, peak, whole, ticks = done.stdout.split()
    return float(rate), float(peak), int(whole), int(ticks)


def main(frames: int) -> int:
    failed = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        cases = [
            ("few mapped, 73 frames/s", "house_bank_24v", 0.034, 73.0, FEW_TARGET),
            ("few mapped, 800 frames/s", "house_bank_24v", 0.034, 800.0, FEW_TARGET),
            ("half mapped, 73 frames/s", "house_bank_24v", 0.55, 73.0, HALF_TARGET),
            ("half mapped, 800 frames/s", "house_bank_24v", 0.55, 800.0, HALF_TARGET),
        ]
        print(f"{'log':<34} {'bare k/s':>9} {'replay k/s':>10} {'share':>7} {'target':>7} {'peak MB':>8}  whole ticks")
        for label, boat, share, per_s, target in cases:
            path = write(folder / "trial.log", backbone(frames, share, per_s))
            failed += show(label, bare(path), measured(boat, path, rules=True), target)
        path = write(folder / "trial.log", hybrid(frames))
        rate = bare(path)
        failed += show("two shafts, half mapped", rate, measured("marsh_tern", path, rules=False), HALF_TARGET)
        show("the same, with requirements", rate, measured("marsh_tern", path, rules=True), None)
        peaks = []
        for count in (frames // 10, frames, frames * 10):
            path = write(folder / "trial.log", backbone(count, 0.1, 400.0))
            rate, peak, *_ = measured("house_bank_24v", path, rules=True)
            peaks.append(peak)
            print(f"{count:>9} frames: {rate / 1000:.0f} k/s, peak {peak:.0f} MB")
        if max(peaks) > MEMORY_MB or peaks[-1] > 1.15 * peaks[0]:
            print("MEMORY: not flat, or above the target")
            failed += 1
    return 1 if failed else 0


def show(label: str, rate: float, found: tuple[float, float, int, int], target: float | None) -> int:
    ours, peak, whole, ticks = found
    share = ours / rate
    missed = target is not None and share < target
    aim = "" if target is None else f"{100 * target:.0f} %"
    print(f"{label:<34} {rate / 1000:>9.1f} {ours / 1000:>10.1f} {100 * share:>6.0f}% {aim:>7} {peak:>8.0f}  "
          f"{whole} of {ticks}{'  MISSED' if missed else ''}", flush=True)  # fmt: skip
    return int(missed)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--replay"]:
        replay(sys.argv[2], sys.argv[3], sys.argv[4] == "1")
    else:
        sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000))
