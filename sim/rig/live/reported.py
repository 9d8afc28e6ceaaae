"""What a supervisor elsewhere says of itself on the bus: its orders, permits, modes and alarms, and what changed.

Only outputs that the boat file maps can be heard. What it does not say (why, and its REARMED latches) is not known
here, and nothing is put in its place.
"""

import math

import can

from sim.nodes.hear import Hearing
from sim.requirements import Record
from sim.rig.reasons import RigEvent
from sim.rig.snapshot import Decided
from supervisor.bus import BOAT_OUTPUTS, HARD_WIRED, PERMIT_OUTPUTS, SHAFT_OUTPUTS, BoatMap
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BOAT, BoatCommand, BoatInputs, ShaftCommand, ShaftInputs, ShaftPermit, alarm_texts

NOT_HEARD = "not heard"
"""In the place of a mode: its frames do not come."""

_BOAT_SIGNALS = {
    "boat.mode": "boat.mode",
    "boat.alarms": "boat.alarms",
    "boat.charge_limit_a": "boat.charge_limit_a",
    "boat.derate_pct": "boat.derate_pct",
    "sources.stop": "boat.stop_sources",
    "sounder.on": "boat.sounder",
    "handset.in_control": "boat.handset_in_control",
}
_SHAFT_SIGNALS = {"shaft.mode": "mode", "drive.torque_nm": "order_nm", "drive.current_a": "aim_a"}
_PERMITS = {name: ShaftPermit(bit) for name, bit in PERMIT_OUTPUTS.items() if name not in HARD_WIRED}
_STOPPED = ("TRIPPED", "ISOLATED")


def _number(value: float) -> float:
    """Zero where it is not said: what reads it is not judged."""
    return 0.0 if math.isnan(value) else value


