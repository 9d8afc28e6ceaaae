"""What-if: the same recording under changed settings, and where the decisions part.

The recording does not answer to changed decisions: what is compared is what would have been decided on these very
inputs, not how the boat would have gone on.
"""

import tomllib
from collections.abc import Iterable, Sequence
from functools import partial
from typing import Any, NamedTuple

from sim.replay.disagreements import Disagreements
from sim.replay.errors import ReplayError
from sim.replay.replayed import Change, Heard, ReplayedSupervisor
from sim.replay.shadow import ordered
from sim.replay.ticks import Ticks
from sim.replay.why import why
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import BOAT

_BOAT_NAMES = ("boat.mode", "sources.stop", "boat.charge_limit_a", "boat.derate_pct", "handset.in_control")
_SHAFT_NAMES = (
    "shaft.mode", "drive.torque_nm", "drive.current_a", "drive.enable", "engine.start", "clutch.close", "lock.engage",
)  # fmt: skip


def parse_settings(texts: Iterable[str]) -> dict[str, Any]:
    """`--set limits.taper_start_pct=85` options; the value is written as in TOML. Raises ReplayError."""
    found: dict[str, Any] = {}
    for text in texts:
        key, equals, value = text.partition("=")
        if not equals or not key.strip():
            raise ReplayError(f"--set {text}: is not KEY=VALUE, for example limits.taper_start_pct=85")
        try:
            found[key.strip()] = tomllib.loads(f"value = {value}")["value"]
        except tomllib.TOMLDecodeError:
            raise ReplayError(f"--set {text}: {value!r} is no value; write numbers as 85.0, text in quotes, "
                              "true or false, lists in brackets") from None  # fmt: skip
    return found


class Difference(NamedTuple):
    """How the decisions differ. `first_s` is the first moment they do, None if never."""

    settings: dict[str, Any]
    first_s: float | None
    ticks: int
    disagreements: Disagreements


class WhatIf:
    """Observes two subjects, number 0 as it is and number `which` under changed settings."""

    def __init__(
        self, base: ReplayedSupervisor, changed: ReplayedSupervisor, which: int, settings: dict[str, Any], ticks: Ticks
    ) -> None:
        self.disagreements = Disagreements(grace_s=0.0)
        self.first_s: float | None = None
        self.different_ticks = 0
        self.settings = settings
        self._base = base
        self._changed = changed
        self._which = which
        self._ticks = ticks
        self._now: list[Change | None] = [None, None]
        self._since = 0
        self._differ = False
        self._rows = [(BOAT, name, name) for name in _BOAT_NAMES]
        for level, shaft in enumerate(base.boat_map.shaft_names):
            self._rows += [(level, name, f"{shaft}.{name.removeprefix('shaft.')}") for name in _SHAFT_NAMES]

    def span(self, first: int, stop: int, changes: Sequence[Sequence[Change]], commands: Sequence[Heard]) -> None:
        """Compare at every tick at which either changed."""
        ours, theirs = changes[0], changes[self._which]
        i = j = 0
        while i < len(ours) or j < len(theirs):
            tick = min(ours[i].tick if i < len(ours) else stop, theirs[j].tick if j < len(theirs) else stop)
            if i < len(ours) and ours[i].tick == tick:
                self._now[0] = ours[i]
                i += 1
            if j < len(theirs) and theirs[j].tick == tick:
                self._now[1] = theirs[j]
                j += 1
            self._compare(tick)

    def _compare(self, tick: int) -> None:
        base, changed = self._now
        if base is None or changed is None:
            return
        if self._differ:
            self.different_ticks += tick - self._since
        self._since = tick
        self._differ = base.outcome[1:5] != changed.outcome[1:5]
        if not self._differ and not self.disagreements.open:
            return
        now_s = self._ticks.at(tick)
        if self._differ and self.first_s is None:
            self.first_s = now_s
        for level, name, label in self._rows:
            was, now = ordered(base.outcome, level, name), ordered(changed.outcome, level, name)
            self.disagreements.compare(label, now_s, was, now, 1e-9, partial(self._why, level, name, was, now))

    def _why(self, level: int, name: str, was: float, now: float) -> str:
        """The reason is on the side that allows less."""
        base, changed = self._now
        if base is None or changed is None:
            return ""
        if abs(now) <= abs(was):
            return f"as changed: {why(self._changed.config, changed, level, name, now, was)}"
        return f"as it is: {why(self._base.config, base, level, name, was, now)}"

    def report(self, stop: int) -> Difference:
        """What was found up to tick `stop`."""
        if self._differ:
            self.different_ticks += stop - self._since
            self._since = stop
        end_s = self._ticks.at(max(stop - 1, 0))
        self.disagreements.finish(end_s)
        return Difference(self.settings, self.first_s, self.different_ticks, self.disagreements)


def value_text(what: str, value: float) -> str:
    """A compared value as a person reads it: modes by name."""
    if what == "boat.mode" and value in tuple(BoatMode):
        return BoatMode(int(value)).name
    if what.endswith(".mode") and value in tuple(ShaftMode):
        return ShaftMode(int(value)).name
    return f"{value:.6g}"
