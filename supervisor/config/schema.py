"""The boat's TOML file as pydantic models: every key, its unit, its range and its default.

Unknown keys are refused everywhere. Cross checks between keys are in `supervisor.config.checks`.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class Strict(BaseModel):
    """Base of every table: no unknown keys, no silent coercion of strings, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


NAME_PATTERN = r"^[a-z][a-z0-9_]{0,30}$"
Name = Annotated[str, Field(pattern=NAME_PATTERN)]
Percent = Annotated[float, Field(ge=0, le=100)]
Fraction = Annotated[float, Field(gt=0, le=1)]
Seconds = Annotated[float, Field(ge=0, le=86400)]
Amps = Annotated[float, Field(ge=0, le=5000)]
Rpm = Annotated[float, Field(ge=0, le=8000)]
Celsius = Annotated[float, Field(ge=-40, le=200)]
CellVolts = Annotated[float, Field(ge=1, le=5)]

CurvePoint = Annotated[tuple[float, float], Field(strict=False)]
ReactionName = Literal["warn", "derate", "inhibit_charge", "ramp_down", "trip_shaft", "trip_boat"]
EffectName = Literal[
    "warn", "inhibit_thrust", "stop_thrust", "ramp_thrust", "limit_thrust", "inhibit_charge", "unload_charge",
    "stop_charge", "stop_both", "inhibit_engine_start", "trip_shaft", "trip_boat",
]  # fmt: skip
"""The names of `OwnEffect`; a test holds the two equal."""


class Bank(Strict):
    """`[bank]`: ratings of the lithium bank, from its data sheet."""

    capacity_ah: float = Field(gt=0, le=10000, description="rated capacity")
    cells_in_series: int = Field(ge=1, le=300, description="cells, or parallel groups, in series")
    min_voltage_v: float = Field(gt=0, le=1000, description="lowest working voltage of the bank")
    max_voltage_v: float = Field(gt=0, le=1000, description="highest working voltage of the bank")
    max_charge_a: Amps = Field(description="rating for continuous charging")
    max_discharge_a: Amps = Field(description="rating for continuous discharging")
    cell_max_v: CellVolts = Field(
        default=3.65,
        description=(
            "rating: absolute upper cell voltage, from the data sheet; the input of the same name is the measured value"
        ),
    )
    cell_min_v: CellVolts = Field(
        default=2.5,
        description=(
            "rating: absolute lower cell voltage, from the data sheet; the input of the same name is the measured value"
        ),
    )
    opening_warning_s: Seconds = Field(
        description="time from the bank monitor's withdrawn permit to the opening of its contactor, from its manual"
    )


