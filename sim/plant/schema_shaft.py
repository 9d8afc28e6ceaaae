"""The plant file: tables of one shaft."""

from __future__ import annotations

from itertools import pairwise

from pydantic import Field, model_validator

from sim.plant.quantity import COMMON, DATASHEET, OWN, Section, quantity
from sim.plant.schema_cable import CableConfig
from sim.plant.starter import CELLS_V, FULL_DENSITY

B_SERIES = "Bernitsas 1981, range of the Wageningen B-series"
FOUR_QUADRANT = "Roddy 2006: measured pitch ratios 0.6 to 1.2, blade-area ratios 0.40 to 0.70"


class StartingConfig(Section):
    """Starter battery, starter and alternator; without this table the starter battery is always full."""

    nominal_v: float = quantity("V", 12, 24, OWN, ge=6, le=48, default=12.0)
    battery_ah: float = quantity("A h", 30, 300, OWN, gt=0)
    battery_mohm: float = quantity("mohm", 2, 15, DATASHEET, gt=0, default=6.0)
    starter_stall_a: float = quantity("A", 150, 2500, DATASHEET, gt=0)
    loads_a: float = quantity("A", 0, 10, OWN, ge=0, default=0.5)
    alternator_a: float = quantity("A", 30, 200, DATASHEET, ge=0)
    alternator_v: float = quantity("V", 13.8, 29, DATASHEET, gt=0, default=14.2)
    alternator_efficiency: float = quantity("1", 0.45, 0.75, DATASHEET, gt=0.1, le=1, default=0.55)
    alternator_cut_in_rpm: float = quantity("rpm", 400, 1000, DATASHEET, ge=0, default=600.0)
    alternator_full_rpm: float = quantity("rpm", 1500, 3500, DATASHEET, gt=0, default=2200.0)

    @model_validator(mode="after")
    def _fits(self) -> StartingConfig:
        if not self.alternator_cut_in_rpm < self.alternator_full_rpm:
            raise ValueError("alternator_cut_in_rpm must be below alternator_full_rpm")
        full_v = self.nominal_v / 2.0 * (FULL_DENSITY + CELLS_V)
        if not self.alternator_v > full_v:
            raise ValueError(f"alternator_v must be above {full_v:.2f} V, where this battery is full")
        if full_v / self.starter_stall_a <= 1e-3 * self.battery_mohm:
            raise ValueError(
                f"starter_stall_a is more than a battery of {self.battery_mohm:g} mohm can give: "
                f"{full_v / (1e-3 * self.battery_mohm):.0f} A"
            )
        return self


class EngineConfig(Section):
    """Diesel engine, at the flywheel."""

    idle_rpm: float = quantity("rpm", 600, 1100, DATASHEET, gt=0)
    rated_rpm: float = quantity("rpm", 1800, 4000, DATASHEET, gt=0)
    droop_pct: float = quantity("%", 3, 10, "mechanical governors 5 to 10 %, from memory", gt=0, default=6.0)
    torque_rpm: tuple[float, ...] = Field(
        strict=False, description="speeds of the full-load torque curve, rpm; " + DATASHEET
    )
    torque_nm: tuple[float, ...] = Field(
        strict=False, description="full-load torque at these speeds, N m; " + DATASHEET
    )
    inertia_kgm2: float = quantity("kg m2", 0.05, 3, COMMON, gt=0)
    friction_nm: float = quantity(
        "N m", 3, 60, "friction mean effective pressure about 1 to 2 bar, Heywood 1988 ch. 13", gt=0
    )
    friction_nm_per_rpm: float = quantity("N m/rpm", 0, 0.02, "Heywood 1988 ch. 13", ge=0, default=0.003)
    cold_friction_factor: float = quantity("1", 0, 1.5, COMMON, ge=0, default=0.6)
    starter_nm: float = quantity("N m", 20, 400, DATASHEET, gt=0)
    starter_no_load_rpm: float = quantity("rpm", 200, 500, DATASHEET, gt=0, default=350.0)
    fire_rpm: float = quantity("rpm", 80, 200, COMMON, gt=0, default=120.0)
    fire_time_s: float = quantity("s", 0.2, 5, COMMON, ge=0, default=0.8)
    stall_rpm: float = quantity("rpm", 250, 650, COMMON, gt=0, default=450.0)
    indicated_efficiency: float = quantity(
        "1", 0.36, 0.50, "Willans lines of small diesels, Guzzella and Onder 2010", gt=0, lt=1, default=0.42
    )
    fuel_mj_kg: float = quantity(
        "MJ/kg", 42, 43.5, "lower heating value of diesel fuel, Heywood 1988", gt=0, default=42.7
    )
    fuel_kg_l: float = quantity("kg/l", 0.82, 0.86, "EN 590 density range", gt=0, default=0.84)
    warm_c: float = quantity("degC", 70, 95, DATASHEET, gt=0, default=80.0)
    heat_capacity_kj_k: float = quantity("kJ/K", 20, 500, COMMON, gt=0)
    starting: StartingConfig | None = None

    @model_validator(mode="after")
    def _curve(self) -> EngineConfig:
        if len(self.torque_rpm) != len(self.torque_nm) or len(self.torque_rpm) < 2:
            raise ValueError("torque_rpm and torque_nm need the same number of points, two or more")
        if any(b <= a for a, b in pairwise(self.torque_rpm)) or self.torque_rpm[0] < 0:
            raise ValueError("torque_rpm must rise")
        if any(t < 0 for t in self.torque_nm):
            raise ValueError("torque_nm must not be negative")
        if not self.stall_rpm < self.idle_rpm < self.rated_rpm:
            raise ValueError("stall_rpm must be below idle_rpm, and idle_rpm below rated_rpm")
        return self


