"""All that is remembered between two ticks: explicit latches and dwell timers, nothing else.

Plain NamedTuples of numbers, so that the same rules run in plain Python and compiled.
"""

from enum import IntFlag
from typing import NamedTuple

from supervisor.signals.own import OWN_CHANNELS


class BoatLatch(IntFlag):
    """What the boat remembers."""

    ENABLE_WAS_OFF = 1 << 0
    RESET_WAS_OFF = 1 << 1
    HELD_WAS_OFF = 1 << 2
    OFF_WANTED = 1 << 3
    HANDSET_IN_CONTROL = 1 << 4
    CHARGE_ENDED = 1 << 5
    DERATE_ENDED = 1 << 6
    FULL_DONE = 1 << 7
    HANDSET_WAS_LOST = 1 << 8
    ACKNOWLEDGE_WAS_OFF = 1 << 9
    OWN_TO_ACKNOWLEDGE = 1 << 10
    """An own interlock went bad while the boat was live, and the crew has not acknowledged it."""
    ASTERN_SHORT = 1 << 11
    """Braking of the shafts as they turn now would be cut short."""
    UNDER_WAY = 1 << 12
    """A shaft has propelled or harvested since READY, and the boat has not lain still in neutral since."""
    THRUST_SHORT = 1 << 13
    """Thrust is cut, or was a moment ago, because hotel load and thrust together exceed what the bank may give."""


class ShaftLatch(IntFlag):
    """What a shaft remembers."""

    REARMED = 1 << 0
    UNLOAD_TO_PROPEL = 1 << 1
    LINK_WAS_CHARGED = 1 << 2
    PRECHARGE_FAILED = 1 << 3
    PRECHARGE_RETRIED = 1 << 4
    CHARGE_ARMED = 1 << 5
    HARVEST_ARMED = 1 << 6
    SLOW_RAMP = 1 << 7
    SAGGING = 1 << 8
    UNLOADS_SOURCE = 1 << 9
    IN_SERVICE = 1 << 10
    OUT_OF_SERVICE = 1 << 11
    BEGUN = 1 << 12
    """Has propelled since the boat became READY: passing neutral is no start."""
    RELAPSED = 1 << 13
    """Its drive has isolated it by disobeying twice within RELAPSE_S."""
    STOPPED = 1 << 14
    """Thrust or charging ended although it was asked for, and the crew has not acknowledged that."""
    PAUSED = 1 << 15
    """Thrust pauses for a contact, and may come back by itself."""
    HOLD_ARMED = 1 << 16
    """The stop-and-lock selector was seen off, and may be set."""
    HOLD_FAILED = 1 << 17
    """A shaft was to be stopped and locked, and was not in its time."""


class BoatDwells(NamedTuple):
    """Dwell timers of the boat (s; -1 for one that is not running).

    `since_full_s` is the time since the last completed full charge, `age_s` the time since power-up, `lying_s` the time
    for which all shafts in service have been still with their levers in neutral.
    """

    wait_s: float = -1.0
    off_s: float = -1.0
    idle_s: float = -1.0
    since_full_s: float = 0.0
    age_s: float = 0.0
    lying_s: float = -1.0


class BankMemory(NamedTuple):
    """What is remembered of the bank.

    `derate_pct` is the propulsion derate by SOC and lost inputs (0 to 100), `cell_pct` that by the lowest cell,
    `given_a` what the bank might give (A); `hotel_a` the estimate of current that leaves the bus
    bar other than through drives (A; for charging: never more than is sure), `load_a` the same for discharging (A;
    never less than is sure), `drives_a` the drives' current, smoothed (A). `brake_a` is the budget of braking that was
    in force (A), `brake_spent_s` what is spent of the time that cells may be braked into which are too cold, too hot or
    not known (s; from the whole of that time upwards: no more of it now). `low_s` is how long the SOC has read at or
    below the lower limit (s, up to the time that ends thrust; -1 while it does not).
    """

    derate_pct: float = 100.0
    hotel_a: float = 0.0
    load_a: float = 0.0
    drives_a: float = 0.0
    brake_a: float = 0.0
    brake_spent_s: float = 0.0
    low_s: float = -1.0
    cell_pct: float = 100.0
    given_a: float = 0.0


