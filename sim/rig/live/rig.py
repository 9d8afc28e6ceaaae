"""A simulated boat around a supervisor that is elsewhere: the bench's rig for a device under test on real buses.

The device sees frames and nothing else; what is judged of it is what it says on the bus and what the simulated boat
does under its orders. It may be `thwart run` in another process, on another computer, or a controller of the user's
own.
"""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import can

from sim.errors import BenchError
from sim.faults.base import Value
from sim.requirements import Record
from sim.requirements.grain import Order, grain_of_orders, too_coarse
from sim.requirements.needs import heard
from sim.requirements.over_a_bus import BusEvaluator, Way
from sim.rig.energy import Energy
from sim.rig.live.reported import Reported
from sim.rig.live.stand_in import StandIn
from sim.rig.reasons import RigEvent
from sim.rig.snapshot import Snapshot
from supervisor.bus.port import BusSetting
from supervisor.config import BoatConfig
from supervisor.controller import freeze
from supervisor.runtime import Loop, RealClock
from supervisor.runtime.adapters import Adapters
from supervisor.runtime.collector import SlackCollector
from supervisor.signals import BoatInput

HEARD_FOR_S = 1.0
"""Orders must have come for this long before a procedure begins."""


class LiveRig:
    """A boat on the bench whose supervisor is elsewhere. Real time: `step` returns when the next tick is over.

    Times in s since power-up of the simulated boat. Call `power_up` before the first step. Raises ConfigError for a
    boat that cannot be simulated, BenchError for nodes that it does not have.
    """

    explains = False
    """A device under test does not say why."""

    def __init__(
        self, config: BoatConfig, file: Path, nodes: Sequence[str], settings: Mapping[str, BusSetting],
        settle_s: float, soc_pct: float = 70.0,
    ) -> None:  # fmt: skip
        self._clock = RealClock()
        self.stand_in = StandIn(config, file, nodes, settings, Adapters(settle_s), self._clock.now_s(), soc_pct)
        self.boat = config.boat.name
        self.shafts: Sequence[str] = self.stand_in.shafts
        self.interlocks = self.stand_in.interlocks
        self.buses: Sequence[str] = tuple(config.buses)
        self.tick_s = self.stand_in.tick_s
        self._device_tick_s = config.boat.tick_s
        self.reported = Reported(self.stand_in.boat_map)
        own = {f"interlock.{name}" for name in self.interlocks}
        words = {words for entry in config.interlock for words in (entry.good, entry.bad)}
        self.unseen = self.reported.unseen | own | words
        self.events = self.stand_in.events
        self.on_frame: Callable[[float, can.Message, str], None] | None = None
        self._snapshot = Snapshot(self.shafts, self.interlocks)
        self._loop = Loop(self.stand_in.tick, self.tick_s, self._clock)
        self._collector = SlackCollector()
        self._collecting = False
        self.stand_in.on_frame = self._frame
        for contact in (BoatInput.RECEIVE_OK, BoatInput.DEADLINE_OK):
            self.stand_in.table.set_contact(contact, True)
        self._problems: dict[str, str] = {}
        self._boat = freeze(config)
        self.config = config
        self._records: list[Record] = []
        self._ticks = 0
        self.evaluator()  # what it finds out is kept: the next is made in no time, while frames must go on coming

    def power_up(self, timeout_s: float) -> None:
        """Open the adapters and wait until the device under test is heard, without a break, for HEARD_FOR_S.

        Raises BenchError if an adapter cannot be opened, or nothing good is heard within `timeout_s`.
        """
        problems = self.stand_in.port.open(self._clock.now_s())
        if problems:
            raise BenchError("\n".join(problems))
        self._collector.__enter__()
        self._collecting = True
        last_silent_s = self.now_s
        while self.now_s - last_silent_s < HEARD_FOR_S:
            self.step()
            if not self.reported.heard(self.now_s):
                last_silent_s = self.now_s
            if last_silent_s > timeout_s:
                rows = [row for row in self.stand_in.boat_map.outputs if row.spec.name == "drive.torque_nm"]
                names, buses = sorted({row.message.name for row in rows}), sorted({row.bus for row in rows})
                raise BenchError(
                    f"no supervisor is heard: no good {', '.join(names)} on bus {', '.join(buses)} within "
                    f"{timeout_s:g} s. Start the device under test, and check adapter, bit rate and termination"
                )

    # ---- time

    @property
    def now_s(self) -> float:
        """Time of the last tick, s."""
        return self.stand_in.time_s

    def step(self) -> None:
        """Wait for the next tick and do it."""
        began_s = self._loop.once()
        now_s = self.now_s
        problems = self.stand_in.port.problems()
        for bus in sorted(problems.keys() - self._problems.keys()):
            self.events.append(RigEvent(now_s, "fault", bus, f"the bench's own adapter: {problems[bus]}"))
        self._problems = problems
        self.events += self.reported.events(self.reported.decided(now_s), now_s)
        if self._collecting:
            self._collector.collect(self.tick_s - (self._clock.now_s() - began_s))

    def _frame(self, time_s: float, message: can.Message, bus: str, ours: bool) -> None:
        if ours:  # an adapter does not hear its own frames
            self.stand_in.table.take(bus, message, time_s)
        else:
            if self.reported.begins_tick(bus, message):
                self._tick_of_device(time_s)
            self.reported.take(bus, message, time_s)
        if self.on_frame is not None:
            self.on_frame(time_s, message, bus)

    def _tick_of_device(self, time_s: float) -> None:
        """Everything that it sends in one of its ticks has come. In even steps: how late this process looks is no
        growth of anything."""
        tick_s = self._device_tick_s
        self._ticks += 1
        if abs(time_s - self._ticks * tick_s) > 3.0 * tick_s:
            self._ticks = max(self._ticks, round(time_s / tick_s))
        record = self.reported.record(time_s, *self.stand_in.table.snapshot(time_s))
        self._records.append(record._replace(time_s=self._ticks * tick_s))

    # ---- the operator's hands

    def act(self, target: str, value: Value) -> str:
        """An operator action. Returns "" or why nothing happens. Raises ValueError if it cannot be done."""
        return self.stand_in.act(target, value)

    def plant_targets(self) -> Sequence[str]:
        """What `set_plant` may set."""
        return self.stand_in.plant_targets()

    def set_plant(self, target: str, value: float) -> None:
        """Make the simulated boat jump. Raises ValueError if it cannot."""
        self.stand_in.set_plant(target, value)

    def faults(self) -> Mapping[str, str]:
        """The faults that can be made from this end of the bus: those of the device's own adapter cannot."""
        return self.stand_in.faults()

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault of the catalogue. Raises ValueError naming what is allowed."""
        self.stand_in.inject(fault, target, **params)

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it is not there."""
        self.stand_in.clear(fault, target)

    # ---- looking

    def signals(self) -> Mapping[str, float | str]:
        """The truth of the simulated boat, what is on the bus (`seen_...`), and what the device says it decided."""
        says = self.reported.decided(self.now_s)
        return self._snapshot.take(self.stand_in.plant, self.stand_in.panel, says, self.stand_in.table, self.now_s)

    def evaluator(self) -> BusEvaluator:
        """A fresh evaluator for what is heard of the device from now on."""
        outputs = heard(self.config, self.reported.outputs)
        boat_map, boat = self.stand_in.boat_map, self._boat
        orders = [Order(row.level, row.spec.name, abs(row.signal.scale)) for row in boat_map.outputs]
        grain = grain_of_orders(boat_map, boat, self._device_tick_s, orders)
        slack_s, alarms_s = self.slack_s("signal"), self.reported.alarm_period_s
        way = Way(outputs, slack_s, alarms_s, grain, too_coarse(boat, grain))
        return BusEvaluator(self._boat, self.shafts, self.config.interlock, way)

    def records(self) -> list[Record]:
        """Ticks of the device that have ended since the last call, each with the inputs that were on the bus when it
        was heard. Its own receive path and deadlines are taken for sound: whether they are, it does not say."""
        found, self._records = self._records, []
        return found

    def explain(self, what: str) -> Sequence[str]:
        """Nothing: a device under test does not say what is missing for `what`."""
        return ()

    def slack_s(self, event: str) -> float:
        """How much later than in one process a thing may show, s: the phases of the two ticks and the way over the bus
        twice; for an alarm (`event` "alarm", "gone" or "" for any) the period of the alarm word as well. For "slope"
        one tick of each: what moves by the device's ticks is looked at by ours."""
        if event == "slope":
            return self._device_tick_s + self.tick_s
        ways_s = 2.0 * self._device_tick_s + 2.0 * self.tick_s
        return ways_s + (self.reported.alarm_period_s if event in ("alarm", "gone", "") else 0.0)

    def begin_audit(self) -> None:
        """Add up the energies of the simulated boat from now on."""
        self.stand_in.begin_audit()

    def energy(self) -> Energy | None:
        """The energy balance of the simulated boat since then."""
        return self.stand_in.energy()

    def remarks(self) -> Sequence[str]:
        """How good the bench itself was, for the evidence."""
        timing = self._loop.timing
        counts = self.stand_in.port.report()
        found = [
            f"supervisor elsewhere, simulated nodes: {', '.join(sorted(self.stand_in.chosen))}",
            f"the bench's own tick of {self.tick_s * 1e3:g} ms: {timing.ticks} ticks, {timing.missed} missed, worst "
            f"{timing.worst_late_s * 1e3:.1f} ms late",
        ]
        for bus, counted in counts.items():
            bad = {what: number for what, number in counted.items() if what != "opened"}
            if bad:
                found.append(f"adapter of bus {bus}: {', '.join(f'{what} {number}' for what, number in bad.items())}")
        return found

    def close(self) -> None:
        """Release the adapters."""
        if self._collecting:
            self._collecting = False
            self._collector.__exit__(None, None, None)
        self.stand_in.close()
