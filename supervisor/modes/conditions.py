"""The condition words: every permissive, interlock and trip is one named bit.

Debounce, hysteresis and freshness have been applied when a bit is set; from here on no timing and no floating point
decides a mode. Bits that permit something are set only when it is *proven*: unknown is a clear bit. Bits that stop
something are set on the cause. What each bit means, and what forms it, is declared once, in
`supervisor.modes.register`.
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
    # the owner's own interlocks
    OWN_BOAT = 1 << 15


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
    NO_SHORE = 1 << 19
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
    UNLOADS_SOURCE = 1 << 39
    # the owner's own interlocks: each set while no interlock of its effect is bad
    OWN_THRUST_START = 1 << 40
    OWN_THRUST_STAYS = 1 << 41
    OWN_THRUST = 1 << 42
    OWN_CHARGE_START = 1 << 43
    OWN_CHARGE_STAYS = 1 << 44
    OWN_CHARGE = 1 << 45
    OWN_SHAFT = 1 << 46
    # the way out of ISOLATED
    LEVER_NEUTRAL = 1 << 47
    OBEDIENT = 1 << 48
    TRUSTED = 1 << 49
    # contacts that bounce
    PAUSED = 1 << 50
    PAUSE_FAILED = 1 << 51
    # trips: belt or coupling, propeller
    COUPLING_LOST = 1 << 52
    JAMMED = 1 << 53


class PermitCondition(IntFlag):
    """Permit word of one shaft: what its permits (engine start, clutch, lock, drive) are decided on."""

    BOAT_LIVE = 1 << 0
    BOAT_READY = 1 << 1
    SERVING = 1 << 2
    CONTACTOR_CLOSED = 1 << 3
    PRECHARGE_SOUND = 1 << 4
    LINK_WAS_CHARGED = 1 << 5
    GEAR_NEUTRAL = 1 << 6
    NO_DIVER = 1 << 7
    TORQUE_ENDED = 1 << 8
    DRIVE_OFF = 1 << 9
    LEVER_NEUTRAL = 1 << 10
    SPEEDS_MATCHED = 1 << 11
    STILL_LONG = 1 << 12
    OWN_ENGINE_START = 1 << 13
    GEAR_NOT_ENGAGED = 1 << 14
    DIVER_NOT_SET = 1 << 15
    DRIVE_SILENT = 1 << 16
    HOLDS = 1 << 17
