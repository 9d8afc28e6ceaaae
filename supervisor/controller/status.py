"""What displays are told beside modes and alarms: which rule holds each limit now, and what the crew must do.

Nothing here decides anything: it reads what the tick has decided.
"""

from enum import IntEnum
from typing import NamedTuple

from supervisor.config.limits import BoatLimits, ShaftLimits
from supervisor.rules.bank import (
    BRAKE_FREE,
    BRAKE_MONITOR,
    BRAKE_PERMIT,
    SOC,
    BankView,
    brake_limit_a,
    charge_inputs_known,
    falling,
    rising,
)
from supervisor.rules.bits import (
    BOAT_LATCH_CHARGE_ENDED,
    LATCH_REARMED,
    LATCH_STOPPED,
    MODE_READY,
    SHAFT_ISOLATED,
)
from supervisor.rules.readings import MACHINE_SPEED, read_lever, temperature_factor
from supervisor.rules.state import BoatState, ShaftState
from supervisor.rules.torque import RAD_S_PER_RPM, charge_ceiling_a, charge_torque_nm
from supervisor.signals.alarm_list import SOUNDED
from supervisor.signals.inputs import BoatInputs, ShaftInputs


class Rule(IntEnum):
    """Which rule holds a limit."""

    RATING = 0
    PERMIT = 1
    MONITOR = 2
    SOC = 3
    CELL_VOLTAGE = 4
    TEMPERATURE = 5
    UNKNOWN = 6
    OTHER_SOURCES = 7
    HOTEL_LOAD = 8
    OWN_INTERLOCK = 9
    HANDSET = 10
    ENDED = 11


class Answer(IntEnum):
    """What the crew must do now for a shaft to serve them."""

    NOTHING = 0
    NEUTRAL = 1
    RESET = 2
    ACKNOWLEDGE = 3


class BoatStatus(NamedTuple):
    """The bank's limits in force and the rule that holds each: charging, braking and thrust of all shafts together (A,
    at least 0). `returned` are the Alarm bits that sounded, went and were not acknowledged."""

    charge_rule: int = int(Rule.UNKNOWN)
    brake_a: float = 0.0
    brake_rule: int = int(Rule.UNKNOWN)
    discharge_a: float = 0.0
    discharge_rule: int = int(Rule.UNKNOWN)
    returned: int = 0


def still_returned(was: int, before: int, acknowledged: int, alarms: int, acknowledges: bool) -> int:
    """The alarms that have come and gone without anybody having acknowledged them, one tick later (Alarm bits, of those
    that sound). `before` stood in the tick before, of which `acknowledged` had been; `alarms` stand now."""
    if acknowledges:
        return 0
    return (was | before & ~acknowledged & SOUNDED) & ~alarms


class ShaftStatus(NamedTuple):
    """One shaft. `cause` is 1 + the number of the bit of its condition word that stopped it (0: none); `limit_pct` of
    rated power is what electric thrust may reach now and `limit_rule` what holds it there; `brake_nm` (at least 0) is
    the torque against rotation that this shaft alone could have at its present speed."""

    cause: int = 0
    answer: int = int(Answer.NOTHING)
    limit_pct: float = 0.0
    limit_rule: int = int(Rule.UNKNOWN)
    brake_nm: float = 0.0


_BRAKE_RULES = {
    BRAKE_FREE: Rule.RATING,
    BRAKE_PERMIT: Rule.PERMIT,
    BRAKE_MONITOR: Rule.MONITOR,
    3: Rule.CELL_VOLTAGE,
    4: Rule.TEMPERATURE,
    5: Rule.UNKNOWN,
}


def charge_rule(lim: BoatLimits, bank: BoatInputs, view: BankView) -> Rule:
    """What holds the limit on charging."""
    if view.charge_permit == 0:
        return Rule.PERMIT
    if not charge_inputs_known(lim, bank):
        return Rule.UNKNOWN
    if view.latches & BOAT_LATCH_CHARGE_ENDED:
        return Rule.ENDED
    soc = 1.0 if view.full_active == 1 else falling(bank.soc_pct, lim.taper_start_pct, lim.taper_end_pct)
    cell = falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v)
    heat = falling(bank.cell_hot_c, lim.hot_start_c, lim.hot_zero_c)
    held = [(lim.full_charge_a, Rule.RATING), (bank.charge_limit_a, Rule.MONITOR)]
    held += [(lim.full_charge_a * soc, Rule.SOC), (lim.full_charge_a * cell, Rule.CELL_VOLTAGE)]
    held.append((lim.full_charge_a * heat, Rule.TEMPERATURE))
    if not bank.cell_cold_c > lim.cold_full_c:
        cold_a = lim.cold_limit_a if bank.cell_cold_c > lim.cold_zero_c else 0.0
        held.append((cold_a, Rule.TEMPERATURE))
    return min(held, key=lambda one: one[0])[1]


