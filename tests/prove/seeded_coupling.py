"""Defects seeded in what watches belt, coupling and propeller."""

from edits import Constant, Edit

_T, _S, _W = "rules.coupling.coupling_timers", "rules.coupling.speeds_compared", "rules.shaft_word.shaft_word"

COUPLING = {
    "coupling is never compared": Edit(_T, "if compared and works(mode):", "if False:"),
    "coupling is compared at rest": Edit(_T, "if compared and works(mode):", "if compared:"),
    "coupling is compared under torque only": Edit(_T, "and works(mode):", "and works(mode) and effort.torque_nm != 0.0:"),
    "only a faster drive is apart": Edit(_T, "apart = abs(rpm - should_rpm)", "apart = rpm - should_rpm"),
    "a slip is as far as a loss": Constant("rules.coupling.SLIP_PART", 1.0),
    "a slip is never forgotten": Constant("rules.coupling.SLIP_FORGOTTEN", 0.0),
    "a slip adds up without end": Edit(_T, "if slip_s > 2.0 * boat_lim.slip_s:", "if False:"),
    "an unknown speed is compared": Edit(_S, "if closed and known & PROPELLER_SPEED:", "if closed:"),
    "the engine is compared out of gear": Edit(_S, " and gear_ahead(lim, shaft):", ":"),
    "the gearbox has no ratio": Edit(_S, "shaft.engine_speed_rpm / lim.ratio", "shaft.engine_speed_rpm"),
    "a jam is over once cut": Edit(_T, "from_pct = JAM_HELD * boat_lim.jam_pct", "from_pct = boat_lim.jam_from_pct"),
    "any torque is a jam": Edit(_T, "from_pct = boat_lim.jam_from_pct\n", "from_pct = 0.0\n"),
    "an unknown speed is a jam": Edit(_T, "still = shaft.known & MACHINE_SPEED != 0 and", "still ="),
    "a jam is not cut": Edit("rules.torque.wanted_nm", "if torque_nm > jam_nm:", "if False:"),
    "a slip is not told": Edit("rules.outputs.shaft_alarms", "alarms |= ALARM_COUPLING_SLIPS", "alarms |= 0"),
    "a jam is not told": Edit("rules.outputs.shaft_alarms", "alarms |= ALARM_JAMMED", "alarms |= 0"),
}  # fmt: skip
