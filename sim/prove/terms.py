"""The terms that the claims on numbers are written in: facts of one step, with bounds from the boat file.

An independent restatement of docs/safety.md: nothing here calls `supervisor.rules`, and every bound is read from
`Step.config`, so that a limit that was frozen wrongly is seen as well. Unknown is never neutral, never released, never
permitted. All of it is in the subset that the walker reads.
"""

from typing import Any

from sim.prove.step import Step
from sim.requirements.facts import BOAT, SHAFT, Bits, has, no, yes
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules.state import BoatLatch, ShaftLatch

KEPT = Bits(**{str(bit.name): bit.value for bit in BoatLatch})
"""Latches of the boat, as plain integers."""

HELD = Bits(**{str(bit.name): bit.value for bit in ShaftLatch})
"""Latches of a shaft."""

STANDBY, NEUTRAL_WAIT = BoatMode.STANDBY.value, BoatMode.NEUTRAL_WAIT.value
READY, TRIPPED = BoatMode.READY.value, BoatMode.TRIPPED.value
REST, PROPEL, GENERATE = ShaftMode.REST.value, ShaftMode.PROPEL.value, ShaftMode.GENERATE.value
HARVEST, UNLOAD, ISOLATED = ShaftMode.HARVEST.value, ShaftMode.UNLOAD.value, ShaftMode.ISOLATED.value

ROUNDING = 1e-9
"""Slack, relative and absolute, for the rounding of floats: the solver reckons with reals."""

RAD_S_PER_RPM = 0.10471975511965977
LATEST_S = 60.0
"""A tick later than this counts as this late (s)."""

RAMP_TICK_S = 0.1
"""A late tick is no licence to jump: ramps and permissive dwells credit at most this much (s)."""

LONGEST_S = 1e9
"""Timers stop counting here (s)."""

CONTRADICTION_BANDS = 3.0
CONTRADICTED_S = 0.2
TURNING_RPM = 50.0


# --- comparing numbers


def at_most(value: float, bound: float) -> bool:
    """`value` is no more than `bound`, but for rounding."""
    return value <= bound + ROUNDING * (1.0 + abs(bound))


def near(value: float, other: float) -> bool:
    """The two are one number, but for rounding."""
    return at_most(value, other) and at_most(other, value)


def falling(value: float, start: float, end: float) -> float:
    """1 up to `start`, then linearly to 0 at `end` and beyond."""
    if value <= start:
        return 1.0
    if value >= end:
        return 0.0
    return (end - value) / (end - start)


def band(value: float, end: float, start: float, floor_pct: float) -> float:
    """100 from `start` upward, falling linearly to `floor_pct` at `end` and below."""
    return floor_pct + (100.0 - floor_pct) * (1.0 - falling(value, end, start))


def moved(value: float, target: float, step: float) -> float:
    """`value` moved towards `target` by at most `step`."""
    if target > value:
        return min(target, value + step)
    return max(target, value - step)


# --- time


def length_s(step: Step) -> float:
    """What this tick counts for (s)."""
    if step.dt_s <= 0.0:
        return 0.0
    if step.dt_s > LATEST_S:
        return LATEST_S
    return step.dt_s


def ramp_s(step: Step) -> float:
    """What this tick counts for in ramps and permissive dwells (s)."""
    if length_s(step) > RAMP_TICK_S:
        return RAMP_TICK_S
    return length_s(step)


def counted(was_s: float, running: bool, dt_s: float) -> float:
    """A dwell timer: 0 in the first tick of its condition, then the time since; -1 while it does not run."""
    if not running:
        return -1.0
    if was_s < 0.0:
        return 0.0
    return min(was_s + dt_s, LONGEST_S)


# --- the boat


def believed(step: Step) -> bool:
    """The bank's voltage is known and of a kind that this bank can have."""
    bank, volts = step.config.bank, step.boat_in.voltage_v
    return has(step.boat_in, BOAT.VOLTAGE) and volts >= 0.5 * bank.min_voltage_v and volts <= 1.1 * bank.max_voltage_v


def contactor(step: Step) -> bool:
    """The bank's contactor is confirmed closed, and no opening is announced."""
    return yes(step.boat_in, BOAT.CONTACTOR_CLOSED) and no(step.boat_in, BOAT.MONITOR_OPENING)


def may_charge(step: Step) -> bool:
    """The monitor permits charging: permit, a limit above zero, contactor closed."""
    bank = step.boat_in
    limit = has(bank, BOAT.CHARGE_LIMIT) and bank.charge_limit_a > 0.0
    return contactor(step) and yes(bank, BOAT.CHARGE_PERMIT) and limit


