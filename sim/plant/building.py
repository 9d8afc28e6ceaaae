"""Turns a checked plant configuration into parameters; the tables of propeller, hull and engine are computed here."""

from __future__ import annotations

import math
from itertools import accumulate

from sim.plant import schema, schema_shaft
from sim.plant.bank import TEMP_TABLE_FROM_C, TEMP_TABLE_STEP_C
from sim.plant.circuit import cable_ohm, fuse_ohm
from sim.plant.hull import HullForm, resistance
from sim.plant.params import (
    BankParams,
    DriveParams,
    EngineParams,
    GearboxParams,
    HullParams,
    LineParams,
    MonitorParams,
    PlantParams,
    PropellerParams,
    ShaftParams,
    StarterParams,
    SupplyParams,
)
from sim.plant.propeller import TABLE_SIZE, build_tables
from sim.plant.schema import PlantConfig
from sim.plant.schema_cable import CableConfig
from sim.plant.starter import CELLS_V, FULL_DENSITY
from sim.plant.tables import interp_points

RAD_S_PER_RPM = math.pi / 30.0
_SPEED_STEP_MS = 0.05
_SPEED_POINTS = 200
_TORQUE_STEP_RPM = 50.0
LFP_OHM_AH = (0.0685, 0.0030, 0.0400)
"""R0, R1 and R2 of a cell times its capacity, ohm A h, where a plant file gives none: fitted at 1C from 60 to 50 % and
25 degC to the set Prada2013 of PyBaMM (Doyle-Fuller-Newman; graphite and LFP, 2.3 A h, cylindrical). A larger cell is
taken as so many of these side by side."""


def build_params(config: PlantConfig) -> PlantParams:
    """Parameters from a checked configuration; the tables of propeller, hull and engine are computed here, once."""
    return PlantParams(
        bank=_bank(config.bank),
        monitor=_monitor(config.monitor, config.bank),
        supply=_supply(config.supply, config.bank),
        hull=_hull(config.hull),
        shafts=tuple(_shaft(shaft, config.hull.water_density_kg_m3) for shaft in config.shaft),
    )


def _bank(c: schema.BankConfig) -> BankParams:
    count = 21
    temps = [TEMP_TABLE_FROM_C + TEMP_TABLE_STEP_C * i for i in range(count)]
    # Arrhenius: R(T) = R(25 degC) exp(E/R (1/T - 1/298.15))
    temp_factor = tuple(math.exp(c.activation_k * (1.0 / (t + 273.15) - 1.0 / 298.15)) for t in temps)
    # resistance rises towards both ends of SOC, most towards empty (pulse tests of LFP cells; shape only)
    soc_factor = tuple(1.0 + 0.8 * math.exp(-s / 8.0) + 0.15 * math.exp(-(100.0 - s) / 5.0) for s in range(0, 101, 5))
    middle = soc_factor[10]
    ohm = [
        each * 1e-3 if each is not None else ohm_ah / c.capacity_ah
        for each, ohm_ah in zip((c.r0_mohm, c.r1_mohm, c.r2_mohm), LFP_OHM_AH, strict=True)
    ]
    heat = 0.5 * c.mass_kg * c.specific_heat_j_kgk
    return BankParams(
        cells=float(c.cells_in_series),
        capacity_as=c.capacity_ah * 3600.0,
        ocv_soc=tuple(float(x) for x in c.ocv_soc_frac),
        ocv_v=tuple(float(x) for x in c.ocv_cell_v),
        r0_ohm=ohm[0],
        r1_ohm=ohm[1],
        c1_f=c.tau1_s / ohm[1],
        r2_ohm=ohm[2],
        c2_f=c.tau2_s / ohm[2],
        temp_factor=temp_factor,
        soc_factor=tuple(f / middle for f in soc_factor),
        coulombic_efficiency=c.coulombic_efficiency,
        weak_capacity_frac=c.weak_cell_capacity_frac,
        weak_resistance_factor=c.weak_cell_resistance_factor,
        strong_soc_offset_pct=c.strong_cell_soc_offset_pct,
        balance_start_v=c.balance_from_v,
        balance_a=c.balance_a,
        core_heat_j_k=heat,
        edge_heat_j_k=heat,
        core_edge_w_k=c.core_edge_w_k,
        edge_ambient_w_k=c.edge_ambient_w_k,
        packs=float(c.packs),
    )


