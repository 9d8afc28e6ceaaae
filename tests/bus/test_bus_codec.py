"""The compiled codec equals cantools, for our messages and for signals of every kind."""

import math
from pathlib import Path

import cantools
import pytest
from cantools.database.can import Database, Message
from hypothesis import given, settings
from hypothesis import strategies as st

from supervisor.bus import MessageCodec, load_bus, load_dbc
from supervisor.config import ConfigError

CONFIGS = Path(__file__).resolve().parents[2] / "configs"
FILES = ["guarded", "rvc_bank", "nmea2000"]

# Every kind of signal a device of one's own may bring: both byte orders, signs, odd lengths, floats, multiplexing.
ZOO = """VERSION ""
NS_ :
BS_:
BU_: X
BO_ 256 BIG: 8 X
 SG_ A : 7|16@0- (0.1,-40) [-3000|3000] "A" X
 SG_ B : 20|7@0+ (1,0) [0|127] "" X
 SG_ C : 47|24@0- (0.5,0) [0|0] "" X

BO_ 257 LITTLE: 8 X
 SG_ A : 3|13@1- (0.25,3) [0|0] "" X
 SG_ B : 16|1@1+ (1,0) [0|0] "" X
 SG_ C : 17|5@1+ (2,-7) [0|0] "" X
 SG_ D : 24|40@1+ (1,0) [0|0] "" X

BO_ 258 FLOATS: 8 X
 SG_ A : 0|32@1- (1,0) [0|0] "" X
 SG_ B : 32|16@1- (2,1) [0|0] "" X

BO_ 259 WIDE: 8 X
 SG_ A : 0|64@1- (0.001,0) [0|0] "" X

BO_ 260 SWITCHED: 4 X
 SG_ Which M : 0|8@1+ (1,0) [0|0] "" X
 SG_ One m1 : 8|16@1- (0.1,0) [0|0] "" X
 SG_ Two m2 : 8|8@1+ (1,0) [0|0] "" X

SIG_VALTYPE_ 258 A : 1;
SIG_VALTYPE_ 258 B : 1;
"""


def zoo() -> Database:
    database = cantools.database.load_string(ZOO, database_format="dbc")
    if not isinstance(database, Database):
        raise TypeError("not a CAN database")
    return database


def _all_messages() -> list[Message]:
    messages: list[Message] = []
    for file in FILES:
        database = cantools.database.load_file(CONFIGS / "dbc" / f"{file}.dbc")
        if isinstance(database, Database):
            messages += database.messages
    return messages + [message for message in zoo().messages if message.name != "SWITCHED"]


MESSAGES = _all_messages()


@pytest.mark.parametrize("message", MESSAGES, ids=[m.name for m in MESSAGES])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_decode_equals_cantools(message: Message, data: st.DataObject) -> None:
    raw = data.draw(st.binary(min_size=message.length, max_size=message.length))
    codec = MessageCodec(message)
    ours = codec.decode(raw)
    theirs = message.decode(raw, decode_choices=False, scaling=True)
    codes = message.decode(raw, decode_choices=False, scaling=False)
    for name, value in ours.items():
        if value is None:
            assert codes[name] in codec.signals[name].absent
        else:
            assert value == theirs[name] or (math.isnan(value) and math.isnan(theirs[name])), name


@pytest.mark.parametrize("message", MESSAGES, ids=[m.name for m in MESSAGES])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_encode_equals_cantools(message: Message, data: st.DataObject) -> None:
    """Whatever cantools decodes, both encode to the same bytes again."""
    codec = MessageCodec(message)
    values: dict[str, float] = {}
    for signal in message.signals:
        if signal.is_float:
            values[signal.name] = data.draw(st.floats(-1000, 1000, width=16)) * signal.scale + signal.offset
            continue
        half = 1 << (signal.length - 1)
        low, high = (-half, half - 1) if signal.is_signed else (0, 2 * half - 1)
        if signal.minimum is not None and signal.maximum is not None:
            low = max(low, math.ceil((signal.minimum - signal.offset) / signal.scale))
            high = min(high, math.floor((signal.maximum - signal.offset) / signal.scale))
        # 2**53: beyond, a float does not hold the code
        low, high = max(low, -(2**53)), min(high, 2**53)
        absent = codec.signals[signal.name].absent
        code = data.draw(st.integers(low, high).filter(lambda c, absent=absent: c not in absent))
        values[signal.name] = code * signal.scale + signal.offset
    assert bytes(codec.encode(values)) == message.encode(values, strict=False)


@pytest.mark.parametrize("message", MESSAGES, ids=[m.name for m in MESSAGES])
def test_not_available_round_trip(message: Message) -> None:
    codec = MessageCodec(message)
    for name, signal in codec.signals.items():
        if signal.not_available is None:
            with pytest.raises(ValueError, match="not available"):
                codec.encode({name: None})
        else:
            assert codec.decode(codec.encode({name: None}))[name] is None


@pytest.mark.parametrize("message", MESSAGES, ids=[m.name for m in MESSAGES])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_a_number_is_never_sent_as_not_available(message: Message, data: st.DataObject) -> None:
    codec = MessageCodec(message)
    name = data.draw(st.sampled_from(sorted(codec.signals)))
    value = data.draw(st.floats(-1e12, 1e12))
    decoded = codec.decode(codec.encode({name: value}))[name]
    assert decoded is not None
    signal = codec.signals[name]
    if signal.low is not None and signal.high is not None:
        assert signal.low <= decoded <= signal.high


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_not_a_number_is_sent_as_not_available(value: float) -> None:
    codec = load_dbc(CONFIGS / "dbc" / "guarded.dbc")["DRIVE_A_1"]
    assert codec.decode(codec.encode({"Torque": value}))["Torque"] is None


