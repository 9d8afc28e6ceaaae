"""The catalogue of faults: what each does, on what, with which parameters, and the reaction that is required."""

from collections.abc import Mapping
from typing import NamedTuple

from sim.faults import required as need
from sim.faults.adapters import AdapterUnplugged, BusOff, ReceiveOverflow
from sim.faults.base import Fault, Value
from sim.faults.frames import (
    Babbling,
    BadCrc,
    Delayed,
    Duplicated,
    FrozenCounter,
    NodeSilent,
    Reordered,
    WrongSource,
)
from sim.faults.machines import (
    MONITOR_FLAGS,
    BeltBroken,
    BeltSlipping,
    ClutchStuckInTransit,
    ContactorWarning,
    DriveDisobeys,
    DriveFault,
    EngineStall,
    EngineWeak,
    MonitorFault,
    PacksOut,
    PrechargeFailure,
    PropellerJammed,
)
from sim.faults.values import (
    ContactBounces,
    HandsetLost,
    LeverLost,
    LockUnproven,
    PermitWithdrawn,
    ValueDrift,
    ValueOutOfRange,
    ValueStuck,
)


class Param(NamedTuple):
    """One parameter: its default, and what is allowed, a range of numbers or some words."""

    default: Value
    low: float = 0.0
    high: float = 0.0
    words: tuple[str, ...] = ()
    unit: str = ""

    def allowed(self) -> str:
        """What may be given, in words."""
        if self.words:
            return ", ".join(self.words)
        return f"{self.low:g} to {self.high:g} {self.unit}".rstrip()

    def accepts(self, value: Value) -> bool:
        """Whether `value` may be given."""
        if self.words:
            return value in self.words
        return not isinstance(value, (bool, str)) and self.low <= value <= self.high


class Entry(NamedTuple):
    """One fault of the catalogue.

    `targets` says what it may be put on, `required` the reaction by situation: what is hit, or the mode the shaft is
    in, then what the supervisor must do.
    """

    name: str
    words: str
    targets: str
    params: Mapping[str, Param]
    required: Mapping[str, str]
    kind: type[Fault]


_DELAY = Param(0.3, 0.02, 10.0, unit="s")
_LOAD = Param(100.0, 0.0, 100.0, unit="%")
_RATE = Param(1.0, -1000.0, 1000.0, unit="units/s")
_PERMIT = Param("charge", words=("charge", "discharge", "both"))
_FLAG = Param("internal", words=tuple(MONITOR_FLAGS))

