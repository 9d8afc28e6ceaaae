"""The frozen limits the rules work with: NamedTuples of numbers, made once from the validated boat file."""

from collections.abc import Mapping
from typing import NamedTuple

from supervisor.config.interlocks import acts_on, effect_of, is_number
from supervisor.config.schema import BoatConfig, Interlock, Shaft
from supervisor.signals import BOAT_INPUTS, OWN_CHANNELS, SHAFT_INPUTS, InputSpec, OwnEffect, Reaction

CURVE_POINTS = 8
"""Torque curves are padded to this many points, so that every shaft's limits have one shape."""


OWN_DECIMALS = 9
"""Own numbers and their thresholds are rounded to so many decimals: 0.1 x 1203 - 40 is 80.30000000000001 in a computer,
and an interlock at 80.3 must not take that for less or more."""


class Reactions(NamedTuple):
    """For each reaction, the mask of the inputs that carry it (BoatInput or ShaftInput bits)."""

    derate: int
    inhibit_charge: int
    ramp_down: int
    trip_shaft: int
    trip_boat: int
    mapped: int


class OwnLimits(NamedTuple):
    """One own interlock, frozen. `number` 1: a number, 0: a contact.

    A contact is bad when its state (1 on, 0 off) is `bad_on`. A number with `high` 1 is bad from `bad_at` upwards and
    good again at or below `good_at`, which lies below; with `high` 0 it is bad at or below `bad_at` and good again at
    or above `good_at`, which lies above; both in the signal's unit. It must be bad for `debounce_s`. Unknown is bad,
    with `unknown_good` 1 it is good. `effect` is an OwnEffect, `shafts` a bit for each shaft that it acts on;
    `limit_pct` and `astern` belong to LIMIT_THRUST.
    """

    number: int = 0
    bad_on: int = 1
    high: int = 1
    bad_at: float = 0.0
    good_at: float = 0.0
    debounce_s: float = 0.0
    unknown_good: int = 0
    effect: int = int(OwnEffect.WARN)
    shafts: int = 0
    limit_pct: float = 100.0
    astern: int = 0


class BoatLimits(NamedTuple):
    """Limits and ratings of the boat. Units in the names; percentages 0 to 100; currents are magnitudes."""

    capacity_ah: float
    min_voltage_v: float
    max_voltage_v: float
    max_discharge_a: float
    max_charge_a: float
    full_charge_a: float
    taper_start_pct: float
    taper_end_pct: float
    charge_end_a: float
    charge_restart_pct: float
    cell_taper_start_v: float
    cell_taper_end_v: float
    cold_zero_c: float
    cold_full_c: float
    cold_limit_a: float
    hot_start_c: float
    hot_zero_c: float
    brake_cold_a: float
    brake_cold_s: float
    source_over_a: float
    source_over_s: float
    source_stop_s: float
    source_return_s: float
    reminder_s: float
    derate_start_pct: float
    derate_end_pct: float
    derate_return_pct: float
    derate_floor_pct: float
    derate_dip_s: float
    derate_rate_pct_per_s: float
    cell_derate_start_v: float
    cell_derate_end_v: float
    cell_derate_fall_pct_per_s: float
    bank_rise_pct_per_s: float
    unknown_soc_pct: float
    time_to_limit_s: float
    handset_thrust_pct: float
    handset_low_minutes: float
    neutral_s: float
    neutral_wait_s: float
    disable_s: float
    idle_reminder_s: float
    idle_off_s: float
    pause_s: float
    pause_window_s: float
    shore_still_s: float
    coupling_pct: float
    coupling_rpm: float
    coupling_s: float
    slip_s: float
    jam_from_pct: float
    jam_s: float
    hold_s: float
    jam_pct: float
    tick_s: float
    react: Reactions
    own: tuple[OwnLimits, ...]
    own_count: int
    own_stays: int
    """A bit for each own interlock whose alarm stays until acknowledged: all but those that only warn."""


