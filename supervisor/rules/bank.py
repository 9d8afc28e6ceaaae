"""What the bank allows: charge limit with its tapers, derate of propulsion, permits, the hotel load.

Every rule is total: an unknown input means no charging, or reduced propulsion; NaN never arrives here (absence is a
bit), and if it did every comparison below is written so that it falls on the side of zero.
"""

from typing import NamedTuple

from supervisor.config.limits import BoatLimits
from supervisor.rules.bits import (
    BOAT_LATCH_CHARGE_ENDED,
    BOAT_LATCH_DERATE_ENDED,
    BOAT_LATCH_FULL_DONE,
    MODE_READY,
)
from supervisor.rules.state import BoatState, count, ramp_length
from supervisor.signals.inputs import BoatInput, BoatInputs

SOC = BoatInput.SOC.value
CELL_MAX = BoatInput.CELL_MAX.value
CELL_MIN = BoatInput.CELL_MIN.value
CELL_HOT = BoatInput.CELL_HOT.value
CELL_COLD = BoatInput.CELL_COLD.value
CHARGE_LIMIT = BoatInput.CHARGE_LIMIT.value
DISCHARGE_LIMIT = BoatInput.DISCHARGE_LIMIT.value
CHARGE_PERMIT = BoatInput.CHARGE_PERMIT.value
DISCHARGE_PERMIT = BoatInput.DISCHARGE_PERMIT.value
CONTACTOR_CLOSED = BoatInput.CONTACTOR_CLOSED.value
MONITOR_OPENING = BoatInput.MONITOR_OPENING.value
FULL_CHARGE = BoatInput.FULL_CHARGE.value
GET_HOME = BoatInput.GET_HOME.value
VOLTAGE = BoatInput.VOLTAGE.value
CURRENT = BoatInput.CURRENT.value

SLOW_S = 1.0
QUICK_S = 0.3
"""Time constants of the hotel load: slow towards what would allow more, quick towards what allows less (s)."""

DOUBTFUL_S = 5.0
NEVER_S = 1e9
"""Time constants while readings of different instants would have to be compared (s)."""

SETTLED_A = 5.0
SETTLED_PART = 0.05
SMOOTH_S = 0.3
"""The drives' current is settled within this of its own value smoothed over this time (A, share, s)."""

VOLTAGE_LOW = 0.5
VOLTAGE_HIGH = 1.1
"""A bank voltage below this share of the lowest, or above this share of the highest working voltage is no reading."""

COLD_RESTART_C = 1.0
"""After an end of charging by cold, the coldest cell must be this much warmer before it restarts."""

BRAKE_RISE_A_PER_S = 5.0
"""While a shaft brakes its budget falls at once and comes back no faster than this (A/s): the cells' voltage answers
the current within a frame or two, and a budget that followed it both ways would hunt."""

FULL_SOC_PCT = 99.0
"""From this reading on the bank counts as full for braking: it may take the current now and not a second later."""

BRAKE_REST = 0.1
"""Time of braking into cells that should not be charged is regained at this part of the pace at which it was spent."""

RESTART_FACTOR = 1.5
"""Charging restarts only when the limit exceeds `charge_end_a` by this factor: a limit that hovers does not chatter."""


RISE_BAND = 0.1
"""What a weak bank has cut of thrust is given back only while it would give so much more (part of the whole)."""


class BankView(NamedTuple):
    """What the bank allows this tick.

    `charge_limit_a` on bank current and `discharge_limit_a` (A, at least 0); permits and wants as 0 or 1; the voltage
    that the rules calculate with (V, the lowest working voltage while unknown); `derate_pct` (0 to 100); `hotel_a`,
    `load_a` and `drives_a` as in BoatState (A); what all sources together may feed and all motors together may draw
    (A, at least 0); latches carried on. `brake_budget_a` is what all shafts that brake may feed (A, at least 0);
    `brake_spent_s` and `low_s` as in BankMemory. `others` 1: other sources feed more than the limit allows, 0: they do
    not, -1: that cannot be said now; `others_a` is what they feed (A; negative: a load). `led_pct`, `cell_pct` and
    `given_a` are `derate_pct`, `cell_pct` and `given_a` of BankMemory.
    """

    charge_limit_a: float
    discharge_limit_a: float
    charge_permit: int
    discharge_permit: int
    charge_wanted: int
    derate_open: int
    derate_start: int
    voltage_v: float
    derate_pct: float
    hotel_a: float
    load_a: float
    drives_a: float
    source_budget_a: float
    motor_budget_a: float
    full_active: int
    full_reached: int
    latches: int
    brake_budget_a: float
    brake_spent_s: float
    low_s: float = -1.0
    others: int = -1
    others_a: float = 0.0
    led_pct: float = 100.0
    cell_pct: float = 100.0
    given_a: float = 0.0


