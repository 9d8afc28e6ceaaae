"""The boat of the panel in a process of its own: it moves by its own clock, obeys one page at a time, and says twenty
times a second what is so. No page and no network can hold it up.

Pure but for the clock and the run folders: commands are handed to `take`, messages come out of `send`; `turn` does one
tick, or one job that takes longer (power up anew, a procedure, a run folder).
"""

from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from sim.bench.load import load_procedure
from sim.errors import BenchError
from sim.panel.command import Command, understood
from sim.panel.control import Control
from sim.panel.describe import HOLD_TO_RUN, describe, describe_hands, shipped_procedures
from sim.panel.link import EVENTS, EVERYBODY, FAST, HELLO, REPLY, SLOW, TRAFFIC
from sim.panel.pace import Pace
from sim.panel.rig import PanelRig
from sim.panel.running import ByHand, Progress, run_in_folder
from sim.panel.showing import Showing
from sim.panel.traffic import Traffic
from supervisor.config import BoatConfig
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.loop import Clock

Send = Callable[[str, str, object], None]

FAST_S, SLOW_S, TRAFFIC_S = 0.05, 0.25, 0.5
"""How often each view is sent, in time of the wall clock, s."""
STAYS = "engines, gearboxes, clutches, selectors and switches stay as they were"
_BEGINS = ("procedure", "record", "power_up")
"""What is asked for and begins with a boat powered up anew, its emergency stop out."""
MOST_WAITING = 50
"""So many things that one page asked for may wait for their tick."""
_BUSY = "a procedure is running: stop it first"


def nothing() -> None:
    """No page has sent anything."""