def may_discharge(step: Step) -> bool:
    """The monitor permits discharging: permit, a limit above zero, contactor closed."""
    bank = step.boat_in
    limit = has(bank, BOAT.DISCHARGE_LIMIT) and bank.discharge_limit_a > 0.0
    return contactor(step) and yes(bank, BOAT.DISCHARGE_PERMIT) and limit


CHARGE_NEEDS = BOAT.SOC | BOAT.CELL_MAX | BOAT.CELL_HOT | BOAT.CELL_COLD | BOAT.CHARGE_LIMIT | BOAT.CHARGE_PERMIT


def charging_known(step: Step) -> bool:
    """All that charging needs to know is known."""
    needed = CHARGE_NEEDS | step.boat.limits.react.inhibit_charge
    return has(step.boat_in, needed) and believed(step)


def full_asked(step: Step) -> bool:
    """A full charge is asked for, and has not been completed since it was."""
    return yes(step.boat_in, BOAT.FULL_CHARGE) and step.was.boat.latches & KEPT.FULL_DONE == 0


def drives_a(step: Step) -> float:
    """The current of all drives together (A, positive into the bank)."""
    total = 0.0
    for shaft in step.shaft_in:
        total = total + shaft.current_a
    return total


def currents_known(step: Step) -> bool:
    """The bank's current and every drive's are known."""
    known = has(step.boat_in, BOAT.CURRENT)
    for shaft in step.shaft_in:
        known = known and has(shaft, SHAFT.CURRENT)
    return known


def boat_stop_cause(step: Step) -> bool:
    """A cause of a boat trip among the boat's own inputs."""
    bank = step.boat_in
    if yes(bank, BOAT.EMERGENCY_STOP) or yes(bank, BOAT.MONITOR_FAULT):
        return True
    if not yes(bank, BOAT.RECEIVE_OK) or not yes(bank, BOAT.DEADLINE_OK):
        return True
    return not has(bank, step.boat.limits.react.trip_boat)


def came_to_stop(step: Step) -> int:
    """A bit for each own interlock that went bad in this step and does more than warn."""
    stops, bit = 0, 1
    for entry in step.config.interlock:
        if entry.effect != "warn":
            stops = stops | bit
        bit = bit + bit
    return step.now.memory.boat.own.bad & ~step.was.boat.own.bad & stops


def handset_now(step: Step) -> bool:
    """The handset is the position in control after this tick."""
    return step.now.memory.boat.latches & KEPT.HANDSET_IN_CONTROL != 0


def live(mode: int) -> bool:
    """READY or on the way there."""
    return mode == READY or mode == NEUTRAL_WAIT


# --- a shaft


def file_of(step: Step, i: int) -> Any:
    """The shaft's table of the boat file."""
    return step.config.shaft[i]


def lever_known(step: Step, i: int) -> bool:
    """Position and neutral contact are both known."""
    return has(step.shaft_in[i], SHAFT.LEVER | SHAFT.LEVER_NEUTRAL)


def lever_contradicts(step: Step, i: int) -> bool:
    """The lever is known and its neutral contact made far from zero."""
    shaft = step.shaft_in[i]
    far = abs(shaft.lever_pct) > CONTRADICTION_BANDS * step.config.shaft[i].rules.neutral_band_pct
    return lever_known(step, i) and yes(shaft, SHAFT.LEVER_NEUTRAL) and far


def lever_lost(step: Step, i: int) -> bool:
    """The lever is unknown, or has contradicted itself for longer than its contact may bounce."""
    if not lever_known(step, i):
        return True
    return lever_contradicts(step, i) and step.was.shafts[i].pause.contradicts_s >= CONTRADICTED_S


def lever_neutral(step: Step, i: int) -> bool:
    """Neutral by contact and by position."""
    shaft = step.shaft_in[i]
    near_zero = abs(shaft.lever_pct) <= step.config.shaft[i].rules.neutral_band_pct
    return lever_known(step, i) and yes(shaft, SHAFT.LEVER_NEUTRAL) and near_zero


def lever_asks(step: Step, i: int) -> bool:
    """Asks for thrust by contact and by position: beyond the neutral band, or half of it where it asked already."""
    shaft, band_pct = step.shaft_in[i], step.config.shaft[i].rules.neutral_band_pct
    by_lever = step.was.boat.latches & KEPT.HANDSET_IN_CONTROL == 0
    if by_lever and step.was.shafts[i].order_pct != 0.0:
        band_pct = band_pct / 2.0
    return lever_known(step, i) and no(shaft, SHAFT.LEVER_NEUTRAL) and abs(shaft.lever_pct) > band_pct


