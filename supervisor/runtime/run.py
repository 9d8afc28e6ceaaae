"""The supervisor alone on real buses, in real time: what `thwart run` does.

Whatever ends the run, the last frames out are zero commands with every enable off; and should those not get out either
(a kill, a dead adapter), the drives stop by themselves when good commands stop. A run begins in STANDBY, always.
"""

import os
import time
import traceback
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple

from supervisor.bus import BusPort, compile_boat
from supervisor.bus.port import BusSetting
from supervisor.config import BoatConfig, ConfigError
from supervisor.journal import FolderLock
from supervisor.journal.buslog import CAPACITY
from supervisor.runtime.adapters import SETTLE_S, Adapters
from supervisor.runtime.bus_state import BusState
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.histogram import Histogram
from supervisor.runtime.loop import Clock, Loop, RealClock, Timing
from supervisor.runtime.recorder import Recorder
from supervisor.runtime.service import ServiceManager
from supervisor.runtime.supervisor import Supervisor
from supervisor.runtime.talk import ReportFile
from supervisor.runtime.watch import BusWatch

LAST_WORDS = 3
"""How often the zero commands are sent at the end, one tick apart: a frame may be lost."""

_MISSED_PERIOD_S = 10.0
"""Missed ticks are told at once, further ones together after this time."""


class RunOptions(NamedTuple):
    """`settle_s` waits for a serial adapter after opening; `log_bytes` caps the bus logs; `priority` is a SCHED_FIFO
    priority (0: none); `budget` and `window_s`: missed ticks that are borne in a window before the boat trips."""

    settle_s: float = SETTLE_S
    log_bytes: int = 256_000_000
    priority: int = 0
    budget: int = 3
    window_s: float = 10.0


class FineTiming(Timing):
    """Lateness in fine buckets besides."""

    def __init__(self) -> None:
        super().__init__()
        self.fine = Histogram()

    def note(self, late_s: float) -> None:
        """Count one tick that began `late_s` after its deadline."""
        super().note(late_s)
        self.fine.add(late_s)


def refuse_embedded_buses(settings: Mapping[str, BusSetting], essential: frozenset[str], file: str) -> list[str]:
    """python-can's virtual interface lives inside one process: nothing from outside ever arrives there.

    Returns a warning for each such bus that is not essential. Raises ConfigError for an essential one.
    """
    warnings = []
    for name, setting in settings.items():
        if setting.interface != "virtual":
            continue
        if name in essential:
            raise ConfigError(
                file, f"buses.{name}.interface", "'virtual' lives inside one process, nothing real can be on it",
                f"Give the adapter: --bus {name}=slcan:/dev/ttyACM0 or --bus {name}=socketcan:can0",
            )  # fmt: skip
        warnings.append(f"bus {name} has no adapter (--bus {name}=...): its inputs stay unknown")
    return warnings


