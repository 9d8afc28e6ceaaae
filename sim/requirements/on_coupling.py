"""Evaluators: belt and coupling, a propeller that does not turn. Restated from docs/safety.md."""

from sim.requirements.facts import SHAFT, has
from sim.requirements.judge import Judge, Lasting
from sim.requirements.tick import BoatTick, ShaftTick
from supervisor.modes import ShaftMode
from supervisor.rules import Boat
from supervisor.signals import Alarm

WORKS = (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST, ShaftMode.UNLOAD)


def beside_rpm(shaft: ShaftTick) -> float | None:
    """The speed beside the drive's (rpm at the shaft); None where there is none to be had."""
    if shaft.facts.clutch_closed and has(shaft.inputs, SHAFT.PROPELLER_SPEED):
        return shaft.inputs.propeller_speed_rpm
    if shaft.facts.clutch_open and shaft.facts.gear_ahead and has(shaft.inputs, SHAFT.ENGINE_SPEED):
        return shaft.inputs.engine_speed_rpm / shaft.lim.ratio
    return None


class CouplingWatched(Judge):
    """SR-54: a shaft whose drive turns at another speed is isolated in its time, unless get-home is on.

    What the drive turned with of late is kept here as samples, not as the rules keep it: those of the last two times
    that the rules look back count, which is never less than the rules allow.
    """

    identifier, unit = "SR-54", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._apart = Lasting()
        self._seen: list[list[tuple[float, float]]] = [[] for _ in boat.shafts]

    def forget(self) -> None:
        self._apart = Lasting()
        for seen in self._seen:
            seen.clear()

    def _over_rpm(self, tick: BoatTick, shaft: ShaftTick, other_rpm: float) -> float:
        """How much further apart drive and shaft turn than is allowed (rpm; below 0: within)."""
        age_s = shaft.lim.propeller_age_s if shaft.facts.clutch_closed else shaft.lim.engine_age_s
        since_s = tick.time_s - 2.0 * max(age_s, tick.tick_s) - 1e-9
        seen = [rpm for time_s, rpm in self._seen[shaft.number] if time_s >= since_s]
        lim, high_rpm, low_rpm = tick.lim, max(seen), min(seen)
        larger_rpm = max(abs(other_rpm), abs(shaft.facts.rpm))
        allowed_rpm = lim.coupling_rpm + larger_rpm * lim.coupling_pct / 100.0 + 0.5 * (high_rpm - low_rpm)
        return max(other_rpm - high_rpm, low_rpm - other_rpm) - allowed_rpm

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        seen = self._seen[shaft.number]
        if not shaft.facts.rpm_known:
            seen.clear()
            self._apart.look(tick, shaft, False)
            return
        longest_s = 2.0 * max(shaft.lim.propeller_age_s, shaft.lim.engine_age_s, tick.tick_s)
        seen.append((tick.time_s, shaft.facts.rpm))
        while tick.time_s - seen[0][0] > longest_s + 1e-9:
            seen.pop(0)
        worked = shaft.was is not None and shaft.was.mode in WORKS
        other_rpm = beside_rpm(shaft)
        # what was before a history that began blind is not known, and the rules may remember it
        judged = worked and other_rpm is not None and tick.age_s > longest_s
        apart = judged and other_rpm is not None and self._over_rpm(tick, shaft, other_rpm) > 1e-6
        lasts_s = self._apart.look(tick, shaft, apart)
        if judged and shaft.mode in WORKS and not tick.facts.get_home:
            left_s = tick.lim.coupling_s + 2 * tick.tick_s - max(0.0, lasts_s)
            self.note(tick, left_s, lambda: f"{shaft.name}: works on {lasts_s:.2f} s after its coupling was lost")


class JamStops(Judge):
    """SR-55: torque that turns nothing is cut in its time, then the shaft isolated; both are told."""

    identifier, unit = "SR-55", "s"

    def __init__(self, boat: Boat) -> None:
        super().__init__(boat)
        self._jam = Lasting()

    def judge_shaft(self, tick: BoatTick, shaft: ShaftTick) -> None:
        lim = tick.lim
        stands = has(shaft.inputs, SHAFT.MACHINE_SPEED) and abs(shaft.inputs.machine_speed_rpm) < shaft.lim.still_rpm
        was_nm = 0.0 if shaft.was is None else abs(shaft.was.torque_nm)
        rated_nm = shaft.lim.rated_torque_nm
        lasts_s = self._jam.look(tick, shaft, stands and was_nm >= rated_nm * lim.jam_from_pct / 100.0)
        if lasts_s < 0.0:
            return
        slack_s = 2 * tick.tick_s
        fall_s = rated_nm / shaft.lim.torque_slew_nm_per_s + slack_s
        self.note(
            tick, lim.jam_s + fall_s - lasts_s,
            lambda: f"{shaft.name}: {shaft.torque_nm:.1f} N m turn nothing for {lasts_s:.2f} s",
        )  # fmt: skip
        if lasts_s >= lim.jam_s + slack_s and not tick.command.alarms & Alarm.JAMMED.value:
            self.note(tick, -1.0, lambda: f"{shaft.name}: no alarm of the jam")
