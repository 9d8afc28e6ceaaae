"""Defects seeded in pauses of thrust, and in what counts as under way."""

from edits import Constant, Edit

_P, _A, _T = "rules.pause.with_pause", "rules.pause.after_pause", "rules.pause.pause_timers"
_S, _B, _R = "rules.stops.stopped_unasked", "rules.boat_timers.remember_shafts", "rules.tick.run_tick"

PAUSE = {
    "a pause lasts as long as it likes": Edit(_P, "late = missing and not pause.lasts_s < lim.pause_s", "late = False"),
    "a pause lasts twice its time": Edit(_P, "pause.lasts_s < lim.pause_s", "pause.lasts_s < 2.0 * lim.pause_s"),
    "a lever may be moved out in a pause": Edit(_P, "or moved_out(pause.began_pct, state.order_pct) ", ""),
    "a lever may be moved out a little further": Constant("rules.pause.MOVED_PCT", 5.0),
    "the handset may take over in a pause": Edit(_P, "state.order_pct) or handset:", "state.order_pct):"),
    "thrust by handset pauses": Edit(_P, "not missing or handset:", "not missing:"),
    "a third pause is one like the others": Edit(_P, "pause.before_last_s < lim.pause_window_s", "pause.before_last_s < 0.0"),
    "a second pause is the third": Edit(_P, "pause.before_last_s < lim.pause_window_s", "pause.last_s < lim.pause_window_s"),
    "a pause forgives what else is missing": Edit(_P, "if missing and word & BESIDES_MASK == BESIDES:", "if missing:"),
    "charging pauses": Edit(_P, "if not thrusts or not missing or handset:", "if not missing or handset:"),
    "unloading thrust does not pause": Edit(_P, "thrusts = True", "thrusts = thrusts"),
    "a source that unloads pauses": Edit(_P, "if state.mode == SHAFT_UNLOAD and state.latches & LATCH_UNLOADS_SOURCE == 0:", "if state.mode == SHAFT_UNLOAD:"),
    "the clutch's contact may not bounce": Constant("rules.pause.BOUNCING", (1 << 20) | (1 << 21) | (1 << 24)),
    "a pause begins anew in each tick": Edit(_A, "if state.latches & LATCH_PAUSED:", "if state.latches < 0:"),
    "a pause forgets the one before": Edit(_A, "before_last_s=pause.last_s", "before_last_s=1e9"),
    "a pause does not know its lever": Edit(_A, "began_pct=state.order_pct", "began_pct=100.0"),
    "a pause never ends": Edit(_A, "lasts_s=-1.0,", "lasts_s=pause.lasts_s,"),
    "pauses stand in time": Edit(_T, "lasts_s=was.lasts_s + dt_s if", "lasts_s=was.lasts_s if"),
    "pauses are never long ago": Edit(_T, "last_s=longer(was.last_s, dt_s),\n        before", "last_s=was.last_s,\n        before"),
    "a pause disarms": Edit("rules.shaft_latches.after_mode", " and word & PAUSE_MASK != PAUSE_VALUE)", ")"),
    "a pause is a stop": Edit(_S, " or word & IS_PAUSED:", ":"),
    "a pause that fails is no stop": Edit(_S, "if was.latches & LATCH_PAUSED or (", "if ("),
    "an end on the way to thrust is no stop": Edit(_S, "was.latches & LATCH_PAUSED or (was_mode == SHAFT_UNLOAD and was.latches & LATCH_UNLOAD_TO_PROPEL)", "was.latches & LATCH_PAUSED"),
    "a bounce is not told": Edit(_R, "alarms |= ALARM_CONTACT_BOUNCED", "alarms |= 0"),
    "a boat is under way once READY": Edit(_B, "elif moves:", "else:"),
    "a boat is never under way": Edit(_B, "elif moves:", "elif False:"),
    "lying still ends nothing": Edit(_B, " or not state.dwells.lying_s < lim.shore_still_s:", ":"),
    "under way outlasts READY": Edit(_B, "state.mode != MODE_READY or not", "not"),
    "harvest is not under way": Edit(_R, "if state.mode == SHAFT_PROPEL or state.mode == SHAFT_HARVEST:", "if state.mode == SHAFT_PROPEL:"),
    "a shaft that turns lies still": Edit("rules.boat_word.summary_of", "(word & IS_SHAFT_STILL == 0 or word & IS_LEVER_NEUTRAL == 0)", "word & IS_LEVER_NEUTRAL == 0"),
    "a lever out lies still": Edit("rules.boat_word.summary_of", "(word & IS_SHAFT_STILL == 0 or word & IS_LEVER_NEUTRAL == 0)", "word & IS_SHAFT_STILL == 0"),
    "a shaft out of service must lie still": Edit("rules.boat_word.summary_of", "if in_service and (word & IS_SHAFT_STILL", "if (word & IS_SHAFT_STILL"),
    "a shore cable under way is not told": Edit("rules.outputs.boat_alarms", "alarms |= ALARM_SHORE_UNDER_WAY", "alarms |= 0"),
    "a shore cable bars under way": Edit("rules.shaft_word.shaft_word", " or boat_latches & BOAT_LATCH_UNDER_WAY:", ":"),
}  # fmt: skip
