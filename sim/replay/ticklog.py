"""Reads the list of ticks of a recorded run (supervisor.journal.ticks): the very ticks of the supervisor, and what its
runtime knew of itself at each. `reopened` lists the buses (space between) that had come back just then.

`ticks.csv` lies beside `bus.log`; beside rotating logs `bus-000001.log` lie `bus-000001.ticks` and so on.
"""

from array import array
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from sim.replay.errors import ReplayError
from sim.replay.ticks import Moment, Recorded
from supervisor.journal.ticks import COLUMNS, CONTINUED, HEAD, OLD_COLUMNS, SINCE

NAME = "ticks.csv"
ENDING = ".ticks"


class Head(NamedTuple):
    """First line of a side file. `since_full_s` is None in one that goes on after a rotation."""

    offset_s: float
    since_full_s: float | None


class RecordedTicks(NamedTuple):
    """All ticks of a run. `whole` is False when its beginning has been rotated away."""

    ticks: Recorded
    offset_s: float
    since_full_s: float
    whole: bool


def read_head(path: Path) -> Head:
    """The first line. Raises ReplayError naming the file."""
    with path.open(encoding="ascii", errors="replace") as file:
        line = file.readline(400).rstrip("\n")
    numbers = line.removeprefix(HEAD)
    offset_text, _, tail = numbers.partition("; ")
    try:
        offset_s = float(offset_text)
        since_full_s = None if tail == CONTINUED else float(tail.removeprefix(SINCE) or "0.0")
    except ValueError:
        offset_s, since_full_s = float("nan"), None
    since_sound = since_full_s is None or 0.0 <= since_full_s <= 1e9
    if not line.startswith(HEAD) or not abs(offset_s) < 1e12 or not since_sound:
        raise ReplayError(f"{path}: line 1: is no list of ticks; remove it to replay on the boat's own tick")
    return Head(offset_s, since_full_s)


def last_run(logs: Sequence[Path]) -> list[Path]:
    """Of rotating logs, oldest first, those of the last run, as far as their side files tell; else all of them."""
    for place in range(len(logs) - 1, -1, -1):
        side = logs[place].with_suffix(ENDING)
        if side.is_file() and read_head(side).since_full_s is not None:
            return list(logs[place:])
    return list(logs)


def read_ticks(paths: Sequence[Path], tick_s: float) -> RecordedTicks:
    """The ticks of one run out of its side files, in order. Raises ReplayError naming file and line."""
    times = array("d")
    moments: list[Moment] = []
    heads = [read_head(path) for path in paths]
    decided = array("q")
    for path in paths:
        _read(path, times, moments, decided)
    if not times:
        raise ReplayError(f"{paths[0]}: holds no tick")
    first = heads[0]
    whole = first.since_full_s is not None
    return RecordedTicks(Recorded(times, tick_s, moments, decided), first.offset_s, first.since_full_s or 0.0, whole)


def _read(path: Path, times: "array[float]", moments: list[Moment], decided: "array[int]") -> None:
    with path.open(encoding="ascii", errors="replace") as file:
        file.readline()
        columns = file.readline().rstrip("\n")
        if columns not in (COLUMNS, OLD_COLUMNS):
            raise ReplayError(f"{path}: line 2: must be {COLUMNS}")
        for number, line in enumerate(file, start=3):
            if not line.endswith("\n"):
                return  # cut off in the middle of a tick: a power cut
            try:
                time_text, receive, deadline, buses, *more = line.rstrip("\n").split(",")
                if len(more) != (columns == COLUMNS):
                    raise ValueError(line)
                code = int(more[0], 16) if more and more[0] else -1
                time_s = float(time_text)
                moment = Moment(len(times), _flag(receive), _flag(deadline), tuple(buses.split()))
            except ValueError:
                raise ReplayError(f"{path}: line {number}: is no tick: {line.strip()[:40]!a}") from None
            if not abs(time_s) < 1e12 or (times and not time_s > times[-1]):
                raise ReplayError(f"{path}: line {number}: {time_text} s does not follow the tick before")
            last = moments[-1] if moments else None
            if last is None or moment[1:3] != last[1:3] or moment.reopened:
                moments.append(moment)
            times.append(time_s)
            decided.append(code if -1 <= code <= 0xFFFFFFFF else -1)


def _flag(text: str) -> bool:
    if text not in ("0", "1"):
        raise ValueError(text)
    return text == "1"
