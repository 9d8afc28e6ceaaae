"""Defects seeded in what stops other sources, in thrust beside a hotel load, and in levers that contradict themselves."""

from edits import Constant, Edit

_S, _T, _V = "rules.sources.sources_state", "rules.sources.trip_of_sources", "rules.bank.bank_view"
_R, _L, _C = "rules.tick.run_tick", "rules.readings.read_lever", "rules.torque.cut_short"

SOURCES = {
    "too much is never stopped": Edit(_S, "if over_s >= lim.source_over_s:", "if False:"),
    "too much is stopped at once": Edit(_S, "if over_s >= lim.source_over_s:", "if over_s >= 0.0:"),
    "too much is counted while unknown": Edit(_S, "if view.others >= 0:", "if True:"),
    "sources return whatever the limit": Edit(_S, " and view.charge_limit_a > gave_a:", ":"),
    "sources return before their time": Edit(_S, "stopped_s >= lim.source_stop_s and view", "stopped_s >= 0.0 and view"),
    "what sources gave is what they give": Edit(_S, "(stopped_s < 0.0 or view.others_a > gave_a)", "stopped_s >= -1.0"),
    "a reset does not let sources try": Edit(_S, "if reset_edge:", "if False:"),
    "the stop output chatters": Edit(_S, "elif held_s >= lim.source_return_s:", "else:"),
    "the stop output is never set": Edit(_S, "        stop = 1\n", "        stop = was.stop\n"),
    "an ended charging leaves sources on": Edit(_S, " or view.charge_wanted == 0", ""),
    "a trip leaves sources on": Edit(_S, " or faulted == 1", ""),
    "sources fault is forgotten": Edit(_T, "return cause or was.faulted == 1", "return cause"),
    "an own interlock's trip leaves sources on": Edit(_T, " or word & BOAT_OWN_BOAT == 0", ""),
    "an emergency stop stops sources": Edit(_T, "cause = word & (", "cause = word & 1 != 0 or word & ("),
    "others are compared with no margin": Edit(_V, "allowed_a + lim.source_over_a", "allowed_a"),
    "others are compared without the permit": Edit(_V, "allowed_a = limit_a if may_charge else 0.0", "allowed_a = limit_a"),
    "drives count as others": Edit(_V, "others_a = bank.current_a - drives_a", "others_a = bank.current_a"),
    "others are compared while currents move": Edit(_V, "if comparable:\n            allowed_a", "if True:\n            allowed_a"),
    "sources over is not told": Edit("rules.outputs.boat_alarms", "alarms |= ALARM_SOURCES_OVER", "alarms |= 0"),
    "a load that takes all ends thrust": Edit(_V, "motor_a = 0.0  # the", "may_discharge = False  # the"),
    "cut thrust is not told": Edit("rules.outputs.boat_alarms", "alarms |= ALARM_THRUST_SHORT", "alarms |= 0"),
    "cut thrust is told in jerks": Edit(_C, "asked_a * THRUST_WELL", "asked_a"),
    "thrust cut to nothing is not told": Edit(_C, "if not budget_a > 0.0:", "if False:"),
    "a lever asks against its neutral contact": Edit(_L, "return Lever(0, 0, 0 if", "return Lever(0, 1, 0 if"),
    "a lever that contradicts itself is never lost": Edit(_L, "0 if contradicts_s < CONTRADICTED_S else 1, 1)", "0, 1)"),
    "a lever that contradicts itself is lost at once": Edit(_L, "0 if contradicts_s < CONTRADICTED_S else 1, 1)", "1, 1)"),
    "a lever asks down to zero": Constant("rules.readings.ASKING_BAND", 0.0),
    "a contradiction does not count": Edit("rules.pause.pause_timers", "count(was.contradicts_s, contradicts, dt_s)", "was.contradicts_s"),
    "a dead engine may be turned": Edit("rules.readings.engine_clear", "(lim.open_when_stopped == 1 and engine_stopped(shaft))", "engine_stopped(shaft)"),
    "an open gearbox must be in neutral": Edit("rules.readings.engine_clear", " or (lim.open_when_stopped == 1 and engine_stopped(shaft))", ""),
    "a moving lever hides a sag below idle": Edit("rules.torque.sag", "if known and low_rpm > lim.sag_rpm:", "if False:"),
    "a sag below idle backs off late": Edit("rules.torque.sag", "if known and low_rpm > lim.sag_rpm:", "if known and low_rpm > 2.0 * lim.sag_rpm:"),
    "a dip ends thrust": Edit("rules.bank.derate_ended", "low_s >= lim.derate_dip_s", "low_s >= 0.0"),
    "thrust begins in a dip": Edit(_V, "not (low or low_s >= 0.0)", "not low"),
    "a dip is counted in STANDBY only": Edit("rules.bank.low_dwell_s", "if low_s > lim.derate_dip_s or (low_s >= 0.0 and not ready):", "if low_s > lim.derate_dip_s:"),
}  # fmt: skip