class Limits(Strict):
    """`[limits]`: what the supervisor keeps to. Defaults are a starting point; the ratings decide."""

    # charging
    full_charge_a: Amps = Field(description="limit on charging current of the bank, below the taper")
    taper_start_pct: Percent = Field(default=88.0, description="limit on charging current begins to fall at this SOC")
    taper_end_pct: Percent = Field(default=94.0, description="limit on charging current is zero at this SOC")
    charge_end_a: Amps = Field(
        default=10.0, description="charging ends, latched, when the limit on charging current falls below this"
    )
    charge_restart_pct: Percent = Field(default=91.0, description="ended charging begins again below this SOC")
    cell_taper_start_v: CellVolts = Field(
        default=3.45, description="limit on charging current begins to fall at this voltage of the highest cell"
    )
    cell_taper_end_v: CellVolts = Field(
        default=3.55, description="limit on charging current is zero at this voltage of the highest cell"
    )
    cold_zero_c: Celsius = Field(
        default=0.0, description="no charging with the coldest cell at or below this temperature, degC"
    )
    cold_full_c: Celsius = Field(
        default=10.0, description="no limit by cold above this temperature of the coldest cell, degC"
    )
    cold_c_rate: float = Field(
        default=0.2,
        ge=0,
        le=1,
        description=(
            "limit on charging current between cold_zero_c and cold_full_c, as part of capacity_ah: 0.2 "
            "means 0.2 x capacity_ah in A"
        ),
    )
    hot_start_c: Celsius = Field(
        default=40.0,
        description="limit on charging current begins to fall at this temperature of the hottest cell, degC",
    )
    hot_zero_c: Celsius = Field(
        default=45.0, description="limit on charging current is zero at this temperature of the hottest cell, degC"
    )
    charge_rise_a_per_s: float = Field(
        default=4.0, gt=0, le=1000, description="soft start: charging current of a shaft rises no faster"
    )
    charge_fall_a_per_s: float = Field(
        default=40.0, gt=0, le=10000, description="charging current of a shaft falls this fast when nothing is wrong"
    )
    brake_cold_c_rate: float = Field(
        default=0.05,
        ge=0,
        le=0.2,
        description=(
            "limit on braking current while cells are too cold, too hot or unknown, as part of capacity_ah: "
            "0.05 means 0.05 x capacity_ah in A"
        ),
    )
    brake_cold_s: float = Field(
        default=10.0,
        ge=0,
        le=60,
        description="longest time of such braking; it is available again after ten times that time",
    )
    source_over_a: float = Field(
        default=5.0,
        gt=0,
        le=100,
        description="other sources (shore charger, alternators, solar) may charge this much above the limit in force",
    )
    source_over_s: float = Field(
        default=2.0, gt=0, le=30, description="other sources get the stop signal after this time above the limit"
    )
    source_stop_s: float = Field(
        default=300.0,
        ge=0,
        le=3600,
        description="other sources stay stopped at least this long, and until the limit exceeds what they gave",
    )
    source_return_s: float = Field(
        default=30.0, ge=0, le=600, description="shortest time that the stop output to other sources stays set"
    )
    full_charge_reminder_days: float = Field(
        default=30.0, gt=0, le=365, description="days without a full charge before the crew is reminded"
    )
    # discharging
    derate_start_pct: Percent = Field(default=26.0, description="electric thrust begins to be reduced at this SOC")
    derate_end_pct: Percent = Field(
        default=18.0, description="lower limit: power is derate_floor_pct here; below it thrust ends"
    )
    derate_return_pct: Percent = Field(default=21.0, description="thrust may return above this SOC")
    derate_floor_pct: float = Field(
        default=15.0, ge=5, le=50, description="power of electric thrust at the lower limit, of rated power"
    )
    derate_dip_s: float = Field(
        default=10.0, ge=0, le=60, description="the SOC must read at or below the lower limit this long to end thrust"
    )
    derate_rate_pct_per_s: float = Field(default=2.0, gt=0, le=100, description="the derate moves no faster than this")
    cell_derate_start_v: CellVolts = Field(
        default=3.0, description="electric thrust begins to be reduced at this voltage of the lowest cell"
    )
    cell_derate_end_v: CellVolts = Field(
        default=2.8, description="power is derate_floor_pct at this voltage of the lowest cell"
    )
    cell_derate_fall_pct_per_s: float = Field(
        default=100.0, gt=0, le=1000, description="when the lowest cell is low, power falls no faster than this"
    )
    bank_rise_pct_per_s: float = Field(
        default=5.0,
        gt=0,
        le=100,
        description=(
            "after a fall by the lowest cell, power rises no faster than this; so does the discharge limit "
            "of the bank monitor, in % of max_discharge_a"
        ),
    )
    unknown_soc_pct: float = Field(
        default=50.0, ge=10, le=80, description="power of electric thrust while the SOC is unknown, of rated power"
    )
    time_to_limit_s: Seconds = Field(default=900.0, description="warning ahead of the lower limit")
    # handset
    handset_thrust_pct: Percent = Field(default=50.0, description="most thrust by handset, of rated torque")
    handset_low_minutes: float = Field(
        default=15.0, ge=0, le=600, description="the crew is warned below this running time of the handset"
    )
    # times
    neutral_s: float = Field(
        default=0.5, ge=0.1, le=10, description="levers in neutral before READY and before REARMED"
    )
    neutral_wait_s: float = Field(default=30.0, gt=0, le=600, description="NEUTRAL_WAIT lasts no longer than this")
    lever_hold_s: float = Field(default=0.0, ge=0, le=10, description="a lost lever's order is kept this long")
    lever_ramp_s: float = Field(
        default=3.0,
        gt=0,
        le=30,
        description="after lever_hold_s, thrust of a lost lever is ramped to zero in this time",
    )
    pause_s: float = Field(
        default=0.2,
        gt=0,
        le=0.5,
        description="a contact of lock, clutch, gearbox or engine that changes for less than this only pauses thrust",
    )
    pause_window_s: float = Field(default=10.0, gt=0, le=120, description="the third pause in this time ends thrust")
    shore_still_s: float = Field(
        default=60.0,
        gt=0,
        le=3600,
        description="after this time still and in neutral, a connected shore cable blocks thrust again",
    )
    coupling_pct: float = Field(
        default=5.0, gt=0, le=50, description="drive and shaft may differ in speed by this percentage"
    )
    coupling_rpm: float = Field(
        default=40.0, gt=0, le=500, description="plus this, because the two speeds are not measured at one moment"
    )
    coupling_s: float = Field(
        default=0.3,
        gt=0,
        le=5,
        description="a larger difference for this time, while the shaft works, means: belt or coupling is lost",
    )
    slip_s: float = Field(
        default=0.3, gt=0, le=60, description="alarm COUPLING_SLIPS: half of that difference, added up to this time"
    )
    jam_from_pct: float = Field(
        default=40.0,
        ge=10,
        le=100,
        description="this much torque, of rated torque, must turn the shaft; below it a jam is not seen",
    )
    jam_s: float = Field(
        default=1.0,
        gt=0,
        le=10,
        description=(
            "if the shaft does not turn in this time, torque is cut to jam_pct; after twice this time the "
            "shaft goes to ISOLATED"
        ),
    )
    jam_pct: float = Field(
        default=30.0, ge=5, le=100, description="torque on a shaft that does not turn is cut to this, of rated torque"
    )
    hold_s: float = Field(default=20.0, gt=2, le=300, description="a shaft is held for its lock no longer than this")
    disobey_s: float = Field(default=0.1, gt=0, le=0.5, description="a drive may disobey a zero order this long")
    disobey_torque_pct: float = Field(
        default=5.0, gt=0, le=10, description="more than this at a zero order is disobeying, of rated torque"
    )
    disobey_current_a: float = Field(
        default=5.0, gt=0, le=20, description="more than this current at a zero order is disobeying"
    )
    disable_s: float = Field(
        default=5.0, gt=0, le=60, description="after OFF the boat is in STANDBY at the latest after this time"
    )
    idle_reminder_s: float = Field(
        default=600.0, gt=0, le=86400, description="READY without an order: reminder by screen and sounder"
    )
    idle_off_s: float = Field(default=300.0, gt=0, le=86400, description="READY ends this long after the reminder")
    permit_zero_s: float = Field(
        default=0.2,
        gt=0,
        le=1,
        description="the drives' current is zero this long after the bank monitor withdraws a permit",
    )


