"""State, inputs and commands of the plant.

Signs: bank and drive DC current positive INTO the bank; torque and speed positive AHEAD; SOC in percent of rated
capacity; time in seconds. Ints are used for switches and positions, floats for everything else.
"""

from __future__ import annotations

from typing import NamedTuple

POSITION_IN_TRANSIT = -1
POSITION_OFF = 0
POSITION_ON = 1

FLAG_CELL_OVER_VOLTAGE = 1
FLAG_CELL_UNDER_VOLTAGE = 2
FLAG_OVER_TEMPERATURE = 4
FLAG_UNDER_TEMPERATURE = 8
FLAG_OVER_CURRENT_CHARGE = 16
FLAG_OVER_CURRENT_DISCHARGE = 32
FLAG_INTERNAL = 64

DRIVE_OK = 0
DRIVE_OVER_VOLTAGE = 1
DRIVE_UNDER_VOLTAGE = 2
DRIVE_OVER_TEMPERATURE = 3
DRIVE_OVER_SPEED = 4


class BankState(NamedTuple):
    """The bank as it really is (the monitor's view of it is :class:`MonitorState`)."""

    soc_pct: float
    """True state of charge of the average cell, percent of rated capacity: 0 to 100, 101 when overcharged, -1 when
    driven below empty."""
    weak_soc_pct: float
    strong_soc_pct: float
    terminal_v: float
    current_a: float
    """Bank current, positive into the bank."""
    emf_v: float
    """Open-circuit plus RC voltages of all cells: the voltage behind the series resistance."""
    resistance_ohm: float
    """Series resistance of all cells at this temperature and SOC."""
    rc1_v: float
    rc2_v: float
    cell_max_v: float
    cell_min_v: float
    core_c: float
    """Hottest cell (middle of the pack)."""
    edge_c: float
    """Coldest cell (edge of the pack)."""
    contactor_closed: int
    isolator_on: int
    """The crew's isolator switch as last seen."""
    charged_ah: float
    discharged_ah: float
    charged_wh: float
    discharged_wh: float
    heat_wh: float
    """Heat set free in the cells since the start, Wh; what an overcharged cell no longer stores is heat."""


class PacksState(NamedTuple):
    """Which of the parallel packs are connected."""

    share: float
    """Share of the capacity that the bank's own state stands for: 1 until a pack drops out."""
    joined: int
    """0 while the others are off the bus."""
    current_a: float
    """Current into those that dropped out and are back."""
    peak_a: float
    """The greatest current, whichever way, between the two since the start."""
    others: BankState
    """The packs that dropped out, their current as if the whole bank were like them."""


class MonitorState(NamedTuple):
    """What the bank monitor measures, estimates, permits and orders."""

    soc_pct: float
    """SOC the monitor shows (quantised)."""
    counted_as: float
    """Coulomb count, ampere-seconds of charge the monitor believes is in the bank."""
    current_a: float
    terminal_v: float
    cell_max_v: float
    cell_min_v: float
    hot_c: float
    cold_c: float
    charge_permit: int
    discharge_permit: int
    charge_limit_a: float
    discharge_limit_a: float
    flags: int
    """FLAG_... bits, injected faults included."""
    flag_timer_s: float
    warning: int
    """1 while the monitor announces that it will open the contactor."""
    warning_timer_s: float
    contactor_order: int
    tripped: int
    """1 after the monitor opened the contactor for a fault; cleared by isolator off, with the cause gone."""
    close_timer_s: float


class BusState(NamedTuple):
    """The boat's DC bus."""

    bus_v: float
    peak_v: float
    """Highest bus voltage since the start: a load dump shows here."""
    hotel_current_a: float
    solar_current_a: float
    shore_current_a: float
    solar_available_w: float
    inrush_a: float
    """The greatest current, A, since the start, with which a closing contactor began to charge what is on the bus."""


class StarterState(NamedTuple):
    """The starter battery of an engine."""

    soc_pct: float
    battery_v: float
    current_a: float
    """Into the battery."""
    alternator_a: float


class EngineState(NamedTuple):
    """Diesel engine; torque is brake torque at the flywheel."""

    speed_rpm: float
    running: int
    cranking: int
    stalled: int
    """1 after the engine was dragged below its stall speed; cleared when it runs again."""
    torque_nm: float
    rack_frac: float
    fire_timer_s: float
    fuel_l: float
    fuel_l_h: float
    temperature_c: float
    starter: StarterState