class ShaftLimits(NamedTuple):
    """Limits and ratings of one shaft. Torque and speed at the propeller shaft unless the name says engine."""

    rated_torque_nm: float
    rated_power_w: float
    generate_power_w: float
    generate_torque_nm: float
    max_speed_rpm: float
    max_current_a: float
    efficiency: float
    motor_efficiency: float
    precharge_s: float
    link_tolerance: float
    torque_slew_nm_per_s: float
    reversal_dwell_s: float
    motor_start_c: float
    motor_end_c: float
    inverter_start_c: float
    inverter_end_c: float
    coolant_start_c: float
    coolant_end_c: float
    engine_idle_rpm: float
    curve_rpm: tuple[float, ...]
    curve_nm: tuple[float, ...]
    headroom: float
    sag_rpm: float
    ratio: float
    trailing_allowed: int
    trailing_limit_s: float
    open_when_stopped: int
    clutch_fitted: int
    close_within_rpm: float
    lock_still_s: float
    still_rpm: float
    generate_min_rpm: float
    neutral_band_pct: float
    propeller_k: float
    harvest_k: float
    hold_band_rpm: float
    charge_rise_a_per_s: float
    charge_fall_a_per_s: float
    lever_hold_s: float
    lever_ramp_s: float
    disobey_s: float
    disobey_torque_nm: float
    disobey_current_a: float
    propeller_age_s: float
    """How far back the drive's speed is held against the propeller side's (s), and against the engine's: half of the
    time after which that one is stale."""
    engine_age_s: float
    no_load_a: float
    react: Reactions


def reactions(specs: tuple[InputSpec, ...], chosen: Mapping[str, str], mapped: set[str]) -> Reactions:
    """Masks by reaction. `chosen` overrides the register's default; a boat file can only choose a stronger one."""
    masks = dict.fromkeys(Reaction, 0)
    known = 0
    for spec in specs:
        reaction = Reaction[chosen[spec.name].upper()] if spec.name in chosen else spec.default
        masks[reaction] |= int(spec.bit)
        if spec.default in (Reaction.DERATE, Reaction.INHIBIT_CHARGE):
            # a stronger reaction chosen in the boat file comes on top: it takes nothing away
            masks[spec.default] |= int(spec.bit)
        if spec.name in chosen and reaction > Reaction.INHIBIT_CHARGE:
            masks[Reaction.INHIBIT_CHARGE] |= int(spec.bit)
        if spec.name in mapped:
            known |= int(spec.bit)
    return Reactions(
        derate=masks[Reaction.DERATE],
        inhibit_charge=masks[Reaction.INHIBIT_CHARGE],
        ramp_down=masks[Reaction.RAMP_DOWN],
        trip_shaft=masks[Reaction.TRIP_SHAFT],
        trip_boat=masks[Reaction.TRIP_BOAT],
        mapped=known,
    )


def own_thresholds(entry: Interlock) -> tuple[int, float, float]:
    """Of a number: 1 where it is bad upwards, else 0; from where on it is bad; where it is good again."""
    above = entry.bad_above is not None
    bad_at = float(entry.bad_above or 0.0) if above else float(entry.bad_below or 0.0)
    hysteresis = float(entry.hysteresis or 0.0)
    good_at = bad_at - hysteresis if above else bad_at + hysteresis
    return int(above), round(bad_at, OWN_DECIMALS), round(good_at, OWN_DECIMALS)


def own_limits(config: BoatConfig, entry: Interlock) -> OwnLimits:
    """One own interlock, frozen from its validated table."""
    high, bad_at, good_at = own_thresholds(entry)
    return OwnLimits(
        number=int(is_number(entry)),
        bad_on=int(entry.good_when == "off"),
        high=high,
        bad_at=bad_at,
        good_at=good_at,
        debounce_s=float(entry.debounce_s),
        unknown_good=int(entry.unknown == "good"),
        effect=int(effect_of(entry)),
        shafts=sum(1 << number for number in acts_on(config, entry)),
        limit_pct=100.0 if entry.limit_pct is None else float(entry.limit_pct),
        astern=int(entry.astern),
    )