class Drive(Strict):
    """`[shaft.drive]`: electric machine with its inverter; torque and speed quoted at the propeller shaft."""

    rated_torque_nm: float = Field(gt=0, le=20000, description="rated torque for electric thrust")
    rated_power_kw: float = Field(gt=0, le=500, description="rated shaft power for electric thrust")
    generate_power_kw: float = Field(gt=0, le=500, description="continuous generating, electrical power")
    generate_torque_nm: float = Field(gt=0, le=20000, description="highest charging torque")
    max_speed_rpm: Rpm = Field(gt=0, description="highest speed of the shaft, whatever turns it")
    max_current_a: Amps = Field(gt=0, description="DC current, either way")
    efficiency: Fraction = Field(
        default=0.95, description="best efficiency; limits on current are turned to torque with it"
    )
    motor_efficiency: Fraction = Field(
        default=0.8, description="lowest in normal driving; limits on discharging are turned to torque with it"
    )
    back_emf_v_per_krpm: float | None = Field(
        default=None,
        gt=0,
        le=5000,
        description=(
            "rectified back-EMF at the DC link, per 1000 rpm of the shaft; required, unless "
            "rectification_protected = true"
        ),
    )
    rectification_protected: bool = Field(
        default=False, description="declared: the drive cannot rectify into the link when turned fast"
    )
    no_load_loss_w: float = Field(
        default=0.0,
        ge=0,
        le=5000,
        description="power it draws at zero torque and this shaft's highest speed; 0: little",
    )
    response_s: float = Field(default=0.04, gt=0, le=1, description="time from full torque to zero")
    precharge_s: float = Field(default=3.0, gt=0, le=60, description="precharge takes at most this long")
    link_tolerance_pct: float = Field(
        default=5.0, gt=0, le=10, description="a DC link this near to the bank voltage is precharged"
    )
    torque_slew_nm_per_s: float = Field(gt=0, le=100000, description="ordered torque grows no faster")
    reversal_dwell_s: Seconds = Field(default=0.5, description="time at zero before thrust reverses")
    motor_derate_start_c: Celsius = Field(
        default=120.0, description="power and torque begin to fall at this motor temperature"
    )
    motor_derate_end_c: Celsius = Field(
        default=140.0, description="power and torque are zero at this motor temperature"
    )
    inverter_derate_start_c: Celsius = Field(
        default=75.0, description="power and torque begin to fall at this inverter temperature"
    )
    inverter_derate_end_c: Celsius = Field(
        default=85.0, description="power and torque are zero at this inverter temperature"
    )
    coolant_derate_start_c: Celsius = Field(
        default=60.0, description="power and torque begin to fall at this coolant temperature"
    )
    coolant_derate_end_c: Celsius = Field(
        default=70.0, description="power and torque are zero at this coolant temperature"
    )


