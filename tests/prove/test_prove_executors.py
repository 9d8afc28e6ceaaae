"""The live executor, the compiled one and the sweep come to the same mode on every word they are given."""

import random

import pytest

from sim.prove.cubes import Cube, cube, find_word
from sim.prove.sweep import EXECUTOR, LOW_BITS, Forbidden, sweep
from supervisor.controller.machine import TableMachine
from supervisor.modes import (
    BOAT_COMPILED,
    BOAT_TABLE,
    NO_ROW,
    SHAFT_COMPILED,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
    first_row,
)

STEPS = {"boat": 40_000, "shaft": 70_000}
"""Together more than 10^5 random (mode, word) steps."""


def seeds(rows: list[Row]) -> list[int]:  # type: ignore[type-arg]
    """For each row of a mode a word on which it, and no row before it, is taken."""
    cubes = [cube(int(row.must), int(row.must_not)) for row in rows]
    found = [find_word(one, cubes[:place]) for place, one in enumerate(cubes)]
    return [word for word in found if word is not None]


def random_word(rng: random.Random, from_: list[int], bits: int) -> int:
    """Uniform words hardly ever match a row of thirteen bits: most are a row's own word with a few bits turned."""
    if rng.random() < 0.1 or not from_:
        return rng.getrandbits(bits)
    word = rng.choice(from_)
    for _ in range(rng.choice((0, 0, 1, 2, 6))):
        word ^= 1 << rng.randrange(bits)
    return word


@pytest.mark.parametrize("which", ["boat", "shaft"])
def test_live_and_compiled_agree_on_random_sequences(which: str) -> None:
    rows, modes, compiled, start = (
        (BOAT_TABLE, BoatMode, BOAT_COMPILED, BoatMode.STANDBY)
        if which == "boat"
        else (SHAFT_TABLE, ShaftMode, SHAFT_COMPILED, ShaftMode.REST)
    )
    bits = max(int(bit).bit_length() for bit in (BoatCondition if which == "boat" else ShaftCondition))
    rng = random.Random(20_26)
    machine = TableMachine(rows, modes, start)  # type: ignore[arg-type, type-var]
    own = {int(mode): seeds([row for row in rows if row.source == mode]) for mode in modes}
    taken: set[int] = set()
    for _ in range(STEPS[which]):
        mode = int(machine.mode)
        word = random_word(rng, own[mode], bits)
        number = first_row(compiled[mode], word)
        after = machine.weigh_word(word)
        assert after == (mode if number == NO_ROW else rows[number].dest), (modes(mode).name, hex(word))
        taken.add(number)
    assert len(taken) >= len(rows)  # every row has been taken (and no row at all)


@pytest.mark.parametrize("executor", sorted({"numpy", EXECUTOR}))
@pytest.mark.parametrize("mode", list(ShaftMode))
def test_the_sweep_takes_the_same_rows(mode: ShaftMode, executor: str) -> None:
    """Each of 400 words claims that nothing but the compiled executor's row may be taken on it; none is refuted. And
    the opposite claim is refuted on each, with that very word."""
    rng = random.Random(int(mode))
    own = [row for row in SHAFT_TABLE if row.source == mode]
    cubes = [cube(int(row.must), int(row.must_not)) for row in own]
    used = 0
    for one in cubes:
        used |= one.mask
    from_ = seeds(own)
    agree, differ = [], []
    for _ in range(400):
        word = random_word(rng, from_, 39) & used
        number = first_row(SHAFT_COMPILED[mode], word)
        place = len(own) if number == NO_ROW else own.index(SHAFT_TABLE[number])
        everything = (1 << (len(own) + 1)) - 1
        agree.append(Forbidden(Cube(used, word), everything & ~(1 << place)))
        differ.append(Forbidden(Cube(used, word), 1 << place))
    result = sweep(cubes, [*agree, *differ], executor)
    assert not [number for number in result.found if number < len(agree)]
    assert all(result.found[len(agree) + i] == claim.where.value for i, claim in enumerate(differ))


@pytest.mark.parametrize("executor", sorted({"numpy", EXECUTOR}))
@pytest.mark.parametrize("low_bits", [0, 4, 20])
def test_the_sweep_finds_what_counting_finds(executor: str, low_bits: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Tables of up to six rows over nine bits, each word taken by hand: the same claims are refuted, by words that do
    refute them, and the same rows are taken, whether blocks or lanes decide."""
    monkeypatch.setitem(LOW_BITS, executor, low_bits)
    rng = random.Random(low_bits)

    def some() -> Cube:
        mask = rng.getrandbits(9) & rng.getrandbits(9)
        return Cube(mask, rng.getrandbits(9) & mask)

    refuted = 0
    for _ in range(60):
        rows = [some() for _ in range(rng.randrange(7))]
        claims = [Forbidden(some(), rng.getrandbits(len(rows) + 1)) for _ in range(5)]

        def taken(word: int, rows: list[Cube] = rows) -> int:
            return next((number for number, row in enumerate(rows) if row.holds(word)), len(rows))

        bad = {
            number
            for number, claim in enumerate(claims)
            if any(claim.where.holds(word) and claim.rows >> taken(word) & 1 for word in range(512))
        }
        result = sweep(rows, claims, executor)
        assert set(result.found) == bad
        for number, word in result.found.items():
            assert claims[number].where.holds(word)
            assert claims[number].rows >> taken(word) & 1
        used = rows or claims
        if used:
            fired = sum(1 << number for number in {taken(word) for word in range(512)})
            assert result.fired == fired
        refuted += len(bad)
    assert 100 < refuted < 290  # some are, some are not