def boat_limits(config: BoatConfig) -> BoatLimits:
    """The boat's limits from its validated file."""
    bank, lim = config.bank, config.limits
    chosen = {name: m.reaction for name, m in config.inputs.items() if m.reaction is not None}
    own = [own_limits(config, entry) for entry in config.interlock]
    return BoatLimits(
        capacity_ah=float(bank.capacity_ah),
        min_voltage_v=float(bank.min_voltage_v),
        max_voltage_v=float(bank.max_voltage_v),
        max_discharge_a=float(bank.max_discharge_a),
        max_charge_a=float(bank.max_charge_a),
        full_charge_a=float(lim.full_charge_a),
        taper_start_pct=float(lim.taper_start_pct),
        taper_end_pct=float(lim.taper_end_pct),
        charge_end_a=float(lim.charge_end_a),
        charge_restart_pct=float(lim.charge_restart_pct),
        cell_taper_start_v=float(lim.cell_taper_start_v),
        cell_taper_end_v=float(lim.cell_taper_end_v),
        cold_zero_c=float(lim.cold_zero_c),
        cold_full_c=float(lim.cold_full_c),
        cold_limit_a=float(lim.cold_c_rate) * float(bank.capacity_ah),
        hot_start_c=float(lim.hot_start_c),
        hot_zero_c=float(lim.hot_zero_c),
        brake_cold_a=float(lim.brake_cold_c_rate) * float(bank.capacity_ah),
        brake_cold_s=float(lim.brake_cold_s),
        source_over_a=float(lim.source_over_a),
        source_over_s=float(lim.source_over_s),
        source_stop_s=float(lim.source_stop_s),
        source_return_s=float(lim.source_return_s),
        reminder_s=float(lim.full_charge_reminder_days) * 86400.0,
        derate_start_pct=float(lim.derate_start_pct),
        derate_end_pct=float(lim.derate_end_pct),
        derate_return_pct=float(lim.derate_return_pct),
        derate_floor_pct=float(lim.derate_floor_pct),
        derate_dip_s=float(lim.derate_dip_s),
        derate_rate_pct_per_s=float(lim.derate_rate_pct_per_s),
        cell_derate_start_v=float(lim.cell_derate_start_v),
        cell_derate_end_v=float(lim.cell_derate_end_v),
        cell_derate_fall_pct_per_s=float(lim.cell_derate_fall_pct_per_s),
        bank_rise_pct_per_s=float(lim.bank_rise_pct_per_s),
        unknown_soc_pct=float(lim.unknown_soc_pct),
        time_to_limit_s=float(lim.time_to_limit_s),
        handset_thrust_pct=float(lim.handset_thrust_pct),
        handset_low_minutes=float(lim.handset_low_minutes),
        neutral_s=float(lim.neutral_s),
        neutral_wait_s=float(lim.neutral_wait_s),
        disable_s=float(lim.disable_s),
        idle_reminder_s=float(lim.idle_reminder_s),
        idle_off_s=float(lim.idle_off_s),
        pause_s=float(lim.pause_s),
        pause_window_s=float(lim.pause_window_s),
        shore_still_s=float(lim.shore_still_s),
        coupling_pct=float(lim.coupling_pct),
        coupling_rpm=float(lim.coupling_rpm),
        coupling_s=float(lim.coupling_s),
        slip_s=float(lim.slip_s),
        jam_from_pct=float(lim.jam_from_pct),
        jam_s=float(lim.jam_s),
        hold_s=float(lim.hold_s),
        jam_pct=float(lim.jam_pct),
        tick_s=float(config.boat.tick_s),
        react=reactions(BOAT_INPUTS, chosen, set(config.inputs)),
        own=tuple(own + [OwnLimits()] * (OWN_CHANNELS - len(own))),
        own_count=len(own),
        own_stays=sum(1 << k for k, one in enumerate(own) if one.effect != OwnEffect.WARN),
    )


