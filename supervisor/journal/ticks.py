"""The list of ticks beside a bus log: with it a replay decides bit by bit what was decided live.

    # thwart ticks 1; stamp = time_s + 0.0; since_full_s = 0.0
    time_s,receive_ok,deadline_ok,reopened,decided
    0.02,1,1,,8a3b5c00

The rules' timers add up the lengths of the ticks, so the very times are needed; `time_s` is written so that reading it
back gives the same bits. `decided` is the code of what the tick decided (supervisor.controller.decided), empty where it
decided nothing: a replay of this log by this boat file has the same. The head says what the log's stamps are ahead of
the ticks, and how long ago the last full charge was when the run began; in a file that goes on after a rotation it ends
in `continued` instead.
"""

from collections.abc import Iterable
from pathlib import Path

HEAD = "# thwart ticks 1; stamp = time_s + "
SINCE = "since_full_s = "
CONTINUED = "continued"
COLUMNS = "time_s,receive_ok,deadline_ok,reopened,decided"
OLD_COLUMNS = "time_s,receive_ok,deadline_ok,reopened"
"""Of lists written before the ticks had codes."""


def head(offset_s: float, since_full_s: float | None) -> str:
    """The first two lines; `since_full_s` None for a list that goes on after a rotation."""
    tail = CONTINUED if since_full_s is None else f"{SINCE}{since_full_s!r}"
    return f"{HEAD}{offset_s!r}; {tail}\n{COLUMNS}\n"


def line(
    time_s: float, receive_ok: bool, deadline_ok: bool, reopened: Iterable[str] = (), decided: int | None = None
) -> str:
    """One tick."""
    code = "" if decided is None else f"{decided:08x}"
    return f"{time_s!r},{int(receive_ok)},{int(deadline_ok)},{' '.join(sorted(reopened))},{code}\n"


class TickLog:
    """Writes a list of ticks at once, for runs that nothing hurries. Raises OSError when the disk does."""

    def __init__(
        self, path: Path, offset_s: float = 0.0, since_full_s: float = 0.0, *, continued: bool = False
    ) -> None:
        """`offset_s` is what the bus log's stamps are ahead of the ticks' times (s)."""
        self._file = path.open("w", encoding="ascii", newline="\n")
        self._file.write(head(offset_s, None if continued else since_full_s))

    def write(
        self, time_s: float, receive_ok: bool, deadline_ok: bool, reopened: Iterable[str] = (),
        decided: int | None = None,
    ) -> None:  # fmt: skip
        """One tick."""
        self._file.write(line(time_s, receive_ok, deadline_ok, reopened, decided))

    def close(self) -> None:
        """Close the file."""
        self._file.close()
