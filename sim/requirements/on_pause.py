"""Evaluators: contacts that bounce, the shore cable. Restated from their sentences in docs/safety.md."""

from sim.requirements.facts import BOAT
from sim.requirements.judge import Judge, Lasting
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals.commands import STOPPED_ALARMS

MOVED_PCT = 2.0
"""A lever this much further out than before has been moved (%)."""

SLACK_S = 1e-9


def contact_away(shaft: ShaftTick) -> bool:
    """A contact of lock, clutch, gearbox or engine does not say what thrust needs."""
    facts = shaft.facts
    return not (facts.lock_released and facts.clutch_closed and facts.engine_clear)


class UnderWay:
    """Whether the boat is under way before each tick, as far as the records can tell: where they begin blind, it may
    be."""

    def __init__(self) -> None:
        self.so = True
        self._since_s: float | None = None

    def forget(self) -> None:
        """A gap in the records."""
        self.so, self._since_s = True, None

    def look(self, tick: BoatTick) -> None:
        """Take in a tick, after it has been judged."""
        if not tick.whole:
            return
        lies = all(
            shaft.facts.out_of_service or (shaft.facts.shaft_still and shaft.facts.lever_neutral)
            for shaft in tick.shafts
        )
        if not lies or all(shaft.facts.out_of_service for shaft in tick.shafts):
            self._since_s = None
        elif self._since_s is None:
            self._since_s = tick.time_s
        lain = self._since_s is not None and tick.time_s - self._since_s >= tick.lim.shore_still_s - SLACK_S
        moves = any(shaft.mode in (ShaftMode.PROPEL, ShaftMode.HARVEST) for shaft in tick.shafts)
        if tick.mode != BoatMode.READY or lain:
            self.so = False
        elif moves:
            self.so = True


class ShoreCableIn(Judge):
    """SR-11: with a shore cable in, or not confirmed out, thrust and harvest do not begin unless the boat is under "
    "way."""

    identifier, unit = "SR-11", "N m"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._under_way = UnderWay()

    def forget(self) -> None:
        self._under_way.forget()

    def judge(self, tick: BoatTick) -> None:
        super().judge(tick)
        self._under_way.look(tick)

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        if tick.facts.no_shore or self._under_way.so or shaft.unsaid or shaft.unloads == ShaftMode.GENERATE:
            return
        self.note_zero(tick, shaft, "the shore cable is connected or its contact unknown")


class BounceIsPause(Judge):
    """SR-62: thrust that a contact interrupts for a moment comes back, or its stop is told; for longer, too often, or
    with the lever moved out, it does not come back without fresh neutral."""

    identifier, unit = "SR-62", "ticks"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        n = len(boat.shafts)
        self._neutral = Lasting()
        self._since_s: list[float | None] = [None] * n
        self._began_pct = [0.0] * n
        self._begins_s: list[list[float]] = [[] for _ in range(n)]
        self._barred = [""] * n
        """Why thrust may not come back without fresh neutral; "" where it may."""

    def forget(self) -> None:
        self._neutral.forget()
        for i in range(len(self._since_s)):
            self._reset(i)
            self._begins_s[i].clear()

    def _reset(self, i: int) -> None:
        self._since_s[i], self._barred[i] = None, ""

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        i, was = shaft.number, shaft.was
        neutral_s = self._neutral.look(tick, shaft, shaft.neutral)
        if was is None or tick.mode != BoatMode.READY or shaft.mode == ShaftMode.ISOLATED:
            self._reset(i)
            return
        if neutral_s >= tick.lim.neutral_s - SLACK_S:
            self._barred[i] = ""
        away = contact_away(shaft)
        if self._since_s[i] is None and away and self._thrust(was) and not contact_away(was):
            self._begin(tick, shaft)
        since_s = self._since_s[i]
        if since_s is not None:
            lasts_s = tick.time_s - since_s
            if away and lasts_s >= tick.lim.pause_s - SLACK_S:
                self._barred[i] = "the contact was away for too long"
            elif self._moved_out(shaft):
                self._barred[i] = "the lever was moved further out"
            if not away:
                self._since_s[i] = None
                self._back(tick, shaft, lasts_s)
        if self._barred[i]:
            thrust = shaft.mode == ShaftMode.PROPEL and shaft.torque_nm != 0.0
            self.note(
                tick,
                -1.0 if thrust else 0.0,
                lambda: (
                    f"{shaft.name}: {shaft.torque_nm:.1f} N m without fresh neutral after a pause: {self._barred[i]}"
                ),
            )

    @staticmethod
    def _thrust(was: ShaftTick) -> bool:
        return was.mode == ShaftMode.PROPEL or (was.mode == ShaftMode.UNLOAD and was.propels)

    def _begin(self, tick: BoatTick, shaft: ShaftTick) -> None:
        i = shaft.number
        self._since_s[i], self._began_pct[i] = tick.time_s, shaft.inputs.lever_pct
        recent = [time_s for time_s in self._begins_s[i] if tick.time_s - time_s < tick.lim.pause_window_s - SLACK_S]
        if shaft.handset:
            self._barred[i] = "the handset was in control"
        elif len(recent) >= 2:
            self._barred[i] = "it was the third within the time"
        self._begins_s[i] = [*recent, tick.time_s]

    def _moved_out(self, shaft: ShaftTick) -> bool:
        began_pct, now_pct = self._began_pct[shaft.number], shaft.inputs.lever_pct
        out = abs(now_pct) > abs(began_pct) + MOVED_PCT and began_pct * now_pct > 0.0
        return out and shaft.facts.lever_asks and abs(began_pct) > shaft.lim.neutral_band_pct

    def _back(self, tick: BoatTick, shaft: ShaftTick, lasts_s: float) -> None:
        """The contact is back: thrust is too, or its stop is told, where the lever asks and nothing barred it."""
        i = shaft.number
        asked = shaft.facts.lever_asks and not shaft.handset and tick.bank.on & BOAT.DISABLE == 0
        if self._barred[i] or not asked or not shaft.facts.in_service:
            return
        back = shaft.mode in (ShaftMode.PROPEL, ShaftMode.UNLOAD)
        told = bool(tick.command.alarms & STOPPED_ALARMS[i].value)
        self.note(
            tick, 0.0 if back or told else -1.0,
            lambda: f"{shaft.name}: {shaft.mode.name} and no alarm, its contact back after {lasts_s:.2f} s",
        )  # fmt: skip
