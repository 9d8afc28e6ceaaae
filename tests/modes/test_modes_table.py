"""What a mode table must fulfil before anything runs on it, and how a row is found."""

from enum import IntEnum, IntFlag

import pytest
from hypothesis import given
from hypothesis import strategies as st

from supervisor.modes import (
    BOAT_COMPILED,
    BOAT_TABLE,
    BOAT_WORDS,
    NEVER,
    NO_ROW,
    SHAFT_COMPILED,
    SHAFT_TABLE,
    SHAFT_WORDS,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
    TableError,
    compile_rows,
    first_row,
    validate,
)


class Lamp(IntEnum):
    OFF = 0
    ON = 1


class Bit(IntFlag):
    A = 1
    B = 2
    C = 4


NONE = Bit(0)
GOOD = (Row(Lamp.OFF, Bit.A, NONE, Lamp.ON, "on"), Row(Lamp.ON, NONE, Bit.A, Lamp.OFF, "off"))


def test_a_sound_table_passes() -> None:
    validate(GOOD, Lamp, Lamp.OFF)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (Row(Lamp.OFF, Bit.A | Bit.B, Bit.B, Lamp.ON, "odd"), "both set and clear"),
        (Row(Lamp.OFF, NONE, NONE, Lamp.ON, "odd"), "no condition"),
        (Row(Lamp.OFF, Bit.A, NONE, Lamp.OFF, "odd"), "can never win"),
        (Row(Lamp.OFF, Bit.A | Bit.C, Bit.B, Lamp.OFF, "odd"), "can never win"),
        (Row(Lamp.ON, Bit.B, Bit.A, Lamp.ON, "odd"), "can never win"),
    ],
)
def test_a_row_that_contradicts_itself_or_is_hidden_is_refused_by_name(row: Row[Lamp, Bit], why: str) -> None:
    with pytest.raises(TableError, match=why) as caught:
        validate((*GOOD, row), Lamp, Lamp.OFF)
    assert "(odd)" in str(caught.value)
    assert row.source.name in str(caught.value)


def test_a_row_that_only_looks_hidden_passes() -> None:
    validate((*GOOD, Row(Lamp.OFF, Bit.B, NONE, Lamp.ON, "also")), Lamp, Lamp.OFF)
    validate((*GOOD, Row(Lamp.OFF, Bit.C, Bit.A, Lamp.ON, "also")), Lamp, Lamp.OFF)


class Signal(IntEnum):
    RED = 0
    GREEN = 1
    AMBER = 2


def test_a_mode_that_cannot_be_reached_is_refused() -> None:
    rows = (
        Row(Signal.RED, Bit.A, NONE, Signal.GREEN, "go"),
        Row(Signal.GREEN, NONE, Bit.A, Signal.RED, "stop"),
        Row(Signal.AMBER, Bit.A, NONE, Signal.RED, "stop"),
    )
    with pytest.raises(TableError, match="AMBER cannot be reached from RED"):
        validate(rows, Signal, Signal.RED)


def test_a_mode_without_a_way_out_is_refused() -> None:
    with pytest.raises(TableError, match="ON has no way out"):
        validate((GOOD[0],), Lamp, Lamp.OFF)
    with pytest.raises(TableError, match="ON has no way out"):
        validate((GOOD[0], Row(Lamp.ON, Bit.A, NONE, Lamp.ON, "stay")), Lamp, Lamp.OFF)


def test_the_first_row_wins_and_marks_are_carried() -> None:
    rows = (
        Row(Lamp.OFF, Bit.A | Bit.B, NONE, Lamp.ON, "first", disarms=True),
        Row(Lamp.ON, NONE, Bit.A, Lamp.OFF, "off"),
        Row(Lamp.OFF, Bit.A, Bit.C, Lamp.ON, "second", unload_to_propel=True),
    )
    compiled = compile_rows(rows, Lamp)
    assert [first_row(compiled[0], word) for word in range(8)] == [NO_ROW, 2, NO_ROW, 0, NO_ROW, NO_ROW, NO_ROW, 0]
    assert [first_row(compiled[1], word) for word in (0, 1, 6, 7)] == [1, NO_ROW, 1, NO_ROW]
    assert [(r.disarms, r.to_propel) for r in compiled[0]] == [(1, 0), (0, 1)]
    assert [r.dest for r in compiled[0]] == [1, 1]


@given(st.sampled_from(list(ShaftMode)), st.integers(0, (1 << 45) - 1))
def test_the_row_found_is_the_first_that_matches_the_table_as_written(mode: ShaftMode, word: int) -> None:
    expected = next(
        (
            number
            for number, row in enumerate(SHAFT_TABLE)
            if row.source is mode and word & int(row.must) == int(row.must) and word & int(row.must_not) == 0
        ),
        NO_ROW,
    )
    assert first_row(SHAFT_COMPILED[mode], word) == expected


def test_both_real_tables_are_valid() -> None:
    validate(BOAT_TABLE, BoatMode, BoatMode.STANDBY)
    validate(SHAFT_TABLE, ShaftMode, ShaftMode.REST)
    assert sum(row != NEVER for rows in BOAT_COMPILED for row in rows) == len(BOAT_TABLE)
    assert sum(row != NEVER for rows in SHAFT_COMPILED for row in rows) == len(SHAFT_TABLE)


def test_modes_are_numbered_from_standby_and_rest() -> None:
    """Compiled tables are indexed by mode, and a memory of zeros is the first mode."""
    assert [mode.value for mode in BoatMode] == [0, 1, 2, 3]
    assert [mode.value for mode in ShaftMode] == [0, 1, 2, 3, 4, 5]
    assert (BoatMode(0).name, ShaftMode(0).name) == ("STANDBY", "REST")


@pytest.mark.parametrize(("kind", "words"), [(BoatCondition, BOAT_WORDS), (ShaftCondition, SHAFT_WORDS)])
def test_every_bit_is_one_bit_and_has_two_different_sentences(kind: type[IntFlag], words: dict[IntFlag, tuple]) -> None:
    assert set(words) == set(kind)
    for bit, (when_set, when_clear) in words.items():
        assert int(bit).bit_count() == 1
        assert when_set
        assert when_clear
        assert when_set != when_clear
    sentences = [sentence for pair in words.values() for sentence in pair]
    assert len(set(sentences)) == len(sentences)


@pytest.mark.parametrize("table", [BOAT_TABLE, SHAFT_TABLE])
def test_every_row_says_why(table: tuple[Row, ...]) -> None:
    assert all(row.words for row in table)
