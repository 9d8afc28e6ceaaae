"""The simulated boat of the panel: the bench's own rig, which lets the engine work around each tick, and keeps a diary.

A procedure steps it as it steps any rig, and so is watched, paced and stopped by the same hooks as a free drive.
"""

from collections.abc import Callable
from pathlib import Path

from sim.faults.base import Value
from sim.panel.made import Deed, Diary, Seen, made_procedure
from sim.rig.simulated import SimRig
from supervisor.config import BoatConfig


def _nothing() -> None:
    return


class PanelRig(SimRig):
    """`before` and `after` are called around each tick. Raises ConfigError for a boat that cannot be simulated."""

    def __init__(self, config: BoatConfig, file: Path) -> None:
        super().__init__(config, file=file)
        self.before: Callable[[], None] = _nothing
        self.after: Callable[[], None] = _nothing
        self.diary = Diary()
        self._modes = ("boat.mode", *(f"{shaft}.mode" for shaft in self.shafts))

    def step(self) -> None:
        """One tick, with the engine's work before and after it."""
        self.before()
        super().step()
        self.after()

    def act(self, target: str, value: Value) -> str:
        """As on any rig, and into the diary."""
        seen = self.seen()
        refusal = super().act(target, value)
        self.diary.add(self.deed("do", target, value), seen)
        return refusal

    def set_plant(self, target: str, value: float) -> None:
        """As on any rig, and into the diary."""
        seen = self.seen()
        super().set_plant(target, value)
        self.diary.add(self.deed("set", target, float(value)), seen)

    def inject(self, fault: str, target: str, **params: Value) -> None:
        """As on any rig, and into the diary."""
        seen = self.seen()
        super().inject(fault, target, **params)
        self.diary.add(self.deed("inject", target, fault=fault)._replace(params=params), seen)

    def clear(self, fault: str, target: str) -> None:
        """As on any rig, and into the diary."""
        seen = self.seen()
        super().clear(fault, target)
        self.diary.add(self.deed("clear", target, fault=fault), seen)

    def deed(self, kind: str, target: str, value: Value = "", fault: str = "") -> Deed:
        """Something done before the next tick."""
        return Deed(self._ticks, kind, target, value, fault)

    def seen(self) -> Seen:
        """Modes and number of events, now."""
        signals = self.signals()
        return Seen(tuple((name, str(signals[name])) for name in self._modes), len(self.events))

    def made(self) -> str:
        """A procedure file of what was done since power-up. Raises ValueError where there is none to be made."""
        return made_procedure(self.boat, self.diary, self.tick_s, self._ticks, self.seen(), self.events)

    def tell(self, kind: str, subject: str, text: str) -> None:
        """An event of the panel itself."""
        self._tell(kind, subject, text)

    def release(self) -> list[str]:
        """Let go as a person would: every lever to neutral, the handset let go and its thrust at zero. Engines,
        gearboxes, clutches, selectors and switches stay as they are. Returns what was moved, in words."""
        done = []
        for shaft, panel in zip(self.shafts, self.panel.shafts, strict=True):
            if panel.lever_pct != 0.0:
                self.act(f"{shaft}.lever_pct", 0.0)
                done.append(f"{shaft} lever to neutral")
        if self.panel.handset_held:
            self.act("handset.held", False)
            done.append("handset let go")
        if self.let_spring_back():
            done.append("handset thrust to zero")
        return done

    def let_spring_back(self) -> bool:
        """The handset's thrust back to zero. Returns whether it was anywhere else."""
        away = any(panel.handset_pct != 0.0 for panel in self.panel.shafts)
        if away:
            self.act("handset.thrust_pct", 0.0)
        return away