class GearboxConfig(Section):
    """Reversing gearbox."""

    ratio_ahead: float = quantity("1", 1, 5, DATASHEET, gt=0)
    ratio_astern: float = quantity("1", 1, 5, DATASHEET, gt=0)
    shift_s: float = quantity("s", 0.2, 2, COMMON, ge=0, default=0.6)
    clutch_capacity_nm: float = quantity("N m", 50, 3000, "about 2 times the rated torque, from memory", gt=0)
    neutral_drag_nm: float = quantity("N m", 0.1, 5, COMMON, ge=0, default=1.0)
    loss_pct: float = quantity("%", 1, 6, "gear efficiency 0.95 to 0.98, from memory", ge=0, lt=50, default=3.0)


class DriveConfig(Section):
    """Electric machine with inverter; torque, power and back-EMF are quoted at the shaft."""

    max_torque_nm: float = quantity("N m", 10, 600, DATASHEET, gt=0)
    motor_power_kw: float = quantity("kW", 1, 60, DATASHEET, gt=0)
    generator_power_kw: float = quantity("kW", 1, 60, DATASHEET, gt=0)
    torque_response_ms: float = quantity("ms", 5, 40, COMMON, gt=0, default=30.0)
    gate_off_ms: float = quantity("ms", 1, 10, COMMON, gt=0, default=5.0)
    copper_loss_w_nm2: float = quantity("W/(N m)2", 0.005, 1, "from the efficiency map of the machine", ge=0)
    iron_loss_w_per_rad_s: float = quantity("W s", 0, 5, "from the efficiency map of the machine", ge=0)
    iron_loss_w_per_rad2_s2: float = quantity("W s2", 0, 0.1, "from the efficiency map of the machine", ge=0)
    inverter_idle_w: float = quantity("W", 5, 100, DATASHEET, ge=0, default=20.0)
    inverter_loss_w_nm: float = quantity("W/(N m)", 0, 10, "from the efficiency map of the inverter", ge=0)
    emf_v_per_1000rpm: float = quantity("V", 5, 100, "back-EMF constant, peak line to line, at the shaft", gt=0)
    rectifier_mohm: float = quantity(
        "mohm", 5, 200, "phase resistance and commutation, order of magnitude", gt=0, default=40.0
    )
    link_mf: float = quantity("mF", 0.5, 30, "own choice: 10 mF", gt=0, default=10.0)
    precharge_ohm: float = quantity("ohm", 5, 100, "own choice: 20 ohm", gt=0, default=20.0)
    link_bleed_ohm: float = quantity("ohm", 200, 20000, COMMON, gt=0, default=1500.0)
    relay_close_pct: float = quantity("%", 2, 10, COMMON, gt=0, lt=50, default=5.0)
    under_voltage_v: float = quantity("V", 15, 44, DATASHEET, gt=0, default=38.0)
    over_voltage_v: float = quantity("V", 30, 90, DATASHEET, gt=0, default=64.0)
    over_speed_rpm: float = quantity("rpm", 500, 6000, "at the shaft", gt=0)
    belt_ratio: float = quantity("1", 1, 5, OWN, gt=0, default=1.0)
    rotor_inertia_kgm2: float = quantity("kg m2", 0.001, 0.5, DATASHEET, gt=0)
    coupling_loss_pct: float = quantity(
        "%", 0, 5, "synchronous belt 0.95 to 0.98, from memory", ge=0, lt=50, default=2.0
    )
    motor_heat_kj_k: float = quantity("kJ/K", 2, 60, COMMON, gt=0, default=12.0)
    motor_coolant_w_k: float = quantity("W/K", 3, 100, COMMON, gt=0, default=14.0)
    inverter_heat_kj_k: float = quantity("kJ/K", 0.5, 20, COMMON, gt=0, default=3.0)
    inverter_coolant_w_k: float = quantity("W/K", 3, 100, COMMON, gt=0, default=12.0)
    coolant_heat_kj_k: float = quantity("kJ/K", 5, 100, COMMON, gt=0, default=20.0)
    coolant_sea_w_k: float = quantity("W/K", 10, 500, COMMON, gt=0, default=60.0)
    motor_derate_c: float = quantity("degC", 80, 140, DATASHEET, default=110.0)
    motor_max_c: float = quantity("degC", 110, 160, DATASHEET, default=130.0)
    inverter_derate_c: float = quantity("degC", 60, 100, DATASHEET, default=75.0)
    inverter_max_c: float = quantity("degC", 75, 120, DATASHEET, default=90.0)
    full_power_v: float = quantity("V", 0, 90, DATASHEET, ge=0, default=0.0)
    max_dc_a: float = quantity("A", 0, 1500, DATASHEET, ge=0, default=0.0)
    link_esr_mohm: float = quantity("mohm", 1, 50, COMMON, gt=0, default=5.0)
    cable: CableConfig | None = None

    @model_validator(mode="after")
    def _in_order(self) -> DriveConfig:
        for low, high in (
            ("motor_derate_c", "motor_max_c"),
            ("inverter_derate_c", "inverter_max_c"),
            ("under_voltage_v", "over_voltage_v"),
        ):
            if not getattr(self, low) < getattr(self, high):
                raise ValueError(f"{low} ({getattr(self, low)}) must be below {high} ({getattr(self, high)})")
        return self


