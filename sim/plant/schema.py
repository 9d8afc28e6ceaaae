"""The plant file: boat-level tables. Every number has its unit in its name, a source and a plausible range."""

from __future__ import annotations

from itertools import pairwise
from typing import Annotated

from pydantic import Field, model_validator

from sim.plant.quantity import COMMON, DATASHEET, OWN, Section, quantity
from sim.plant.schema_cable import CableConfig
from sim.plant.schema_shaft import ShaftConfig

DELFT = "Keuning and Katgert 2008, range of the Delft systematic yacht hull series"
CELL = "data sheets of LFP cells, 2.5 to 3.65 V a cell, charge 0 to 45 degC (from memory)"


PRADA = (
    "fit to the LFP set Prada2013 of PyBaMM (Prada et al., J. Electrochem. Soc. 160(4), 2013; a cell of 2.3 A h), 1C"
)


class HullConfig(Section):
    """Hull form and mass."""

    displacement_kg: float = quantity("kg", 500, 60000, OWN, gt=0)
    waterline_length_m: float = quantity("m", 5, 25, OWN, gt=0)
    waterline_beam_m: float = quantity("m", 1.5, 7, OWN, gt=0)
    canoe_body_draft_m: float = quantity("m", 0.2, 2.5, OWN, gt=0)
    canoe_body_volume_m3: float = quantity("m3", 0.5, 60, OWN, gt=0)
    waterplane_area_m2: float = quantity("m2", 5, 120, OWN, gt=0)
    prismatic_coefficient: float = quantity("1", 0.52, 0.60, DELFT, gt=0, lt=1)
    midship_coefficient: float = quantity("1", 0.65, 0.79, DELFT, gt=0, lt=1)
    lcb_frac: float = quantity("1", 0.50, 0.582, DELFT, gt=0, lt=1)
    lcf_frac: float = quantity("1", 0.518, 0.595, DELFT, gt=0, lt=1)
    appendage_area_m2: float = quantity("m2", 0, 30, OWN, ge=0)
    form_factor: float = quantity(
        "1", 0.0, 0.3, "Prohaska form factor of displacement hulls, from memory", ge=0, default=0.1
    )
    roughness_allowance: float = quantity(
        "1", 0.0, 0.0012, "ITTC 1978 correlation allowance, of the order of 4e-4", ge=0, default=4e-4
    )
    added_mass_frac: float = quantity("1", 0.02, 0.15, "surge added mass, from memory", ge=0, default=0.06)
    astern_resistance_factor: float = quantity("1", 1.0, 2.0, COMMON, gt=0, default=1.3)
    wake_frac: float = quantity(
        "1", 0.0, 0.3, "Taylor wake fraction of sailing hulls, from memory", ge=0, lt=1, default=0.08
    )
    thrust_deduction_frac: float = quantity("1", 0.0, 0.3, COMMON, ge=0, lt=1, default=0.08)
    water_density_kg_m3: float = quantity("kg/m3", 998, 1028, "ITTC procedure 7.5-02-01-03", gt=0, default=1025.9)


