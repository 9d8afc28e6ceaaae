"""Opens a recording: format by ending, by `--format`, or by its first bytes; compressed or not; a file or stdin."""

import contextlib
import io
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import BinaryIO, cast

import can

from sim.errors import installs
from sim.replay.candump import CandumpSource
from sim.replay.errors import ReplayError
from sim.replay.foreign import READER_ERRORS, ForeignSource, GuardedBlfReader, GuardedText
from sim.replay.mf4 import GuardedMf4Reader
from sim.replay.source import STREAM_ERRORS, Select, Source
from sim.replay.ticklog import last_run
from sim.replay.unpacking import PACKED_MAGIC, Unpacked

FORMATS = {
    "candump": ".log", "asc": ".asc", "blf": ".blf", "csv": ".csv", "trc": ".trc", "sqlite": ".db", "mf4": ".mf4",
}  # fmt: skip
"""Format -> ending of its files."""

_ENDINGS = {ending: kind for kind, ending in FORMATS.items()}
_MAGIC = {b"\x1f\x8b": ".gz", b"BZh": ".bz2", b"\xfd7zXZ": ".xz"}
_MAGIC = {b"LOGG": "blf", b"MDF ": "mf4", b"SQLite format 3": "sqlite", b"(": "candump"}


def open_recording(
    path: str, select: Select, *, gap_s: float, origin: float | None = None, form: str | None = None
) -> Source:
    """Open `path` ("-" is standard input). `form` is one of FORMATS, None for what the file says it is.

    `gap_s` is the silence that counts as a gap; `origin` the stamp of log time 0, None for the first frame's. Raises
    ReplayError when there is no such file, it is empty, or its format is unknown.
    """
    if path == "-":
        return _open_stream(_standard_input(), "standard input", (), select, gap_s, origin, form, None)
    file = Path(path)
    if not file.exists():
        raise ReplayError(f"{path}: no such file")
    if file.is_dir():
        chain = ChainedFiles(recordings_in(file))
        return CandumpSource(cast(BinaryIO, chain), cast(BinaryIO, chain), select, gap_s, origin, chain.size)
    try:
        size = file.stat().st_size
        stream = file.open("rb")
    except OSError as exc:
        raise ReplayError(f"{path}: cannot be read: {exc.strerror or exc}") from exc
    if file.is_file() and size == 0:
        stream.close()
        raise ReplayError(f"{path}: is empty (0 bytes); nothing was recorded in it")
    suffixes = tuple(suffix.lower() for suffix in file.suffixes[-2:])
    return _open_stream(stream, path, suffixes, select, gap_s, origin, form, size)


def recordings_in(folder: Path) -> list[Path]:
    """The bus logs of the last run in a folder, oldest first. Raises ReplayError if it holds none."""
    found = last_run(sorted(folder.glob("bus-*.log")))
    if (folder / "bus.log").is_file():
        found.append(folder / "bus.log")
    if not found:
        raise ReplayError(f"{folder}: is a folder without bus.log or bus-*.log; name the recording itself")
    return found


class ChainedFiles:
    """Several files read as one, for the rotating logs of one run."""

    def __init__(self, paths: Sequence[Path]) -> None:
        self.size = sum(path.stat().st_size for path in paths)
        self.closed = False
        self._left = list(paths)
        self._file: BinaryIO | None = None
        self._done = 0

    def read(self, size: int) -> bytes:
        """The next bytes, from the next file when one is at its end."""
        while True:
            if self._file is None:
                if not self._left:
                    return b""
                self._file = self._left.pop(0).open("rb")
            chunk = self._file.read(size)
            if chunk:
                self._done += len(chunk)
                return chunk
            self._file.close()
            self._file = None

    def tell(self) -> int:
        """Bytes read so far."""
        return self._done

    def close(self) -> None:
        """Close the file at hand."""
        self.closed = True
        if self._file is not None:
            self._file.close()


def _standard_input() -> BinaryIO:
    if sys.stdin is None or sys.stdin.closed:
        raise ReplayError("standard input is closed; give the name of a file")
    return io.BufferedReader(io.FileIO(os.dup(sys.stdin.fileno()), "rb"))