class SourcesState(NamedTuple):
    """What is remembered of the other sources (shore charger, alternators, sun).

    `over_s` is how long they have been seen to feed more than the limit allows (s, up to the time that stops them; -1
    while they do not), `gave_a` what they gave when they were last stopped for it (A), `stopped_s` the time since (s,
    up to the shortest stop; -1 while they are not stopped for it), `held_s` the time since the stop output was last set
    (s, up to the time that it stays so). `faulted` 1: the bank's monitor, the receive path or an own
    interlock has tripped the boat. `stop` is the output.
    """

    over_s: float = -1.0
    gave_a: float = 0.0
    stopped_s: float = -1.0
    held_s: float = 1e9
    faulted: int = 0
    stop: int = 1


class OwnState(NamedTuple):
    """What is remembered of the own interlocks: bit k of `bad` is set while the k-th is bad; `bad_s` is how long its
    signal has been bad without a break (s; -1 while it is good)."""

    bad: int = 0
    bad_s: tuple[float, ...] = (-1.0,) * OWN_CHANNELS


class BoatState(NamedTuple):
    """Mode, latches and timers of the boat. `acknowledged` holds the Alarm bits that the crew has acknowledged and that
    have not gone since."""

    mode: int = 0
    latches: int = 0
    acknowledged: int = 0
    dwells: BoatDwells = BoatDwells()
    bank: BankMemory = BankMemory()
    own: OwnState = OwnState()
    sources: SourcesState = SourcesState()


class ShaftDwells(NamedTuple):
    """Dwell timers of one shaft (s; -1 for one that is not running).

    `zero_s` is the time the order has been zero since, `steady_s` the time since the lever last moved as throttle,
    `trail_s` the time of trailing so far, `precharge_s` the heat in the precharge resistor as time on it; `obeyed_s`
    the time for which the drive has been seen to obey a zero order, `pardon_s` the time since it isolated its shaft by
    disobeying (LONGEST_S: never), `silent_s` the time for which its torque has not been heard with its enable dropped.
    """

    neutral_s: float = -1.0
    lever_lost_s: float = -1.0
    unload_s: float = -1.0
    precharge_s: float = 0.0
    disobey_s: float = -1.0
    link_off_s: float = -1.0
    still_s: float = -1.0
    trail_s: float = 0.0
    zero_s: float = 1e9
    steady_s: float = 0.0
    gear_contradicts_s: float = -1.0
    engine_contradicts_s: float = -1.0
    obeyed_s: float = -1.0
    pardon_s: float = 1e9
    silent_s: float = -1.0


class Effort(NamedTuple):
    """What one shaft was ordered.

    `torque_nm` is the last order (N m, positive ahead); `last_sign` the sign of the last one that was not zero;
    `charge_a` the soft-started charging current (A, at least 0); `sag_ref_rpm` the engine speed at ramp start;
    `ramp_nm_per_s` the slope at which a lost lever's thrust goes down.
    """

    torque_nm: float = 0.0
    last_sign: int = 0
    charge_a: float = 0.0
    sag_ref_rpm: float = 0.0
    ramp_nm_per_s: float = 0.0


class Pause(NamedTuple):
    """Pauses of thrust for a contact: how long the present one lasts (s; -1 for none), how long ago the last one and
    the one before it began (s; 1e9 for never), and the order when the last one began (%, -100 to 100). And how long the
    lever's contact and position have contradicted each other (s; -1 while they do not)."""

    lasts_s: float = -1.0
    last_s: float = 1e9
    before_last_s: float = 1e9
    began_pct: float = 0.0
    contradicts_s: float = -1.0