class Engine(Strict):
    """`[shaft.engine]`: the diesel on this shaft."""

    rated_power_kw: float = Field(gt=0, le=2000, description="rated power of the engine, from the data sheet")
    idle_rpm: Rpm = Field(gt=0, description="idle speed at the crankshaft")
    max_rpm: Rpm = Field(gt=0, description="highest speed at the crankshaft, held by the governor")
    torque_curve: list[CurvePoint] = Field(
        min_length=2, max_length=8, description="[rpm, N m] at the crankshaft, rising rpm, from the maker's curve"
    )
    headroom: Fraction = Field(default=0.8, description="share of spare engine torque that charging may take")
    sag_rpm: float = Field(
        default=60.0,
        gt=0,
        le=1000,
        description="charging current stops rising when the engine has lost this much speed, and falls at twice this",
    )


class Gearbox(Strict):
    """`[shaft.gearbox]`."""

    ratio: float = Field(gt=0.2, le=10, description="engine turns for one turn of the shaft")
    trailing_allowed: bool = Field(
        default=False, description="true: the maker allows the gearbox to turn while its engine is stopped"
    )
    trailing_limit_s: Seconds = Field(
        default=0.0,
        description="longest time of harvest, s, counted until the shaft is still or the engine runs; 0: no limit",
    )
    open_when_stopped: bool = Field(
        default=False,
        description="true: the maker states that the gearbox transmits nothing when its engine is stopped, in any gear",
    )


class Clutch(Strict):
    """`[shaft.clutch]`."""

    fitted: bool = Field(
        description="true: there is a clutch between the machine side and the propeller side of the shaft"
    )
    close_within_rpm: Rpm = Field(
        default=30.0, description="the clutch may close when both sides turn within this of each other"
    )


class Lock(Strict):
    """`[shaft.lock]`."""

    fitted: bool = Field(description="true: there is a shaft lock")
    still_s: Seconds = Field(default=2.0, description="the lock may engage when the shaft has been still for this long")


class ShaftRules(Strict):
    """`[shaft.rules]`: this shaft's own thresholds."""

    still_rpm: float = Field(default=5.0, gt=0, le=30, description="a side of the shaft is still below this speed")
    generate_min_rpm: float = Field(
        default=100.0, ge=50, le=2000, description="no charging torque below this speed of the shaft"
    )
    neutral_band_pct: float = Field(
        default=5.0, ge=1, le=20, description="lever positions this near to zero ask nothing"
    )
    propeller_nm_per_krpm2: float = Field(
        ge=0, le=1e6, description="propeller torque at 1000 rpm of the shaft, rising with the square of speed"
    )
    hold_band_rpm: float = Field(
        default=80.0,
        ge=10,
        le=2000,
        description=(
            "distance from standstill at which the hold for the lock uses full torque; make it larger if "
            "the shaft swings"
        ),
    )
    harvest_nm_per_krpm2: float = Field(
        ge=0, le=1e6, description="harvest torque at 1000 rpm of the shaft, rising with the square of speed"
    )


class SignalMap(Strict):
    """Where a value comes from: a signal of a DBC message on a bus."""

    bus: Name = Field(description="name of a bus of this file")
    message: str = Field(description="name of a message in its DBC files")
    signal: str = Field(description="name of a signal of that message")
    stale_s: float = Field(
        gt=0, le=600, description="a value older than this is unknown; 3 to 5 periods of the message"
    )
    low: float | None = Field(default=None, description="least plausible value")
    high: float | None = Field(default=None, description="greatest plausible value")
    factor: float = Field(default=1.0, description="applied after the DBC's own scaling, e.g. -1 to turn a sign")
    offset: float = Field(default=0.0, description="added after the factor")
    values: dict[str, float] | None = Field(
        default=None, description="which number each raw code stands for; a code not listed is not available"
    )
    invert: bool = Field(default=False, description="contacts only: 0 means true")
    where: dict[str, int] = Field(
        default_factory=dict, description="raw codes that other signals of the message must have"
    )
    source: int | None = Field(
        default=None, ge=0, le=253, description="the only source address accepted; for 29-bit identifiers"
    )


