"""Pauses: a contact that thrust needs and that bounces stops torque at once, but not for good.

A contact of lock, clutch, gearbox or engine that goes away takes torque to zero in its tick: the shaft goes to REST. If
it is back before `pause_s` has passed, thrust comes back by itself, by its slew. Not so where the lever was moved
further out meanwhile, for the third pause within `pause_window_s` (such a contact wants mending, not patience), where
the handset is in control, or where anything else that thrust needs is missing as well.
"""

from supervisor.config.limits import BoatLimits
from supervisor.modes.shaft_table import PROPEL_MUST, PROPEL_MUST_NOT
from supervisor.rules.bits import (
    IS_CLUTCH_CLOSED,
    IS_ENGINE_CLEAR,
    IS_LOCK_RELEASED,
    IS_LOCK_SETTLED,
    IS_PAUSE_FAILED,
    IS_PAUSED,
    IS_THRUST_ORDER,
    LATCH_PAUSED,
    LATCH_UNLOADS_SOURCE,
    SHAFT_PROPEL,
    SHAFT_REST,
    SHAFT_UNLOAD,
)
from supervisor.rules.state import LONGEST_S, Pause, ShaftState, count, longer

BOUNCING = IS_LOCK_RELEASED | IS_LOCK_SETTLED | IS_CLUTCH_CLOSED | IS_ENGINE_CLEAR
"""What contacts say that may bounce under way. Not among them: diver, shore cable, selectors, permits, trips."""

BESIDES = int(PROPEL_MUST) & ~(BOUNCING | IS_THRUST_ORDER)
BESIDES_MASK = BESIDES | int(PROPEL_MUST_NOT) & ~IS_PAUSE_FAILED

MOVED_PCT = 2.0
"""A lever further out by more than this than when the pause began has been moved (%)."""


def moved_out(began_pct: float, order_pct: float) -> bool:
    """Lever or handset asks for more than when the pause began, on the same side. Less, or the other side through
    neutral, is a hand on the lever that knows what it wants."""
    if began_pct > 0.0:
        return order_pct > began_pct + MOVED_PCT
    if began_pct < 0.0:
        return order_pct < began_pct - MOVED_PCT
    return False


def with_pause(lim: BoatLimits, state: ShaftState, word: int, handset: bool) -> int:
    """The word with PAUSED and PAUSE_FAILED; `word` is complete but for them, `state` is that after the timers."""
    missing = word & BOUNCING != BOUNCING
    pause = state.pause
    if state.latches & LATCH_PAUSED:
        late = missing and not pause.lasts_s < lim.pause_s
        if late or moved_out(pause.began_pct, state.order_pct) or handset:
            return word | IS_PAUSE_FAILED
    else:
        # a shaft that was held for its lock is let go when that moves: nothing is asked any more, and nothing pauses
        thrusts = state.mode == SHAFT_PROPEL and word & IS_THRUST_ORDER != 0
        if state.mode == SHAFT_UNLOAD and state.latches & LATCH_UNLOADS_SOURCE == 0:
            thrusts = True
        if not thrusts or not missing or handset:
            return word
        if pause.before_last_s < lim.pause_window_s:
            return word | IS_PAUSE_FAILED
    if missing and word & BESIDES_MASK == BESIDES:
        return word | IS_PAUSED
    return word


def pause_timers(was: Pause, contradicts: bool, dt_s: float) -> Pause:
    """The times of pauses, one tick later."""
    contradicts_s = count(was.contradicts_s, contradicts, dt_s)
    paused = not was.lasts_s < 0.0 or was.last_s < LONGEST_S or was.before_last_s < LONGEST_S
    if not paused and contradicts_s == was.contradicts_s:
        return was  # as in most ticks
    return Pause(
        lasts_s=was.lasts_s + dt_s if not was.lasts_s < 0.0 else was.lasts_s,
        last_s=longer(was.last_s, dt_s),
        before_last_s=longer(was.before_last_s, dt_s),
        began_pct=was.began_pct,
        contradicts_s=contradicts_s,
    )


def after_pause(state: ShaftState, word: int, new_mode: int) -> Pause:
    """What is remembered of pauses once the tables have spoken: one begins, goes on, or is over."""
    pause = state.pause
    if new_mode == SHAFT_REST and word & IS_PAUSED:
        if state.latches & LATCH_PAUSED:
            return pause
        return Pause(
            lasts_s=0.0,
            last_s=0.0,
            before_last_s=pause.last_s,
            began_pct=state.order_pct,
            contradicts_s=pause.contradicts_s,
        )
    if pause.lasts_s < 0.0:
        return pause
    return Pause(
        lasts_s=-1.0,
        last_s=pause.last_s,
        before_last_s=pause.before_last_s,
        began_pct=pause.began_pct,
        contradicts_s=pause.contradicts_s,
    )