def _monitor(c: schema.MonitorConfig, bank: schema.BankConfig) -> MonitorParams:
    return MonitorParams(
        current_gain=1.0 + 0.01 * c.current_gain_error_pct,
        current_offset_a=c.current_offset_a,
        current_step_a=c.current_step_a,
        voltage_step_v=c.voltage_step_v,
        cell_step_v=c.cell_step_v,
        temp_step_c=c.temperature_step_c,
        soc_step_pct=c.soc_step_pct,
        capacity_as=bank.capacity_ah * 3600.0,
        full_cell_v=c.full_cell_v,
        full_current_a=c.full_current_frac_c * bank.capacity_ah,
        charge_limit_a=c.charge_limit_a,
        discharge_limit_a=c.discharge_limit_a,
        cold_zero_c=c.cold_zero_c,
        cold_full_c=c.cold_full_c,
        cold_limit_a=c.cold_limit_frac_c * bank.capacity_ah,
        hot_taper_c=c.hot_taper_c,
        hot_zero_c=c.hot_zero_c,
        permit_back_k=c.permit_back_k,
        charge_off_v=c.charge_off_v,
        charge_on_v=c.charge_on_v,
        charge_taper_v=c.charge_taper_v,
        discharge_off_v=c.discharge_off_v,
        discharge_on_v=c.discharge_on_v,
        discharge_taper_v=c.discharge_taper_v,
        charge_off_soc_pct=c.charge_off_soc_pct,
        charge_on_soc_pct=c.charge_on_soc_pct,
        discharge_off_soc_pct=c.discharge_off_soc_pct,
        discharge_on_soc_pct=c.discharge_on_soc_pct,
        over_voltage_v=c.over_voltage_v,
        under_voltage_v=c.under_voltage_v,
        over_temp_c=c.over_temperature_c,
        under_temp_c=c.under_temperature_c,
        over_current_charge_a=c.charge_limit_a * c.over_current_factor,
        over_current_discharge_a=c.discharge_limit_a * c.over_current_factor,
        flag_delay_s=c.flag_delay_s,
        warning_s=c.warning_s,
        close_delay_s=c.close_delay_s,
    )


def _supply(c: schema.SupplyConfig, bank: schema.BankConfig) -> SupplyParams:
    return SupplyParams(
        bus_capacitance_f=c.bus_capacitance_mf * 1e-3,
        bleed_ohm=c.bleed_ohm,
        hotel_min_v=c.hotel_drops_out_v,
        solar_stc_w=c.solar_stc_w,
        solar_gamma_per_k=c.solar_gamma_pct_per_k * 0.01,
        solar_noct_k_per_w_m2=(c.solar_noct_c - 20.0) / 800.0,
        solar_system_eff=c.solar_system_efficiency,
        shore_max_a=c.shore_charger_max_a,
        absorb_v=c.absorption_v_per_cell * bank.cells_in_series,
        source_lag_s=c.source_lag_s,
        bank_cable_ohm=_cable(c.bank_cable),
    )


def _cable(c: CableConfig | None) -> float:
    """Resistance of a cable with terminals and fuse, ohm; 0 where none is given."""
    if c is None:
        return 0.0
    own = cable_ohm(c.length_m, c.section_mm2, c.conductor_c)
    return own + c.terminals_mohm * 1e-3 + fuse_ohm(c.fuse_a, c.fuse_loss_w)


def hull_form(c: schema.HullConfig) -> HullForm:
    """Hull form for the resistance formulas."""
    return HullForm(
        length_m=c.waterline_length_m,
        beam_m=c.waterline_beam_m,
        draft_m=c.canoe_body_draft_m,
        volume_m3=c.canoe_body_volume_m3,
        waterplane_m2=c.waterplane_area_m2,
        prismatic=c.prismatic_coefficient,
        midship=c.midship_coefficient,
        lcb_frac=c.lcb_frac,
        lcf_frac=c.lcf_frac,
        appendage_m2=c.appendage_area_m2,
        form_factor=c.form_factor,
        roughness=c.roughness_allowance,
        water_density_kg_m3=c.water_density_kg_m3,
    )


