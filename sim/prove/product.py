"""Part (b): the whole reachable product of boat, shafts and latches, and what needs history.

One tick: the boat takes a row on any word; each shaft is then told the boat's new mode, the reset edge and the order of
off, takes a row on any word that agrees with that, and its latches follow by the rules' own `after_mode`. Orders,
machinery bits and dwell bits are free at each tick.

Beside the supervisor's own state runs a *monitor* of each shaft that remembers what the requirements speak of:
`barred` is set by whatever ends thrust other than the lever itself, and cleared only by fresh neutral. It is written
from those sentences, not from the latch rule.

Shafts touch each other only through the boat: no row of a shaft, and not `after_mode`, reads anything of another shaft,
and the boat reads of its shafts only the summary bits of its word. With those bits free, boat and one shaft contain
every behaviour of that shaft beside any others: what is shown there holds for any number of shafts. The product of
all shafts is enumerated besides, set by set, with SHAFTS_AT_REST as it really is.
"""

import time
from collections.abc import Callable, Sequence
from itertools import product as choices
from typing import Any, NamedTuple

import numpy as np

from sim.prove.cubes import Cube, cube, find_word, meet
from sim.prove.flat import shaft_state
from sim.prove.result import Count, Shown
from sim.prove.word_classes import Told, WordClass, WordClasses
from sim.prove.words import describe_word
from supervisor.config.limits import ShaftLimits
from supervisor.modes import NO_ROW, BoatCondition, BoatMode, Row, ShaftMode
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.state import ShaftLatch, ShaftState

_B = BoatCondition
_REARMED = ShaftLatch.REARMED.value
_TO_PROPEL = ShaftLatch.UNLOAD_TO_PROPEL.value


class ShaftPoint(NamedTuple):
    """State of one shaft in the product: mode, latches, monitor."""

    mode: int
    rearmed: bool
    to_propel: bool
    barred: bool


class BoatPoint(NamedTuple):
    """State of the boat in the product. `phase` is the monitor of enabling: 0 tripped, 1 reset or never tripped,
    2 enable pressed since."""

    mode: int
    phase: int


class BoatStep(NamedTuple):
    """What the boat may do in a tick, and a word for it."""

    to: BoatPoint
    told: Told
    row: int
    word: int


class ShaftStep(NamedTuple):
    """What a shaft may do in a tick, and the class of its word. `broken` names the requirement that the step breaks."""

    to: ShaftPoint
    word_class: WordClass
    fresh: bool
    broken: str


BOAT_START = BoatPoint(int(BoatMode.STANDBY), 1)
SHAFT_START = ShaftPoint(int(ShaftMode.REST), False, False, True)

HISTORY: tuple[tuple[str, str, str], ...] = (
    ("SR-05", "no path into motion",
     "thrust never begins without fresh neutral since whatever ended it other than the lever itself: boat not READY, "
     "trip, ISOLATED, reset, a lost permissive that is no pause, a lost lever or handset"),
    ("SR-04", "READY after reset, enable, neutral",
     "READY after a trip needs reset, then enable, then every lever in neutral, in this order"),
    ("SR-06", "ISOLATED until reset", "a shaft leaves ISOLATED only in a tick with a press of reset, to REST"),
    ("SR-02", "no work unless READY", "no shaft is in PROPEL, GENERATE, HARVEST or UNLOAD unless the boat is READY"),
    ("SR-05", "not armed unless READY", "REARMED is never set while the boat is not READY"),
)  # fmt: skip