class BankConfig(Section):
    """Battery bank; resistances and capacitances are those of one cell at 25 degC and 50 percent."""

    cells_in_series: int = quantity("1", 4, 32, OWN, gt=2)
    packs: int = quantity("1", 1, 8, OWN, ge=1, le=16, default=1)
    capacity_ah: float = quantity("A h", 50, 2000, OWN, gt=0)
    ocv_soc_frac: tuple[float, ...] = Field(
        strict=False,
        default=(0.0, 0.0117, 0.0267, 0.0534, 0.0885, 0.2972, 0.9833, 0.9950, 1.0),
        description="Piecewise-Battery-OCV data set (IEEE TIM 2025), LFP at C/32",
    )
    ocv_cell_v: tuple[float, ...] = Field(
        strict=False,
        default=(2.0102, 2.7405, 2.9299, 3.0872, 3.1942, 3.2772, 3.3511, 3.4180, 3.5981),
        description="Piecewise-Battery-OCV data set (IEEE TIM 2025), LFP at C/32",
    )
    r0_mohm: float | None = quantity("mohm", 0.05, 3, PRADA, gt=0, default=None)
    r1_mohm: float | None = quantity("mohm", 0.002, 3, PRADA, gt=0, default=None)
    tau1_s: float = quantity("s", 5, 200, PRADA, gt=0.5, default=25.0)
    r2_mohm: float | None = quantity("mohm", 0.02, 5, PRADA, gt=0, default=None)
    tau2_s: float = quantity("s", 200, 5000, PRADA, gt=0.5, default=600.0)
    activation_k: float = quantity(
        "K",
        1000,
        6000,
        "Arrhenius rise of LFP resistance in the cold, of this order in data sheets",
        ge=0,
        default=2600.0,
    )
    coulombic_efficiency: float = quantity(
        "1", 0.98, 1.0, "LFP 0.995 and more, from memory", gt=0.5, le=1, default=0.998
    )
    weak_cell_capacity_frac: float = quantity("1", 0.9, 1.0, COMMON, gt=0.5, le=1, default=0.985)
    weak_cell_resistance_factor: float = quantity("1", 1.0, 1.5, COMMON, ge=1, default=1.15)
    strong_cell_soc_offset_pct: float = quantity("%", 0.0, 3.0, COMMON, ge=0, default=0.6)
    balance_from_v: float = quantity(
        "V", 3.40, 3.45, "passive balancing from 3.40 to 3.45 V, from memory", gt=3.0, default=3.42
    )
    balance_a: float = quantity("A", 0.05, 3, DATASHEET, ge=0, default=0.5)
    mass_kg: float = quantity("kg", 20, 2000, OWN, gt=0)
    specific_heat_j_kgk: float = quantity(
        "J/(kg K)", 800, 1200, "LFP cells about 1000 J/(kg K), published calorimetry", gt=0, default=1000.0
    )
    core_edge_w_k: float = quantity("W/K", 1, 200, COMMON, gt=0, default=20.0)
    edge_ambient_w_k: float = quantity("W/K", 0.5, 100, COMMON, gt=0, default=6.0)

    @model_validator(mode="after")
    def _ocv_rises(self) -> BankConfig:
        soc, v = self.ocv_soc_frac, self.ocv_cell_v
        if len(soc) != len(v) or len(soc) < 2:
            raise ValueError("ocv_soc_frac and ocv_cell_v need the same number of points, two or more")
        if soc[0] != 0.0 or soc[-1] != 1.0 or any(b <= a for a, b in pairwise(soc)):
            raise ValueError("ocv_soc_frac must rise from 0 to 1")
        if any(b < a for a, b in pairwise(v)):
            raise ValueError("ocv_cell_v must never fall")
        return self


