"""Why a frame or a signal was not used: the names under which bad frames are counted and explained."""

from enum import IntEnum


class Bad(IntEnum):
    """Reasons, as counted for each message. A frame counted under any of these moved no input."""

    SHORT = 0
    LONG = 1
    CRC = 2
    REPEATED = 3
    COUNTER = 4
    INITIAL = 5
    OUT_OF_RANGE = 6
    NOT_A_NUMBER = 7
    NOT_AVAILABLE = 8
    WRONG_SOURCE = 9
    PACKET_MISSING = 10
    PACKET_RESTART = 11
    PACKET_TIMEOUT = 12
    PACKET_LENGTH = 13
    NO_SUCH_CODE = 14
    SECOND_SENDER = 15


BAD_TEXT: dict[Bad, str] = {
    Bad.SHORT: "frame too short",
    Bad.LONG: "frame too long",
    Bad.CRC: "bad checksum",
    Bad.REPEATED: "counter does not move: sender is stuck",
    Bad.COUNTER: "counter jumps: frames are missing or from another sender",
    Bad.INITIAL: "first frame after the start or a gap: not used; the next one is used",
    Bad.OUT_OF_RANGE: "value out of its plausible range",
    Bad.NOT_A_NUMBER: "value is not a number",
    Bad.NOT_AVAILABLE: "sender says not available",
    Bad.WRONG_SOURCE: "from the wrong source address",
    Bad.PACKET_MISSING: "fast packet with a frame missing",
    Bad.PACKET_RESTART: "fast packet begun again before it was complete",
    Bad.PACKET_TIMEOUT: "fast packet not completed in time",
    Bad.PACKET_LENGTH: "fast packet with an impossible length",
    Bad.NO_SUCH_CODE: "code is not listed under values in the boat file",
    Bad.SECOND_SENDER: "two senders of this message: neither is believed until one of them is off the bus",
}