class BoatRun:
    """One run of one boat, from opening the adapters to the last zero command."""

    def __init__(
        self,
        config: BoatConfig,
        file: Path,
        settings: Mapping[str, BusSetting],
        folder: Path,
        say: Callable[[str], None],
        options: RunOptions | None = None,
        clock: Clock | None = None,
    ) -> None:
        """`file` is the boat file, for the DBC files beside it; `folder` exists and is kept from run to run.

        Raises ConfigError, OSError, FolderInUseError.
        """
        self.options = options or RunOptions()
        self.config = config
        self.clock = clock or RealClock()
        boat_map = compile_boat(config, file)
        self._warnings = refuse_embedded_buses(settings, frozenset(boat_map.essential), str(file))
        self._settings = settings
        self.folder = folder
        self._lock = FolderLock(folder)
        self.recorder = Recorder(
            folder, config, file, tuple(config.buses), self.clock.now_s(), say, self.options.log_bytes
        )
        self.adapters = Adapters(self.options.settle_s)
        self.port = BusPort(settings, essential=boat_map.essential, opener=self.adapters.open)
        self.supervisor = Supervisor(
            config,
            file,
            self.port,
            self.recorder.bus_log.write,
            since_full_s=self.recorder.began_since_full_s,
            on_tick=self.recorder.bus_log.tick,
        )
        self.watch = BusWatch(boat_map, settings, self.adapters, self._tell, config.boat.tick_s)
        self.loop = Loop(
            self.tick, config.boat.tick_s, self.clock, budget=self.options.budget, window_s=self.options.window_s
        )
        self.loop.timing = self.timing = FineTiming()
        self.cycle = Histogram()
        self.collector = SlackCollector()
        self._now_s = self.clock.now_s()
        self._took_s = 0.0
        self._missed = 0
        self._missed_due_s = -1.0
        self._deadline_ok = True
        self._other = False
        self._log_failing = False
        self.manager = ServiceManager()
        self.bus_state = BusState(self._tell, lambda name: self.watch.hears(self._now_s, self.supervisor.table, name))

    def run(self, stop: Callable[[], str]) -> int:
        """Until `stop()` gives a reason. Returns 0, or 1 after an error in the program; raises nothing for that."""
        say, tick_s = self.recorder.talker.say, self.config.boat.tick_s
        journal = self.recorder.journal
        number = journal.run if journal is not None else "without a journal"
        say(f"{self.config.boat.title}: run {number} in {self.folder}, boat file {self.recorder.sha256[:12]}")
        for text in [*self._warnings, *self.port.open(self.clock.now_s())]:
            self._tell("adapters", text)
        report = ReportFile(self.folder / f"timing-{number}.json", self.report)
        status, why = 0, ""
        try:
            self._take_priority()
            with self.collector:
                say("STANDBY: torque zero, waits to be enabled")
                self.manager.ready()
                while not (why := stop()):
                    now_s = self.loop.once()
                    self.collector.collect(tick_s - (self.clock.now_s() - now_s))
        except KeyboardInterrupt:
            why = "stopped by hand, at once"
        except Exception as exc:  # noqa: BLE001 - whatever it is, the drives get their zero, and the run ends here
            status, why = 1, f"error in the program: {type(exc).__name__}: {exc}"
            self._keep_trace()
        finally:
            self.manager.stopping(why or "ended at once")
            self._last_words()
            self.port.close()
        self._tell("run", f"ended: {why}; zero commands sent, every enable off")
        self.recorder.keep(self.supervisor.controller.memory.boat.dwells.since_full_s)
        report.close()
        self.recorder.close(why)
        self._lock.release()
        self.manager.close()
        return status

    def tick(self, now_s: float) -> None:
        """One tick of the loop."""
        begin_s = time.perf_counter()
        self._now_s = now_s
        supervisor = self.supervisor
        supervisor.deadline_ok = self.loop.deadline_ok
        outcome = supervisor.tick(now_s)
        unread_ok = self.watch.after_tick(now_s, supervisor.table, self.port)
        supervisor.receive_ok = self.watch.affordable(now_s, supervisor.received, self._took_s) and unread_ok
        self.recorder.outcome(outcome, supervisor.controller.memory.boat.dwells.since_full_s)
        self._notice(now_s)
        self.manager.ticked(now_s, f"boat {outcome.boat_mode.name}")
        self._took_s = time.perf_counter() - begin_s
        self.cycle.add(self._took_s)

    def report(self) -> dict[str, object]:
        """Timing and counters, JSON-able."""
        timing = self.timing
        return {
            "tick_s": self.config.boat.tick_s,
            "ticks": timing.ticks,
            "missed_ticks": timing.missed,
            "lateness": timing.fine.report(),
            "cycle": self.cycle.report(),
            "collections": {"runs": self.collector.runs, "longest_s": self.collector.longest_s},
            "unread_overruns": self.watch.overruns,
            "adapters": {
                name: {**self.port.report()[name], **self.adapters.counts(setting.interface, setting.channel)}
                for name, setting in self._settings.items()
            },
            "inputs": self.supervisor.table.report(),
            "kept": self.recorder.report(),
        }

    # ---- parts

    def _tell(self, subject: str, text: str) -> None:
        self.recorder.runtime(self._now_s, subject, text)

    def _notice(self, now_s: float) -> None:
        """What changed about clock and adapters since the last tick."""
        missed = self.timing.missed
        if missed != self._missed and now_s >= self._missed_due_s:
            self._tell("clock", f"{missed - self._missed} ticks missed, {missed} since the start")
            self._missed = missed
            self._missed_due_s = now_s + _MISSED_PERIOD_S
        if self.loop.deadline_ok != self._deadline_ok:
            self._deadline_ok = self.loop.deadline_ok
            if self._deadline_ok:
                self._tell("clock", "ticks are on time again")
            else:
                self._tell(
                    "clock",
                    f"more than {self.options.budget} ticks missed in {self.options.window_s:g} s: a boat in "
                    f"NEUTRAL_WAIT or "
                    "READY goes to TRIPPED",
                )
        other = self.supervisor.other
        if bool(other) != self._other:
            self._other = bool(other)
            if other:
                self._tell(
                    "run",
                    f"NOT ALONE: another sender gives orders on this bus: {other}. A boat in NEUTRAL_WAIT or READY "
                    "goes to TRIPPED. Find the sender (a second supervisor, a stand-in, a replay, or an adapter that "
                    "echoes) and switch it off. Until then ENABLE and RESET are refused",
                )
            else:
                self._tell("run", "the other sender is silent; the bus is free")
        self.bus_state.after_tick(now_s, self.port.problems())
        log = self.recorder.bus_log
        if bool(log.failing) != self._log_failing:
            self._log_failing = bool(log.failing)
            if log.failing:
                self._tell(
                    "bus log",
                    f"cannot be written: {log.failing}. Frames are kept in memory, up to {CAPACITY:,}; later ones "
                    f"are lost",
                )
            else:
                self._tell("bus log", f"is written again; {log.lost} lines were lost since the start")

    def _take_priority(self) -> None:
        if not self.options.priority:
            return
        try:
            os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(self.options.priority))
        except (AttributeError, OSError) as exc:
            self._tell("clock", f"real-time priority {self.options.priority} was not given: {exc}")

    def _last_words(self) -> None:
        for number in range(LAST_WORDS):
            if number:
                time.sleep(self.config.boat.tick_s)
            try:
                self.supervisor.stop(self.clock.now_s())
            except Exception as exc:  # noqa: BLE001 - the way out must be gone to its end; the drives time out
                self._tell("run", f"the zero commands could not be sent: {type(exc).__name__}: {exc}")
                return

    def _keep_trace(self) -> None:
        """The program's own trace goes into the folder, for its makers; the screen gets one sentence."""
        try:
            with (self.folder / "error.txt").open("a", encoding="utf-8") as file:
                traceback.print_exc(file=file)
        except OSError as exc:
            self._tell("run", f"the trace of the error could not be written: {exc.strerror}")
