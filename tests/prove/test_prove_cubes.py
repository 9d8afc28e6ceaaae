"""The two exact engines against brute force: the word search, and the sweep in both its executors."""

import random
import subprocess
import sys
from pathlib import Path

import pytest

from sim.prove.cubes import Cube, cube, find_word, meet
from sim.prove.sweep import EXECUTOR, Forbidden, sweep

EXECUTORS = sorted({"numpy", EXECUTOR})


def random_cube(rng: random.Random, bits: int, fixed: int) -> Cube:
    mask = sum(1 << b for b in rng.sample(range(bits), fixed))
    return Cube(mask, rng.getrandbits(bits) & mask)


def test_meet() -> None:
    assert meet(cube(must=0b01), cube(must=0b10)) == Cube(0b11, 0b11)
    assert meet(cube(must=0b01), cube(must_not=0b01)) is None


@pytest.mark.parametrize("seed", range(40))
def test_find_word_agrees_with_brute_force(seed: int) -> None:
    rng = random.Random(seed)
    inside = random_cube(rng, 9, rng.randint(0, 4))
    outside = [random_cube(rng, 9, rng.randint(1, 3)) for _ in range(rng.randint(1, 14))]
    expected = {w for w in range(512) if inside.holds(w) and not any(o.holds(w) for o in outside)}
    found = find_word(inside, outside)
    assert (found in expected) if expected else (found is None)


@pytest.mark.parametrize("executor", EXECUTORS)
@pytest.mark.parametrize("seed", range(25))
def test_sweep_agrees_with_brute_force(seed: int, executor: str) -> None:
    """Words, rows that fire, and which claims break: all as a plain loop finds them."""
    rng = random.Random(seed)
    bits = rng.choice((3, 7, 10))
    rows = [random_cube(rng, bits, rng.randint(1, 3)) for _ in range(rng.randint(1, 8))]
    claims = [
        Forbidden(random_cube(rng, bits, rng.randint(0, 3)), rng.getrandbits(len(rows) + 1)) for _ in range(12)
    ]  # fmt: skip
    used = 0
    for one in rows:
        used |= one.mask
    for claim in claims:
        used |= claim.where.mask

    def taken(word: int) -> int:
        return next((place for place, row in enumerate(rows) if row.holds(word)), len(rows))

    words = [w for w in range(1 << bits) if w & ~used == 0]
    fired = sum(1 << place for place in {taken(w) for w in words})
    broken = {
        c for c, claim in enumerate(claims) if any(claim.where.holds(w) and claim.rows >> taken(w) & 1 for w in words)
    }
    result = sweep(rows, claims, executor)
    assert result.words == len(words)
    assert result.fired == fired
    assert set(result.found) == broken
    for number, word in result.found.items():
        assert claims[number].where.holds(word)
        assert claims[number].rows >> taken(word) & 1


@pytest.mark.parametrize("executor", EXECUTORS)
def test_lanes_beyond_one_integer(executor: str) -> None:
    """20 bits, one claim that a single word breaks: it is found, and it is that word."""
    rows = [Cube(0b1, 0b1), Cube(1 << 19 | 0b10, 1 << 19)]
    lonely = 0b1010_1010_1010_1010_1000 | 1 << 19
    claim = Forbidden(Cube((1 << 20) - 1, lonely & ~0b11), 0b010)
    result = sweep(rows, [claim], executor)
    assert result.words == 1 << 20
    assert result.found == {0: lonely & ~0b11}


def test_both_executors_say_the_same_on_the_real_tables() -> None:
    from sim.prove.tables import prove_table
    from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatMode, ShaftMode

    for rows, modes in ((BOAT_TABLE, BoatMode), (SHAFT_TABLE, ShaftMode)):
        first, second = prove_table(rows, modes, "numpy"), prove_table(rows, modes, EXECUTOR)
        assert first.shown == second.shown
        assert first.fired == second.fired
        assert first.work.words == second.work.words


def test_without_numba_there_is_numpy() -> None:
    """A fresh process in which numba cannot be imported: the same sweep, by numpy; that it says the same of the shaft's
    table is the test above."""
    code = (
        "import sys; sys.modules['numba'] = None\n"
        "from sim.prove.sweep import EXECUTOR; from sim.prove.tables import prove_table\n"
        "from supervisor.modes import BOAT_TABLE, BoatMode\n"
        "done = prove_table(BOAT_TABLE, BoatMode)\n"
        "print(EXECUTOR, done.work.words == 3392, all(one.holds for one in done.shown))"
    )
    root = Path(__file__).resolve().parents[2]
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.stdout.split() == ["numpy", "True", "True"], done.stderr