_ENTRIES = (
    # --- frames between node and bus
    Entry("node_silent", "a node's frames no longer arrive; it still hears and works", "node", {}, need.SILENCE,
          NodeSilent),
    Entry("frozen_counter", "guard counters of a node stand still, checksums are good", "node", {}, need.FROZEN,
          FrozenCounter),
    Entry("bad_crc", "one bit of every guarded frame of a node is turned over", "node", {}, need.CORRUPT, BadCrc),
    Entry("delayed", "a node's frames arrive late, in their order", "node", {"delay_s": _DELAY}, need.DELAYED, Delayed),
    Entry("duplicated", "every frame of a node arrives twice", "node", {}, need.DUPLICATED, Duplicated),
    Entry("reordered", "the frames of a message change places, two by two", "node", {}, need.REORDERED, Reordered),
    Entry("wrong_source", "a node's frames carry another's identity", "node", {"source": Param(200.0, 0.0, 253.0)},
          need.WRONG_SOURCE, WrongSource),
    Entry("babbling", "a node floods a bus with frames of the highest priority", "bus", {"load_pct": _LOAD},
          need.BABBLING, Babbling),
    # --- the supervisor's adapter
    Entry("bus_off", "the supervisor's controller goes bus-off", "bus", {}, need.ADAPTER, BusOff),
    Entry("adapter_unplugged", "the supervisor's adapter is pulled out", "bus", {}, need.ADAPTER, AdapterUnplugged),
    Entry("receive_overflow", "the adapter's receive buffer overflows", "bus", {}, need.OVERFLOW, ReceiveOverflow),
    # --- values in good frames
    Entry("value_stuck", "an input keeps the value it had", "input", {}, need.STUCK, ValueStuck),
    Entry("value_drift", "an input drifts away from the true value", "input", {"rate_per_s": _RATE}, need.DRIFT,
          ValueDrift),
    Entry("value_out_of_range", "an input sends a code outside its range", "input", {}, need.OUT_OF_RANGE,
          ValueOutOfRange),
    Entry("contact_bounces", "a contact changes state for away_s, every every_s", "input",
          {"away_s": Param(0.1, 0.02, 600.0, unit="s"), "every_s": Param(0.3, 0.05, 3600.0, unit="s")}, need.BOUNCES,
          ContactBounces),
    Entry("permit_withdrawn", "the bank monitor withdraws a permit and sets its limit to 0", "monitor",
          {"permit": _PERMIT}, need.PERMIT, PermitWithdrawn),
    Entry("lever_lost", "a lever's wire breaks", "shaft", {}, need.LEVER_LOST, LeverLost),
    Entry("handset_lost", "the radio link to the handset breaks", "handset", {}, need.HANDSET_LOST, HandsetLost),
    Entry("lock_unproven", "a shaft lock reads neither released nor engaged", "shaft", {}, need.LOCK, LockUnproven),
    # --- the boat itself
    Entry("monitor_fault", "the bank monitor shows a fault flag and opens its contactor after its warning", "monitor",
          {"flag": _FLAG}, need.MONITOR_FAULT, MonitorFault),
    Entry("contactor_warning", "the bank monitor announces that it opens its contactor, and opens it", "monitor",
          {"after_s": Param(2.0, 0.2, 60.0, unit="s")}, need.WARNING, ContactorWarning),
    Entry("packs_out", "some of the bank's parallel packs drop out; afterwards they are put back", "monitor",
          {"packs": Param(1.0, 1.0, 15.0)}, need.PACKS, PacksOut),
    Entry("drive_fault", "a drive protects itself and shows its fault flag", "shaft", {}, need.DRIVE_FAULT, DriveFault),
    Entry("drive_disobeys", "a drive holds a torque of its own whatever it is ordered", "shaft",
          {"torque_nm": Param(30.0, -1000.0, 1000.0, unit="N m")}, need.DISOBEYS, DriveDisobeys),
    Entry("precharge_failure", "a drive's DC link does not charge", "shaft", {}, need.PRECHARGE, PrechargeFailure),
    Entry("engine_stall", "an engine loses its fuel and stops", "shaft", {}, need.STALL, EngineStall),
    Entry("engine_weak", "an engine gives no more than so much of its full torque", "shaft",
          {"torque_pct": Param(40.0, 5.0, 100.0, unit="%")}, need.WEAK, EngineWeak),
    Entry("clutch_stuck_in_transit", "a shaft clutch hangs half-way", "shaft", {}, need.CLUTCH, ClutchStuckInTransit),
    Entry("belt_broken", "a drive's belt or coupling is broken: the drive turns by itself", "shaft", {}, need.BELT,
          BeltBroken),
    Entry("belt_slipping", "a drive's belt passes no more than so much torque", "shaft",
          {"torque_nm": Param(15.0, 0.0, 1000.0, unit="N m")}, need.SLIP, BeltSlipping),
    Entry("propeller_jammed", "a rope or log holds a propeller", "shaft",
          {"torque_nm": Param(2000.0, 0.0, 20000.0, unit="N m")}, need.JAM, PropellerJammed),
)  # fmt: skip

CATALOGUE: Mapping[str, Entry] = {entry.name: entry for entry in _ENTRIES}


def make_fault(name: str, target: str, params: Mapping[str, Value]) -> Fault:
    """A fault by name, not yet started. Raises ValueError naming what is allowed."""
    entry = CATALOGUE.get(name)
    if entry is None:
        raise ValueError(f"there is no fault {name!r}; allowed: {', '.join(CATALOGUE)}")
    values = {key: param.default for key, param in entry.params.items()}
    for key, value in params.items():
        if key not in entry.params:
            allowed = ", ".join(entry.params) or "none"
            raise ValueError(f"{name} has no parameter {key!r}; allowed: {allowed}")
        if not entry.params[key].accepts(value):
            raise ValueError(f"{name}, {key} = {value!r} is not allowed: {entry.params[key].allowed()}")
        values[key] = value
    if entry.targets in ("monitor", "handset") and target != entry.targets:
        raise ValueError(f"{name} is a fault of the {entry.targets}; allowed target: {entry.targets}")
    return entry.kind(target, values)