BRAKE_FREE, BRAKE_PERMIT, BRAKE_MONITOR, BRAKE_CELL = 0, 1, 2, 3
BRAKE_TEMPERATURE, BRAKE_UNKNOWN = 4, 5
"""What holds the budget of braking below the bank's rating: nothing; no permit; the monitor's limit; the highest cell;
cells too cold or too hot; a cell that is not known."""


def falling(value: float, start: float, end: float) -> float:
    """1 at or below `start`, falling linearly to 0 at `end` and above; 0 for NaN. Needs start < end."""
    if value <= start:
        return 1.0
    if value < end:
        return (end - value) / (end - start)
    return 0.0


def rising(value: float, end: float, start: float) -> float:
    """0 at or below `end`, rising linearly to 1 at `start` and above; 0 for NaN. Needs end < start."""
    if value >= start:
        return 1.0
    if value > end:
        return (value - end) / (start - end)
    return 0.0


def proven(known: int, on: int, bit: int) -> bool:
    """A contact that is known and on."""
    return (known & on & bit) != 0


def proven_not(known: int, on: int, bit: int) -> bool:
    """A contact that is known and off."""
    return (known & bit) != 0 and (on & bit) == 0


def voltage_believed(lim: BoatLimits, bank: BoatInputs) -> bool:
    """The bank's voltage is known and of a kind that this bank can have."""
    if bank.known & VOLTAGE == 0:
        return False
    return VOLTAGE_LOW * lim.min_voltage_v <= bank.voltage_v <= VOLTAGE_HIGH * lim.max_voltage_v


def charge_inputs_known(lim: BoatLimits, bank: BoatInputs) -> bool:
    """All that charging needs to know is known."""
    needed = SOC | CELL_MAX | CELL_HOT | CELL_COLD | CHARGE_LIMIT | lim.react.inhibit_charge
    return bank.known & needed == needed and voltage_believed(lim, bank)


def charge_limit_a(lim: BoatLimits, bank: BoatInputs, full_active: int) -> float:
    """The limit on bank current while charging (A, at least 0): taper on SOC and cell voltage, cold, hot, monitor.

    Anything unknown gives 0. With `full_active` the SOC taper is lifted; the cell taper still acts.
    """
    if not charge_inputs_known(lim, bank):
        return 0.0
    if full_active == 0:
        factor = falling(bank.soc_pct, lim.taper_start_pct, lim.taper_end_pct)
    elif bank.soc_pct <= 100.0:
        factor = 1.0
    else:
        factor = 0.0
    cell = falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v)
    if cell < factor:
        factor = cell
    hot = falling(bank.cell_hot_c, lim.hot_start_c, lim.hot_zero_c)
    if hot < factor:
        factor = hot
    limit_a = lim.full_charge_a * factor
    if not bank.cell_cold_c > lim.cold_zero_c:
        return 0.0
    if not bank.cell_cold_c > lim.cold_full_c:
        if lim.cold_limit_a < limit_a:
            limit_a = lim.cold_limit_a
    if not bank.charge_limit_a > 0.0:
        return 0.0
    if bank.charge_limit_a < limit_a:
        limit_a = bank.charge_limit_a
    return limit_a