def _open_stream(
    stream: BinaryIO, name: str, suffixes: tuple[str, ...], select: Select, gap_s: float, origin: float | None,
    form: str | None, size: int | None,
) -> Source:  # fmt: skip
    stored = stream
    buffered = stream if isinstance(stream, io.BufferedReader) else io.BufferedReader(cast(io.RawIOBase, stream))
    head = buffered.peek(16)
    packed = next((ending for magic, ending in PACKED_MAGIC.items() if head.startswith(magic)), None)
    if packed is not None:
        buffered = io.BufferedReader(Unpacked(buffered, packed))
        try:
            head = buffered.peek(16)
        except (*STREAM_ERRORS, ValueError) as exc:
            raise ReplayError(f"{name}: the compressed file is damaged from its beginning: {exc}") from exc
    if not head:
        raise ReplayError(f"{name}: is empty; nothing was recorded in it")
    kind = form or _kind(name, [suffix for suffix in suffixes if suffix not in PACKED_MAGIC.values()], head)
    if kind == "candump":
        return CandumpSource(buffered, stored, select, gap_s, origin, size)
    return _foreign(kind, buffered, stored, name, select, gap_s, origin, size, packed is not None)


def _kind(name: str, suffixes: list[str], head: bytes) -> str:
    found = next((kind for magic, kind in _MAGIC.items() if head.startswith(magic)), None)
    by_name = _ENDINGS.get(suffixes[-1]) if suffixes else None
    if found in ("blf", "mf4", "sqlite"):
        return str(found)
    if by_name is not None:
        return by_name
    if found is not None:
        return found
    known = ", ".join(f"{kind} ({ending})" for kind, ending in FORMATS.items())
    shown = f"the file ending {suffixes[-1]!r}" if suffixes else "it has no file ending,"
    shown += " and the first bytes are not known" if suffixes else " and its first bytes are not known"
    raise ReplayError(f"{name}: unknown kind of recording: {shown}; name the format with --format, one of: {known}")


def _foreign(
    kind: str, buffered: io.BufferedReader, stored: BinaryIO, name: str, select: Select, gap_s: float,
    origin: float | None, size: int | None, packed: bool,
) -> Source:  # fmt: skip
    if kind in ("csv", "asc", "trc"):
        stream = io.TextIOWrapper(buffered, encoding="utf-8", errors="replace")
        make: Callable[[], can.io.generic.MessageReader]
        if kind == "csv":
            text = GuardedText(stream, lambda _: False, "timestamp,arbitration_id,extended,remote,error,dlc,data\n")
            make = lambda: can.CSVReader(cast(io.TextIOBase, text))  # type: ignore[arg-type]  # noqa: E731
        elif kind == "asc":
            text = GuardedText(stream, _asc_head, "no internal events logged\n")
            make = lambda: can.ASCReader(cast(io.TextIOBase, text))  # type: ignore[arg-type]  # noqa: E731
        else:
            text = GuardedText(stream, lambda line: line.startswith(";"), "")
            make = lambda: can.TRCReader(cast(io.TextIOBase, text))  # type: ignore[arg-type]  # noqa: E731
        return ForeignSource(kind, make, text, select, gap_s, origin, stream.close, stored, size)
    if kind == "blf":
        make = lambda: GuardedBlfReader(buffered)  # noqa: E731
        return ForeignSource(kind, make, None, select, gap_s, origin, buffered.close, stored, size)
    if kind == "mf4" and not _imports("asammdf"):
        buffered.close()
        raise ReplayError(f"{name}: MF4 recordings need the Python package 'asammdf': {installs('mf4')}")
    seekable = not packed and size is not None
    place = Path(name) if seekable else _spool(buffered)
    buffered.close()

    def closing() -> None:
        if not seekable:
            place.unlink(missing_ok=True)

    make = (lambda: can.SqliteReader(place)) if kind == "sqlite" else (lambda: GuardedMf4Reader(place))
    return ForeignSource(kind, make, None, select, gap_s, origin, closing, None, None)


def _imports(package: str) -> bool:
    """Installed, and whole: a package whose own needs are missing is as good as none."""
    try:
        import_module(package)
    except ImportError:
        return False
    return True


def _asc_head(line: str) -> bool:
    return line.lower().startswith(("date ", "base "))


def _spool(stream: io.BufferedReader) -> Path:
    """A copy on disk, for the formats that need to seek."""
    with tempfile.NamedTemporaryFile(prefix="thwart-replay-", delete=False) as copy:
        place = Path(copy.name)
        with contextlib.suppress(*READER_ERRORS):  # a file that ends early is read as far as it goes
            shutil.copyfileobj(stream, copy)
    return place