class InputMap(SignalMap):
    """Where one input comes from."""

    reaction: ReactionName | None = Field(
        default=None, description="stronger reaction than the input's own when it is lost"
    )


class Interlock(SignalMap):
    """`[[interlock]]`: an interlock of the owner's own: words, where it comes from, when it is bad, what it does."""

    name: Name = Field(description="short name, in reports and procedures")
    good: str = Field(min_length=1, max_length=80, description="what is so while it is good, in words")
    bad: str = Field(min_length=1, max_length=80, description="what is so while it is bad, in words")
    good_when: Literal["on", "off"] | None = Field(default=None, description="a contact: the state in which it is good")
    bad_above: float | None = Field(default=None, description="a number: bad from here upwards")
    bad_below: float | None = Field(default=None, description="a number: bad from here downwards")
    hysteresis: float | None = Field(
        default=None, description="a number: good again this much on the good side of the threshold; above 0"
    )
    debounce_s: float = Field(default=0.2, ge=0, le=60, description="it must be bad for this long")
    unknown: Literal["bad", "good"] = Field(
        default="bad", description='what an unknown signal counts as; "good" only with effect = "warn"'
    )
    effect: EffectName = Field(description="what it does while it is bad")
    shafts: list[Name] | None = Field(default=None, description="names of the shafts that it acts on; left out: all")
    limit_pct: float | None = Field(
        default=None, ge=1, le=99, description="limit_thrust: most thrust, of rated torque and power"
    )
    astern: bool = Field(default=False, description="limit_thrust: thrust astern is limited too")


class OutputMap(Strict):
    """Where one output goes: a signal of a DBC message on a bus."""

    bus: Name
    message: str
    signal: str


class Shaft(Strict):
    """`[[shaft]]`: one propeller shaft with its drive, engine, gearbox, clutch, lock and lever."""

    name: Name
    drive: Drive
    engine: Engine
    gearbox: Gearbox
    clutch: Clutch
    lock: Lock
    rules: ShaftRules
    inputs: dict[str, InputMap]
    not_fitted: list[str] = Field(default_factory=list)
    outputs: dict[str, OutputMap] = Field(default_factory=dict)


class Bus(Strict):
    """`[buses.NAME]`: one CAN bus."""

    kind: Literal["private", "nmea2000"] = Field(
        default="private", description="private: the drive bus; nmea2000: an NMEA 2000 backbone"
    )
    interface: str = Field(default="virtual", description="adapter, as python-can names it")
    channel: str = Field(description="the adapter's channel or port")
    bitrate: Literal[125000, 250000, 500000, 1000000] = Field(default=250000, description="bit/s")
    dbc: list[str] = Field(min_length=1, description="DBC files, relative to this file")


class Boat(Strict):
    """`[boat]`."""

    name: Name = Field(description="short name")
    title: str = Field(min_length=1, max_length=200, description="name of the boat as reports print it")
    tick_s: float = Field(default=0.02, ge=0.005, le=0.1, description="period of the supervisor, s")
    listen_only: bool = Field(default=False, description="only ever replays recordings: inputs may be left unmapped")
    handset_id: int = Field(default=0, ge=0, le=255, description="pairing code that the handset sends; 0: no handset")


class Simulation(Strict):
    """`[simulation]`: where the simulated boat is described; the supervisor does not read it."""

    plant: str


class BoatConfig(Strict):
    """A whole boat file."""

    boat: Boat
    bank: Bank
    limits: Limits
    buses: dict[Name, Bus] = Field(min_length=1, max_length=2)
    shaft: list[Shaft] = Field(default_factory=list, max_length=4)
    inputs: dict[str, InputMap]
    not_fitted: list[str] = Field(default_factory=list)
    outputs: dict[str, OutputMap] = Field(default_factory=dict)
    periods: dict[str, float] = Field(
        default_factory=dict,
        description="message and its period of sending, s; a message not named is sent in each tick",
    )
    interlock: list[Interlock] = Field(default_factory=list, max_length=16)
    simulation: Simulation | None = None