def charge_ended(lim: BoatLimits, bank: BoatInputs, limit_a: float, full_active: int, was_ended: bool) -> bool:
    """The latched end of charging: set below `charge_end_a`, cleared below `charge_restart_pct` (or for a full charge)
    once the limit is well above it and no cell stands in a taper any more. A limit that is merely unknown neither ends
    nor restarts: it is zero meanwhile."""
    if not charge_inputs_known(lim, bank):
        return was_ended
    if not limit_a >= lim.charge_end_a:
        return True
    if not was_ended:
        return False
    low = bank.soc_pct < lim.charge_restart_pct or full_active != 0
    low = low and bank.cell_max_v <= lim.cell_taper_start_v and bank.cell_hot_c <= lim.hot_start_c
    low = low and bank.cell_cold_c > lim.cold_zero_c + COLD_RESTART_C
    return not (low and limit_a >= lim.charge_end_a * RESTART_FACTOR)


def brake_spent_s(lim: BoatLimits, was_s: float, spending: bool, dt_s: float) -> float:
    """What is spent of the short allowance (s). Spent whole it counts double, and is given again whole once that has
    been regained: an allowance that came back bit by bit would give thrust in jerks."""
    if was_s < lim.brake_cold_s:
        spent_s = was_s + dt_s if spending else was_s - BRAKE_REST * dt_s
        if not spent_s < lim.brake_cold_s:
            return 2.0 * lim.brake_cold_s
    else:
        spent_s = was_s - BRAKE_REST * dt_s
        if spent_s < lim.brake_cold_s:
            return 0.0
    if spent_s > 0.0:
        return spent_s
    return 0.0


def nearly_full(bank: BoatInputs) -> bool:
    """The SOC reads so high that the highest cell must be expected to leave its flat stretch when it is charged."""
    return bank.known & SOC != 0 and bank.soc_pct >= FULL_SOC_PCT


def brake_limit_a(lim: BoatLimits, bank: BoatInputs, spent_s: float) -> tuple[float, int, bool]:
    """The most that braking may feed into the bank while the monitor permits it (A, at least 0), what holds it below
    the bank's rating, and whether it is the short allowance for cells that should not be charged.

    Braking is not charging: neither the SOC nor the end of charging holds it back, for a boat that cannot go astern is
    in danger, and a stop puts little into the bank. The monitor's limit and the highest cell do.
    """
    limit_a, cause = lim.max_charge_a, BRAKE_FREE
    if bank.known & CHARGE_LIMIT == 0 or not bank.charge_limit_a > 0.0:
        return 0.0, BRAKE_PERMIT, False
    if bank.charge_limit_a < limit_a:
        limit_a, cause = bank.charge_limit_a, BRAKE_MONITOR
    short = BRAKE_FREE
    cells = CELL_MAX | CELL_COLD | CELL_HOT
    if bank.known & cells != cells:
        short = BRAKE_UNKNOWN
    elif not bank.cell_cold_c > lim.cold_zero_c or not bank.cell_hot_c < lim.hot_zero_c:
        short = BRAKE_TEMPERATURE
    elif not bank.cell_cold_c > lim.cold_full_c and lim.cold_limit_a < limit_a:
        limit_a, cause = lim.cold_limit_a, BRAKE_TEMPERATURE
    if bank.known & CELL_MAX:
        cell_a = lim.max_charge_a * falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v)
        if cell_a < limit_a:
            limit_a, cause = cell_a, BRAKE_CELL
    if short != BRAKE_FREE:
        allowed_a = lim.brake_cold_a if spent_s < lim.brake_cold_s else 0.0
        if allowed_a < limit_a:
            limit_a, cause = allowed_a, short
    return limit_a, cause, short != BRAKE_FREE


def derate_target_pct(lim: BoatLimits, bank: BoatInputs) -> float:
    """Where the propulsion derate by SOC and lost inputs is heading (percent of rated power)."""
    target = 100.0
    known = bank.known
    floor = lim.derate_floor_pct
    if known & SOC:
        by_soc = floor + (100.0 - floor) * rising(bank.soc_pct, lim.derate_end_pct, lim.derate_start_pct)
        if by_soc < target:
            target = by_soc
    elif lim.unknown_soc_pct < target:
        target = lim.unknown_soc_pct
    if known & lim.react.derate != lim.react.derate and lim.unknown_soc_pct < target:
        target = lim.unknown_soc_pct
    return target


