"""The bus log: candump format that others read, a cap that holds, losses counted; and the folder's lock."""

import errno
import time
from pathlib import Path

import can
import pytest

from supervisor.journal import BusLog, FolderInUseError, FolderLock, bus_files, fingerprint, read_frames


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
    assert sum(sizes) <= 200_000 + 4 * 60_000  # one batch of 1000 lines may go over in each file
    assert len(sizes) == 4
    assert bus_files(tmp_path)[0].name != "bus-000001.log"
    assert list(read_frames(tmp_path))[-1].frame.startswith(f"{19_999 % 0x700:03X}#")
    again = BusLog(tmp_path, ["private"], file_bytes=50_000, total_bytes=200_000)
    again.write(0.0, "private", message(1), False)
    assert again.close()
    assert len(bus_files(tmp_path)) == 4  # the cap holds from run to run


def test_a_full_queue_is_counted_and_nobody_waits(tmp_path: Path) -> None:
    log = BusLog(tmp_path, ["private"], capacity=100)
    begin_s = time.monotonic()
    for number in range(1000):
        log.write(0.0, "private", message(number % 0x700), False)
    assert time.monotonic() - begin_s < 0.25
    assert log.close()
    assert log.lost + log.written == 1000
    assert log.lost > 0


def test_a_full_disk_is_counted_and_writing_goes_on_when_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = Path.open
    full = True

    def refuse(self: Path, *arguments: object, **more: object) -> object:
        if full and self.suffix == ".log":
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(self, *arguments, **more)  # type: ignore[call-overload]

    monkeypatch.setattr(Path, "open", refuse)
    log = BusLog(tmp_path, ["private"])
    log.write(0.0, "private", message(1), False)
    deadline_s = time.monotonic() + 5
    while not log.failing and time.monotonic() < deadline_s:
        time.sleep(0.02)
    assert log.failing == "No space left on device"
    assert log.lost == 1
    full = False
    log.write(0.0, "private", message(2), False)
    assert log.close()
    assert [one.frame[:3] for one in read_frames(tmp_path)] == ["002"]


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
    log = BusLog(tmp_path, ["private"], file_bytes=2_000, total_bytes=4_000, since_full_s=12.5)
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
    assert first[1] == "time_s,receive_ok,deadline_ok,reopened"
    assert first[-1] == f"{399 * 0.02!r},1,0,"
