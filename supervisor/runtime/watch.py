"""What the adapters hide: a backlog that grows, a bus that has died behind an adapter that says nothing, and frames
that come from two places."""

from collections.abc import Callable, Mapping

from supervisor.bus import BoatMap, BusPort, InputTable
from supervisor.bus.port import BusSetting
from supervisor.runtime.adapters import Adapters
from supervisor.signals import BOAT

UNREAD_LIMIT_S = 0.02
"""Input unread at the end of a tick, as time on a full bus: more is old before it is used."""
SILENT_S = 2.0
"""All guarded inputs of a bus stale for this long: the adapter is opened anew. Doubles up to LONGEST_SILENT_S."""
LONGEST_SILENT_S = 30.0
QUIET_S = 5.0
"""What is going on is told once, and again when it was away for so long."""
_PERIOD_S = 0.1
DEAR_FRAMES = 40
DEAR_SHARE = 0.8
DEAR_TICKS = 2
"""So many ticks in a row, with so many frames each, that take so much of their time: trips."""
GARBLED = 20
"""So many lines in a second that are no frames are told: some are torn whenever a bus is plugged in."""
TWO = (
    "comes from two senders that contradict each other: none of its frames is used, its inputs count as lost. Take the "
    "second one (a stand-in, a replay, a spare box) off the bus"
)
TWICE = "comes twice, byte for byte: a gateway with a loop, or a second sender in step with the first. Find it"


class _Silence:
    """One bus that carries guarded inputs."""

    def __init__(self, inputs: list[tuple[str, float]]) -> None:
        self.inputs = inputs
        self.since_s: float | None = None
        self.limit_s = SILENT_S
        self.heard = False


