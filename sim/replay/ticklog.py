"""The side file of a recorded run: the very ticks of the supervisor, and what its runtime knew of itself at each.

    # thwart ticks 1; stamp = time_s + 0.0
    time_s,receive_ok,deadline_ok,reopened
    0.02,1,1,

With it a replay decides bit by bit what was decided live: the rules' timers add up the lengths of the ticks. `time_s`
is written so that reading it back gives the same bits; the head says how the stamps of the bus log beside it count;
`reopened` lists the buses (space between) that had come back just then.
"""

from array import array
from collections.abc import Iterable
from pathlib import Path

from sim.replay.errors import ReplayError
from sim.replay.ticks import Moment, Recorded

NAME = "ticks.csv"
_HEAD = "# thwart ticks 1; stamp = time_s + "
_COLUMNS = "time_s,receive_ok,deadline_ok,reopened"


class TickLog:
    """Writes the side file. Raises OSError when the disk does."""

    def __init__(self, path: Path, offset_s: float = 0.0) -> None:
        """`offset_s` is what the bus log's stamps are ahead of the ticks' times (s)."""
        self._file = path.open("w", encoding="ascii", newline="\n")
        self._file.write(f"{_HEAD}{offset_s!r}\n{_COLUMNS}\n")

    def write(self, time_s: float, receive_ok: bool, deadline_ok: bool, reopened: Iterable[str] = ()) -> None:
        """One tick."""
        self._file.write(f"{time_s!r},{int(receive_ok)},{int(deadline_ok)},{' '.join(sorted(reopened))}\n")

    def close(self) -> None:
        """Close the file."""
        self._file.close()


def read_ticks(path: Path, tick_s: float) -> tuple[Recorded, float]:
    """The ticks, and the stamp of log time 0 in the bus log beside them. Raises ReplayError naming file and line."""
    times = array("d")
    moments: list[Moment] = []
    with path.open(encoding="ascii", errors="replace") as file:
        head = file.readline().rstrip("\n")
        columns = file.readline().rstrip("\n")
        try:
            offset_s = float(head.removeprefix(_HEAD))
        except ValueError:
            offset_s = float("nan")
        if not head.startswith(_HEAD) or columns != _COLUMNS or not abs(offset_s) < 1e12:
            raise ReplayError(f"{path}: is no list of ticks (line 1 or 2); remove it to replay on the boat's own tick")
        for number, line in enumerate(file, start=3):
            try:
                time_text, receive, deadline, buses = line.rstrip("\n").split(",")
                time_s = float(time_text)
                moment = Moment(len(times), _flag(receive), _flag(deadline), tuple(buses.split()))
            except ValueError:
                raise ReplayError(f"{path}: line {number}: is no tick: {line.strip()[:40]!a}") from None
            if times and not time_s > times[-1]:
                raise ReplayError(f"{path}: line {number}: {time_s!r} s does not follow {times[-1]!r} s")
            last = moments[-1] if moments else None
            if last is None or moment[1:] != last[1:] or moment.reopened:
                moments.append(moment)
            times.append(time_s)
    if not times:
        raise ReplayError(f"{path}: holds no tick")
    return Recorded(times, tick_s, moments), offset_s


def _flag(text: str) -> bool:
    if text not in ("0", "1"):
        raise ValueError(text)
    return text == "1"
