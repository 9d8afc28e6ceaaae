"""DBC files: read and validated by cantools, turned into codecs; complaints name the file."""

from collections.abc import Sequence
from pathlib import Path

import cantools
from cantools.database import Database
from cantools.database.errors import Error as CantoolsError

from supervisor.bus.codec import MessageCodec
from supervisor.config.errors import ConfigError

CRC_SIGNAL = "Crc"
COUNTER_SIGNAL = "Counter"


def load_dbc(path: Path) -> dict[str, MessageCodec]:
    """All messages of one DBC file by name. Raises ConfigError when it cannot be read or its guard is misplaced."""
    try:
        database = cantools.database.load_file(path, database_format="dbc", strict=True)
    except OSError as exc:
        raise ConfigError(str(path), "", f"cannot be read: {exc.strerror}", "Check path and permissions") from exc
    except (CantoolsError, UnicodeDecodeError, ValueError, KeyError) as exc:
        raise ConfigError(str(path), "", f"not a valid DBC file: {exc}", "Correct that place") from exc
    if not isinstance(database, Database):
        raise ConfigError(str(path), "", "is not a CAN database", "Give a DBC file")
    messages = {message.name: MessageCodec(message) for message in database.messages}
    for codec in messages.values():
        check_guard(codec, str(path))
    return messages


def load_bus(paths: Sequence[Path], file: str, key: str) -> dict[str, MessageCodec]:
    """The messages of one bus out of all its DBC files. Raises ConfigError on a name or identifier used twice."""
    result: dict[str, MessageCodec] = {}
    owners: dict[tuple[bool, int], str] = {}
    for path in paths:
        for name, codec in load_dbc(path).items():
            if name in result:
                raise ConfigError(file, key, f"message {name} is in two DBC files of this bus", "Rename one of them")
            identity = (codec.is_extended, codec.arbitration_id if codec.pgn is None else codec.pgn)
            if identity in owners:
                raise ConfigError(
                    file, key, f"messages {owners[identity]} and {name} share identifier {codec.arbitration_id:#x}",
                    "Remove one of them from its DBC file",
                )  # fmt: skip
            owners[identity] = name
            result[name] = codec
    return result


def check_guard(codec: MessageCodec, file: str) -> None:
    """A guarded message has its CRC in byte 0 and its counter in the low nibble of byte 1. Raises ConfigError."""
    if codec.data_id is None:
        return
    crc, counter = codec.signals.get(CRC_SIGNAL), codec.signals.get(COUNTER_SIGNAL)
    placed = (
        crc is not None
        and counter is not None
        and not crc.big_endian
        and not counter.big_endian
        and (crc.shift, crc.bits) == (0, 8)
        and (counter.shift, counter.bits) == (8, 4)
    )
    if not placed or not 2 <= codec.length <= 8:
        raise ConfigError(
            file, codec.name, "has a GuardDataId but no guard",
            "A guarded message has 2 to 8 bytes, Crc : 0|8@1+ and Counter : 8|4@1+",
        )  # fmt: skip
