"""The boat's TOML file as pydantic models: every key, its unit, its range and its default.

Unknown keys are refused everywhere. Cross checks between keys are in `supervisor.config.checks`.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field


class Strict(BaseModel):
    """Base of every table: no unknown keys, no silent coercion of strings, no NaN or infinity."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


Name = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,30}$")]
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
    cell_max_v: CellVolts = Field(default=3.65, description="absolute upper cell voltage")
    cell_min_v: CellVolts = Field(default=2.5, description="absolute lower cell voltage")
    opening_warning_s: Seconds = Field(
        description="time between the monitor's withdrawn permit and its contactor opening, from its manual"
    )


class Limits(Strict):
    """`[limits]`: what the supervisor keeps to. Defaults are a starting point; the ratings decide."""

    # charging
    full_charge_a: Amps = Field(description="limit on bank current below the taper")
    taper_start_pct: Percent = Field(default=88.0, description="charging limit begins to fall at this SOC")
    taper_end_pct: Percent = Field(default=94.0, description="and is zero here")
    charge_end_a: Amps = Field(default=10.0, description="charging ends, latched, below this limit")
    charge_restart_pct: Percent = Field(default=91.0, description="ended charging begins again below this SOC")
    cell_taper_start_v: CellVolts = Field(
        default=3.45, description="charging limit begins to fall at this highest cell"
    )
    cell_taper_end_v: CellVolts = Field(default=3.55, description="and is zero here")
    cold_zero_c: Celsius = Field(default=0.0, description="no charging with the coldest cell at or below")
    cold_full_c: Celsius = Field(default=10.0, description="full charging above")
    cold_c_rate: float = Field(default=0.2, ge=0, le=1, description="charging limit between the two, in C")
    hot_start_c: Celsius = Field(default=40.0, description="charging limit begins to fall at this hottest cell")
    hot_zero_c: Celsius = Field(default=45.0, description="and is zero here")
    charge_rise_a_per_s: float = Field(default=4.0, gt=0, le=1000, description="soft start, each shaft")
    charge_fall_a_per_s: float = Field(
        default=40.0, gt=0, le=10000, description="fall of charging current when nothing is wrong, each shaft"
    )
    brake_cold_c_rate: float = Field(
        default=0.05, ge=0, le=0.2, description="braking current in C while cells are too cold, too hot or unknown"
    )
    brake_cold_s: float = Field(default=10.0, ge=0, le=60, description="and for this long, regained in ten times that")
    source_over_a: float = Field(
        default=5.0, gt=0, le=100, description="other sources may feed this much more than the limit in force"
    )
    source_over_s: float = Field(default=2.0, gt=0, le=30, description="and for this long; then they are stopped")
    source_stop_s: float = Field(
        default=300.0, ge=0, le=3600, description="at least this long, and until the limit exceeds what they gave"
    )
    source_return_s: float = Field(
        default=30.0, ge=0, le=600, description="the stop output stays set for this at least"
    )
    full_charge_reminder_days: float = Field(
        default=30.0, gt=0, le=365, description="days without a full charge before the crew is reminded"
    )
    # discharging
    derate_start_pct: Percent = Field(default=26.0, description="propulsion power begins to fall at this SOC")
    derate_end_pct: Percent = Field(default=18.0, description="lower limit: at the floor here, then thrust ends")
    derate_return_pct: Percent = Field(default=21.0, description="thrust may return above this SOC")
    derate_floor_pct: float = Field(default=15.0, ge=5, le=50, description="propulsion power at the lower limit")
    derate_dip_s: float = Field(
        default=10.0, ge=0, le=60, description="the SOC must read at or below the lower limit this long to end thrust"
    )
    derate_rate_pct_per_s: float = Field(default=2.0, gt=0, le=100, description="the derate moves no faster than this")
    cell_derate_start_v: CellVolts = Field(
        default=3.0, description="propulsion power begins to fall at this lowest cell"
    )
    cell_derate_end_v: CellVolts = Field(default=2.8, description="and is at the floor here")
    cell_derate_fall_pct_per_s: float = Field(
        default=100.0, gt=0, le=1000, description="by the lowest cell power falls no faster than this"
    )
    bank_rise_pct_per_s: float = Field(
        default=5.0,
        gt=0,
        le=100,
        description="and rises no faster; no more does what the monitor allows, of max_discharge_a",
    )
    unknown_soc_pct: float = Field(default=50.0, ge=10, le=80, description="propulsion while the SOC is stale")
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
    neutral_wait_s: float = Field(default=30.0, gt=0, le=600, description="enabling gives up after this time")
    lever_hold_s: float = Field(default=0.0, ge=0, le=10, description="a lost lever's order is kept this long")
    lever_ramp_s: float = Field(default=3.0, gt=0, le=30, description="then ramped to zero")
    pause_s: float = Field(
        default=0.2, gt=0, le=0.5, description="lock, clutch, gear or engine contact away for less: thrust comes back"
    )
    pause_window_s: float = Field(default=10.0, gt=0, le=120, description="the third pause in this time ends thrust")
    shore_still_s: float = Field(
        default=60.0,
        gt=0,
        le=3600,
        description="lain still in neutral for this, the shore cable bars thrust again",
    )
    coupling_pct: float = Field(default=5.0, gt=0, le=50, description="drive and shaft may differ in speed by this")
    coupling_rpm: float = Field(
        default=40.0, gt=0, le=500, description="and by this, for speeds that are some frames old"
    )
    coupling_s: float = Field(default=0.3, gt=0, le=5, description="for longer, at work: belt or coupling is lost")
    slip_s: float = Field(
        default=0.3, gt=0, le=60, description="half as far apart for this long in all is told as a slip"
    )
    jam_from_pct: float = Field(default=40.0, ge=10, le=100, description="this much torque must turn the shaft")
    jam_s: float = Field(default=1.0, gt=0, le=10, description="within this time, or it is cut; twice that: isolated")
    jam_pct: float = Field(
        default=30.0, ge=5, le=100, description="what torque is cut to on a shaft that does not turn"
    )
    hold_s: float = Field(default=20.0, gt=2, le=300, description="a shaft is held for its lock no longer than this")
    disobey_s: float = Field(default=0.1, gt=0, le=0.5, description="a drive may disobey a zero order this long")
    disobey_torque_pct: float = Field(
        default=5.0, gt=0, le=10, description="more than this at a zero order is disobeying, of rated torque"
    )
    disobey_current_a: float = Field(default=5.0, gt=0, le=20, description="and more than this current")
    disable_s: float = Field(default=5.0, gt=0, le=60, description="off drops the boat to STANDBY at the latest")
    idle_reminder_s: float = Field(
        default=600.0, gt=0, le=86400, description="READY without an order: reminder by screen and sounder"
    )
    idle_off_s: float = Field(default=300.0, gt=0, le=86400, description="after the reminder")
    permit_zero_s: float = Field(default=0.2, gt=0, le=1, description="own current zero after a withdrawn permit")


