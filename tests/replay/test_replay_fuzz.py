"""Damaged recordings of every format: never a traceback, never a hang."""

import gzip
import random
import re
import time
from collections.abc import Callable, Iterator
from importlib.util import find_spec
from pathlib import Path

import can
import pytest
from replay_lines import battery_line, soc_lines  # type: ignore[import-not-found]

from sim.replay.errors import ReplayError
from sim.replay.opening import open_recording
from sim.replay.session import Session
from sim.replay.survey import survey

LONGEST_S = 20.0
"""Far more than any of these small files takes, even on a busy computer."""


def sound_lines(frames: int = 120) -> list[str]:
    lines: list[str] = []
    for k in range(frames // 3):
        stamp = 1_780_000_000.0 + 0.5 * k
        lines += [battery_line(stamp, 26.5, k % 40), *soc_lines(stamp + 0.01, 70 + k % 9, sequence=k % 8)]
        lines.append(f"({stamp + 0.02:.6f}) can1 1A3#0011223344")
    return lines


def sound_files(folder: Path) -> dict[str, bytes]:
    """The same traffic in every format, as bytes."""
    source = folder / "sound.log"
    source.write_text("".join(f"{line}\n" for line in sound_lines()), encoding="ascii")
    found = {".log": source.read_bytes()}
    for ending, writer in (
        (".asc", can.ASCWriter), (".blf", can.BLFWriter), (".csv", can.CSVWriter), (".trc", can.TRCWriter),
    ):  # fmt: skip
        path = folder / f"sound{ending}"
        with writer(path) as out:
            for message in can.LogReader(source):
                message.channel = 0 if message.channel == "can0" else 1
                out.on_message_received(message)
        found[ending] = path.read_bytes()
    path = folder / "sound.db"
    out = can.SqliteWriter(path)
    for message in can.LogReader(source):
        out.on_message_received(message)
    out.stop()
    found[".db"] = path.read_bytes()
    if find_spec("asammdf") is not None:
        path = folder / "sound.mf4"
        with can.MF4Writer(path) as writer:
            for message in can.LogReader(source):
                message.channel = 0 if message.channel == "can0" else 1
                writer.on_message_received(message)
        found[".mf4"] = path.read_bytes()
    found[".log.gz"] = gzip.compress(found[".log"], mtime=0)
    return found


def mutate(content: bytes, rng: random.Random) -> bytes:
    """A few changes of the kinds that disks, cables and editors make."""
    data = bytearray(content)
    for _ in range(rng.randrange(1, 9)):
        place = rng.randrange(len(data)) if data else 0
        kind = rng.randrange(8)
        if kind == 0 and data:
            data[place] = rng.randrange(256)
        elif kind == 1 and data:
            data[place] ^= 1 << rng.randrange(8)
        elif kind == 2:
            del data[place : place + rng.randrange(1, 40)]
        elif kind == 3:
            data[place:place] = rng.randbytes(rng.randrange(1, 40))
        elif kind == 4:
            del data[place:]
        elif kind == 5:  # a piece of the file again, elsewhere
            data[place:place] = data[max(0, place - 300) : place]
        elif kind == 6:  # digits for digits: stamps, identifiers, lengths
            for k in range(place, min(place + 12, len(data))):
                if 0x30 <= data[k] <= 0x39:
                    data[k] = rng.randrange(0x30, 0x3A)
        else:
            lines = bytes(data).split(b"\n")
            rng.shuffle(lines)
            data = bytearray(b"\n".join(lines))
    return bytes(data)


def replay_quietly(path: Path) -> str:
    """ "" or the complaint; any other exception is the failure that is looked for."""
    for work in (lambda: Session("house_bank_24v", str(path)).run(), lambda: survey(str(path))):
        begun_s = time.monotonic()
        try:
            work()
        except ReplayError as exc:
            if str(path) not in str(exc):
                raise
        took_s = time.monotonic() - begun_s
        assert took_s < LONGEST_S, f"{path} took {took_s:.1f} s"
    return ""


def cases(count: int, seed: int) -> Iterator[tuple[int, int]]:
    return ((seed + k, k) for k in range(count))


def run_cases(folder: Path, count: int, seed: int, keep: Callable[[Path], None] = lambda _: None) -> None:
    sound = sound_files(folder)
    endings = sorted(sound)
    for number in range(count):
        rng = random.Random(seed * 1_000_003 + number)
        ending = endings[number % len(endings)]
        path = folder / f"damaged{ending}"
        path.write_bytes(mutate(sound[ending], rng))
        keep(path)
        try:
            replay_quietly(path)
        except BaseException as exc:  # the recipe for this very file, then on with the failure
            exc.add_note(f"seed {seed}, number {number}, format {ending}")
            raise


@pytest.mark.parametrize("seed", range(7))
def test_fifty_damaged_files(tmp_path: Path, seed: int) -> None:
    run_cases(tmp_path, 50, seed)


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(100, 200))
def test_ten_thousand_damaged_files(tmp_path: Path, seed: int) -> None:
    run_cases(tmp_path, 100, seed)


def test_the_sound_files_are_read_alike_in_every_format(tmp_path: Path) -> None:
    sound = sound_files(tmp_path)
    digests = set()
    for ending, content in sound.items():
        path = tmp_path / f"again{ending}"
        path.write_bytes(content)
        session = Session("house_bank_24v", str(path))
        session.run()
        assert session.source.health.damaged == 0, ending
        assert session.source.health.frames == 160, ending
        digests.add(session.decisions.digest)
    assert len(digests) == 1


@pytest.mark.parametrize("ending", [".asc", ".trc", ".csv", ".log"])
def test_a_line_that_brings_no_frame_is_counted(tmp_path: Path, ending: str) -> None:
    """In each of 300 files some characters of one line that holds a frame are others: the frame is read, whatever it
    says now, or the line is counted. Readers of the text formats pass over what they do not know without a word."""
    lines = sound_files(tmp_path)[ending].decode("latin-1").splitlines(keepends=True)
    path = tmp_path / f"damaged{ending}"
    path.write_text("".join(lines), encoding="latin-1")

    def read() -> tuple[int, int]:
        source = open_recording(str(path), lambda *place: place, gap_s=10.0)
        for _ in source.batches():
            pass
        source.close()
        health = source.health
        return health.frames, health.damaged + sum(health.other.values())

    whole, wrong = read()
    assert whole > 100
    assert wrong == 0
    bearing = [number for number, line in enumerate(lines) if re.search(r"(1A3|0x1a3|1a3)", line)]
    bearing += [number for number, line in enumerate(lines) if "19F2" in line.upper()]
    rng = random.Random(3)
    for number in range(300):
        place = rng.choice(bearing)
        characters = list(lines[place])
        for _ in range(rng.randrange(1, 4)):
            characters[rng.randrange(len(characters) - 2)] = rng.choice("0123456789 abXYZ#.:;-")
        path.write_text("".join([*lines[:place], "".join(characters), *lines[place + 1 :]]), encoding="latin-1")
        frames, wrong = read()
        assert frames + wrong >= whole, f"number {number}: {lines[place]!r} became {''.join(characters)!r}"