class BusWatch:
    """Call `after_tick` at the end of each tick; `tell(subject, text)` is called when something is found."""

    def __init__(
        self,
        boat_map: BoatMap,
        settings: Mapping[str, BusSetting],
        adapters: Adapters,
        tell: Callable[[str, str], None],
        tick_s: float = 0.02,
    ) -> None:
        self._settings = settings
        self._adapters = adapters
        self._tell = tell
        self._tick_s = tick_s
        self._dear = 0
        self._next_s = 0.0
        self.overruns = 0
        self._doubles: dict[tuple[str, str], bool] = {}
        self._garbled: dict[str, tuple[float, int]] = {}
        self._told_s: dict[tuple[str, str], float] = {}
        self._silence: dict[str, _Silence] = {}
        for row in boat_map.inputs:
            if row.spec.guarded:
                name = row.spec.name if row.level == BOAT else f"{boat_map.shaft_names[row.level]}.{row.spec.name}"
                self._silence.setdefault(row.bus, _Silence([])).inputs.append((name, row.stale_s))

    def after_tick(self, now_s: float, table: InputTable, port: BusPort) -> bool:
        """False while input piles up unread: what the next tick reads would be old and look fresh."""
        over = set()
        for name, setting in self._settings.items():
            adapter = self._adapters.get(setting.interface, setting.channel)
            if adapter is None:
                continue
            if adapter.unread_s() > UNREAD_LIMIT_S:
                over.add(name)
            if (quiet_s := adapter.mute_s()) > 0.0 and name not in port.problems():
                adapter.blame(f"the adapter accepts frames but has sent none for {quiet_s:.2f} s; it is opened again")
        for name in sorted(over):
            if self._due(name, "unread traffic", now_s, while_it_lasts=True):
                self._tell(
                    f"bus {name}",
                    f"more than {UNREAD_LIMIT_S * 1000:.0f} ms of frames are not read yet: a boat in NEUTRAL_WAIT "
                    f"or READY "
                    "goes to TRIPPED",
                )
        self.overruns += len(over)
        if now_s >= self._next_s:
            self._next_s = now_s + _PERIOD_S
            self._listen(now_s, table, port)
            self._count_senders(table.second_senders(now_s))
            self._count_garbled(now_s)
            self._tell_gaps(now_s, table)
        return not over

    def affordable(self, now_s: float, frames: int, took_s: float) -> bool:
        """False when reading takes what the tick has: soon frames will lie unread, and be old before they are used.
        `frames` were received in this tick, `took_s` is how long the one before took (s)."""
        dear = frames >= DEAR_FRAMES and took_s > DEAR_SHARE * self._tick_s
        self._dear = self._dear + 1 if dear else 0
        if self._dear < DEAR_TICKS:
            return True
        if self._due("clock", "traffic", now_s, while_it_lasts=True):
            self._tell(
                "clock",
                f"{frames} frames in a tick: reading them takes {took_s * 1000:.0f} of {self._tick_s * 1000:.0f} ms: "
                "a boat in NEUTRAL_WAIT or READY goes to TRIPPED. Find what floods the bus, or use a faster computer",
            )
        return False

    def _due(self, subject: str, what: str, now_s: float, while_it_lasts: bool = False) -> bool:
        """Whether something is to be told that was not told for QUIET_S; `while_it_lasts`: nor was it going on."""
        before_s = self._told_s.get((subject, what), -QUIET_S)
        due = now_s - before_s >= QUIET_S
        if due or while_it_lasts:
            self._told_s[subject, what] = now_s
        return due

    def hears(self, now_s: float, table: InputTable, bus: str) -> bool:
        """Whether any guarded input of a bus is fresh; True for a bus that carries none."""
        silence = self._silence.get(bus)
        if silence is None:
            return True
        ages = table.ages(now_s)
        return any((age := ages[key]) is not None and age <= stale_s for key, stale_s in silence.inputs)

    def _count_garbled(self, now_s: float) -> None:
        for name, setting in self._settings.items():
            count = self._adapters.counts(setting.interface, setting.channel)["garbled"]
            since_s, before = self._garbled.setdefault(name, (now_s, count))
            if now_s - since_s < 1.0:
                continue
            if count - before >= GARBLED and self._due(name, "garbled lines", now_s):
                self._tell(
                    f"bus {name}",
                    f"{count - before} lines from the adapter in {now_s - since_s:.1f} s were no frames: it is set to "
                    f"another bit rate than the bus, or to another protocol ({setting.bitrate} bit/s is asked for), or "
                    "the serial line is bad",
                )
            self._garbled[name] = (now_s, count)

    def _tell_gaps(self, now_s: float, table: InputTable) -> None:
        for (bus, message), (gap_s, stale_s) in table.gaps().items():
            if self._due(bus, message, now_s):
                self._tell(
                    f"bus {bus}",
                    f"{message}: {gap_s:.3f} s between two frames; its inputs are lost after {stale_s:g} s without one",
                )

    def _count_senders(self, doubles: dict[tuple[str, str], bool]) -> None:
        for (bus, message), two in doubles.items():
            if self._doubles.get((bus, message)) is not two:
                self._tell(f"bus {bus}", f"{message} {TWO if two else TWICE}")
        for bus, message in self._doubles.keys() - doubles.keys():
            self._tell(f"bus {bus}", f"{message} comes from one sender again")
        self._doubles = doubles

    def _listen(self, now_s: float, table: InputTable, port: BusPort) -> None:
        ages = table.ages(now_s)
        closed = port.problems()
        for name, silence in self._silence.items():
            fresh = any((age := ages[key]) is not None and age <= stale_s for key, stale_s in silence.inputs)
            if fresh:
                silence.heard, silence.limit_s, silence.since_s = True, SILENT_S, None
                continue
            if name in closed:  # known to be away: nothing to infer
                silence.since_s = None
                continue
            if silence.since_s is None:
                silence.since_s = now_s
                if silence.heard:
                    self._tell(
                        f"bus {name}",
                        "no guarded frame at all though the adapter reports nothing: bus-off, a broken cable, or every "
                        "sender off",
                    )
            elif now_s - silence.since_s >= silence.limit_s:
                adapter = self._adapters.get(self._settings[name].interface, self._settings[name].channel)
                if adapter is not None:
                    adapter.blame("silent; the adapter is opened again, in case it is bus-off")
                silence.limit_s = min(2 * silence.limit_s, LONGEST_SILENT_S)
                silence.since_s = None
                silence.heard = False
