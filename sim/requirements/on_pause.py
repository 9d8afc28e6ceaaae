"""Evaluators: contacts that bounce, the shore cable. Restated from design.md 5, "Stopping is a hazard too"."""

from sim.requirements.facts import BOAT
from sim.requirements.judge import Judge, Lasting
from sim.requirements.scene import Scene, Side
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat
from supervisor.signals.commands import STOPPED_ALARMS

MOVED_PCT = 2.0
"""A lever this much further out than before has been moved (%)."""

SLACK_S = 1e-9


def contact_away(side: Side) -> bool:
    """A contact of lock, clutch, gearbox or engine does not say what thrust needs."""
    facts = side.facts
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

    def look(self, scene: Scene) -> None:
        """Take in a tick, after it has been judged."""
        if not scene.whole:
            return
        lies = all(
            side.facts.out_of_service or (side.facts.shaft_still and side.facts.lever_neutral) for side in scene.sides
        )
        if not lies or all(side.facts.out_of_service for side in scene.sides):
            self._since_s = None
        elif self._since_s is None:
            self._since_s = scene.time_s
        lain = self._since_s is not None and scene.time_s - self._since_s >= scene.lim.shore_still_s - SLACK_S
        moves = any(side.mode in (ShaftMode.PROPEL, ShaftMode.HARVEST) for side in scene.sides)
        if scene.mode != BoatMode.READY or lain:
            self.so = False
        elif moves:
            self.so = True


class ShoreCableIn(Judge):
    """SR-11: with a shore cable in, or not proven out, thrust and harvest do not begin unless the boat is under way."""

    identifier, unit = "SR-11", "N m"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._under_way = UnderWay()

    def forget(self) -> None:
        self._under_way.forget()

    def judge(self, scene: Scene) -> None:
        super().judge(scene)
        self._under_way.look(scene)

    def judge_side(self, scene: Scene, side: Side) -> None:
        if scene.facts.no_shore or self._under_way.so or side.unsaid or side.unloads == ShaftMode.GENERATE:
            return
        self.note_zero(scene, side, "the shore cable is in or not proven out")


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

    def judge_side(self, scene: Scene, side: Side) -> None:
        i, was = side.number, side.was
        neutral_s = self._neutral.look(scene, side, side.neutral)
        if was is None or scene.mode != BoatMode.READY or side.mode == ShaftMode.ISOLATED:
            self._reset(i)
            return
        if neutral_s >= scene.lim.neutral_s - SLACK_S:
            self._barred[i] = ""
        away = contact_away(side)
        if self._since_s[i] is None and away and self._thrust(was) and not contact_away(was):
            self._begin(scene, side)
        since_s = self._since_s[i]
        if since_s is not None:
            lasts_s = scene.time_s - since_s
            if away and lasts_s >= scene.lim.pause_s - SLACK_S:
                self._barred[i] = "the contact was away for too long"
            elif self._moved_out(side):
                self._barred[i] = "the lever was moved further out"
            if not away:
                self._since_s[i] = None
                self._back(scene, side, lasts_s)
        if self._barred[i]:
            thrust = side.mode == ShaftMode.PROPEL and side.torque_nm != 0.0
            self.note(
                scene, -1.0 if thrust else 0.0,
                lambda: f"{side.name}: {side.torque_nm:.1f} N m without fresh neutral after a pause: {self._barred[i]}",
            )  # fmt: skip

    @staticmethod
    def _thrust(was: Side) -> bool:
        return was.mode == ShaftMode.PROPEL or (was.mode == ShaftMode.UNLOAD and was.propels)

    def _begin(self, scene: Scene, side: Side) -> None:
        i = side.number
        self._since_s[i], self._began_pct[i] = scene.time_s, side.inputs.lever_pct
        recent = [time_s for time_s in self._begins_s[i] if scene.time_s - time_s < scene.lim.pause_window_s - SLACK_S]
        if side.handset:
            self._barred[i] = "the handset was in control"
        elif len(recent) >= 2:
            self._barred[i] = "it was the third within the time"
        self._begins_s[i] = [*recent, scene.time_s]

    def _moved_out(self, side: Side) -> bool:
        began_pct, now_pct = self._began_pct[side.number], side.inputs.lever_pct
        out = abs(now_pct) > abs(began_pct) + MOVED_PCT and began_pct * now_pct > 0.0
        return out and side.facts.lever_asks and abs(began_pct) > side.lim.neutral_band_pct

    def _back(self, scene: Scene, side: Side, lasts_s: float) -> None:
        """The contact is back: thrust is too, or its stop is told, where the lever asks and nothing barred it."""
        i = side.number
        asked = side.facts.lever_asks and not side.handset and scene.bank.on & BOAT.DISABLE == 0
        if self._barred[i] or not asked or not side.facts.in_service:
            return
        back = side.mode in (ShaftMode.PROPEL, ShaftMode.UNLOAD)
        told = bool(scene.command.alarms & STOPPED_ALARMS[i].value)
        self.note(
            scene, 0.0 if back or told else -1.0,
            lambda: f"{side.name}: {side.mode.name} and no alarm, its contact back after {lasts_s:.2f} s",
        )  # fmt: skip