class LineConfig(Section):
    """Shaft line."""

    machine_inertia_kgm2: float = quantity("kg m2", 0.01, 5, OWN, gt=0)
    propeller_inertia_kgm2: float = quantity("kg m2", 0.01, 10, "with about 25 % entrained water, from memory", gt=0)
    clutch_fitted: bool = False
    clutch_travel_s: float = quantity("s", 0.1, 5, COMMON, ge=0, default=0.8)
    clutch_capacity_nm: float = quantity(
        "N m", 50, 5000, "2 to 3 times the rated torque, from memory", gt=0, default=600.0
    )
    lock_fitted: bool = False
    lock_travel_s: float = quantity("s", 0.1, 5, COMMON, ge=0, default=0.5)
    lock_capacity_nm: float = quantity("N m", 50, 5000, COMMON, gt=0, default=600.0)
    friction_nm: float = quantity("N m", 0.5, 20, "stern gland and bearings, from memory", ge=0, default=3.0)
    coupling_rated_nm: float = quantity("N m", 20, 2000, DATASHEET, gt=0)


class PropellerConfig(Section):
    """Fixed propeller of the Wageningen B-series."""

    diameter_m: float = quantity("m", 0.25, 1.2, OWN, gt=0)
    pitch_ratio: float = quantity("1", 0.6, 1.2, FOUR_QUADRANT, ge=0.5, le=1.4)
    blade_area_ratio: float = quantity("1", 0.4, 0.85, FOUR_QUADRANT, ge=0.3, le=1.05)
    blades: int = quantity("1", 2, 5, B_SERIES, ge=2, le=7)


class ShaftConfig(Section):
    """One shaft."""

    name: str = Field(min_length=1)
    engine: EngineConfig
    gearbox: GearboxConfig
    drive: DriveConfig
    line: LineConfig
    propeller: PropellerConfig