class Product:
    """The product of one pair of tables with the rules' own latch function."""

    def __init__(
        self, boat_rows: Sequence[Row[Any, Any]], shaft_rows: Sequence[Row[Any, Any]], lim: ShaftLimits,
        neutral_s: float, latches: Callable[..., ShaftState] = after_mode, *, possible_only: bool = False,
    ) -> None:  # fmt: skip
        self._boat_rows = boat_rows
        self._shaft_rows = shaft_rows
        self._lim = lim
        self._neutral_s = neutral_s
        self._latches = latches
        self._boat_cubes = {
            int(mode): [(n, cube(int(r.must), int(r.must_not))) for n, r in enumerate(boat_rows) if r.source == mode]
            for mode in BoatMode
        }
        self.classes = WordClasses(shaft_rows, possible_only=possible_only)
        self._boat_steps: dict[tuple[BoatPoint, bool], tuple[BoatStep, ...]] = {}
        self._shaft_steps: dict[tuple[ShaftPoint, Told], tuple[ShaftStep, ...]] = {}

    def boat_steps(self, point: BoatPoint, at_rest: bool) -> tuple[BoatStep, ...]:
        """All that the boat may do. `at_rest` allows the bit SHAFTS_AT_REST to be set; every other bit is free."""
        key = (point, at_rest)
        if key not in self._boat_steps:
            self._boat_steps[key] = tuple(self._make_boat_steps(point, at_rest))
        return self._boat_steps[key]

    def _make_boat_steps(self, point: BoatPoint, at_rest: bool) -> list[BoatStep]:
        found = []
        watched = (_B.RESET_EDGE, _B.OFF_ORDER, _B.ENABLE_EDGE, _B.LEVERS_NEUTRAL)
        for bits in choices((False, True), repeat=len(watched)):
            on = sum(int(bit) for bit, value in zip(watched, bits, strict=True) if value)
            off = sum(int(bit) for bit, value in zip(watched, bits, strict=True) if not value)
            base = cube(on, off if at_rest else off | int(_B.SHAFTS_AT_REST))
            outside: list[Cube] = []
            for number, own in [*self._boat_cubes[point.mode], (NO_ROW, None)]:
                inside = base if own is None else meet(base, own)
                word = None if inside is None else find_word(inside, outside)
                if own is not None:
                    outside.append(own)
                if word is None:
                    continue
                mode = point.mode if number == NO_ROW else int(self._boat_rows[number].dest)
                to = BoatPoint(mode, _phase(point, mode, bits[0], bits[2]))
                found.append(BoatStep(to, Told(BoatMode(mode), bits[0], bits[1]), number, word))
        return found

    def shaft_steps(self, point: ShaftPoint, told: Told) -> tuple[ShaftStep, ...]:
        """All that a shaft may do when it is told this."""
        key = (point, told)
        if key not in self._shaft_steps:
            self._shaft_steps[key] = tuple(self._make_shaft_steps(point, told))
        return self._shaft_steps[key]

    def _make_shaft_steps(self, point: ShaftPoint, told: Told) -> list[ShaftStep]:
        found = []
        seen = set()
        word_classes = self.classes.word_classes(point.mode, told, point.rearmed, point.to_propel)
        for word_class in word_classes:
            for fresh in (False, True):
                step = self._step(point, told, word_class, fresh)
                key = (step.to, step.broken, word_class.row)
                if key not in seen:
                    seen.add(key)
                    found.append(step)
        return found

    def _step(self, point: ShaftPoint, told: Told, word_class: WordClass, fresh: bool) -> ShaftStep:
        latches = (_REARMED if point.rearmed else 0) | (_TO_PROPEL if point.to_propel else 0)
        neutral_s = self._neutral_s if fresh else -1.0
        before = shaft_state(mode=point.mode, latches=latches, neutral_s=neutral_s)
        mode, disarms, to_propel = point.mode, False, False
        if word_class.row != NO_ROW:
            row = self._shaft_rows[word_class.row]
            mode, disarms, to_propel = int(row.dest), row.disarms, row.unload_to_propel
        after = self._latches(
            self._lim, before, word_class.word, mode, disarms, to_propel, self._neutral_s, int(told.boat_mode)
        )
        ended = (
            told.boat_mode != BoatMode.READY
            or int(ShaftMode.ISOLATED) in (point.mode, mode)
            or word_class.control_lost
            or word_class.handset_lost
            or (word_class.asks and not word_class.permitted and not word_class.paused)
            or (word_class.asks and told.off_order)
            or (
                point.mode == ShaftMode.PROPEL
                and mode != ShaftMode.PROPEL
                and word_class.asks
                and not word_class.paused
            )
        )
        to = ShaftPoint(
            after.mode, bool(after.latches & _REARMED), bool(after.latches & _TO_PROPEL),
            True if ended else point.barred and not (fresh and not word_class.asks),
        )  # fmt: skip
        return ShaftStep(to, word_class, fresh, _broken(point, to, told))