class Reported:
    """Listens to every output that the boat file maps. Times in s, as passed in."""

    def __init__(self, boat_map: BoatMap) -> None:
        self._names = boat_map.shaft_names
        self._hearing = Hearing(boat_map.outputs, periods=3.0)
        self._before: Decided | None = None
        self._orders = {
            (row.bus, row.message.arbitration_id) for row in boat_map.outputs if row.spec.name == "drive.torque_nm"
        }
        self._come: set[tuple[str, int]] = set()
        self.unseen = frozenset(self._unseen())
        """Signals that this boat's supervisor does not send, and kinds of events that do not show in what it sends."""
        words = ("boat.alarms", "boat.more_alarms")
        periods = [row.message.period_s for row in boat_map.outputs if row.spec.name in words]
        self.alarm_period_s = max(periods, default=0.0)
        """An alarm shows in the next frame of the alarm word, not at once, s."""

    def take(self, bus: str, message: can.Message, time_s: float) -> None:
        """One frame."""
        self._hearing.take(bus, message, time_s)

    def begins_tick(self, bus: str, message: can.Message) -> bool:
        """Whether this frame is the first of a new tick of the supervisor, which orders torque once in each."""
        place = (bus, message.arbitration_id)
        if place not in self._orders:
            return False
        begins = place in self._come
        self._come = {place} if begins else self._come | {place}
        return begins

    def heard(self, time_s: float) -> bool:
        """Whether good orders for every shaft come."""
        return not any(self._hearing.silent(level, "drive.torque_nm", time_s) for level in range(len(self._names)))

    def decided(self, time_s: float) -> Decided:
        """Everything it says, as last heard; what is not mapped, or has fallen silent, is NaN or 0."""
        boat = BoatCommand(
            self._flag(BOAT, "sources.stop", time_s),
            self._flag(BOAT, "sounder.on", time_s),
            self._flag(BOAT, "boat.alarms", time_s) | self._flag(BOAT, "boat.more_alarms", time_s) << 32,
            self._number(BOAT, "boat.charge_limit_a", time_s),
            self._number(BOAT, "boat.derate_pct", time_s),
            self._flag(BOAT, "handset.in_control", time_s),
        )
        levels = range(len(self._names))
        shafts = [
            ShaftCommand(
                self._number(level, "drive.torque_nm", time_s),
                self._number(level, "drive.current_a", time_s),
                sum(int(bit) for name, bit in _PERMITS.items() if self._flag(level, name, time_s)),
            )
            for level in levels
        ]
        modes = [self._mode(level, "shaft.mode", ShaftMode, time_s) for level in levels]
        return Decided(self._mode(BOAT, "boat.mode", BoatMode, time_s), modes, boat, shafts, [math.nan] * len(shafts))

    @property
    def outputs(self) -> frozenset[str]:
        """What can be heard of it, by the names of the boat file: for a shaft's, on every shaft."""
        wired, levels = self._hearing.wired, range(len(self._names))
        boat = {name for name in BOAT_OUTPUTS if wired(BOAT, name)}
        return frozenset(boat | {name for name in SHAFT_OUTPUTS if all(wired(level, name) for level in levels)})

    def record(self, time_s: float, boat_in: BoatInputs, shaft_in: tuple[ShaftInputs, ...]) -> Record:
        """What it says beside these inputs. A mode that the boat file does not map stands in as one that orders
        nothing (what reads it is not judged); one that is mapped and not heard is not known."""
        said = self.decided(time_s)
        levels = range(len(self._names))
        silent = [self._hearing.silent(level, "drive.torque_nm", time_s) for level in levels]
        return Record(
            time_s,
            self._code(BOAT, "boat.mode", BoatMode, said.boat_mode, BoatMode.STANDBY),
            tuple(
                self._code(level, "shaft.mode", ShaftMode, said.shaft_modes[level], ShaftMode.REST) for level in levels
            ),
            boat_in,
            shaft_in,
            said.boat._replace(
                charge_limit_a=_number(said.boat.charge_limit_a), derate_pct=_number(said.boat.derate_pct)
            ),
            tuple(
                None if silent[level] else command._replace(current_a=_number(command.current_a))
                for level, command in enumerate(said.shafts)
            ),
        )

    def _code(
        self, level: int, name: str, kind: type[BoatMode] | type[ShaftMode], said: str, stands_in: int
    ) -> int | None:
        if not self._hearing.wired(level, name):
            return stands_in
        return int(kind[said]) if said in kind.__members__ else None

    def events(self, now: Decided, time_s: float) -> list[RigEvent]:
        """What changed since the last call: modes, trips, alarms. Causes are not on the bus."""
        before, self._before = self._before, now
        if before is None:
            return []
        found = []
        pairs = [("boat", before.boat_mode, now.boat_mode)]
        pairs += list(zip(self._names, before.shaft_modes, now.shaft_modes, strict=True))
        for subject, old, new in pairs:
            if old != new:
                found.append(RigEvent(time_s, "trip" if new in _STOPPED else "mode", subject, f"{old} -> {new}"))
        for bit, words in alarm_texts(self._names).items():
            if (before.boat.alarms ^ now.boat.alarms) & bit:
                comes = now.boat.alarms & bit
                told = words if comes else f"ended: {words}"
                found.append(RigEvent(time_s, "alarm" if comes else "gone", "boat", told))
        return found

    def _unseen(self) -> list[str]:
        wired = self._hearing.wired
        found = ["refusal", *(signal for name, signal in _BOAT_SIGNALS.items() if not wired(BOAT, name))]
        if "boat.alarms" in found:
            found += ["alarm", "gone"]
        if "boat.mode" in found or not all(wired(level, "shaft.mode") for level in range(len(self._names))):
            found += ["mode", "trip"]
        for level, shaft in enumerate(self._names):
            found.append(f"{shaft}.rearmed")
            found += [f"{shaft}.{signal}" for name, signal in _SHAFT_SIGNALS.items() if not wired(level, name)]
            missing = [str(bit.name).lower() for name, bit in _PERMITS.items() if not wired(level, name)]
            found += [f"{shaft}.{name}" for name in missing]
            if missing:
                found.append(f"{shaft}.permits")
        return found

    def _flag(self, level: int, name: str, time_s: float) -> int:
        value = self._hearing.value(level, name, time_s)
        return int(value) if math.isfinite(value) else 0

    def _number(self, level: int, name: str, time_s: float) -> float:
        return self._hearing.value(level, name, time_s, unwired=math.nan)

    def _mode(self, level: int, name: str, kind: type[BoatMode] | type[ShaftMode], time_s: float) -> str:
        if not self._hearing.wired(level, name) or self._hearing.silent(level, name, time_s):
            return NOT_HEARD
        code = self._flag(level, name, time_s)
        return kind(code).name if code in set(kind) else f"unknown ({code})"