def by_cell_pct(lim: BoatLimits, bank: BoatInputs, was_pct: float, permitted: bool, ready: bool, dt_s: float) -> float:
    """The propulsion derate by the lowest cell (percent of rated power): quick to fall, slow to rise, so that a weak or
    cold bank, whose cells sag with the thrust that they give, does not hunt. Where the discharge permit is not there
    and the cell is in its band, the sag was quicker than that: the next try begins at the floor. An unknown cell is a
    lost input."""
    target_pct = 100.0
    if bank.known & CELL_MIN:
        part = rising(bank.cell_min_v, lim.cell_derate_end_v, lim.cell_derate_start_v)
        target_pct = lim.derate_floor_pct + (100.0 - lim.derate_floor_pct) * part
    if not ready:
        return target_pct
    if target_pct < 100.0 and not permitted:
        return lim.derate_floor_pct
    ramp_s = ramp_length(dt_s)
    if target_pct < was_pct:
        return slewed(was_pct, target_pct, lim.cell_derate_fall_pct_per_s * ramp_s)
    return risen(was_pct, target_pct, 100.0, 100.0, lim.bank_rise_pct_per_s * ramp_s)


def risen(was: float, to: float, full: float, whole: float, pct: float) -> float:
    """`was` after a rise towards `to` (at least `was`) by at most `pct` percent of `whole`; none while `to` is near to
    it and not yet `full`: what limits would sag again with what it gives back."""
    if to < full and to < was + RISE_BAND * whole:
        return was
    return slewed(was, to, whole * pct / 100.0)


def given_current_a(
    lim: BoatLimits, bank: BoatInputs, was_a: float, permitted: bool, ready: bool, dt_s: float
) -> float:
    """What the bank may give (A): the monitor's limit and its own rating. It falls with the monitor's limit at once and
    rises slowly: a monitor that limits by its sagging cells would hunt with the thrust that it limits."""
    if not permitted:
        return 0.0
    limit_a = bank.discharge_limit_a
    if lim.max_discharge_a < limit_a:
        limit_a = lim.max_discharge_a
    if not ready:
        return limit_a
    if limit_a < was_a:
        return limit_a
    most_a = lim.max_discharge_a
    return risen(was_a, limit_a, most_a, most_a, lim.bank_rise_pct_per_s * ramp_length(dt_s))


def cell_reads_low(lim: BoatLimits, bank: BoatInputs) -> bool:
    """The lowest cell is known to read at or below the lower limit."""
    return bank.known & CELL_MIN != 0 and not bank.cell_min_v > lim.cell_derate_end_v


def low_dwell_s(lim: BoatLimits, bank: BoatInputs, was_s: float, ready: bool, dt_s: float) -> float:
    """How long the SOC or the lowest cell has read at or below its lower limit (s, up to `derate_dip_s`; -1 while
    neither does). While the SOC is unknown and no cell reads low the time stands; outside READY there is no thrust to
    spare, and it is over at once."""
    cell_low = cell_reads_low(lim, bank)
    if bank.known & SOC == 0 and not cell_low:
        return was_s
    soc_low = bank.known & SOC != 0 and not bank.soc_pct > lim.derate_end_pct
    low_s = count(was_s, soc_low or cell_low, dt_s)
    if low_s > lim.derate_dip_s or (low_s >= 0.0 and not ready):
        return lim.derate_dip_s
    return low_s


def derate_ended(lim: BoatLimits, bank: BoatInputs, low_s: float, was_ended: bool) -> bool:
    """The latched end of propulsion at the lower limit; it returns only above `derate_return_pct` and with the lowest
    cell above the start of its band. An unknown SOC or cell neither ends nor returns; nor does a dip of the SOC's
    or the cell's reading that is over within `derate_dip_s` (`low_s` as in BankMemory) end anything."""
    soc_known = bank.known & SOC != 0
    cell_known = bank.known & CELL_MIN != 0
    if (soc_known or cell_reads_low(lim, bank)) and low_s >= lim.derate_dip_s:
        return True
    if not was_ended:
        return False
    back = soc_known and bank.soc_pct > lim.derate_return_pct
    return not (back and cell_known and bank.cell_min_v > lim.cell_derate_start_v)