def _phase(point: BoatPoint, mode: int, reset: bool, enable: bool) -> int:
    if mode == BoatMode.TRIPPED:
        return 0
    phase = point.phase
    if phase == 0 and reset:
        phase = 1
    if phase >= 1 and enable and point.mode == BoatMode.STANDBY:
        phase = 2
    if mode == BoatMode.STANDBY and phase == 2:
        phase = 1
    return phase


def _broken(was: ShaftPoint, to: ShaftPoint, told: Told) -> str:
    if to.mode == ShaftMode.PROPEL and was.mode != ShaftMode.PROPEL and was.barred:
        return "no path into motion"
    if was.mode == ShaftMode.ISOLATED and to.mode != ShaftMode.ISOLATED:
        if not told.reset_edge or to.mode != ShaftMode.REST:
            return "ISOLATED until reset"
    if told.boat_mode != BoatMode.READY and to.mode not in (ShaftMode.REST, ShaftMode.ISOLATED):
        return "no work unless READY"
    if to.rearmed and told.boat_mode != BoatMode.READY:
        return "not armed unless READY"
    return ""


State = tuple[BoatPoint, ShaftPoint]


class Explored(NamedTuple):
    """Boat and one shaft: every reachable state with the step that led there first, every step's number, breaches."""

    parents: dict[State, tuple[State, BoatStep, ShaftStep] | None]
    edges: dict[State, set[State]]
    boat_rows: set[int]
    shaft_rows: set[int]
    word_classes: int
    breaches: dict[str, tuple[State, BoatStep, ShaftStep]]


def explore(machine: Product) -> Explored:
    """Breadth first from STANDBY and REST over boat and one shaft, the summary bits of other shafts free."""
    start: State = (BOAT_START, SHAFT_START)
    found = Explored({start: None}, {}, set(), set(), 0, {})
    frontier = [start]
    word_classes = 0
    while frontier:
        coming = []
        for state in frontier:
            boat, shaft = state
            targets = found.edges.setdefault(state, set())
            at_rest = shaft.mode in (ShaftMode.REST, ShaftMode.ISOLATED)
            for boat_step in machine.boat_steps(boat, at_rest):
                found.boat_rows.add(boat_step.row)
                skipped = boat_step.to.mode == BoatMode.READY != boat.mode and (
                    boat.phase < 2 or not boat_step.word & int(_B.LEVERS_NEUTRAL)
                )
                for step in machine.shaft_steps(shaft, boat_step.told):
                    word_classes += 1
                    found.shaft_rows.add(step.word_class.row)
                    target = (boat_step.to, step.to)
                    targets.add(target)
                    if step.broken:
                        found.breaches.setdefault(step.broken, (state, boat_step, step))
                    if skipped:
                        found.breaches.setdefault(HISTORY[1][1], (state, boat_step, step))
                    if target not in found.parents:
                        found.parents[target] = (state, boat_step, step)
                        coming.append(target)
        frontier = coming
    return found._replace(word_classes=word_classes)


def path_words(machine: Product, found: Explored, breach: tuple[State, BoatStep, ShaftStep]) -> str:
    """The sequence from STANDBY to a breach, one line a tick."""
    steps = [(breach[0], breach[1], breach[2])]
    state = breach[0]
    while (parent := found.parents[state]) is not None:
        steps.append(parent)
        state = parent[0]
    lines = []
    for number, (was, boat_step, step) in enumerate(reversed(steps), 1):
        boat = f"boat {BoatMode(was[0].mode).name} -> {BoatMode(boat_step.to.mode).name}"
        shaft = f"shaft {ShaftMode(was[1].mode).name} -> {ShaftMode(step.to.mode).name}"
        fresh = "; fresh neutral has been held" if step.fresh else ""
        lines.append(
            f"{number}. {boat} ({describe_word(boat_step.word, BoatMode)}); {shaft} "
            f"({describe_word(step.word_class.word, ShaftMode)}{fresh})"
        )  # fmt: skip
    return "\n".join(lines)