def _hull(c: schema.HullConfig) -> HullParams:
    form = hull_form(c)
    return HullParams(
        mass_kg=c.displacement_kg * (1.0 + c.added_mass_frac),
        # the series ends at Froude 0.75 and falls a little before: a faster hull is never let off
        resistance_n=tuple(accumulate((resistance(form, i * _SPEED_STEP_MS) for i in range(_SPEED_POINTS)), max)),
        speed_step_ms=_SPEED_STEP_MS,
        astern_factor=c.astern_resistance_factor,
        wake_frac=c.wake_frac,
        thrust_deduction=c.thrust_deduction_frac,
    )


def _shaft(c: schema_shaft.ShaftConfig, water_density_kg_m3: float) -> ShaftParams:
    return ShaftParams(
        engine=_engine(c.engine),
        gearbox=GearboxParams(
            ratio_ahead=c.gearbox.ratio_ahead,
            ratio_astern=c.gearbox.ratio_astern,
            shift_s=c.gearbox.shift_s,
            capacity_nm=c.gearbox.clutch_capacity_nm,
            drag_nm=c.gearbox.neutral_drag_nm,
            loss_frac=c.gearbox.loss_pct * 0.01,
        ),
        drive=_drive(c.drive),
        line=LineParams(
            machine_inertia_kgm2=c.line.machine_inertia_kgm2 + c.drive.rotor_inertia_kgm2 * c.drive.belt_ratio**2,
            propeller_inertia_kgm2=c.line.propeller_inertia_kgm2,
            clutch_fitted=int(c.line.clutch_fitted),
            clutch_travel_s=c.line.clutch_travel_s,
            # no clutch: a solid coupling
            clutch_capacity_nm=c.line.clutch_capacity_nm if c.line.clutch_fitted else 1.0e5,
            lock_fitted=int(c.line.lock_fitted),
            lock_travel_s=c.line.lock_travel_s,
            lock_capacity_nm=c.line.lock_capacity_nm,
            friction_nm=c.line.friction_nm,
            coupling_rated_nm=c.line.coupling_rated_nm,
        ),
        propeller=_propeller(c.propeller, water_density_kg_m3),
    )


def _engine(c: schema_shaft.EngineConfig) -> EngineParams:
    droop_rpm = c.rated_rpm * c.droop_pct * 0.01
    high_idle = c.rated_rpm + droop_rpm
    points = int(high_idle / _TORQUE_STEP_RPM) + 2
    return EngineParams(
        inertia_kgm2=c.inertia_kgm2,
        idle_rpm=c.idle_rpm,
        high_idle_rpm=high_idle,
        rated_rpm=c.rated_rpm,
        droop_rpm=droop_rpm,
        rack_lag_s=0.08,
        torque_nm=tuple(interp_points(c.torque_rpm, c.torque_nm, i * _TORQUE_STEP_RPM) for i in range(points)),
        torque_step_rpm=_TORQUE_STEP_RPM,
        friction_nm=c.friction_nm,
        friction_nm_per_rpm=c.friction_nm_per_rpm,
        cold_friction_factor=c.cold_friction_factor,
        starter_nm=c.starter_nm,
        starter_no_load_rpm=c.starter_no_load_rpm,
        fire_rpm=c.fire_rpm,
        fire_time_s=c.fire_time_s,
        stall_rpm=c.stall_rpm,
        indicated_efficiency=c.indicated_efficiency,
        fuel_j_kg=c.fuel_mj_kg * 1e6,
        fuel_kg_l=c.fuel_kg_l,
        warm_c=c.warm_c,
        heat_j_k=c.heat_capacity_kj_k * 1e3,
        # the cooler holds the warm temperature at rated power with the thermostat wide open
        cool_w_k=max(c.torque_nm) * c.rated_rpm * RAD_S_PER_RPM / c.indicated_efficiency * 0.45 / 50.0,
        starter=_starter(c.starting),
    )


