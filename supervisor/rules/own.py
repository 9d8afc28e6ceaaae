"""The owner's own interlocks: which are bad, and which bits of the words each clears while it is.

An interlock is bad once its signal has been bad for its debounce, and good again at once. A number is bad from its
threshold on, and good only beyond its hysteresis. Unknown is bad, except where the boat file lets it count as good.
Effects only restrict: each clears a bit that is set for a boat without own interlocks, or lowers a limit.
"""

from typing import NamedTuple

from supervisor.config.limits import BoatLimits, OwnLimits
from supervisor.rules.bank import slewed
from supervisor.rules.bits import (
    BOAT_OWN_BOAT,
    IS_OWN_CHARGE,
    IS_OWN_CHARGE_START,
    IS_OWN_CHARGE_STAYS,
    IS_OWN_SHAFT,
    IS_OWN_THRUST,
    IS_OWN_THRUST_START,
    IS_OWN_THRUST_STAYS,
    LATCH_BEGUN,
    MAY_OWN_ENGINE_START,
)
from supervisor.rules.state import OwnState, count, ramp_length
from supervisor.signals.own import OwnEffect, OwnInputs

INHIBIT_THRUST = OwnEffect.INHIBIT_THRUST.value
STOP_THRUST = OwnEffect.STOP_THRUST.value
RAMP_THRUST = OwnEffect.RAMP_THRUST.value
LIMIT_THRUST = OwnEffect.LIMIT_THRUST.value
INHIBIT_CHARGE = OwnEffect.INHIBIT_CHARGE.value
UNLOAD_CHARGE = OwnEffect.UNLOAD_CHARGE.value
STOP_CHARGE = OwnEffect.STOP_CHARGE.value
STOP_BOTH = OwnEffect.STOP_BOTH.value
INHIBIT_ENGINE_START = OwnEffect.INHIBIT_ENGINE_START.value
TRIP_SHAFT = OwnEffect.TRIP_SHAFT.value
TRIP_BOAT = OwnEffect.TRIP_BOAT.value

ALL_OWN = (
    IS_OWN_THRUST_START | IS_OWN_THRUST_STAYS | IS_OWN_THRUST | IS_OWN_CHARGE_START | IS_OWN_CHARGE_STAYS
    | IS_OWN_CHARGE | IS_OWN_SHAFT
)  # fmt: skip


class OwnOnShaft(NamedTuple):
    """What own interlocks say to one shaft: its bits of the shaft word and of the permit word; the most thrust ahead
    and astern that they leave (0 to 100 % of rated torque and power)."""

    word: int
    permit: int
    ahead_pct: float
    astern_pct: float


NO_OWN = OwnOnShaft(ALL_OWN, MAY_OWN_ENGINE_START, 100.0, 100.0)
"""What own interlocks say where there are none."""


def signal_bad(own: OwnLimits, known: bool, on: bool, value: float, was_bad: bool) -> bool:
    """Whether the signal is bad at this tick, before any debounce. `value` is in the signal's own unit; `was_bad` says
    on which side of the hysteresis a number between the two thresholds stands."""
    if not known:
        return own.unknown_good == 0
    if own.number == 0:
        return on == (own.bad_on == 1)
    if own.high == 1:
        if was_bad:
            return not value <= own.good_at
        return not value < own.bad_at
    if was_bad:
        return not value >= own.good_at
    return not value > own.bad_at


def own_state(lim: BoatLimits, was: OwnState, own: OwnInputs, dt_s: float) -> OwnState:
    """Which interlocks are bad after this tick, and for how long their signals have been."""
    if lim.own_count == 0:
        return was
    bad = 0
    bad_s = was.bad_s
    for k in range(lim.own_count):
        one = lim.own[k]
        bit = 1 << k
        was_bad = was.bad & bit != 0
        # while the debounce runs the signal has crossed its threshold already: the hysteresis holds it there
        held = was_bad or was.bad_s[k] >= 0.0
        is_bad = signal_bad(one, own.known & bit != 0, own.on & bit != 0, own.values[k], held)
        time_s = count(was.bad_s[k], is_bad, dt_s)
        if is_bad and (was_bad or time_s >= one.debounce_s):
            bad = bad | bit
        if time_s != was.bad_s[k]:
            bad_s = with_time(bad_s, k, time_s)
    return OwnState(bad=bad, bad_s=bad_s)


def with_time(times_s: tuple[float, ...], k: int, time_s: float) -> tuple[float, ...]:
    """`times_s` with the k-th replaced."""
    return (*times_s[:k], time_s, *times_s[k + 1 :])


def own_boat_bit(lim: BoatLimits, state: OwnState) -> int:
    """OWN_BOAT of the boat's word: no interlock that trips the boat is bad."""
    for k in range(lim.own_count):
        if state.bad >> k & 1 and lim.own[k].effect == TRIP_BOAT:
            return 0
    return BOAT_OWN_BOAT


def own_on_shaft(lim: BoatLimits, state: OwnState, index: int, latches: int) -> OwnOnShaft:
    """What the own interlocks say to shaft `index`; `latches` are the shaft's."""
    if state.bad == 0:
        return NO_OWN
    word, permit = ALL_OWN, MAY_OWN_ENGINE_START
    ahead_pct = astern_pct = 100.0
    for k in range(lim.own_count):
        own = lim.own[k]
        if state.bad >> k & 1 == 0 or own.shafts >> index & 1 == 0:
            continue
        effect = own.effect
        if effect == INHIBIT_THRUST:
            if latches & LATCH_BEGUN == 0:
                word = word & ~IS_OWN_THRUST_START
        elif effect == STOP_THRUST:
            word = word & ~IS_OWN_THRUST
        elif effect == RAMP_THRUST:
            word = word & ~IS_OWN_THRUST_STAYS
        elif effect == INHIBIT_CHARGE:
            word = word & ~IS_OWN_CHARGE_START
        elif effect == UNLOAD_CHARGE:
            word = word & ~IS_OWN_CHARGE_STAYS
        elif effect == STOP_CHARGE:
            word = word & ~IS_OWN_CHARGE
        elif effect == STOP_BOTH:
            word = word & ~(IS_OWN_THRUST | IS_OWN_CHARGE)
        elif effect == TRIP_SHAFT:
            word = word & ~IS_OWN_SHAFT
        elif effect == INHIBIT_ENGINE_START:
            permit = 0
        elif effect == LIMIT_THRUST:
            if own.limit_pct < ahead_pct:
                ahead_pct = own.limit_pct
            if own.astern == 1 and own.limit_pct < astern_pct:
                astern_pct = own.limit_pct
    return OwnOnShaft(word, permit, ahead_pct, astern_pct)


def own_limit_pct(was_pct: float, target_pct: float, lim: BoatLimits, dt_s: float) -> float:
    """A limit on thrust: it comes on at once, and returns at the rate of the derate."""
    if target_pct < was_pct:
        return target_pct
    return slewed(was_pct, target_pct, lim.derate_rate_pct_per_s * ramp_length(dt_s))