class MonitorConfig(Section):
    """Bank monitor: errors of its readings, limits, permits, faults."""

    current_gain_error_pct: float = quantity("%", -2, 2, DATASHEET, gt=-50, lt=50, default=0.3)
    current_offset_a: float = quantity("A", -1, 1, DATASHEET, default=0.05)
    current_step_a: float = quantity("A", 0, 1, DATASHEET, ge=0, default=0.1)
    voltage_step_v: float = quantity("V", 0, 0.1, DATASHEET, ge=0, default=0.01)
    cell_step_v: float = quantity("V", 0, 0.01, DATASHEET, ge=0, default=0.001)
    temperature_step_c: float = quantity("K", 0, 2, DATASHEET, ge=0, default=1.0)
    soc_step_pct: float = quantity("%", 0, 1, "RV-C status 2 shows 0.5 %", ge=0, default=0.5)
    full_cell_v: float = quantity("V", 3.45, 3.65, CELL, gt=3.0, default=3.5)
    full_current_frac_c: float = quantity("1/h", 0.02, 0.1, "tail near 0.05C, from memory", gt=0, default=0.05)
    charge_limit_a: float = quantity("A", 20, 1500, "1C continuous, from memory", gt=0)
    discharge_limit_a: float = quantity("A", 20, 3000, "1C continuous, from memory", gt=0)
    cold_zero_c: float = quantity("degC", 0, 5, CELL, default=0.0)
    cold_full_c: float = quantity("degC", 5, 15, CELL, default=10.0)
    cold_limit_frac_c: float = quantity("1/h", 0.05, 0.3, "at most 0.2C below 10 degC, from memory", ge=0, default=0.2)
    hot_taper_c: float = quantity("degC", 35, 50, CELL, default=40.0)
    hot_zero_c: float = quantity("degC", 40, 55, CELL, default=45.0)
    permit_back_k: float = quantity("K", 0, 10, COMMON, ge=0, default=2.0)
    charge_taper_v: float = quantity("V", 3.40, 3.60, CELL, default=3.50)
    charge_off_v: float = quantity("V", 3.50, 3.65, CELL, default=3.60)
    charge_on_v: float = quantity("V", 3.35, 3.55, CELL, default=3.45)
    discharge_taper_v: float = quantity("V", 2.8, 3.1, CELL, default=3.00)
    discharge_off_v: float = quantity("V", 2.5, 2.9, CELL, default=2.70)
    discharge_on_v: float = quantity("V", 2.8, 3.2, CELL, default=3.00)
    charge_off_soc_pct: float = quantity("%", 95, 101, COMMON, gt=0, default=101.0)
    charge_on_soc_pct: float = quantity("%", 90, 101, COMMON, gt=0, default=101.0)
    discharge_off_soc_pct: float = quantity("%", 0, 15, COMMON, ge=-1, default=5.0)
    discharge_on_soc_pct: float = quantity("%", 2, 20, COMMON, ge=-1, default=8.0)
    over_voltage_v: float = quantity("V", 3.6, 3.8, CELL, default=3.70)
    under_voltage_v: float = quantity("V", 2.2, 2.7, CELL, default=2.50)
    over_temperature_c: float = quantity("degC", 45, 65, CELL, default=60.0)
    under_temperature_c: float = quantity("degC", -30, -5, CELL, default=-20.0)
    over_current_factor: float = quantity("1", 1.05, 2, COMMON, gt=1, default=1.25)
    flag_delay_s: float = quantity("s", 0, 10, COMMON, ge=0, default=1.0)
    warning_s: float = quantity("s", 0.5, 30, COMMON, ge=0, default=5.0)
    close_delay_s: float = quantity("s", 0.1, 5, COMMON, ge=0, default=0.5)

    @model_validator(mode="after")
    def _in_order(self) -> MonitorConfig:
        rising = (
            ("cold_zero_c", "cold_full_c"),
            ("hot_taper_c", "hot_zero_c"),
            ("hot_zero_c", "over_temperature_c"),
            ("charge_on_v", "charge_off_v"),
            ("charge_taper_v", "charge_off_v"),
            ("charge_off_v", "over_voltage_v"),
            ("under_voltage_v", "discharge_off_v"),
            ("discharge_off_v", "discharge_on_v"),
            ("discharge_off_v", "discharge_taper_v"),
        )
        for low, high in rising:
            if not getattr(self, low) < getattr(self, high):
                raise ValueError(f"{low} ({getattr(self, low)}) must be below {high} ({getattr(self, high)})")
        return self


class SupplyConfig(Section):
    """DC bus, hotel load, solar array, shore charger."""

    bus_capacitance_mf: float = quantity("mF", 1, 50, COMMON, gt=0, default=5.0)
    bleed_ohm: float = quantity("ohm", 100, 10000, COMMON, gt=0, default=500.0)
    hotel_drops_out_v: float = quantity("V", 15, 46, COMMON, gt=0, default=40.0)
    solar_stc_w: float = quantity("W", 0, 5000, OWN, ge=0)
    solar_gamma_pct_per_k: float = quantity("%/K", -0.5, -0.2, "crystalline silicon data sheets", le=0, default=-0.35)
    solar_noct_c: float = quantity("degC", 42, 50, "crystalline silicon data sheets", gt=20, default=46.0)
    solar_system_efficiency: float = quantity(
        "1", 0.75, 0.98, "14 % system losses, PVWatts manual 2014", gt=0, le=1, default=0.88
    )
    shore_charger_max_a: float = quantity("A", 0, 300, OWN, ge=0)
    absorption_v_per_cell: float = quantity("V", 3.4, 3.6, CELL, gt=3, default=3.5)
    source_lag_s: float = quantity("s", 0.005, 1, COMMON, gt=0, default=0.03)
    bank_cable: CableConfig | None = None


class PlantConfig(Section):
    """A plant file."""

    name: str
    description: str = ""
    hull: HullConfig
    bank: BankConfig
    monitor: MonitorConfig
    supply: SupplyConfig
    shaft: Annotated[list[ShaftConfig], Field(min_length=1, max_length=4)]