def slewed(value: float, target: float, step: float) -> float:
    """`value` moved towards `target` by at most `step` (at least 0)."""
    if target > value + step:
        return value + step
    if target < value - step:
        return value - step
    return target


def settled(smooth_a: float, drives_a: float) -> bool:
    """The drives' current has not moved much of late: only then may it be compared with the bank's, whose frames are
    older by up to half a second."""
    return abs(drives_a - smooth_a) <= SETTLED_A + SETTLED_PART * abs(drives_a)


def towards(was_a: float, seen_a: float, rise_s: float, fall_s: float, dt_s: float) -> float:
    """First-order approach of `was_a` to `seen_a` with a time constant for each direction (s)."""
    time_s = rise_s if seen_a > was_a else fall_s
    return was_a + (seen_a - was_a) * (dt_s / (time_s + dt_s))


def hotel_current_a(
    was_a: float, bank: BoatInputs, drives_a: float, comparable: bool, known: bool, dt_s: float
) -> float:
    """Current that leaves the bus bar other than through drives, as the charge budget may count on it (A; negative
    where other sources feed it).

    Unknown bank or drive current counts as no hotel load. A rise is believed slowly, a fall quickly, so that the budget
    of the sources never runs far ahead of the load; while the drives' current moves, only a fall is believed, slowly.
    """
    if not known:
        return 0.0
    seen_a = drives_a - bank.current_a
    if not comparable:
        return towards(was_a, seen_a, NEVER_S, DOUBTFUL_S, dt_s)
    return towards(was_a, seen_a, SLOW_S, QUICK_S, dt_s)


def load_current_a(
    was_a: float, bank: BoatInputs, drives_a: float, comparable: bool, known: bool, dt_s: float
) -> float:
    """The same current as the discharge budget must see it (A): a rise is believed quickly, a fall slowly; while the
    drives' current moves, only a rise, and slowly; while it is unknown the last one stands."""
    if not known:
        return was_a
    seen_a = drives_a - bank.current_a
    if not comparable:
        return towards(was_a, seen_a, DOUBTFUL_S, NEVER_S, dt_s)
    return towards(was_a, seen_a, QUICK_S, SLOW_S, dt_s)