class Drive(Strict):
    """`[shaft.drive]`: electric machine with its inverter; torque and speed quoted at the propeller shaft."""

    rated_torque_nm: float = Field(gt=0, le=20000, description="propulsion")
    rated_power_kw: float = Field(gt=0, le=500, description="propulsion, shaft power")
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
        default=None, gt=0, le=5000, description="rectified back-EMF at the DC link, per 1000 rpm of the shaft"
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
        default=5.0, gt=0, le=10, description="a link this near to the bank voltage is precharged"
    )
    torque_slew_nm_per_s: float = Field(gt=0, le=100000, description="ordered torque grows no faster")
    reversal_dwell_s: Seconds = Field(default=0.5, description="time at zero before thrust reverses")
    motor_derate_start_c: Celsius = Field(default=120.0, description="power and torque begin to fall")
    motor_derate_end_c: Celsius = Field(default=140.0, description="and are zero here")
    inverter_derate_start_c: Celsius = Field(default=75.0, description="the same by the inverter")
    inverter_derate_end_c: Celsius = Field(default=85.0, description="the same by the inverter")
    coolant_derate_start_c: Celsius = Field(default=60.0, description="the same by the coolant")
    coolant_derate_end_c: Celsius = Field(default=70.0, description="the same by the coolant")