@pytest.mark.parametrize(
    ("bits", "signed", "code", "absent"),
    [
        (8, False, 0xFF, True), (8, False, 0xFE, True), (8, False, 0xFD, True), (8, False, 0xFC, False),
        (16, False, 0xFFFF, True), (16, False, 0xFFFD, True), (16, False, 0xFFFC, False),
        (16, True, 0x7FFF, True), (16, True, 0x7FFD, True), (16, True, 0x7FFC, False), (16, True, -0x8000, False),
        (2, False, 3, True), (2, False, 2, False), (4, False, 15, True), (4, False, 14, False),
        (1, False, 1, False),
    ],
)  # fmt: skip
def test_absent_codes_of_the_open_protocols(bits: int, signed: bool, code: int, absent: bool) -> None:
    """All ones: not available; NMEA 2000 and RV-C keep the two codes below for errors (open decoders, facts 2)."""
    text = (
        'VERSION ""\nNS_ :\nBS_:\nBU_: X\nBO_ 2566848768 M: 8 X\n'
        f' SG_ S : 0|{bits}@1{"-" if signed else "+"} (1,0) [0|0] "" X\n\n'
        'BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";\n'
        'BA_DEF_DEF_ "VFrameFormat" "J1939PG";\nBA_ "VFrameFormat" BO_ 2566848768 3;\n'
    )
    database = cantools.database.load_string(text, database_format="dbc")
    assert isinstance(database, Database)
    codec = MessageCodec(database.messages[0])
    data = (code & (1 << bits) - 1).to_bytes(8, "little")
    assert (codec.decode(data)["S"] is None) == absent


def test_start_values_fill_what_is_left_out() -> None:
    status = load_dbc(CONFIGS / "dbc" / "guarded.dbc")["STATUS"]
    decoded = status.decode(status.encode({"BoatMode": 1}))
    assert [decoded[f"ShaftMode{n}"] for n in (1, 2, 3, 4)] == [None] * 4


def test_unknown_signal_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        load_dbc(CONFIGS / "dbc" / "guarded.dbc")["STATUS"].encode({"Nothing": 1})


# ---- files that cannot be used


def _refused(tmp_path: Path, text: str) -> ConfigError:
    path = tmp_path / "x.dbc"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigError) as caught:
        load_dbc(path)
    assert caught.value.file == str(path)
    assert caught.value.remedy
    return caught.value


def test_missing_file() -> None:
    with pytest.raises(ConfigError, match="cannot be read"):
        load_dbc(CONFIGS / "dbc" / "nothing.dbc")


def test_garbage_and_overlap_are_refused(tmp_path: Path) -> None:
    assert "not a valid DBC" in str(_refused(tmp_path, "BO_ what"))
    overlap = ZOO.replace("SG_ B : 16|1@1+", "SG_ B : 15|2@1+")
    assert "not a valid DBC" in str(_refused(tmp_path, overlap))


@pytest.mark.parametrize(
    "signals",
    [
        ' SG_ Crc : 0|8@1+ (1,0) [0|0] "" X\n',
        ' SG_ Crc : 0|8@1+ (1,0) [0|0] "" X\n SG_ Counter : 12|4@1+ (1,0) [0|0] "" X\n',
        ' SG_ Crc : 56|8@1+ (1,0) [0|0] "" X\n SG_ Counter : 8|4@1+ (1,0) [0|0] "" X\n',
    ],
)
def test_misplaced_guard_is_refused(tmp_path: Path, signals: str) -> None:
    text = (
        'VERSION ""\nNS_ :\nBS_:\nBU_: X\nBO_ 256 M: 8 X\n' + signals + "\n"
        'BA_DEF_ BO_ "GuardDataId" INT 0 65535;\nBA_DEF_DEF_ "GuardDataId" 0;\nBA_ "GuardDataId" BO_ 256 7;\n'
    )
    assert "no guard" in str(_refused(tmp_path, text))


def test_a_guarded_message_has_at_most_eight_bytes(tmp_path: Path) -> None:
    text = (
        'VERSION ""\nNS_ :\nBS_:\nBU_: X\nBO_ 256 M: 9 X\n'
        ' SG_ Crc : 0|8@1+ (1,0) [0|0] "" X\n SG_ Counter : 8|4@1+ (1,0) [0|0] "" X\n\n'
        'BA_DEF_ BO_ "GuardDataId" INT 0 65535;\nBA_DEF_DEF_ "GuardDataId" 0;\nBA_ "GuardDataId" BO_ 256 7;\n'
    )
    assert "2 to 8 bytes" in _refused(tmp_path, text).remedy


def test_one_bus_takes_each_name_and_identifier_once(tmp_path: Path) -> None:
    dbc = CONFIGS / "dbc" / "guarded.dbc"
    with pytest.raises(ConfigError, match="is in two DBC files"):
        load_bus([dbc, dbc], "boat.toml", "buses.private.dbc")
    clash = tmp_path / "clash.dbc"
    clash.write_text('VERSION ""\nNS_ :\nBS_:\nBU_: X\nBO_ 18 OTHER: 1 X\n SG_ A : 0|8@1+ (1,0) [0|0] "" X\n')
    with pytest.raises(ConfigError, match="share identifier 0x12"):
        load_bus([dbc, clash], "boat.toml", "buses.private.dbc")