def handset_asks(step: Step, i: int) -> bool:
    """The handset's thrust for this shaft is known and beyond the neutral band."""
    shaft = step.shaft_in[i]
    return (
        has(shaft, SHAFT.HANDSET_THRUST) and abs(shaft.handset_thrust_pct) > step.config.shaft[i].rules.neutral_band_pct
    )


def position_neutral(step: Step, i: int) -> bool:
    """Every control position of this shaft is in neutral: the lever always, the handset while it is in control."""
    if not lever_neutral(step, i):
        return False
    if not handset_now(step):
        return True
    return has(step.shaft_in[i], SHAFT.HANDSET_THRUST) and not handset_asks(step, i)


def out_of_service(step: Step, i: int) -> bool:
    """Deliberately out of service: as its contact says, or said last while it is unknown."""
    shaft = step.shaft_in[i]
    if has(shaft, SHAFT.OUT_OF_SERVICE):
        return yes(shaft, SHAFT.OUT_OF_SERVICE)
    return step.was.shafts[i].latches & HELD.OUT_OF_SERVICE != 0


def in_service(step: Step, i: int) -> bool:
    """Proven in service, now or when last heard."""
    shaft = step.shaft_in[i]
    if has(shaft, SHAFT.OUT_OF_SERVICE):
        return no(shaft, SHAFT.OUT_OF_SERVICE)
    return step.was.shafts[i].latches & HELD.IN_SERVICE != 0


def speed_known(step: Step, i: int) -> bool:
    """The machine side's speed is known."""
    return has(step.shaft_in[i], SHAFT.MACHINE_SPEED)


def rpm(step: Step, i: int) -> float:
    """The machine side's speed without its sign (rpm)."""
    return abs(step.shaft_in[i].machine_speed_rpm)


def omega(step: Step, i: int) -> float:
    """The same in rad/s."""
    return rpm(step, i) * RAD_S_PER_RPM


def propeller_still(step: Step, i: int) -> bool:
    """The propeller side is confirmed still."""
    shaft = step.shaft_in[i]
    return has(shaft, SHAFT.PROPELLER_SPEED) and abs(shaft.propeller_speed_rpm) < step.config.shaft[i].rules.still_rpm


def shaft_still(step: Step, i: int) -> bool:
    """Both sides are confirmed still."""
    return propeller_still(step, i) and speed_known(step, i) and rpm(step, i) < step.config.shaft[i].rules.still_rpm


def against(step: Step, i: int, torque_nm: float) -> bool:
    """`torque_nm` opposes measured rotation beyond standstill: it charges."""
    turn = step.shaft_in[i].machine_speed_rpm
    if not speed_known(step, i) or rpm(step, i) <= step.config.shaft[i].rules.still_rpm:
        return False
    return (torque_nm > 0.0 and turn < 0.0) or (torque_nm < 0.0 and turn > 0.0)


def engine_running(step: Step, i: int) -> bool:
    """Run contact on and at least half of idle speed."""
    shaft = step.shaft_in[i]
    turns = has(shaft, SHAFT.ENGINE_SPEED) and shaft.engine_speed_rpm >= step.config.shaft[i].engine.idle_rpm / 2.0
    return yes(shaft, SHAFT.ENGINE_RUN) and turns


def engine_stopped(step: Step, i: int) -> bool:
    """Run contact off, and no speed that contradicts it."""
    shaft = step.shaft_in[i]
    contradicted = has(shaft, SHAFT.ENGINE_SPEED) and shaft.engine_speed_rpm > TURNING_RPM
    return no(shaft, SHAFT.ENGINE_RUN) and not contradicted


def engine_clear(step: Step, i: int) -> bool:
    """The engine is not coupled: gearbox confirmed in neutral, or declared open when stopped and the engine stopped."""
    return gear_neutral(step, i) or (step.config.shaft[i].gearbox.open_when_stopped and engine_stopped(step, i))


def gear_reported(step: Step, i: int) -> bool:
    """The gearbox sends frames on this boat, and they are fresh."""
    return step.boat.shafts[i].react.mapped & step.shaft_in[i].known & SHAFT.GEAR_REPORT != 0


def gear_neutral(step: Step, i: int) -> bool:
    """Neutral by its contact, contradicted neither by the ahead contact nor by frames."""
    shaft = step.shaft_in[i]
    if not yes(shaft, SHAFT.GEAR_NEUTRAL) or yes(shaft, SHAFT.GEAR_AHEAD):
        return False
    return not (gear_reported(step, i) and shaft.gear_report != 0.0)


