"""Compressed files read bit by bit, so that one that was cut short gives all it has before it complains."""

import bz2
import io
import lzma
import zlib
from collections.abc import Callable
from typing import BinaryIO, Protocol

_CHUNK = 1 << 16

PACKED_MAGIC = {b"\x1f\x8b": ".gz", b"BZh": ".bz2", b"\xfd7zXZ": ".xz"}
"""First bytes of a compressed file -> the ending it usually has."""


class Decompressor(Protocol):
    """What zlib, bz2 and lzma have in common."""

    @property
    def eof(self) -> bool: ...
    @property
    def unused_data(self) -> bytes: ...
    def decompress(self, data: bytes, /) -> bytes: ...


def _new_gzip() -> Decompressor:
    return zlib.decompressobj(wbits=31)


_MAKERS: dict[str, Callable[[], Decompressor]] = {
    ".gz": _new_gzip,
    ".bz2": bz2.BZ2Decompressor,
    ".xz": lzma.LZMADecompressor,
}


class Unpacked(io.RawIOBase):
    """The contents of a compressed stream. After its last good byte a damaged or cut stream raises EOFError."""

    def __init__(self, stored: BinaryIO, ending: str) -> None:
        super().__init__()
        self._stored = stored
        self._make = _MAKERS[ending]
        self._unpacker = self._make()
        self._ready = b""
        self._complaint = ""
        self._begun = False

    def readable(self) -> bool:
        """Yes."""
        return True

    def readinto(self, buffer: bytearray | memoryview, /) -> int:  # type: ignore[override]
        """As many bytes as fit. Raises EOFError where the stream ends before its end."""
        while not self._ready and not self._complaint:
            chunk = self._stored.read(_CHUNK)
            if not chunk:
                if self._begun and not self._unpacker.eof:
                    self._complaint = "the compressed file was cut short"
                break
            self._unpack(chunk)
        if self._ready:
            count = min(len(buffer), len(self._ready))
            buffer[:count] = self._ready[:count]
            self._ready = self._ready[count:]
            return count
        if self._complaint:
            raise EOFError(self._complaint)
        return 0

    def _unpack(self, chunk: bytes) -> None:
        found = []
        while chunk:
            if self._unpacker.eof:
                self._unpacker = self._make()
            self._begun = True
            try:
                found.append(self._unpacker.decompress(chunk))
            except (zlib.error, lzma.LZMAError, OSError, EOFError) as exc:
                self._complaint = f"the compressed file is damaged: {exc}"
                break
            chunk = self._unpacker.unused_data if self._unpacker.eof else b""
        self._ready = b"".join(found)
