"""Parameters of the plant as nested NamedTuples of plain numbers and tuples.

They are built from a checked configuration by :func:`sim.plant.loading.load_plant`; unit, source and plausible range of
each number stand in :mod:`sim.plant.schema`. Whole numbers are ints, everything else is a float.
"""

from __future__ import annotations

from typing import NamedTuple


class BankParams(NamedTuple):
    """Battery bank: cells in series, two-RC equivalent circuit for each cell, two-node heat balance."""

    cells: float
    capacity_as: float
    ocv_soc: tuple[float, ...]
    ocv_v: tuple[float, ...]
    r0_ohm: float
    r1_ohm: float
    c1_f: float
    r2_ohm: float
    c2_f: float
    temp_factor: tuple[float, ...]
    soc_factor: tuple[float, ...]
    coulombic_efficiency: float
    weak_capacity_frac: float
    weak_resistance_factor: float
    strong_soc_offset_pct: float
    balance_start_v: float
    balance_a: float
    core_heat_j_k: float
    edge_heat_j_k: float
    core_edge_w_k: float
    edge_ambient_w_k: float
    packs: float


class MonitorParams(NamedTuple):
    """Bank monitor: measurement errors, permits with hysteresis, limits, faults, contactor."""

    current_gain: float
    current_offset_a: float
    current_step_a: float
    voltage_step_v: float
    cell_step_v: float
    temp_step_c: float
    soc_step_pct: float
    capacity_as: float
    full_cell_v: float
    full_current_a: float
    charge_limit_a: float
    discharge_limit_a: float
    cold_zero_c: float
    cold_full_c: float
    cold_limit_a: float
    hot_taper_c: float
    hot_zero_c: float
    permit_back_k: float
    charge_off_v: float
    charge_on_v: float
    charge_taper_v: float
    discharge_off_v: float
    discharge_on_v: float
    discharge_taper_v: float
    charge_off_soc_pct: float
    charge_on_soc_pct: float
    discharge_off_soc_pct: float
    discharge_on_soc_pct: float
    over_voltage_v: float
    under_voltage_v: float
    over_temp_c: float
    under_temp_c: float
    over_current_charge_a: float
    over_current_discharge_a: float
    flag_delay_s: float
    warning_s: float
    close_delay_s: float


class SupplyParams(NamedTuple):
    """The DC bus and what hangs on it besides the drives: hotel load, solar array, shore charger."""

    bus_capacitance_f: float
    bleed_ohm: float
    hotel_min_v: float
    solar_stc_w: float
    solar_gamma_per_k: float
    solar_noct_k_per_w_m2: float
    solar_system_eff: float
    shore_max_a: float
    absorb_v: float
    source_lag_s: float
    bank_cable_ohm: float


class HullParams(NamedTuple):
    """Hull: mass in motion, resistance over speed, wake and thrust deduction."""

    mass_kg: float
    resistance_n: tuple[float, ...]
    speed_step_ms: float
    astern_factor: float
    wake_frac: float
    thrust_deduction: float


class StarterParams(NamedTuple):
    """Starter battery, starter and alternator of one engine; `battery_as` 0: a battery that is always full."""

    cells: float
    battery_as: float
    battery_ohm: float
    starter_ohm: float
    stall_a: float
    loads_a: float
    alternator_a: float
    alternator_v: float
    alternator_eff: float
    cut_in_rpm: float
    full_rpm: float


class EngineParams(NamedTuple):
    """Diesel engine with a droop governor."""

    inertia_kgm2: float
    idle_rpm: float
    high_idle_rpm: float
    rated_rpm: float
    droop_rpm: float
    rack_lag_s: float
    torque_nm: tuple[float, ...]
    torque_step_rpm: float
    friction_nm: float
    friction_nm_per_rpm: float
    cold_friction_factor: float
    starter_nm: float
    starter_no_load_rpm: float
    fire_rpm: float
    fire_time_s: float
    stall_rpm: float
    indicated_efficiency: float
    fuel_j_kg: float
    fuel_kg_l: float
    warm_c: float
    heat_j_k: float
    cool_w_k: float
    starter: StarterParams


class GearboxParams(NamedTuple):
    """Reversing gearbox with friction clutches."""

    ratio_ahead: float
    ratio_astern: float
    shift_s: float
    capacity_nm: float
    drag_nm: float
    loss_frac: float


class DriveParams(NamedTuple):
    """Electric machine with its inverter; torque and speed are quoted at the shaft."""

    max_torque_nm: float
    motor_power_w: float
    generator_power_w: float
    torque_response_s: float
    gate_off_s: float
    copper_w_nm2: float
    iron_w_rad_s: float
    iron_w_rad2_s2: float
    inverter_idle_w: float
    inverter_w_nm: float
    emf_v_s: float
    rectifier_ohm: float
    link_f: float
    precharge_ohm: float
    bleed_ohm: float
    relay_close_frac: float
    under_voltage_v: float
    over_voltage_v: float
    over_speed_rad_s: float
    belt_ratio: float
    rotor_inertia_kgm2: float
    coupling_loss_frac: float
    motor_heat_j_k: float
    motor_coolant_w_k: float
    inverter_heat_j_k: float
    inverter_coolant_w_k: float
    coolant_heat_j_k: float
    coolant_sea_w_k: float
    motor_derate_c: float
    motor_max_c: float
    inverter_derate_c: float
    inverter_max_c: float
    full_power_v: float
    max_dc_a: float
    cable_ohm: float
    link_esr_ohm: float


class LineParams(NamedTuple):
    """Shaft line: inertias, shaft clutch, shaft lock, bearing friction, and the shock rating of the coupling."""

    machine_inertia_kgm2: float
    propeller_inertia_kgm2: float
    clutch_fitted: int
    clutch_travel_s: float
    clutch_capacity_nm: float
    lock_fitted: int
    lock_travel_s: float
    lock_capacity_nm: float
    friction_nm: float
    coupling_rated_nm: float


class PropellerParams(NamedTuple):
    """Fixed propeller as lookup tables over the diamond advance angle."""

    diameter_m: float
    half_rho_area: float
    table_scale: float
    ct_table: tuple[float, ...]
    cq_table: tuple[float, ...]


class ShaftParams(NamedTuple):
    """One shaft: engine, gearbox, drive, line and propeller."""

    engine: EngineParams
    gearbox: GearboxParams
    drive: DriveParams
    line: LineParams
    propeller: PropellerParams


class PlantParams(NamedTuple):
    """A whole boat, one to four shafts."""

    bank: BankParams
    monitor: MonitorParams
    supply: SupplyParams
    hull: HullParams
    shafts: tuple[ShaftParams, ...]
