"""The condition words: every permissive, interlock and trip is one named bit.

Debounce, hysteresis and freshness have been applied when a bit is set; from here on no timing and no floating point
decides a mode. Bits that permit something are set only when it is *proven*: unknown is a clear bit. Bits that stop
something are set on the cause.
"""

from enum import IntEnum, IntFlag


class BoatMode(IntEnum):
    """Modes of the boat. STANDBY is always the first."""

    STANDBY = 0
    NEUTRAL_WAIT = 1
    READY = 2
    TRIPPED = 3


class ShaftMode(IntEnum):
    """Modes of one shaft."""

    REST = 0
    PROPEL = 1
    GENERATE = 2
    HARVEST = 3
    UNLOAD = 4
    ISOLATED = 5


class BoatCondition(IntFlag):
    """Condition word of the boat."""

    # trips
    EMERGENCY_STOP = 1 << 0
    MONITOR_FAULT = 1 << 1
    RUNTIME_FAULT = 1 << 2
    INPUT_LOST = 1 << 3
    # orders
    ENABLE_EDGE = 1 << 4
    RESET_EDGE = 1 << 5
    OFF_ORDER = 1 << 6
    # permissives and interlocks
    LEVERS_NEUTRAL = 1 << 7
    CONTACTOR_CLOSED = 1 << 8
    LINKS_CHARGED = 1 << 9
    SHAFT_AVAILABLE = 1 << 10
    SHAFTS_AT_REST = 1 << 11
    # dwell
    WAIT_EXPIRED = 1 << 12
    OFF_OVERDUE = 1 << 13
    IDLE_EXPIRED = 1 << 14


class ShaftCondition(IntFlag):
    """Condition word of one shaft."""

    # trips
    DRIVE_FAULT = 1 << 0
    DISOBEYED = 1 << 1
    PRECHARGE_FAILED = 1 << 2
    INPUT_LOST = 1 << 3
    LINK_LOST = 1 << 4
    # boat
    BOAT_READY = 1 << 5
    BOAT_LIVE = 1 << 6
    RESET_EDGE = 1 << 7
    OFF_ORDER = 1 << 8
    # orders
    THRUST_ORDER = 1 << 9
    CONTROL_LOST = 1 << 10
    HANDSET_LOST = 1 << 11
    UNDER_WAY_ORDER = 1 << 12
    AT_REST_ORDER = 1 << 13
    HARVEST_ORDER = 1 << 14
    # latches
    REARMED = 1 << 15
    UNLOAD_TO_PROPEL = 1 << 16
    # machinery
    IN_SERVICE = 1 << 17
    LINK_CHARGED = 1 << 18
    SAFE_TO_TURN = 1 << 19
    LOCK_RELEASED = 1 << 20
    LOCK_SETTLED = 1 << 21
    CLUTCH_CLOSED = 1 << 22
    CLUTCH_OPEN = 1 << 23
    ENGINE_CLEAR = 1 << 24
    ENGINE_STOPPED = 1 << 25
    ENGINE_RUNNING = 1 << 26
    GEAR_NEUTRAL = 1 << 27
    GEAR_AHEAD = 1 << 28
    PROPELLER_STILL = 1 << 29
    SHAFT_STILL = 1 << 30
    TRAILING_OK = 1 << 31
    # bank
    DISCHARGE_PERMIT = 1 << 32
    CHARGE_PERMIT = 1 << 33
    DERATE_OPEN = 1 << 34
    CHARGE_WANTED = 1 << 35
    # torque
    TORQUE_ZERO = 1 << 36
    UNLOAD_OVERDUE = 1 << 37
    NO_DIVER = 1 << 38


BOAT_WORDS: dict[BoatCondition, tuple[str, str]] = {
    BoatCondition.EMERGENCY_STOP: ("emergency stop is pressed", "emergency stop is not pressed"),
    BoatCondition.MONITOR_FAULT: ("bank monitor reports a fault", "bank monitor reports no fault"),
    BoatCondition.RUNTIME_FAULT: ("receive path or deadlines failed", "receive path and deadlines are good"),
    BoatCondition.INPUT_LOST: ("an indispensable input is lost", "every indispensable input is there"),
    BoatCondition.ENABLE_EDGE: ("enable was pressed", "enable has not been pressed"),
    BoatCondition.RESET_EDGE: ("reset was pressed", "reset has not been pressed"),
    BoatCondition.OFF_ORDER: ("off is ordered", "off is not ordered"),
    BoatCondition.LEVERS_NEUTRAL: ("every lever is in neutral", "a lever is not in neutral"),
    BoatCondition.CONTACTOR_CLOSED: ("bank contactor is closed", "bank contactor is not proven closed"),
    BoatCondition.LINKS_CHARGED: ("every drive's DC link is precharged", "a drive's DC link is not precharged"),
    BoatCondition.SHAFT_AVAILABLE: ("a shaft is available", "no shaft is available"),
    BoatCondition.SHAFTS_AT_REST: ("every shaft is at rest", "a shaft is not at rest"),
    BoatCondition.WAIT_EXPIRED: ("waited too long for the permissives", "still waiting for the permissives"),
    BoatCondition.OFF_OVERDUE: ("off has been ordered for too long", "off was ordered just now or not at all"),
    BoatCondition.IDLE_EXPIRED: ("idle for too long", "not idle for too long"),
}
"""Each bit in the words of the trade: (when set, when clear)."""

