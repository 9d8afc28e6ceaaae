"""Evaluators: other sources on the bus bar, and a hotel load that leaves thrust too little. Restated from
their sentences in docs/safety.md."""

from collections import deque

from sim.requirements.facts import BOAT, SHAFT, has, yes
from sim.requirements.judge import Judge
from sim.requirements.tick import BoatTick
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

    def look(self, tick: BoatTick) -> float | None:
        known = tick.whole and has(tick.bank, BOAT.CURRENT)
        known = known and all(has(shaft.inputs, SHAFT.CURRENT) for shaft in tick.shafts)
        if not known:
            self._seen.clear()
            return None
        drives_a = sum(shaft.inputs.current_a for shaft in tick.shafts)
        self._seen.append((tick.time_s, drives_a))
        while self._seen[0][0] < tick.time_s - STEADY_S:
            self._seen.popleft()
        amps = [amp for _, amp in self._seen]
        whole = self._seen[-1][0] - self._seen[0][0] >= STEADY_S - 2 * tick.tick_s
        if not whole or max(amps) - min(amps) > STEADY_A:
            return None
        return tick.bank.current_a - drives_a


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

    def judge(self, tick: BoatTick) -> None:
        lim = tick.lim
        others_a = self._others.look(tick)
        if yes(tick.bank, BOAT.RESET):
            self._since_s, self._until_s = None, -1.0
            return
        if tick.time_s < self._until_s and tick.command.stop_sources == 0:
            self.note(tick, -lim.source_over_a, lambda: "other sources run again before their time")
        allowed_a = tick.facts.charge_limit_a if tick.facts.may_charge else 0.0
        if others_a is None or not others_a > allowed_a + lim.source_over_a:
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = tick.time_s
        if tick.time_s - self._since_s < lim.source_over_s + LATE_S:
            return
        stopped = tick.command.stop_sources == 1 and bool(tick.command.alarms & Alarm.SOURCES_OVER.value)
        self.note(
            tick, 0.0 if stopped else allowed_a - others_a,
            lambda: f"other sources feed {others_a:.1f} A, the limit is {allowed_a:.1f} A, and nothing stops them",
        )  # fmt: skip
        if stopped:
            self._until_s = tick.time_s + lim.source_stop_s - 2 * tick.tick_s


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

    def judge(self, tick: BoatTick) -> None:
        others_a, bank, lim = self._others.look(tick), tick.bank, tick.lim
        most_a = min(bank.discharge_limit_a, lim.max_discharge_a)
        takes_all = others_a is not None and -others_a > most_a + 1.0
        ready = tick.mode == BoatMode.READY and tick.facts.may_discharge
        if not takes_all or not ready:
            self._since_s = None
            return
        if self._since_s is None:
            self._since_s = tick.time_s
        if tick.time_s - self._since_s < LATE_S + 3.0:
            return
        for shaft in tick.shafts:
            asks = shaft.mode == ShaftMode.PROPEL and abs(shaft.inputs.lever_pct) > 2.0 * shaft.lim.neutral_band_pct
            asks = (
                asks and shaft.asks and shaft.facts.temp_factor > 0.0 and not shaft.opposing and shaft.facts.rpm_known
            )
            if asks and tick.command.derate_pct > 0.0:
                told = bool(tick.command.alarms & Alarm.THRUST_SHORT.value)
                self.note(
                    tick, 0.0 if told else -1.0,
                    lambda n=shaft.name: f"{n}: thrust is asked, the hotel load takes all, and no alarm",  # type: ignore[misc]
                )  # fmt: skip
