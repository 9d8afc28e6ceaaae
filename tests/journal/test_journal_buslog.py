"""The bus log: candump format that others read, a cap that holds, losses counted; and the folder's lock."""

import errno
import io
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import can
import pytest

from supervisor.journal import BusLog, FolderInUseError, FolderLock, bus_files, fingerprint, read_frames

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer as Buffer


def folder_bytes(folder: Path) -> int:
    return sum(path.stat().st_size for path in folder.iterdir())


def message(number: int, size: int = 8) -> can.Message:
    return can.Message(arbitration_id=number, is_extended_id=number > 0x7FF, data=bytes(range(size)))


def test_python_can_reads_what_was_written(tmp_path: Path) -> None:
    log = BusLog(tmp_path, ["private", "backbone"])
    now_s = time.monotonic()
    log.write(now_s, "private", message(0x012), False)
    log.write(now_s + 0.02, "backbone", message(0x09F20000), True)
    log.write(now_s + 0.04, "private", can.Message(is_error_frame=True), False)
    assert log.close()
    (path,) = bus_files(tmp_path)
    read = list(can.LogReader(path))
    assert [(one.arbitration_id, one.is_extended_id, one.channel, one.is_rx) for one in read[:2]] == [
        (0x012, False, "can0", True),
        (0x09F20000, True, "can1", False),
    ]
    assert read[2].is_error_frame
    assert read[1].timestamp - read[0].timestamp == pytest.approx(0.02, abs=1e-5)
    assert abs(read[0].timestamp - time.time()) < 5
    ours = list(read_frames(tmp_path))
    assert [(one.channel, one.frame, one.sent) for one in ours[:2]] == [
        ("can0", "012#0001020304050607", False),
        ("can1", "09F20000#0001020304050607", True),
    ]


def test_logs_rotate_and_the_oldest_go(tmp_path: Path) -> None:
    log = BusLog(tmp_path, ["private"], file_bytes=50_000, total_bytes=200_000)
    for number in range(20_000):
        log.write(number * 0.001, "private", message(number % 0x700), False)
        if number % 2000 == 0:
            time.sleep(0.3)  # let the writer come
    assert log.close()
    sizes = [path.stat().st_size for path in bus_files(tmp_path)]
    assert sum(sizes) <= 200_000
    assert sum(sizes) > 200_000 - 2 * 50_000  # what it may hold it does: less the file begun and what rounding leaves
    assert bus_files(tmp_path)[0].name != "bus-000001.log"
    assert list(read_frames(tmp_path))[-1].frame.startswith(f"{19_999 % 0x700:03X}#")
    again = BusLog(tmp_path, ["private"], file_bytes=50_000, total_bytes=200_000)
    again.write(0.0, "private", message(1), False)
    assert again.close()
    assert folder_bytes(tmp_path) <= 200_000  # the cap holds from run to run


def test_a_full_queue_is_counted_and_nobody_waits(tmp_path: Path) -> None:
    log = BusLog(tmp_path, ["private"], capacity=100)
    begin_s = time.monotonic()
    for number in range(1000):
        log.write(0.0, "private", message(number % 0x700), False)
    assert time.monotonic() - begin_s < 0.25
    assert log.close()
    assert log.lost + log.written == 1000
    assert log.lost > 0