def boat_status(lim: BoatLimits, bank: BoatInputs, view: BankView, state: BoatState, returned: int) -> BoatStatus:
    """The bank's limits of this tick. `state` is the boat's state after it, `returned` remembered by the caller."""
    limit_a, cause, _short = brake_limit_a(lim, bank, state.bank.brake_spent_s)
    brake = _BRAKE_RULES[cause]
    if view.charge_permit == 0:
        brake = Rule.PERMIT
    elif view.brake_budget_a < limit_a:
        brake = Rule.OTHER_SOURCES
    if view.discharge_permit == 0:
        discharge = Rule.PERMIT
    elif view.load_a > 0.0 and view.motor_budget_a < 0.5 * min(view.discharge_limit_a, lim.max_discharge_a):
        discharge = Rule.HOTEL_LOAD
    elif view.given_a < lim.max_discharge_a:
        discharge = Rule.MONITOR
    else:
        discharge = Rule.RATING
    return BoatStatus(
        int(charge_rule(lim, bank, view)),
        view.brake_budget_a,
        int(brake),
        view.motor_budget_a,
        int(discharge),
        returned,
    )


def _derate_rule(lim: BoatLimits, bank: BoatInputs) -> Rule:
    """What leads the propulsion derate, the lowest cell apart."""
    held = []
    if bank.known & SOC == 0:
        held.append((lim.unknown_soc_pct / 100.0, Rule.UNKNOWN))
    else:
        held.append((rising(bank.soc_pct, lim.derate_end_pct, lim.derate_start_pct), Rule.SOC))
    if bank.known & lim.react.derate != lim.react.derate:
        held.append((lim.unknown_soc_pct / 100.0, Rule.UNKNOWN))
    return min(held, key=lambda one: one[0])[1]


def answer_of(lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, boat_mode: int) -> Answer:
    """What the crew must do now."""
    neutral = read_lever(lim, shaft).neutral == 1
    if state.mode == SHAFT_ISOLATED:
        return Answer.RESET if neutral else Answer.NEUTRAL
    if boat_mode == MODE_READY and state.latches & LATCH_REARMED == 0 and not neutral:
        return Answer.NEUTRAL
    if state.latches & LATCH_STOPPED:
        return Answer.ACKNOWLEDGE
    return Answer.NOTHING


def shaft_status(
    boat_lim: BoatLimits, lim: ShaftLimits, bank: BoatInputs, view: BankView, state: ShaftState, shaft: ShaftInputs,
    boat_mode: int, handset: bool, cause: int,
) -> ShaftStatus:  # fmt: skip
    """One shaft after this tick. `cause` is remembered by the caller."""
    heat = temperature_factor(lim, shaft, boat_lim.unknown_soc_pct / 100.0)
    power_w = view.motor_budget_a * view.voltage_v * lim.motor_efficiency
    held = [
        (100.0, Rule.RATING), (view.led_pct, _derate_rule(boat_lim, bank)), (view.cell_pct, Rule.CELL_VOLTAGE),
        (100.0 * heat, Rule.TEMPERATURE),
        (100.0 * power_w / lim.rated_power_w, Rule.HOTEL_LOAD if view.load_a > 0.0 else Rule.MONITOR),
        (min(state.own_ahead_pct, state.own_astern_pct), Rule.OWN_INTERLOCK),
    ]  # fmt: skip
    if handset:
        held.append((boat_lim.handset_thrust_pct, Rule.HANDSET))
    if view.discharge_permit == 0:
        held = [(0.0, Rule.PERMIT)]
    limit_pct, rule = min(held, key=lambda one: one[0])
    brake_nm = 0.0
    if shaft.known & MACHINE_SPEED:
        rpm = abs(shaft.machine_speed_rpm)
        most_nm = lim.rated_torque_nm * heat
        if rpm > lim.still_rpm:
            current_a = min(view.brake_budget_a, charge_ceiling_a(lim, view.voltage_v, heat))
            most_nm = min(most_nm, charge_torque_nm(lim, view.voltage_v, current_a, rpm * RAD_S_PER_RPM))
        brake_nm = most_nm
    return ShaftStatus(cause, int(answer_of(lim, state, shaft, boat_mode)), limit_pct, int(rule), brake_nm)