SHAFT_WORDS: dict[ShaftCondition, tuple[str, str]] = {
    ShaftCondition.DRIVE_FAULT: ("drive reports a fault", "drive reports no fault"),
    ShaftCondition.DISOBEYED: ("drive gave torque that was not ordered", "drive obeys"),
    ShaftCondition.PRECHARGE_FAILED: ("precharge took too long", "precharge has not failed"),
    ShaftCondition.INPUT_LOST: ("an indispensable shaft input is lost", "every indispensable shaft input is there"),
    ShaftCondition.LINK_LOST: ("DC link fell away from the bank voltage", "DC link holds"),
    ShaftCondition.BOAT_READY: ("boat is READY", "boat is not READY"),
    ShaftCondition.BOAT_LIVE: ("boat is live", "boat is not live"),
    ShaftCondition.RESET_EDGE: ("reset was pressed", "reset has not been pressed"),
    ShaftCondition.OFF_ORDER: ("off is ordered", "off is not ordered"),
    ShaftCondition.THRUST_ORDER: ("thrust is asked", "no thrust is asked"),
    ShaftCondition.CONTROL_LOST: ("lever signal is lost", "lever signal is good"),
    ShaftCondition.HANDSET_LOST: (
        "handset link is lost or a lever was moved while it had control",
        "handset link is not lost",
    ),
    ShaftCondition.UNDER_WAY_ORDER: ("charging under way is selected", "charging under way is not selected"),
    ShaftCondition.AT_REST_ORDER: ("charging at rest is selected", "charging at rest is not selected"),
    ShaftCondition.HARVEST_ORDER: ("harvest is selected", "harvest is not selected"),
    ShaftCondition.REARMED: ("shaft is rearmed by fresh neutral", "shaft awaits fresh neutral of its lever"),
    ShaftCondition.UNLOAD_TO_PROPEL: ("unloading on the way to PROPEL", "unloading on the way to REST"),
    ShaftCondition.IN_SERVICE: ("shaft is in service", "shaft is taken out of service"),
    ShaftCondition.LINK_CHARGED: ("DC link is precharged", "DC link is not precharged"),
    ShaftCondition.SAFE_TO_TURN: (
        "no shore cable and no diver lockout",
        "shore cable is in or diver lockout is set (or not proven clear)",
    ),
    ShaftCondition.LOCK_RELEASED: ("shaft lock is released", "shaft lock is not proven released"),
    ShaftCondition.LOCK_SETTLED: ("shaft lock is at rest", "shaft lock is in transit or unknown"),
    ShaftCondition.CLUTCH_CLOSED: ("shaft clutch is closed", "shaft clutch is not proven closed"),
    ShaftCondition.CLUTCH_OPEN: ("shaft clutch is open", "shaft clutch is not proven open"),
    ShaftCondition.ENGINE_CLEAR: (
        "engine is stopped or its gearbox in neutral",
        "engine is not proven stopped and its gearbox not in neutral",
    ),
    ShaftCondition.ENGINE_STOPPED: ("engine is stopped", "engine is not proven stopped"),
    ShaftCondition.ENGINE_RUNNING: ("engine is running", "engine is not proven running"),
    ShaftCondition.GEAR_NEUTRAL: ("gearbox is in neutral", "gearbox is not proven in neutral"),
    ShaftCondition.GEAR_AHEAD: ("gearbox is ahead", "gearbox is not proven ahead"),
    ShaftCondition.PROPELLER_STILL: ("propeller side is still", "propeller side is not proven still"),
    ShaftCondition.SHAFT_STILL: ("shaft is still", "shaft is not proven still"),
    ShaftCondition.TRAILING_OK: ("gearbox may trail", "gearbox may not trail, or has trailed too long"),
    ShaftCondition.DISCHARGE_PERMIT: ("monitor permits discharging", "monitor does not permit discharging"),
    ShaftCondition.CHARGE_PERMIT: ("monitor permits charging", "monitor does not permit charging"),
    ShaftCondition.DERATE_OPEN: ("bank is above its lower limit", "bank is at its lower limit"),
    ShaftCondition.CHARGE_WANTED: ("bank takes charge", "bank takes no charge (full, cold, hot or unknown)"),
    ShaftCondition.TORQUE_ZERO: ("torque is zero", "torque is not yet zero"),
    ShaftCondition.UNLOAD_OVERDUE: ("unloading takes too long", "unloading is in time"),
    ShaftCondition.NO_DIVER: ("no diver lockout", "diver lockout is set (or not proven clear)"),
}
"""Each bit in the words of the trade: (when set, when clear)."""

BOAT_TRIPS = (
    BoatCondition.EMERGENCY_STOP,
    BoatCondition.MONITOR_FAULT,
    BoatCondition.RUNTIME_FAULT,
    BoatCondition.INPUT_LOST,
)
SHAFT_TRIPS = (
    ShaftCondition.DRIVE_FAULT,
    ShaftCondition.DISOBEYED,
    ShaftCondition.PRECHARGE_FAILED,
    ShaftCondition.INPUT_LOST,
    ShaftCondition.LINK_LOST,
)
