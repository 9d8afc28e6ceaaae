"""What travels: CAN frames, their length in bits with stuffing, their order in arbitration, their slcan lines.

Lengths: ISO 11898-1 frame layout as given by Davis, Burns, Bril, Lukkien, "Controller Area Network (CAN) schedulability
analysis: refuted, revisited and revised", Real-Time Systems 35 (2007), from memory: 47 + 8n bits (11-bit identifier)
or 67 + 8n (29-bit), 3 bits of interframe space included, and at most floor((34 + 8n - 1) / 4) or
floor((54 + 8n - 1) / 4) stuff bits.
"""

import re
from typing import NamedTuple

ERROR_FRAME_BITS = 23
"""A destroyed frame costs its bits up to the error, then at most 20 bits of error frame and 3 of interframe space."""


class Frame(NamedTuple):
    """One frame. `length` is the DLC, for remote frames too."""

    arbitration_id: int
    is_extended: bool
    data: bytes
    is_remote: bool = False
    length: int = 0

    @property
    def name(self) -> str:
        """As in a candump log."""
        number = f"{self.arbitration_id:08X}" if self.is_extended else f"{self.arbitration_id:03X}"
        return f"{number}#{'R' if self.is_remote else self.data.hex().upper()}"


def arbitration_key(frame: Frame) -> tuple[int, int, int, int, int]:
    """The smaller key wins: bits in the order of the wire (a data frame beats a remote one, 11 bits beat 29)."""
    if frame.is_extended:
        return (frame.arbitration_id >> 18, 1, 1, frame.arbitration_id & 0x3FFFF, int(frame.is_remote))
    return (frame.arbitration_id, int(frame.is_remote), 0, 0, 0)


def plain_bits(frame: Frame) -> int:
    """Bits on the wire without stuffing, interframe space included."""
    return (67 if frame.is_extended else 47) + 8 * len(frame.data)


def worst_bits(frame: Frame) -> int:
    """Bits on the wire with the most stuffing there can be."""
    stuffed = (54 if frame.is_extended else 34) + 8 * len(frame.data)
    return plain_bits(frame) + (stuffed - 1) // 4


def _crc_table() -> list[int]:
    table = []
    for index in range(256):
        crc = index << 7
        for _ in range(8):
            crc = (crc << 1) ^ 0x4599 if crc & 0x4000 else crc << 1
        table.append(crc & 0x7FFF)
    return table


_CRC = _crc_table()


def crc15(bits: int, count: int) -> int:
    """CRC of `count` bits, first bit highest. The register starts at 0, so leading zeros change nothing."""
    crc = 0
    for byte in bits.to_bytes((count + 7) // 8, "big"):
        crc = (crc << 8 & 0x7FFF) ^ _CRC[(crc >> 7) ^ byte]
    return crc


def stuffed_part(frame: Frame) -> tuple[int, int]:
    """The part of the frame that is stuffed, from start of frame to CRC: (bits as a number, how many)."""
    if frame.is_extended:
        head = frame.arbitration_id >> 18 << 20 | 0b11 << 18 | frame.arbitration_id & 0x3FFFF
        head, count = head << 3 | int(frame.is_remote) << 2, 1 + 11 + 2 + 18 + 3
    else:
        head, count = frame.arbitration_id << 3 | int(frame.is_remote) << 2, 1 + 11 + 3
    size = frame.length if frame.is_remote else len(frame.data)
    head, count = head << 4 | size, count + 4
    head = head << 8 * len(frame.data) | int.from_bytes(frame.data, "big")
    count += 8 * len(frame.data)
    return head << 15 | crc15(head, count), count + 15


def _stuff_step(last: int, run: int, bit: int) -> tuple[int, int, int]:
    """One bit: returns (last bit on the wire, its run, stuff bits inserted). After five equal bits the opposite one."""
    run = run + 1 if bit == last else 1
    if run == 5:
        return 1 - bit, 1, 1
    return bit, run, 0


def _stuff_table() -> dict[tuple[int, int], list[tuple[tuple[int, int], int]]]:
    table: dict[tuple[int, int], list[tuple[tuple[int, int], int]]] = {}
    for start in [(last, run) for last in (0, 1) for run in (0, 1, 2, 3, 4)]:
        row = []
        for byte in range(256):
            (last, run), total = start, 0
            for shift in range(7, -1, -1):
                last, run, more = _stuff_step(last, run, byte >> shift & 1)
                total += more
            row.append(((last, run), total))
        table[start] = row
    return table


_STUFF = _stuff_table()


def stuff_bits(bits: int, count: int) -> int:
    """How many stuff bits the sender inserts in `count` bits."""
    odd = count % 8
    last, run, total = 1, 0, 0
    for shift in range(count - 1, count - 1 - odd, -1):
        last, run, more = _stuff_step(last, run, bits >> shift & 1)
        total += more
    state = (last, run)
    for byte in (bits & ((1 << (count - odd)) - 1)).to_bytes((count - odd) // 8, "big"):
        state, more = _STUFF[state][byte]
        total += more
    return total


def actual_bits(frame: Frame) -> int:
    """Bits on the wire with the stuffing that this very frame needs."""
    return plain_bits(frame) + stuff_bits(*stuffed_part(frame))


LENGTHS = {"none": plain_bits, "worst": worst_bits, "actual": actual_bits}

_LINE = re.compile(
    rb"([tr])([0-9A-Fa-f]{3})([0-8])((?:[0-9A-Fa-f]{2})*)|([TR])([0-9A-Fa-f]{8})([0-8])((?:[0-9A-Fa-f]{2})*)"
)


def parse_line(line: bytes) -> Frame | None:
    """An slcan transmit command without its end of line; None if it is none, or a wrong one."""
    match = _LINE.fullmatch(line)
    if match is None:
        return None
    groups = match.groups()
    kind, number, size, data = groups[:4] if groups[0] else groups[4:]
    arbitration_id, length, payload = int(number, 16), int(size), bytes.fromhex(data.decode())
    extended, remote = kind in b"TR", kind in b"rR"
    if arbitration_id > (0x1FFFFFFF if extended else 0x7FF) or len(payload) != (0 if remote else length):
        return None
    return Frame(arbitration_id, extended, payload, remote, length)


def format_line(frame: Frame) -> bytes:
    """The line an adapter sends to its host for a frame received, end of line included."""
    if frame.is_extended:
        head = f"{'R' if frame.is_remote else 'T'}{frame.arbitration_id:08X}"
    else:
        head = f"{'r' if frame.is_remote else 't'}{frame.arbitration_id:03X}"
    size = frame.length if frame.is_remote else len(frame.data)
    return f"{head}{size}{frame.data.hex().upper()}\r".encode()