class Engine:
    """One simulated boat for all pages. Raises ConfigError for a boat that cannot be simulated."""

    def __init__(
        self, config: BoatConfig, file: Path, clock: Clock, send: Send, base: Path = Path("runs"), plot: bool = True
    ) -> None:
        """`base` is where run folders are made; `plot` whether they hold the picture."""
        self._config, self._file, self._clock, self._send = config, file, clock, send
        self._base, self._plot = base, plot
        self.control = Control()
        self.pace = Pace(config.boat.tick_s, clock)
        self.collector = SlackCollector()
        self._deeds: deque[Command] = deque()
        self._urgent: deque[Command] = deque()
        self._job: Callable[[], None] | None = None
        self._running = False
        self._stop = False
        self._by_hand: ByHand | None = None
        self._progress: Progress | None = None
        self._began_s = clock.now_s()
        self._number = 0
        self._next_s = {FAST: 0.0, SLOW: 0.0, TRAFFIC: 0.0}
        self.listen: Callable[[], None] = nothing
        """Called before each tick: hands over to `take` what pages have sent since."""
        self.ended: Callable[[], bool] = lambda: False
        """Whether the program is to end: asked on every tick of a procedure."""
        self.rig = self._new_rig()

    def hello(self) -> None:
        """What pages must know before they can show anything."""
        told = describe(self._config, self.rig.boat_map, "simulated")
        self._send(HELLO, EVERYBODY, {**told, **describe_hands(self.rig)})

    def turn(self) -> None:
        """One tick, or one job."""
        job, self._job = self._job, None
        if job is None:
            self.rig.step()
        else:
            job()
            self.pace.begin_anew()

    def close(self) -> None:
        """End: a recording is closed as it is."""
        if self._by_hand is not None:
            self._by_hand.abandon()
        self.rig.close()

    # ---- the boat

    def _new_rig(self) -> PanelRig:
        rig = PanelRig(self._config, self._file)
        rig.before, rig.after = self._before, self._after
        self._traffic = Traffic(rig.boat_map)
        rig.on_frame = self._traffic.take
        self._showing = Showing(rig)
        self._told = 0
        return rig

    def _power_up(self) -> None:
        """The boat as it is after power-up: nothing of what was done before is left."""
        self.rig.close()
        self.rig = self._new_rig()
        self._event(0.0, "power up", "boat", "the simulated boat was powered up anew")

    def _before(self) -> None:
        now_s = self.pace.wait()
        self.listen()
        self._obey()
        if silent_s := self.control.stale_s(now_s):
            self._lost(f"not heard for {silent_s:.1f} s")
        self._hold()

    def _after(self) -> None:
        rig = self.rig
        if rig.outcome is not None and rig.outcome.events:
            self._showing.rows.take(rig.outcome, rig.shafts)
            self._next_s[SLOW] = 0.0
        if self._by_hand is not None:
            self._by_hand.tick()
        if self._told < len(rig.events):
            for event in rig.events[self._told :]:
                self._event(*event)
            self._told = len(rig.events)
        self._show()
        self.pace.rest(self.collector)

    # ---- what pages are shown

    def _event(self, time_s: float, kind: str, subject: str, text: str) -> None:
        self._number += 1
        told = {"n": self._number, "time_s": round(time_s, 3), "kind": kind, "subject": subject, "text": text}
        self._send(EVENTS, EVERYBODY, [told])

    def _show(self) -> None:
        now_s = self._clock.now_s()
        if self._due(FAST, FAST_S, now_s):
            self._send(FAST, EVERYBODY, self._fast())
        if self._due(SLOW, SLOW_S, now_s):
            self._send(SLOW, EVERYBODY, self._slow())
        if self._due(TRAFFIC, TRAFFIC_S, now_s):
            self._send(TRAFFIC, EVERYBODY, self._traffic.report(self.rig.now_s))

    def _due(self, kind: str, period_s: float, now_s: float) -> bool:
        if now_s < self._next_s[kind]:
            return False
        self._next_s[kind] = max(self._next_s[kind] + period_s, now_s)
        return True

    def _fast(self) -> dict[str, Any]:
        holder = self.control.holder
        return {
            **self._showing.fast(),
            "speed": self.pace.speed,
            "control": {"holder": "" if holder is None else holder.name, "lost": self.control.lost},
            "running": self._running,
            "recording": "" if self._by_hand is None else str(self._by_hand.folder.path),
        }

    def _slow(self) -> dict[str, Any]:
        progress = self._progress
        return {**self._showing.slow(), "progress": None if progress is None else progress.shown()}

    # ---- what pages ask

    def take(self, data: Mapping[str, Any], heard_s: float) -> None:
        """One command of one page, stamped when it came (s of the clock). Signs of life count at once, whatever else
        waits; deeds are done between two ticks, in their order."""
        try:
            command = understood(data, heard_s)
        except ValueError as error:
            self._reply(understood({**data, "value": "", "params": None}, heard_s), False, str(error))
            return
        if command.do == "beat":
            self.control.beat(command.client, command.held & set(HOLD_TO_RUN), heard_s)
        elif command.do == "hidden":
            if self.control.is_holder(command.client):
                self._lost("its tab was hidden, or the device went to sleep")
        elif _is_emergency_stop(command):
            self._urgent.append(command)
        elif sum(one.client == command.client for one in self._deeds) >= MOST_WAITING:
            self._reply(command, False, f"{MOST_WAITING} things that this page asked for are waiting: ask again later")
        else:
            self._deeds.append(command)

    def _obey(self) -> None:
        while self._urgent:  # before all that waits for a tick of its own
            command = self._urgent.popleft()
            self._reply(command, True, self._do(command))
        while self._deeds and self._job is None:  # a job is a boat of its own: what was asked after it waits for it
            command = self._deeds[0]
            if self._must_wait(command):
                return
            self._deeds.popleft()
            try:
                text = self._do(command)
            except (ValueError, BenchError, OSError) as error:
                self._reply(command, False, str(error))
            else:
                self._reply(command, True, text)

    def _must_wait(self, command: Command) -> bool:
        """A procedure could not do it in this tick as well: then nor do we, and the rerun is the same."""
        kind = "do" if command.do == "act" else command.do
        if self._running or kind not in ("do", "set", "inject", "clear"):
            return False
        rig = self.rig
        return not rig.diary.fits(rig.deed(kind, command.target, command.value, command.fault))

    def _reply(self, command: Command, done: bool, text: str) -> None:
        if command.re:
            self._send(REPLY, command.client, {"re": command.re, "ok": done, "text": text})

    def _do(self, command: Command) -> str:
        client, name, do = command.client, command.name, command.do
        if do == "take":
            self.control.take(client, name, self._clock.now_s())  # it beats from now on, however long this has waited
            self.rig.tell("action", "boat", f"{name} takes control")
            return ""
        if do == "timing":  # for benchmarks: how late ticks began since the last question
            return self._timing()
        if _is_emergency_stop(command):
            return self._emergency_stop(name)  # whoever sees the danger may stop
        if not self.control.is_holder(client):
            raise ValueError("this page watches: take control first")
        if do == "let_go":
            self.control.let_go(client)
            self._left(f"{name} lets go of control")
            return ""
        if do == "stop":
            self._stop = True
            return ""
        if do == "speed":
            self.pace.set_speed(command.number())
            return ""
        if self._running:
            raise ValueError(_BUSY)
        return self._deed(command)

    def _deed(self, command: Command) -> str:
        rig, do = self.rig, command.do
        if do == "act":
            return rig.act(command.target, command.value)
        if do == "set":
            rig.set_plant(command.target, command.number())
        elif do == "inject":
            if strange := command.params.keys() & {"self", "fault", "target"}:
                raise ValueError(f"{command.fault} has no parameter {', '.join(sorted(strange))}")
            rig.inject(command.fault, command.target, **command.params)
        elif do == "clear":
            rig.clear(command.fault, command.target)
        elif do == "power_up":
            self._job = self._anew
        elif do == "make":
            return rig.made()
        elif do == "record":
            self._record()
        elif do == "procedure":
            return self._procedure(command.procedure, command.text)
        else:
            raise ValueError(f"{do!r} is nothing that the panel does")
        return ""

    def _emergency_stop(self, name: str) -> str:
        """Anybody's; a procedure that is running ends with it. What was to begin (procedure, recording, power-up)
        does not: it would begin with the button out again."""
        self._stop = self._stop or self._running
        begins = [one for one in self._deeds if one.do in _BEGINS]
        for one in begins:
            self._deeds.remove(one)
            self._reply(one, False, "not begun: the emergency stop was pressed")
        if self._job is not None or begins:
            self._job = None
            self.rig.tell("action", "boat", "what was asked for just now is not begun: the emergency stop is pressed")
        if self.control.holder is None or self.control.holder.name != name:
            self.rig.tell("action", "boat", f"{name} presses the emergency stop")
        return self.rig.act("helm.emergency_stop", True)

    # ---- losing control

    def _lost(self, why: str) -> None:
        self._left(f"{self.control.lose(why)} was lost, {why}")

    def _left(self, what: str) -> None:
        """Nobody is in control any more. A procedure that is running ends first: levers moved under it would be its
        verdict's."""
        if self._running:
            self._stop = True
            self.rig.tell("action", "boat", f"{what}: the procedure that is running is stopped")
        else:
            self._released(what)

    def _released(self, what: str) -> None:
        done = self.rig.release()
        self.rig.tell("action", "boat", f"{what}: {', '.join(done) or 'no lever was out of neutral'}; {STAYS}")

    def _hold(self) -> None:
        """Hold-to-run controls are as the last heartbeat says. Let go, the handset's thrust springs back to zero."""
        if self._running:
            return
        rig = self.rig
        for target in HOLD_TO_RUN:
            want = target in self.control.held
            if rig.lacks(target, want) == "" and rig.position(target) != want:
                rig.act(target, want)
                if not want:
                    rig.let_spring_back()

    # ---- jobs

    def _anew(self) -> None:
        if self._by_hand is not None:
            self._finish_recording()
        self._power_up()

    def _record(self) -> None:
        """Start, from power-up, or end."""
        self._job = self._finish_recording if self._by_hand is not None else self._start_recording

    def _start_recording(self) -> None:
        self._power_up()
        try:
            self._by_hand = ByHand(self.rig, self._config, self._file, self._base)
        except (OSError, BenchError) as error:
            self._event(0.0, "fault", "boat", f"nothing is recorded: {error}")
            return
        self._began_s = self._clock.now_s()
        self._event(0.0, "action", "boat", f"recording to {self._by_hand.folder.path}")

    def _finish_recording(self) -> None:
        by_hand, self._by_hand = self._by_hand, None
        if by_hand is None:
            return
        try:
            result = by_hand.finish(self._clock.now_s() - self._began_s, self._plot)
        except (OSError, BenchError) as error:
            self._event(self.rig.now_s, "fault", "boat", f"the run folder could not be written: {error}")
            return
        self._event(self.rig.now_s, "action", "boat", f"run folder: {by_hand.folder.path}; {result.summary()}")

    def _procedure(self, name: str, text: str) -> str:
        """Run one: by its shipped name, or as the text of a file called `name`. Raises BenchError where it cannot."""
        if self._by_hand is not None:
            raise ValueError("a drive by hand is being recorded: end the recording first")
        if not text:
            found = {path.stem: path for path in shipped_procedures()}.get(name)
            if found is None:
                raise BenchError(f"{name}: no shipped procedure has this name")
            load_procedure(found, self._config)
            text = found.read_text(encoding="utf-8")
        stem = "".join(letter if letter.isalnum() or letter in "_-" else "_" for letter in Path(name).stem) or "loaded"
        self._job = lambda: self._run(text, stem)
        return ""

    def _run(self, text: str, stem: str) -> None:
        self._power_up()
        self._progress, self._running = Progress(stem), True
        try:
            run_in_folder(
                self.rig, self._config, self._file, text, stem, self._base, self._progress,
                lambda: self._stop or self.ended(), self._plot,
            )  # fmt: skip
        except (BenchError, OSError, ValueError, RecursionError) as error:  # whatever its text holds
            self._progress.summary, self._progress.passed = f"it cannot be run: {error}", False
        finally:
            self._running = self._stop = False
        self._progress.now = ""
        self._released(f"procedure {stem} is over")
        self._event(self.rig.now_s, "step", "boat", f"{stem}: {self._progress.summary}")

    def _timing(self) -> str:
        late = self.pace.late
        seconds = " ".join(f"{one:.6f}" for one in (late.quantile_s(0.5), late.quantile_s(0.999), late.worst_s))
        text = f"{late.total} {seconds} {self.pace.missed}"
        self.pace = _again(self.pace, self._config.boat.tick_s, self._clock)
        return text


def _again(pace: Pace, tick_s: float, clock: Clock) -> Pace:
    """A pace at the same speed whose counts begin anew."""
    fresh = Pace(tick_s, clock)
    fresh.go_on_from(pace)
    return fresh


def _is_emergency_stop(command: Command) -> bool:
    return command.do == "act" and command.target == "helm.emergency_stop" and command.value is True