class Disk:
    """Files are refused beyond so many bytes in all, as a full disk does it: in the middle of a line."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, room: int) -> None:
        self.room = room
        real = Path.open
        disk = self

        class Limited(io.FileIO):
            def write(self, text: "Buffer") -> int:
                taken = bytes(text)[: max(0, disk.room)]
                if not taken:
                    raise OSError(errno.ENOSPC, "No space left on device")
                disk.room -= len(taken)
                return super().write(taken)

            def truncate(self, size: int | None = None) -> int:
                end = self.tell() if size is None else size
                disk.room += self.seek(0, io.SEEK_END) - end
                self.seek(end)
                return super().truncate(end)

        def opened(path: Path, mode: str = "r", buffering: int = -1, **more: object) -> object:
            if "b" in mode and "r" not in mode:
                return Limited(str(path), mode.replace("b", ""))
            return real(path, mode, buffering, **more)  # type: ignore[arg-type]

        monkeypatch.setattr(Path, "open", opened)


def until(done: Callable[[], bool], wait_s: float = 10.0) -> None:
    deadline_s = time.monotonic() + wait_s
    while not done() and time.monotonic() < deadline_s:
        time.sleep(0.02)
    assert done()


def test_a_full_disk_costs_nothing_that_is_there_and_nothing_that_the_queue_holds(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = Disk(monkeypatch, room=100_000)
    log = BusLog(tmp_path, ["private"], file_bytes=60_000, total_bytes=600_000)
    for number in range(6_000):
        log.write(number * 0.001, "private", message(number % 0x700), False)
    until(lambda: log.failing != "")
    assert log.failing == "No space left on device"
    files = {path.name: path.read_bytes() for path in sorted(tmp_path.iterdir())}
    time.sleep(1.5)  # several retries
    assert {path.name: path.read_bytes() for path in sorted(tmp_path.iterdir())} == files
    assert all(content.endswith(b"\n") for content in files.values() if content)
    disk.room = 1_000_000
    until(lambda: not log.failing)
    assert log.close()
    assert log.lost == 0
    expected = [f"{number % 0x700:03X}" for number in range(6_000)]
    assert [one.frame[:3] for one in read_frames(tmp_path)] == expected


def test_what_a_full_disk_never_took_is_counted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Disk(monkeypatch, room=0)
    log = BusLog(tmp_path, ["private"], capacity=50)
    for _ in range(60):
        log.write(0.0, "private", message(1), False)
    until(lambda: log.failing != "")
    assert not log.close()
    assert log.lost == 60
    assert list(tmp_path.iterdir()) == []


def test_a_hundred_restarts_leave_the_last_bytes_and_no_fewer(tmp_path: Path) -> None:
    """Short runs, each a file of its own: what lies there is the tail of all that was ever written, byte for byte."""
    whole = b""
    number = 0
    for run in range(100):
        log = BusLog(tmp_path, ["private"], file_bytes=100_000, total_bytes=400_000)
        for _ in range(40 if run % 10 else 900):
            log.write(number * 0.001, "private", message(number % 0x700), False)
            number += 1
        assert log.close()
        whole += bus_files(tmp_path)[-1].read_bytes()
    there = b"".join(path.read_bytes() for path in bus_files(tmp_path))
    assert whole.endswith(there)
    assert folder_bytes(tmp_path) <= 400_000
    # The 100 runs would fill the cap more than once; what is kept is what the cap holds, less the file begun.
    counted = sum(max(4096, path.stat().st_size) for path in tmp_path.iterdir())
    assert counted > 400_000 - 100_000 - 50_000


def test_a_line_torn_by_a_kill_is_left_out(tmp_path: Path) -> None:
    (tmp_path / "bus-000001.log").write_text("(1.000000) can0 012#00 R\n(2.000000) can0 013#0")
    assert [one.frame for one in read_frames(tmp_path)] == ["012#00"]


def test_one_supervisor_to_a_folder(tmp_path: Path) -> None:
    lock = FolderLock(tmp_path)
    with pytest.raises(FolderInUseError, match="a supervisor is running with this folder"):
        FolderLock(tmp_path)
    lock.release()
    FolderLock(tmp_path).release()


def test_the_fingerprint_sees_every_byte_and_file(tmp_path: Path) -> None:
    one, two = tmp_path / "a.toml", tmp_path / "b.dbc"
    one.write_bytes(b"x = 1\n")
    two.write_bytes(b"BO_\n")
    first = fingerprint([one, two])
    assert len(first) == 64
    one.write_bytes(b"x = 2\n")
    assert fingerprint([one, two]) != first
    one.write_bytes(b"x = 1\n")
    assert fingerprint([one, two]) == first


def test_the_ticks_lie_beside_each_log_and_go_with_it(tmp_path: Path) -> None:
    """Two logs are kept: of the ticks as many, the first of a run says how long ago the last full charge was."""
    log = BusLog(tmp_path, ["private"], file_bytes=2_000, total_bytes=20_000, since_full_s=12.5)
    for number in range(400):
        log.tick(number * 0.02, True, number < 100, {"private"} if number == 3 else ())
        log.write(number * 0.02, "private", can.Message(arbitration_id=0x12, data=b"\x01", is_extended_id=False), False)
        if number % 50 == 49:
            time.sleep(0.3)  # the writer takes what is there four times a second
    assert log.close()
    logs, ticks = sorted(tmp_path.glob("bus-*.log")), sorted(tmp_path.glob("bus-*.ticks"))
    assert [path.stem for path in ticks] == [path.stem for path in logs]
    assert len(ticks) == 2
    first = ticks[-1].read_text(encoding="ascii").splitlines()
    assert first[0].startswith("# thwart ticks 1; stamp = time_s + ")
    assert first[0].endswith("; continued")
    assert first[1] == "time_s,receive_ok,deadline_ok,reopened,decided"
    assert first[-1] == f"{399 * 0.02!r},1,0,,"
