"""How the owner's own interlocks are held good or bad: exactly as the boat file says, one step of an induction each.

Restated from the boat file's keys (`[[interlock]]`) and docs/interlocks.md: bad from its threshold or
state on, held by its hysteresis, after its debounce; good again at once; unknown is bad, but where the file says good;
before it was ever seen good it is bad.
"""

from collections.abc import Callable
from functools import partial

from sim.prove.claims_bank import always
from sim.prove.plain import OWN_START
from sim.prove.step import Step, StepClaim
from sim.prove.terms import HELD, ISOLATED, PROPEL, READY, counted, length_s, moved, near, ramp_s
from supervisor.config import BoatConfig
from supervisor.config.schema import Interlock

HELD_BAD = "own interlocks are held bad"
"""Name of the claim that every effect rests on."""


def acts_on(step: Step, k: int, i: int) -> bool:
    """The k-th interlock acts on shaft `i`."""
    entry = step.config.interlock[k]
    return entry.shafts is None or step.config.shaft[i].name in entry.shafts


def held_bad(step: Step, k: int) -> bool:
    """The k-th interlock is bad after this tick."""
    return step.now.memory.boat.own.bad & (1 << k) != 0


def own_bad(step: Step, i: int, effect: str) -> bool:
    """Some interlock of this effect that acts on shaft `i` is bad."""
    some = False
    for k in range(len(step.config.interlock)):
        if step.config.interlock[k].effect == effect and acts_on(step, k, i):
            some = some or held_bad(step, k)
    return some


def own_bad_boat(step: Step) -> bool:
    """Some interlock that trips the boat is bad."""
    some = False
    for k in range(len(step.config.interlock)):
        if step.config.interlock[k].effect == "trip_boat":
            some = some or held_bad(step, k)
    return some


def crossed(entry: Interlock, value: float, held: bool) -> bool:
    """A number is on the bad side: from its threshold on, or within the hysteresis once it was there."""
    back = entry.hysteresis or 0.0
    if entry.bad_above is not None:
        if held:
            return value > entry.bad_above - back
        return value >= entry.bad_above
    below = entry.bad_below or 0.0
    if held:
        return value < below + back
    return value <= below


def reads_bad(step: Step, k: int) -> bool:
    """The signal of the k-th interlock says bad at this tick, or is unknown where that is bad."""
    entry, own = step.config.interlock[k], step.boat_in.own
    if own.known & (1 << k) == 0:
        return entry.unknown == "bad"
    if entry.good_when is not None:
        return (own.on & (1 << k) != 0) == (entry.good_when == "off")
    held = step.was.boat.own.bad & (1 << k) != 0 or step.was.boat.own.bad_s[k] >= 0.0
    return crossed(entry, own.values[k], held)


def bad_for_s(step: Step, k: int) -> float:
    """How long the signal has been bad without a break (s), -1 while it is good."""
    return counted(step.was.boat.own.bad_s[k], reads_bad(step, k), length_s(step))


def right_one(k: int, step: Step, i: int) -> bool:
    """The k-th interlock is bad exactly when it should be."""
    was_bad = step.was.boat.own.bad & (1 << k) != 0
    dwelt = bad_for_s(step, k) >= step.config.interlock[k].debounce_s
    return held_bad(step, k) == (reads_bad(step, k) and (was_bad or dwelt))


def counts_one(k: int, step: Step, i: int) -> bool:
    """The time of the k-th interlock's signal runs while it is bad, and starts anew."""
    return near(step.now.memory.boat.own.bad_s[k], bad_for_s(step, k))


def held_right(step: Step, i: int) -> bool:
    right = step.now.memory.boat.own.bad & ~((1 << len(step.config.interlock)) - 1) == 0
    for k in range(len(step.config.interlock)):
        right = right and right_one(k, step, i) and counts_one(k, step, i)
    return right


def latched(latches: int) -> bool:
    """BEGUN stands: the shaft has propelled since READY."""
    return latches & HELD.BEGUN != 0


def begun_latched(step: Step, i: int) -> bool:
    now = step.now.memory.shafts[i]
    if step.now.memory.boat.mode != READY or now.mode == ISOLATED:
        return not latched(now.latches)
    return latched(now.latches) == (latched(step.was.shafts[i].latches) or now.mode == PROPEL)


def least_pct(step: Step, i: int, astern: bool) -> float:
    """The least that bad interlocks leave of thrust (%): of ahead, or of astern where they say so."""
    least = 100.0
    for k in range(len(step.config.interlock)):
        entry = step.config.interlock[k]
        if entry.effect == "limit_thrust" and acts_on(step, k, i) and (entry.astern or not astern):
            if held_bad(step, k):
                least = min(least, entry.limit_pct or 0.0)
    return least


def limit_moves(step: Step, was_pct: float, now_pct: float, aim_pct: float) -> bool:
    """A limit comes on at once and returns at the derate's rate."""
    if aim_pct < was_pct:
        return abs(now_pct - aim_pct) <= 0.0
    return near(now_pct, moved(was_pct, aim_pct, step.config.limits.derate_rate_pct_per_s * ramp_s(step)))


def limits_right(step: Step, i: int) -> bool:
    was, now = step.was.shafts[i], step.now.memory.shafts[i]
    ahead = limit_moves(step, was.own_ahead_pct, now.own_ahead_pct, least_pct(step, i, False))
    return ahead and limit_moves(step, was.own_astern_pct, now.own_astern_pct, least_pct(step, i, True))


BEGUN = StepClaim(
    "SR-50", "begun since READY", "that a shaft has propelled is remembered from its first PROPEL until the boat "
    "leaves READY or the shaft is isolated", always, begun_latched, parity=False,
)  # fmt: skip
LIMITS = StepClaim(
    "SR-50", "own limits on thrust", "what own interlocks leave of thrust comes on at once and returns at the derate's "
    "rate", always, limits_right, rests_on=(HELD_BAD,), parity=False,
)  # fmt: skip
HELD_RIGHT = StepClaim(
    "SR-50", HELD_BAD, "each own interlock is bad exactly when its signal has been for its debounce, or still is; good "
    "at once; unknown as the boat file says", always, held_right, per_shaft=False, rests_on=(OWN_START,), parity=False,
)  # fmt: skip


def own_claims(config: BoatConfig) -> tuple[StepClaim, ...]:
    """What is claimed of this boat's own interlocks: of all together, and of each by its name."""
    if not config.interlock:
        return BEGUN, LIMITS
    return BEGUN, LIMITS, HELD_RIGHT, *(_held(k, entry) for k, entry in enumerate(config.interlock))


def _held(k: int, entry: Interlock) -> StepClaim:
    then: Callable[[Step, int], bool] = partial(right_one, k)
    return StepClaim(
        "SR-50", f"interlock {entry.name} is held bad", f"held bad exactly when {entry.bad}, for its debounce", always,
        then, per_shaft=False, rests_on=(HELD_BAD,), parity=False,
    )  # fmt: skip
