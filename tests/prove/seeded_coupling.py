"""Defects seeded in what watches belt, coupling and propeller."""

from edits import Constant, Edit

_T, _S = "rules.coupling.coupling_timers", "rules.coupling.speed_beside"
_O, _L = "rules.coupling.outside_rpm", "rules.coupling.turned_of_late"

COUPLING = {
    "coupling is never compared": Edit(_T, "if known and beside.known == 1:", "if False:"),
    "coupling is compared at rest": Edit(_T, "(working or mode == SHAFT_ISOLATED)", "True"),
    "a reset is taken while speeds are apart": Edit(_T, "(working or mode == SHAFT_ISOLATED)", "working"),
    "coupling is compared under torque only": Edit(_T, "beside.known == 1:", "beside.known == 1 and was.effort.torque_nm != 0.0:"),
    "only a faster drive is apart": Edit(_O, "if rpm > high_rpm + moved_rpm:", "if False:"),
    "only a slower drive is apart": Edit(_O, "if rpm < low_rpm - moved_rpm:", "if False:"),
    "a speed that moves is not allowed for": Constant("rules.coupling.MOVED_PART", 0.0),
    "the stretch before is forgotten": Edit(_L, "before_low_rpm=was.low_rpm", "before_low_rpm=rpm"),
    "a stretch is never over": Edit(_L, "if not runs_s < speed_beside(lim, shaft).age_s:", "if False:"),
    "the highest speed is not kept": Edit(_L, "high_rpm=rpm if rpm > was.high_rpm else was.high_rpm", "high_rpm=rpm"),
    "an unknown speed is kept": Edit(_L, "if shaft.known & MACHINE_SPEED == 0:", "if False:"),
    "a slip is as far as a loss": Constant("rules.coupling.SLIP_PART", 1.0),
    "a slip is never forgotten": Constant("rules.coupling.SLIP_FORGOTTEN", 0.0),
    "a slip adds up without end": Edit(_T, "if slip_s > 2.0 * boat_lim.slip_s:", "if False:"),
    "an unknown speed is compared": Edit(_S, "if closed and known & PROPELLER_SPEED:", "if closed:"),
    "the engine is compared out of gear": Edit(_S, " and gear_ahead(lim, shaft):", ":"),
    "the gearbox has no ratio": Edit(_S, "shaft.engine_speed_rpm / lim.ratio", "shaft.engine_speed_rpm"),
    "a jam is over once cut": Edit(_T, "from_pct = JAM_HELD * boat_lim.jam_pct", "from_pct = boat_lim.jam_from_pct"),
    "any torque is a jam": Edit(_T, "from_pct = boat_lim.jam_from_pct\n", "from_pct = 0.0\n"),
    "an unknown speed is a jam": Edit(_T, "still = known and", "still ="),
    "a jam is not cut": Edit("rules.torque.wanted_nm", "if torque_nm > jam_nm:", "if False:"),
    "a slip is not told": Edit("rules.outputs.shaft_alarms", "alarms |= ALARM_COUPLING_SLIPS", "alarms |= 0"),
    "a jam is not told": Edit("rules.outputs.shaft_alarms", "alarms |= ALARM_JAMMED", "alarms |= 0"),
}  # fmt: skip