def gear_ahead(step: Step, i: int) -> bool:
    """Ahead by its contact, with the neutral contact confirmed open and no frame to the contrary."""
    shaft = step.shaft_in[i]
    if not yes(shaft, SHAFT.GEAR_AHEAD) or not no(shaft, SHAFT.GEAR_NEUTRAL):
        return False
    return not (gear_reported(step, i) and shaft.gear_report != 1.0)


def gear_engaged(step: Step, i: int) -> bool:
    """A contact or a fresh report says that the gearbox is in gear."""
    shaft = step.shaft_in[i]
    if yes(shaft, SHAFT.GEAR_AHEAD) or no(shaft, SHAFT.GEAR_NEUTRAL):
        return True
    return gear_reported(step, i) and shaft.gear_report != 0.0


def lock_released(step: Step, i: int) -> bool:
    """The shaft lock is confirmed released."""
    return yes(step.shaft_in[i], SHAFT.LOCK_RELEASED) and no(step.shaft_in[i], SHAFT.LOCK_ENGAGED)


def is_held(step: Step, i: int) -> bool:
    """The shaft is asked to be stopped and held for its lock, after this tick's timers."""
    return step.now.memory.shafts[i].hold.held_s >= 0.0


def lock_engaged(step: Step, i: int) -> bool:
    """The shaft lock is proven engaged."""
    return yes(step.shaft_in[i], SHAFT.LOCK_ENGAGED) and no(step.shaft_in[i], SHAFT.LOCK_RELEASED)


def clutch_closed(step: Step, i: int) -> bool:
    """The shaft clutch is confirmed closed."""
    return yes(step.shaft_in[i], SHAFT.CLUTCH_CLOSED) and no(step.shaft_in[i], SHAFT.CLUTCH_OPEN)


def clutch_open(step: Step, i: int) -> bool:
    """The shaft clutch is confirmed open."""
    return yes(step.shaft_in[i], SHAFT.CLUTCH_OPEN) and no(step.shaft_in[i], SHAFT.CLUTCH_CLOSED)


def temperature(step: Step, i: int, unknown_part: float) -> float:
    """Derate by the shaft's own temperatures (0 to 1); `unknown_part` at most while one that derates is unknown."""
    shaft, drive = step.shaft_in[i], step.config.shaft[i].drive
    part = 1.0
    if has(shaft, SHAFT.MOTOR_TEMP):
        part = min(part, falling(shaft.motor_c, drive.motor_derate_start_c, drive.motor_derate_end_c))
    if has(shaft, SHAFT.INVERTER_TEMP):
        part = min(part, falling(shaft.inverter_c, drive.inverter_derate_start_c, drive.inverter_derate_end_c))
    if has(shaft, SHAFT.COOLANT_TEMP):
        part = min(part, falling(shaft.coolant_c, drive.coolant_derate_start_c, drive.coolant_derate_end_c))
    if not has(shaft, step.boat.shafts[i].react.derate):
        part = min(part, unknown_part)
    return part


def link_near(step: Step, i: int, was_charged: bool) -> bool:
    """The DC link is within its tolerance of the bank's voltage, twice that once it was charged."""
    shaft, bank = step.shaft_in[i], step.boat_in
    if not has(shaft, SHAFT.LINK_VOLTAGE) or not has(bank, BOAT.VOLTAGE):
        return False
    part = step.config.shaft[i].drive.link_tolerance_pct / 100.0
    if was_charged:
        part = 2.0 * part
    return abs(shaft.link_v - bank.voltage_v) <= part * bank.voltage_v


def disobeys(step: Step, i: int) -> bool:
    """Torque or current beyond the tolerance with zero ordered a tick ago, or torque of the wrong sign."""
    shaft, ordered_nm = step.shaft_in[i], step.was.shafts[i].effort.torque_nm
    most_nm = step.config.limits.disobey_torque_pct / 100.0 * step.config.shaft[i].drive.rated_torque_nm
    pulls = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) > most_nm
    if ordered_nm > 0.0:
        return pulls and shaft.torque_nm < 0.0
    if ordered_nm < 0.0:
        return pulls and shaft.torque_nm > 0.0
    most_a = step.config.limits.disobey_current_a
    loss_a = step.config.shaft[i].drive.no_load_loss_w / step.config.bank.min_voltage_v
    draws = has(shaft, SHAFT.CURRENT) and (shaft.current_a > most_a or shaft.current_a < -most_a - loss_a)
    return pulls or draws
