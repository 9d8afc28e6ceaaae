"""The formula of the tick says what the tick says: worked out in floats, bit for bit, on thousands of ticks.

A walker that read the source wrongly would prove the wrong thing, so everything else rests on this.
"""

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pytest

from sim.prove.solver.evaluate import Worked, roots_of
from sim.prove.solver.samples import draw
from sim.prove.solver.search import at
from sim.prove.solver.symbols import gather, spread, symbols
from sim.prove.solver.terms import Terms
from sim.prove.solver.values import Cases, WalkError
from sim.prove.solver.walker import Walker
from supervisor.config import BoatConfig, load_config
from supervisor.controller.controller import freeze
from supervisor.rules import Boat, run_tick
from tests.boatyard.boats import boat_config
from tests.own.own_boat import BILGE, LADDER, SEAL, write_boat


def flat(value: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Every number of a nested tuple, by its path."""
    if isinstance(value, tuple):
        names = getattr(value, "_fields", range(len(value)))
        for field, part in zip(names, value, strict=True):
            yield from flat(part, f"{name}.{field}")
    else:
        yield name, value


class Compared(NamedTuple):
    differences: list[str]
    rows: set[tuple[str, int]]
    ticks: int


def compare(boat: Boat, seed: int, count: int) -> Compared:
    """The formula against the tick. What is drawn keeps no invariant: the formula must agree on any state."""
    terms = Terms()
    free = symbols(terms, boat)
    walker = Walker(terms)
    now = walker.call(run_tick, boat, free.was, free.boat_in, free.shaft_in, free.dt_s)
    sound = terms.all(terms.either(terms.negation(one.path), one.must) for one in walker.obligations)
    arrays = draw(boat, np.random.default_rng(seed), count)
    worked = Worked([*roots_of(now), *roots_of(sound)], arrays)
    said = {name: np.broadcast_to(values, count) for name, values in flat(worked(now))}
    never_raises = np.broadcast_to(worked(sound), count)
    found = Compared([], set(), count)
    for k in range(count):
        was, boat_in, shaft_in, dt_s = gather(at(arrays, k), boat)
        try:
            real = run_tick(boat, was, boat_in, shaft_in, dt_s)
        except ZeroDivisionError:
            if never_raises[k]:
                found.differences.append(f"tick {k} raises, though the formula says that none does")
            continue
        if not never_raises[k]:
            found.differences.append(f"tick {k} does not raise, though the formula says that it does")
        found.rows.add(("boat", real.boat_row))
        found.rows.update(("shaft", row) for row in real.shaft_rows)
        for name, value in flat(real):
            got = said[name][k]
            if not (got == value and (isinstance(value, int) or math.copysign(1, got) == math.copysign(1, value))):
                found.differences.append(f"tick {k}{name}: the tick gives {value!r}, the formula {got!r}")
    return found


def own_boat(folder: Path) -> BoatConfig:
    trip = {**LADDER, "name": "hatch", "signal": "Hatch", "effect": "trip_shaft", "debounce_s": 0.5}
    return load_config(str(write_boat(folder, LADDER, BILGE, SEAL, trip)))


@pytest.mark.parametrize("name", ["marsh_tern", "reed_warbler"])
def test_formula_and_tick_agree_bit_for_bit(name: str) -> None:
    found = compare(freeze(load_config(name)), seed=7, count=2_000)
    assert found.differences == []
    assert len(found.rows) > 30  # many ways through the tables were taken


def test_they_agree_with_own_interlocks(tmp_path: Path) -> None:
    assert compare(freeze(own_boat(tmp_path)), seed=8, count=1_000).differences == []


@pytest.mark.parametrize("shafts", [1, 3, 4])
def test_they_agree_with_any_number_of_unlike_shafts(shafts: int) -> None:
    unlike = {"shaft/0/drive/rated_torque_nm": 95.0, "shaft/0/rules/neutral_band_pct": 8.0}
    assert compare(freeze(boat_config(unlike, shafts)), seed=shafts, count=600).differences == []


@pytest.mark.campaign
@pytest.mark.parametrize("seed", range(20))
def test_they_agree_on_many_more(seed: int) -> None:
    assert compare(freeze(load_config("marsh_tern")), seed=100 + seed, count=20_000).differences == []


def test_a_tick_goes_into_variables_and_comes_back() -> None:
    boat = freeze(load_config("marsh_tern"))
    arrays = draw(boat, np.random.default_rng(3), 200)
    for k in range(200):
        real = gather(at(arrays, k), boat)
        assert gather(spread(*real), boat) == real


# --- the forms that the walker reads, each against Python itself


def early(x: float, y: float) -> float:
    """Returns out of nested branches, with a name that only one branch gives a value."""
    if x > 1.0:
        if y > 1.0:
            return x
        z = y
    else:
        z = x + 1.0
    if z < 0.0:
        return -z
    return z


def looped(x: float, y: float) -> float:
    """A loop that is left early, and one that passes over entries."""
    total = 0.0
    for step in (1.0, 2.0, 3.0, 4.0):
        if step == 2.0 and y < 0.0:
            continue
        if total > x:
            break
        total += step * y
    for step in range(3):
        if step > x:
            return total
        total = total - 0.5
    return total


def found_in(x: float, y: float) -> float:
    """Lists that grow under a condition, min, max, any, all, and a chained comparison."""
    numbers = [x]
    if y > 0.0:
        numbers.append(y)
    numbers = [2.0 * n for n in numbers if n != 1.0]
    inside = 0.0 if any(-1.0 < n <= 1.0 for n in numbers) else 5.0
    return (
        min(numbers, default=7.0) + max(3.0, inside) + sum(numbers) + (0.25 if all(n > 0.0 for n in numbers) else 0.0)
    )


def of_rows(x: float, y: float) -> float:
    """A row of a table at an index that hangs on inputs, and an entry of a dict."""
    rows = ((1.0, (2.0, 3.0)), (4.0, ()), (5.0, (6.0,)))
    index = 0 if x < 0.0 else 1 if y < 0.0 else 2
    total = rows[index][0]
    for extra in rows[index][1]:
        total = total + extra
    return total + {0: 10.0, 1: 20.0, 2: 30.0}[index]


def of_words(x: float, y: float) -> float:
    """Words of bits: set, clear, shift, compare, and what is not set in another."""
    word = 0
    if x > 0.0:
        word |= 1 << 3
    if y > 0.0:
        word |= 1 << 40
    other = word & ~(1 << 3) if x > 2.0 else word | 2
    count = 0
    for place in (1, 3, 40):
        if other >> place & 1:
            count += 1
    return float(count) + (0.5 if word == other else 0.0) + (0.25 if other != 0 else 0.0)


FUNCTIONS = [early, looped, found_in, of_rows, of_words, lambda x, y: abs(x) - (y if x else -y)]


@pytest.mark.parametrize("function", FUNCTIONS, ids=lambda f: f.__name__)
def test_a_form_is_read_as_python_reads_it(function: Any) -> None:
    terms = Terms()
    walker = Walker(terms)
    x, y = terms.variable("x", truth=False), terms.variable("y", truth=False)
    said = walker.values.real(walker.call(function, x, y))
    values = np.array([-2.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 7.0])
    xs, ys = (grid.ravel() for grid in np.meshgrid(values, values))
    got = np.broadcast_to(Worked(roots_of(said), {"x": xs, "y": ys})(said), xs.shape)
    assert [function(a, b) for a, b in zip(xs.tolist(), ys.tolist(), strict=True)] == got.tolist()


def raises_unless_positive(x: float) -> float:
    if x <= 0.0:
        raise ValueError
    return 1.0 / x


def test_places_that_would_raise_are_gathered() -> None:
    terms = Terms()
    walker = Walker(terms)
    walker.call(raises_unless_positive, terms.variable("x", truth=False))
    assert ["never raised" in one.place or "never zero" in one.place for one in walker.obligations] == [True, True]
    assert all("test_prove_walker.py:" in one.place for one in walker.obligations)


def unread(x: float) -> float:
    while x > 0.0:
        x = x - 1.0
    return x


def texts(x: float) -> str:
    return f"{x}"


def foreign(x: float) -> float:
    return math.sqrt(x)


def shared(x: float) -> float:
    numbers = [1.0]
    same = (numbers,)
    if x > 0.0:
        same[0].append(x)
    return numbers[-1]


@pytest.mark.parametrize("function", [unread, texts, foreign, shared], ids=lambda f: f.__name__)
def test_what_is_not_read_is_refused_by_name_and_place(function: Any) -> None:
    terms = Terms()
    with pytest.raises(WalkError, match=r"test_prove_walker\.py:\d+: "):
        Walker(terms).call(function, terms.variable("x", truth=False))


def test_source_that_is_not_what_runs_is_refused(tmp_path: Path) -> None:
    """A file that changed after it was loaded would be proven in place of what runs."""
    path = tmp_path / "changing.py"
    path.write_text("def rule(x):\n    return x + 1.0\n", encoding="utf-8")
    world: dict[str, Any] = {"__name__": "changing"}
    exec(compile(path.read_text(encoding="utf-8"), str(path), "exec"), world)  # noqa: S102 - our own text
    path.write_text("def rule(x):\n    return x + 2.0\n", encoding="utf-8")
    terms = Terms()
    with pytest.raises(WalkError, match="has changed since it was loaded"):
        Walker(terms).call(world["rule"], terms.variable("x", truth=False))


def test_exactly_one_case_of_a_number_holds() -> None:
    boat = freeze(load_config("marsh_tern"))
    mode: Any = symbols(Terms(), boat).was.shafts[0].mode
    assert isinstance(mode, Cases)
    codes = np.arange(8)
    names = sorted({root.label for truth in mode.cases.values() for root in roots_of(truth) if not root.args} |
                   {f"was.shafts[0].mode.{place}" for place in range(3)})  # fmt: skip
    arrays = {name: (codes >> place & 1).astype(bool) for place, name in enumerate(names)}
    worked = Worked([root for truth in mode.cases.values() for root in roots_of(truth)], arrays)
    held = sum(worked(truth).astype(int) for truth in mode.cases.values())
    assert held.tolist() == [1] * 8