class GearboxState(NamedTuple):
    """Reversing gearbox: engaged is 1 ahead, 0 neutral, -1 astern."""

    engaged: int
    in_transit: int
    order: int
    timer_s: float
    torque_nm: float
    """Torque passed to the machine side, at the output."""


class DriveState(NamedTuple):
    """Electric machine and inverter, quoted at the shaft."""

    torque_nm: float
    """Torque of the machine on the shaft, rectified braking torque included."""
    active_torque_nm: float
    """The part the inverter commands."""
    current_a: float
    """DC current, positive into the bank."""
    power_w: float
    """DC power, positive into the bank."""
    loss_w: float
    link_v: float
    link_peak_v: float
    relay_closed: int
    enabled: int
    """1 while the gates are on: the drive follows its torque order."""
    fault: int
    """DRIVE_... code, latched until drive_enable is 0."""
    rectifying: int
    """1 while back-EMF above the link voltage conducts."""
    motor_c: float
    inverter_c: float
    coolant_c: float
    rectified_a: float = 0.0
    """The part of the current that diodes feed, which no gate stops, A."""
    inrush_a: float = 0.0
    """The greatest current, A, since the start, with which a closing relay began to bring the link to the bus."""
    link_j: float = 0.0
    """Energy that went through precharge and closing relays into the link since the start, J."""


class LineState(NamedTuple):
    """Shaft line: speeds of both sides, clutch, lock, propeller."""

    machine_rpm: float
    propeller_rpm: float
    clutch_position: int
    """1 closed, 0 open, -1 in transit."""
    clutch_frac: float
    lock_position: int
    """1 engaged, 0 released, -1 in transit."""
    lock_frac: float
    clutch_torque_nm: float
    clutch_heat_j: float
    propeller_torque_nm: float
    """Torque the water takes from the shaft; negative while the water drives it."""
    propeller_thrust_n: float
    coupling_torque_nm: float
    """Torque through the drive's belt or coupling, rotor inertia included: the greatest within the step."""
    drive_rpm: float = 0.0
    """Speed of the drive, quoted at the shaft: that of the machine side unless its belt slips or is broken."""
    engine_j: float = 0.0
    """Work of the engine into the line since the start, J; negative while it is dragged. Likewise:"""
    drive_j: float = 0.0
    """work of the drive, at the line's side of its belt,"""
    propeller_j: float = 0.0
    """work of the propeller on the water,"""
    slip_j: float = 0.0
    """heat of slipping clutches,"""
    drag_j: float = 0.0
    """heat of gearbox, belt, bearings, lock, and of whatever holds the propeller."""


class PlantShaft(NamedTuple):
    """One shaft."""

    engine: EngineState
    gearbox: GearboxState
    drive: DriveState
    line: LineState


class PlantState(NamedTuple):
    """The whole boat."""

    time_s: float
    boat_speed_ms: float
    boat_speed_kn: float
    distance_m: float
    bank: BankState
    monitor: MonitorState
    bus: BusState
    shafts: tuple[PlantShaft, ...]
    packs: PacksState


class ShaftOrders(NamedTuple):
    """Orders and loads of one shaft. The default does nothing: gates off, gear neutral, clutch closed, lock
    released.
    """

    torque_order_nm: float = 0.0
    drive_enable: int = 0
    precharge: int = 0
    hard_enable: int = 0
    engine_start: int = 0
    engine_stop: int = 0
    throttle_frac: float = 0.0
    gear_order: int = 0
    clutch_order: int = 1
    lock_order: int = 0
    load_shock_nm: float = 0.0
    """Extra torque resisting the propeller (log, rope, ground), N m, 0 or more."""
    belt_nm: float = -1.0
    """The most that the drive's belt or coupling passes, N m: 0 broken; below 0 it holds whatever comes."""
    engine_frac: float = 1.0
    """Share of its full-load torque that the engine has, 0 to 1."""


class PlantInputs(NamedTuple):
    """Everything from outside that acts on the plant during one step."""

    shafts: tuple[ShaftOrders, ...]
    hotel_load_w: float = 0.0
    irradiance_w_m2: float = 0.0
    shore_charge_a: float = 0.0
    other_charge_stop: int = 0
    contactor_switch: int = 1
    sail_force_n: float = 0.0
    external_ambient_c: float = 20.0
    water_c: float = 15.0
    monitor_fault: int = 0
    """FLAG_... bits of an injected monitor fault."""
    packs_out: int = 0
    """How many of the parallel packs are off the bus; one stays whatever is asked."""