class Turned(NamedTuple):
    """Lowest and highest speed of the drive (rpm at the shaft) in the stretch of time that runs and in the one before
    it, and how long the one that runs has (s; -1 while the speed is not known)."""

    low_rpm: float = 0.0
    high_rpm: float = 0.0
    before_low_rpm: float = 0.0
    before_high_rpm: float = 0.0
    runs_s: float = -1.0


class Coupling(NamedTuple):
    """Belt or coupling: how long drive and shaft have been apart (s; -1 while they are not), the time of slipping
    gathered so far (s, at least 0), and how long torque has turned nothing (s; -1 while it does not)."""

    off_s: float = -1.0
    slip_s: float = 0.0
    jam_s: float = -1.0


class Hold(NamedTuple):
    """Stop and lock: how long the shaft has been asked to be held (s; -1 while it is not), and the torque (N m) that
    the flow was found to ask for."""

    held_s: float = -1.0
    load_nm: float = 0.0


class ShaftState(NamedTuple):
    """Mode, latches and timers of one shaft. `order_pct` is the last good order of lever or handset, `lever_ref_pct`
    where the lever stood when it last moved as throttle (both -100 to 100); `own_ahead_pct` and `own_astern_pct` are
    what own interlocks leave of thrust (0 to 100)."""

    mode: int = 0
    latches: int = 0
    order_pct: float = 0.0
    lever_ref_pct: float = 0.0
    own_ahead_pct: float = 100.0
    own_astern_pct: float = 100.0
    dwells: ShaftDwells = ShaftDwells()
    effort: Effort = Effort()
    pause: Pause = Pause()
    turned: Turned = Turned()
    coupling: Coupling = Coupling()
    hold: Hold = Hold()


def shaft_with_latches(state: ShaftState, latches: int) -> ShaftState:
    """The state of a shaft with other latches."""
    if latches == state.latches:
        return state
    return ShaftState(
        mode=state.mode,
        latches=latches,
        order_pct=state.order_pct,
        lever_ref_pct=state.lever_ref_pct,
        own_ahead_pct=state.own_ahead_pct,
        own_astern_pct=state.own_astern_pct,
        dwells=state.dwells,
        effort=state.effort,
        pause=state.pause,
        turned=state.turned,
        coupling=state.coupling,
        hold=state.hold,
    )


LONGEST_S = 1e9
"""Timers stop counting here, so that no float ever grows without end."""

OBEY_S = 2.0
RELAPSE_S = 600.0
"""A drive that isolated its shaft by disobeying must be seen to obey for OBEY_S, its enable dropped; one that did so
twice within RELAPSE_S is trusted on a still shaft only (s)."""

RAMP_TICK_S = 0.1
"""Ramps and permissive dwells credit at most this much time a tick: a late tick is not a licence to jump."""


def tick_length(dt_s: float) -> float:
    """Time since the last tick (s), made safe: NaN and negative count as 0, more than 60 s as 60 s."""
    if not dt_s > 0.0:
        return 0.0
    if dt_s > 60.0:
        return 60.0
    return dt_s


def ramp_length(dt_s: float) -> float:
    """The part of a tick (s) that ramps and permissive dwells may use."""
    if dt_s > RAMP_TICK_S:
        return RAMP_TICK_S
    return dt_s


NOT_RUNNING_S = -1.0
"""A dwell timer that is not running. It starts at 0 in the tick that first sees its condition, so that a dwell is the
time between two sightings and never one tick short."""


def count(timer_s: float, running: bool, dt_s: float) -> float:
    """A dwell timer: 0 in the first tick of `running`, then the time since; NOT_RUNNING_S otherwise; never beyond
    LONGEST_S."""
    if not running:
        return NOT_RUNNING_S
    if timer_s < 0.0:
        return 0.0
    timer_s = timer_s + dt_s
    if timer_s > LONGEST_S:
        return LONGEST_S
    return timer_s


def longer(time_s: float, dt_s: float) -> float:
    """A time since something (s), one tick later; it stands still from LONGEST_S on, which means never."""
    if time_s < LONGEST_S:
        return time_s + dt_s
    return time_s