class Engine(Strict):
    """`[shaft.engine]`: the diesel on this shaft."""

    rated_power_kw: float = Field(gt=0, le=2000, description="from the maker's sheet")
    idle_rpm: Rpm = Field(gt=0, description="at the crankshaft")
    max_rpm: Rpm = Field(gt=0, description="at the crankshaft, governed")
    torque_curve: list[CurvePoint] = Field(
        min_length=2, max_length=8, description="[rpm, N m] at the crankshaft, rising rpm, from the maker's curve"
    )
    headroom: Fraction = Field(default=0.8, description="share of spare engine torque that charging may take")
    sag_rpm: float = Field(default=60.0, gt=0, le=1000, description="ramp pauses here, backs off at twice this")


class Gearbox(Strict):
    """`[shaft.gearbox]`."""

    ratio: float = Field(gt=0.2, le=10, description="engine turns for one turn of the shaft")
    trailing_allowed: bool = Field(default=False, description="the gearbox maker decides")
    trailing_limit_s: Seconds = Field(default=0.0, description="0: no limit")
    open_when_stopped: bool = Field(
        default=False, description="a stopped engine is uncoupled whatever the gear: the gearbox maker says so"
    )


class Clutch(Strict):
    """`[shaft.clutch]`."""

    fitted: bool = Field(description="a clutch between machine side and propeller side")
    close_within_rpm: Rpm = Field(default=30.0, description="both sides within this before it may close")


class Lock(Strict):
    """`[shaft.lock]`."""

    fitted: bool = Field(description="a shaft lock")
    still_s: Seconds = Field(default=2.0, description="shaft still this long before it may engage")


class ShaftRules(Strict):
    """`[shaft.rules]`: this shaft's own thresholds."""

    still_rpm: float = Field(default=5.0, gt=0, le=30, description="below this a side is still")
    generate_min_rpm: float = Field(default=100.0, ge=50, le=2000, description="no charging torque below")
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
        description="a shaft held for its lock gets full torque this far from still: wider if it hunts",
    )
    harvest_nm_per_krpm2: float = Field(
        ge=0, le=1e6, description="harvest torque at 1000 rpm of the shaft, rising with the square of speed"
    )


class SignalMap(Strict):
    """Where a value comes from: a signal of a DBC message on a bus."""

    bus: Name = Field(description="name of a bus of this file")
    message: str = Field(description="name of a message in its DBC files")
    signal: str = Field(description="name of a signal of that message")
    stale_s: float = Field(gt=0, le=600, description="older than this is stale: 3 to 5 nominal periods")
    low: float | None = Field(default=None, description="least plausible value")
    high: float | None = Field(default=None, description="greatest plausible value")
    factor: float = Field(default=1.0, description="applied after the DBC's own scaling, e.g. -1 to turn a sign")
    offset: float = Field(default=0.0, description="added after the factor")
    values: dict[str, float] | None = Field(default=None, description="raw value -> number, for coded fields")
    invert: bool = Field(default=False, description="contacts only: 0 means true")
    where: dict[str, int] = Field(default_factory=dict, description="other signals of the message that must match")
    source: int | None = Field(default=None, ge=0, le=253, description="source address, 29-bit identifiers")


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
        default="bad", description='what a signal that is not known counts as; "good" for effect warn only'
    )
    effect: EffectName = Field(description="what it does while it is bad")
    shafts: list[Name] | None = Field(default=None, description="names of the shafts that it acts on; else all")
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
        default="private", description="drive bus of our own, or an NMEA 2000 backbone"
    )
    interface: str = Field(default="virtual", description="adapter, as python-can names it")
    channel: str = Field(description="the adapter's channel or port")
    bitrate: Literal[125000, 250000, 500000, 1000000] = Field(default=250000, description="bit/s")
    dbc: list[str] = Field(min_length=1, description="DBC files, relative to this file")


class Boat(Strict):
    """`[boat]`."""

    name: Name = Field(description="short name")
    title: str = Field(min_length=1, max_length=200, description="as it stands in reports")
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
        default_factory=dict, description="message -> period of sending, s; else each tick"
    )
    interlock: list[Interlock] = Field(default_factory=list, max_length=16)
    simulation: Simulation | None = None