def bank_view(
    lim: BoatLimits, state: BoatState, bank: BoatInputs, drives_a: float, drives_known: bool, braking: bool, dt_s: float
) -> BankView:
    """All that the bank allows this tick. `drives_a` is the sum of the drives' DC currents, positive into the bank;
    `braking` says that some shaft was ordered to brake in the tick before."""
    known, on = bank.known, bank.on
    latches = state.latches
    contactor = proven(known, on, CONTACTOR_CLOSED) and proven_not(known, on, MONITOR_OPENING)
    may_charge = contactor and proven(known, on, CHARGE_PERMIT) and known & CHARGE_LIMIT != 0
    may_charge = may_charge and bank.charge_limit_a > 0.0
    may_discharge = contactor and proven(known, on, DISCHARGE_PERMIT) and known & DISCHARGE_LIMIT != 0
    may_discharge = may_discharge and bank.discharge_limit_a > 0.0

    asked_full = proven(known, on, FULL_CHARGE)
    full_active = 1 if asked_full and latches & BOAT_LATCH_FULL_DONE == 0 else 0
    limit_a = charge_limit_a(lim, bank, full_active)
    full_reached = 0
    if full_active == 1 and may_charge and bank.cell_max_v >= lim.cell_taper_start_v:
        cell_a = lim.full_charge_a * falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v)
        if cell_a < lim.charge_end_a and known & CELL_MAX:
            full_reached = 1
    if full_reached == 1:
        latches = latches | BOAT_LATCH_FULL_DONE
    elif not asked_full:
        latches = latches & ~BOAT_LATCH_FULL_DONE
    ended = charge_ended(lim, bank, limit_a, full_active, latches & BOAT_LATCH_CHARGE_ENDED != 0)
    latches = latches | BOAT_LATCH_CHARGE_ENDED if ended else latches & ~BOAT_LATCH_CHARGE_ENDED

    get_home = proven(known, on, GET_HOME)
    low_s = low_dwell_s(lim, bank, state.bank.low_s, state.mode == MODE_READY, dt_s)
    low = derate_ended(lim, bank, low_s, latches & BOAT_LATCH_DERATE_ENDED != 0)
    latches = latches | BOAT_LATCH_DERATE_ENDED if low else latches & ~BOAT_LATCH_DERATE_ENDED
    target_pct = derate_target_pct(lim, bank)
    if low and not get_home:
        target_pct = 0.0
    if state.mode == MODE_READY:
        derate_pct = slewed(state.bank.derate_pct, target_pct, lim.derate_rate_pct_per_s * ramp_length(dt_s))
    else:
        derate_pct = target_pct  # nothing to spare the crew from: a low bank begins low
    led_pct = derate_pct
    cell_pct = by_cell_pct(lim, bank, state.bank.cell_pct, may_discharge, state.mode == MODE_READY, dt_s)
    if cell_pct < derate_pct:
        derate_pct = cell_pct
    # thrust that runs is led down; at the lower limit none begins, be it a dip or not
    derate_open = 1 if get_home or not low or led_pct > 0.0 else 0
    derate_start = 1 if get_home or not (low or low_s >= 0.0) else 0

    # every torque that follows from a current falls with the voltage: an unknown one counts as the lowest
    voltage_v = lim.min_voltage_v
    if voltage_believed(lim, bank):
        voltage_v = bank.voltage_v
    smooth_a = towards(state.bank.drives_a, drives_a, SMOOTH_S, SMOOTH_S, dt_s)
    comparable = settled(smooth_a, drives_a)
    currents_known = drives_known and known & CURRENT != 0
    hotel_a = hotel_current_a(state.bank.hotel_a, bank, drives_a, comparable, currents_known, dt_s)
    load_a = load_current_a(state.bank.load_a, bank, drives_a, comparable, currents_known, dt_s)
    others, others_a = -1, 0.0
    if currents_known:
        others_a = bank.current_a - drives_a
        if comparable:
            allowed_a = limit_a if may_charge else 0.0
            others = 1 if others_a > allowed_a + lim.source_over_a else 0
    budget_a = 0.0
    if may_charge and limit_a > 0.0:
        budget_a = limit_a + hotel_a
        if not budget_a > 0.0:
            budget_a = 0.0
    brake_a, _cause, short = brake_limit_a(lim, bank, state.bank.brake_spent_s)
    if hotel_a < 0.0:
        # other sources feed the bank: what they give is not there for braking. A hotel load adds nothing here: it can
        # go in less time than the bank's current takes to say so
        brake_a = brake_a + hotel_a
    rise_a = state.bank.brake_a + BRAKE_RISE_A_PER_S * ramp_length(dt_s)
    if braking and brake_a > rise_a:
        brake_a = rise_a
    if not may_charge or not brake_a > 0.0:
        brake_a = 0.0
    spent_s = brake_spent_s(lim, state.bank.brake_spent_s, braking and short, dt_s)
    given_a = given_current_a(lim, bank, state.bank.given_a, may_discharge, state.mode == MODE_READY, dt_s)
    motor_a = 0.0
    if may_discharge:
        motor_a = given_a
        if load_a > 0.0:
            motor_a = motor_a - load_a
        if not motor_a > 0.0:
            motor_a = 0.0  # the hotel load takes all: thrust waits for it, but nothing ends
    return BankView(
        limit_a,
        bank.discharge_limit_a if may_discharge else 0.0,
        1 if may_charge else 0,
        1 if may_discharge else 0,
        0 if ended or not limit_a >= lim.charge_end_a else 1,
        derate_open,
        derate_start,
        voltage_v,
        derate_pct,
        hotel_a,
        load_a,
        smooth_a,
        budget_a,
        motor_a,
        full_active,
        full_reached,
        latches,
        brake_a,
        spent_s,
        low_s,
        others,
        others_a,
        led_pct,
        cell_pct,
        given_a,
    )