def stale_s(shaft: Shaft, name: str) -> float:
    """From when on an input of this shaft is stale (s); 0.0 where the boat file does not map it."""
    entry = shaft.inputs.get(name)
    return 0.0 if entry is None else float(entry.stale_s)


def shaft_limits(config: BoatConfig, shaft: Shaft) -> ShaftLimits:
    """One shaft's limits from the validated boat file."""
    drive, engine, rules, lim = shaft.drive, shaft.engine, shaft.rules, config.limits
    chosen = {name: m.reaction for name, m in shaft.inputs.items() if m.reaction is not None}
    points = [(float(rpm), float(nm)) for rpm, nm in engine.torque_curve]
    points += [points[-1]] * (CURVE_POINTS - len(points))
    return ShaftLimits(
        rated_torque_nm=float(drive.rated_torque_nm),
        rated_power_w=float(drive.rated_power_kw) * 1000.0,
        generate_power_w=float(drive.generate_power_kw) * 1000.0,
        generate_torque_nm=float(drive.generate_torque_nm),
        max_speed_rpm=float(drive.max_speed_rpm),
        max_current_a=float(drive.max_current_a),
        efficiency=float(drive.efficiency),
        motor_efficiency=float(drive.motor_efficiency),
        precharge_s=float(drive.precharge_s),
        link_tolerance=float(drive.link_tolerance_pct) / 100.0,
        torque_slew_nm_per_s=float(drive.torque_slew_nm_per_s),
        reversal_dwell_s=float(drive.reversal_dwell_s),
        motor_start_c=float(drive.motor_derate_start_c),
        motor_end_c=float(drive.motor_derate_end_c),
        inverter_start_c=float(drive.inverter_derate_start_c),
        inverter_end_c=float(drive.inverter_derate_end_c),
        coolant_start_c=float(drive.coolant_derate_start_c),
        coolant_end_c=float(drive.coolant_derate_end_c),
        engine_idle_rpm=float(engine.idle_rpm),
        curve_rpm=tuple(rpm for rpm, _ in points),
        curve_nm=tuple(nm for _, nm in points),
        headroom=float(engine.headroom),
        sag_rpm=float(engine.sag_rpm),
        ratio=float(shaft.gearbox.ratio),
        trailing_allowed=int(shaft.gearbox.trailing_allowed),
        trailing_limit_s=float(shaft.gearbox.trailing_limit_s),
        open_when_stopped=int(shaft.gearbox.open_when_stopped),
        clutch_fitted=int(shaft.clutch.fitted),
        close_within_rpm=float(shaft.clutch.close_within_rpm),
        lock_still_s=float(shaft.lock.still_s),
        still_rpm=float(rules.still_rpm),
        generate_min_rpm=float(rules.generate_min_rpm),
        neutral_band_pct=float(rules.neutral_band_pct),
        propeller_k=float(rules.propeller_nm_per_krpm2) / 1e6,
        hold_band_rpm=float(rules.hold_band_rpm),
        harvest_k=float(rules.harvest_nm_per_krpm2) / 1e6,
        charge_rise_a_per_s=float(lim.charge_rise_a_per_s),
        charge_fall_a_per_s=float(lim.charge_fall_a_per_s),
        lever_hold_s=float(lim.lever_hold_s),
        lever_ramp_s=float(lim.lever_ramp_s),
        disobey_s=float(lim.disobey_s),
        disobey_torque_nm=float(lim.disobey_torque_pct) / 100.0 * float(drive.rated_torque_nm),
        disobey_current_a=float(lim.disobey_current_a),
        propeller_age_s=0.5 * stale_s(shaft, "shaft.propeller_speed_rpm"),
        engine_age_s=0.5 * stale_s(shaft, "engine.engine_speed_rpm"),
        no_load_a=float(drive.no_load_loss_w) / float(config.bank.min_voltage_v),
        react=reactions(SHAFT_INPUTS, chosen, set(shaft.inputs)),
    )
