"""What the bench needs of a rig: a boat with its supervisor, simulated or real, advanced one tick at a time."""

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Protocol, runtime_checkable

from sim.faults.base import Value

if TYPE_CHECKING:
    import can

    from sim.nodes.own import OwnKind
    from sim.requirements import Judgement, Record
    from sim.rig.energy import Energy


class Event(Protocol):
    """Something that happened: `time_s` since power-up, `kind` one of EVENT_KINDS, `subject` boat or shaft name."""

    @property
    def time_s(self) -> float: ...
    @property
    def kind(self) -> str: ...
    @property
    def subject(self) -> str: ...
    @property
    def text(self) -> str: ...


EVENT_KINDS = ("mode", "trip", "alarm", "gone", "refusal", "action", "fault", "jump", "step")
"""The first seven come from the rig, `gone` is the end of an alarm; `jump` (the simulated boat was set to a value) and
`step` come from the bench."""


@runtime_checkable
class Rig(Protocol):
    """A boat on the bench. All times in seconds since power-up; torque and speed positive ahead, current positive
    into the bank."""

    on_frame: "Callable[[float, can.Message, str], None] | None"
    """Called with time (s), frame and bus name for every frame on every bus, while it is set."""

    @property
    def explains(self) -> bool:
        """Whether the supervisor can be asked why: False for a device that only speaks on its bus."""

    @property
    def unseen(self) -> Collection[str]:
        """Signals, kinds of events and words of alarms that the supervisor under test does not show: nothing is judged
        by them."""

    @property
    def now_s(self) -> float: ...
    @property
    def tick_s(self) -> float: ...
    @property
    def events(self) -> Sequence[Event]:
        """Everything that happened so far, oldest first; only ever appended to."""

    @property
    def boat(self) -> str:
        """Name of the boat."""

    @property
    def shafts(self) -> Sequence[str]:
        """Shaft names, in the order of the configuration."""

    @property
    def interlocks(self) -> "Mapping[str, OwnKind]":
        """The own interlocks of the boat by name, in the order of the configuration, and what each may be put to."""

    @property
    def buses(self) -> Sequence[str]:
        """Bus names, in the order of the configuration: the first is can0 in a log, the second can1."""

    def step(self) -> None:
        """Advance everything by one tick."""

    def act(self, target: str, value: Value) -> str:
        """An operator action of sim.rig.targets. Returns "" or, where a circuit of the boat bars it, why nothing
        happens. Raises ValueError, naming target and value, if it cannot be done."""

    def plant_targets(self) -> Sequence[str]:
        """What `set_plant` may set."""

    def set_plant(self, target: str, value: float) -> None:
        """Make the simulated boat jump to a value. Raises ValueError if it cannot."""

    def faults(self) -> Mapping[str, str]:
        """The catalogue: fault name -> what it does, in words."""

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """Start a fault. Raises ValueError naming what is allowed for an unknown fault, target or parameter."""

    def clear(self, fault: str, target: str) -> None:
        """End a fault. Raises ValueError if it was not there."""

    def signals(self) -> Mapping[str, float | str]:
        """A flat snapshot of the truth and of what the supervisor saw and decided; the keys never change.

        The unit is the end of the key (`_pct`, `_a`, `_v`, `_nm`, `_rpm`, `_kn`, `_c`); a value not known is NaN.
        """

    def explain(self, what: str) -> Sequence[str]:
        """What is missing for `what` ("enable", "port PROPEL"), one line each; empty when nothing is."""

    def slack_s(self, event: str) -> float:
        """How much later than in logical time a thing may show, s: "signal", a kind of event, or "" for any event; for
        "slope", how wrong the time between two looks may be."""

    def remarks(self) -> Sequence[str]:
        """What the evidence must say of the rig itself: what was real, how well it kept time."""

    def close(self) -> None:
        """Release the buses."""


@runtime_checkable
class Audited(Protocol):
    """A rig that adds up the energies of its simulated boat."""

    def begin_audit(self) -> None:
        """From now on."""

    def energy(self) -> "Energy | None":
        """The balance since then."""


@runtime_checkable
class Recorded(Protocol):
    """A rig whose supervisor can be recorded from its own side, so that a replay decides what it decided."""

    def record_supervisor(
        self,
        on_frame: "Callable[[float, can.Message, str], None] | None",
        on_tick: Callable[[float, bool, bool, frozenset[str], int | None], None] | None,
    ) -> None:
        """Follow every frame that the supervisor receives and sends, stamped with its tick, and every tick: its time,
        receive path and deadlines in order, buses that came back, the code of what it decided. None and None to end
        it."""


class Evaluates(Protocol):
    """Judges a stream of records."""

    @property
    def unjudged(self) -> Mapping[str, str]:
        """Requirements that could be judged on signals but are not on this rig, and why."""

    def feed(self, record: "Record") -> None:
        """Look at one tick."""

    def finish(self) -> "Sequence[Judgement]":
        """The verdicts so far."""


@runtime_checkable
class Judged(Protocol):
    """A rig whose every tick can be judged against the safety requirements."""

    def evaluator(self) -> "Evaluates":
        """A fresh evaluator for this boat and its limits."""

    def records(self) -> "Sequence[Record]":
        """The ticks of the supervisor that have been done since the last call."""
