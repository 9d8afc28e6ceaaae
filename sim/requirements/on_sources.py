"""Evaluators: other sources on the bus bar, and a hotel load that leaves thrust too little. Restated from design.md 5,
"Taper" and "Derate"."""

from collections import deque

from sim.requirements.facts import BOAT, SHAFT, has, yes
from sim.requirements.judge import Judge
from sim.requirements.scene import Scene
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm

STEADY_S = 2.0
STEADY_A = 4.0
"""The drives' currents have moved by no more than this for this long: only then may they be compared with the
bank's."""

LATE_S = 0.5
"""What is seen may be so much older than what is."""


class Others:
    """What feeds the bank beside the drives (A; negative: a load), where that can be said."""

    def __init__(self) -> None:
        self._seen: deque[tuple[float, float]] = deque()

    def forget(self) -> None:
        self._seen.clear()

    def look(self, scene: Scene) -> float | None:
        known = scene.whole and has(scene.bank, BOAT.CURRENT)
        known = known and all(has(side.inputs, SHAFT.CURRENT) for side in scene.sides)
        if not known:
            self._seen.clear()
            return None
        drives_a = sum(side.inputs.current_a for side in scene.sides)
        self._seen.append((scene.time_s, drives_a))
        while self._seen[0][0] < scene.time_s - STEADY_S:
            self._seen.popleft()
        amps = [amp for _, amp in self._seen]
        whole = self._seen[-1][0] - self._seen[0][0] >= STEADY_S - 2 * scene.tick_s
        if not whole or max(amps) - min(amps) > STEADY_A:
            return None
        return scene.bank.current_a - drives_a


class SourcesWithin(Judge):
    """SR-56: other sources that feed more than the limit are stopped, told, and stay stopped for their time."""

    identifier, unit = "SR-56", "A"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._others = Others()
        self._since_s: float | None = None
        self._until_s = -1.0

    def forget(self) -> None:
        self._others.forget()
        self._since_s, self._until_s = None, -1.0

    def judge(self, scene: Scene) -> None:
        lim = scene.lim
        others_a = self._others.look(scene)
        if yes(scene.bank, BOAT.RESET):
            self._since_s, self._until_s = None, -1.0
            return
        if scene.time_s < self._until_s and scene.command.stop_sources == 0:
            self.note(scene, -lim.source_over_a, lambda: "other sources run again before their time")
        allowed_a = scene.facts.charge_limit_a if scene.facts.may_charge else 0.0
        if others_a is None or not others_a > allowed_a + lim.source_over_a:
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = scene.time_s
        if scene.time_s - self._since_s < lim.source_over_s + LATE_S:
            return
        stopped = scene.command.stop_sources == 1 and bool(scene.command.alarms & Alarm.SOURCES_OVER.value)
        self.note(
            scene, 0.0 if stopped else allowed_a - others_a,
            lambda: f"other sources feed {others_a:.1f} A, the limit is {allowed_a:.1f} A, and nothing stops them",
        )  # fmt: skip
        if stopped:
            self._until_s = scene.time_s + lim.source_stop_s - 2 * scene.tick_s


class LoadLeavesThrust(Judge):
    """SR-57: thrust that is asked while the hotel load takes all that the bank may give: told, and nothing ends."""

    identifier, unit = "SR-57", "ticks"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._others = Others()
        self._since_s: float | None = None

    def forget(self) -> None:
        self._others.forget()
        self._since_s = None

    def judge(self, scene: Scene) -> None:
        others_a, bank, lim = self._others.look(scene), scene.bank, scene.lim
        most_a = min(bank.discharge_limit_a, lim.max_discharge_a)
        takes_all = others_a is not None and -others_a > most_a + 1.0
        ready = scene.mode == BoatMode.READY and scene.facts.may_discharge
        if not takes_all or not ready:
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = scene.time_s
        if scene.time_s - self._since_s < LATE_S + 3.0:
            return
        for side in scene.sides:
            asks = side.mode == ShaftMode.PROPEL and abs(side.inputs.lever_pct) > 2.0 * side.lim.neutral_band_pct
            asks = asks and side.asks and side.facts.temp_factor > 0.0 and not side.opposing and side.facts.rpm_known
            if asks and scene.command.derate_pct > 0.0:
                told = bool(scene.command.alarms & Alarm.THRUST_SHORT.value)
                self.note(
                    scene, 0.0 if told else -1.0,
                    lambda n=side.name: f"{n}: thrust is asked, the hotel load takes all, and nobody is told",  # type: ignore[misc]
                )  # fmt: skip