def prove_product(machine: Product) -> tuple[list[Shown], Count, Explored]:
    """The history requirements on boat and one shaft."""
    began = time.perf_counter()
    found = explore(machine)
    shown = []
    for requirement, name, text in HISTORY:
        breach = found.breaches.get(name)
        words = "" if breach is None else path_words(machine, found, breach)
        shown.append(Shown(requirement, name, "product", text, found.word_classes, "", words))
    count = Count("boat x one shaft", len(found.parents), found.word_classes, time.perf_counter() - began)
    return shown, count, found


def whole_product(machine: Product, found: Explored, shafts: int) -> tuple[int, int, bool]:
    """The reachable product of the boat and all its shafts, as sets of states.

    Returns (states, pairs of state and boat step followed, every state can get back to STANDBY with all shafts at
    REST).
    """
    boats = sorted({boat for boat, _ in found.parents})
    points = sorted({shaft for _, shaft in found.parents})
    place = {point: number for number, point in enumerate(points)}
    n = len(points)
    resting = np.array([point.mode in (ShaftMode.REST, ShaftMode.ISOLATED) for point in points])
    matrices: dict[Told, Any] = {}

    def matrix(told: Told) -> Any:
        if told not in matrices:
            moves = np.zeros((n, n), dtype=np.float32)
            for point in points:
                for step in machine.shaft_steps(point, told):
                    if step.to in place:
                        moves[place[point], place[step.to]] = 1.0
            matrices[told] = moves
        return matrices[told]

    shape = (n,) * shafts
    all_rest = np.ones(shape, dtype=bool)
    for axis in range(shafts):
        all_rest &= resting.reshape([-1 if a == axis else 1 for a in range(shafts)])
    reach = {boat: np.zeros(shape, dtype=bool) for boat in boats}
    reach[BOAT_START][(place[SHAFT_START],) * shafts] = True
    followed = 0
    moves: list[tuple[BoatPoint, bool, BoatPoint, Told]] = sorted(
        {
            (boat, at_rest, step.to, step.told)
            for boat in boats
            for at_rest in (False, True)
            for step in machine.boat_steps(boat, at_rest)
        }
    )
    grown = True
    while grown:
        grown = False
        followed = 0
        for boat, at_rest, to, told in moves:
            here = reach[boat] & all_rest if at_rest else reach[boat] & ~all_rest
            if not here.any():
                continue
            followed += int(here.sum())
            after = _push(here, matrix(told))
            new = after & ~reach[to]
            if new.any():
                reach[to] |= new
                grown = True
    back = {boat: np.zeros(shape, dtype=bool) for boat in boats}
    for boat in boats:
        if boat.mode == BoatMode.STANDBY:
            for point in choices([place[p] for p in points if p.mode == ShaftMode.REST], repeat=shafts):
                back[boat][point] = reach[boat][point]
    grown = True
    while grown:
        grown = False
        for boat, at_rest, to, told in moves:
            before = _push(back[to], matrix(told).T) & reach[boat]
            before &= all_rest if at_rest else ~all_rest
            if (before & ~back[boat]).any():
                back[boat] |= before
                grown = True
    states = sum(int(one.sum()) for one in reach.values())
    return states, followed, all(bool((back[boat] == reach[boat]).all()) for boat in boats)


def _push(states: Any, moves: Any) -> Any:
    """Each shaft's set moved by its moves: axis by axis."""
    result = states.astype(np.float32)
    for axis in range(result.ndim):
        result = np.moveaxis(np.tensordot(result, moves, axes=(axis, 0)), -1, axis)
        result = (result > 0).astype(np.float32)
    return result > 0