def _starter(c: schema_shaft.StartingConfig | None) -> StarterParams:
    if c is None:
        return StarterParams(6.0, 0.0, 0.005, 0.02, 600.0, 0.0, 0.0, 14.2, 1.0, 600.0, 2200.0)
    cells = c.nominal_v / 2.0
    battery_ohm = c.battery_mohm * 1e-3
    return StarterParams(
        cells=cells,
        battery_as=c.battery_ah * 3600.0,
        battery_ohm=battery_ohm,
        # so that a full battery at 25 degC gives the stall current
        starter_ohm=cells * (FULL_DENSITY + CELLS_V) / c.starter_stall_a - battery_ohm,
        stall_a=c.starter_stall_a,
        loads_a=c.loads_a,
        alternator_a=c.alternator_a,
        alternator_v=c.alternator_v,
        alternator_eff=c.alternator_efficiency,
        cut_in_rpm=c.alternator_cut_in_rpm,
        full_rpm=c.alternator_full_rpm,
    )


def _drive(c: schema_shaft.DriveConfig) -> DriveParams:
    return DriveParams(
        max_torque_nm=c.max_torque_nm,
        motor_power_w=c.motor_power_kw * 1e3,
        generator_power_w=c.generator_power_kw * 1e3,
        torque_response_s=c.torque_response_ms * 1e-3,
        gate_off_s=c.gate_off_ms * 1e-3,
        copper_w_nm2=c.copper_loss_w_nm2,
        iron_w_rad_s=c.iron_loss_w_per_rad_s,
        iron_w_rad2_s2=c.iron_loss_w_per_rad2_s2,
        inverter_idle_w=c.inverter_idle_w,
        inverter_w_nm=c.inverter_loss_w_nm,
        emf_v_s=c.emf_v_per_1000rpm / (1000.0 * RAD_S_PER_RPM),
        rectifier_ohm=c.rectifier_mohm * 1e-3,
        link_f=c.link_mf * 1e-3,
        precharge_ohm=c.precharge_ohm,
        bleed_ohm=c.link_bleed_ohm,
        relay_close_frac=c.relay_close_pct * 0.01,
        under_voltage_v=c.under_voltage_v,
        over_voltage_v=c.over_voltage_v,
        over_speed_rad_s=c.over_speed_rpm * RAD_S_PER_RPM,
        belt_ratio=c.belt_ratio,
        rotor_inertia_kgm2=c.rotor_inertia_kgm2,
        coupling_loss_frac=c.coupling_loss_pct * 0.01,
        motor_heat_j_k=c.motor_heat_kj_k * 1e3,
        motor_coolant_w_k=c.motor_coolant_w_k,
        inverter_heat_j_k=c.inverter_heat_kj_k * 1e3,
        inverter_coolant_w_k=c.inverter_coolant_w_k,
        coolant_heat_j_k=c.coolant_heat_kj_k * 1e3,
        coolant_sea_w_k=c.coolant_sea_w_k,
        motor_derate_c=c.motor_derate_c,
        motor_max_c=c.motor_max_c,
        inverter_derate_c=c.inverter_derate_c,
        inverter_max_c=c.inverter_max_c,
        full_power_v=c.full_power_v,
        max_dc_a=c.max_dc_a,
        cable_ohm=_cable(c.cable),
        link_esr_ohm=c.link_esr_mohm * 1e-3,
    )


def _propeller(c: schema_shaft.PropellerConfig, water_density_kg_m3: float) -> PropellerParams:
    ct, cq = build_tables(c.pitch_ratio, c.blade_area_ratio, c.blades)
    return PropellerParams(
        diameter_m=c.diameter_m,
        half_rho_area=0.5 * water_density_kg_m3 * math.pi / 4.0 * c.diameter_m**2,
        table_scale=TABLE_SIZE / 4.0,
        ct_table=ct,
        cq_table=cq,
    )
