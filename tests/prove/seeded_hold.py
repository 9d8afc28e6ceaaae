"""Defects seeded in stop and lock."""

from edits import Constant, Edit

_W, _L, _T, _N = (
    "rules.hold.hold_wanted", "rules.hold.hold_latches", "rules.hold.hold_timers", "rules.hold.hold_nm",
)  # fmt: skip

HOLD = {
    "a hold needs no selector": Edit(_W, " or not proven(shaft.known, shaft.on, STOP_AND_LOCK):", ":"),
    "a selector that was never seen off holds": Edit(_W, "latches & LATCH_HOLD_ARMED == 0 or ", ""),
    "a hold with the lever out": Edit(_W, "if lever.neutral == 0 or in_control:", "if in_control:"),
    "a hold while the handset has it": Edit(_W, "if lever.neutral == 0 or in_control:", "if lever.neutral == 0:"),
    "a hold against the engaged lock": Edit(_W, " and proven_not(shaft.known, shaft.on, LOCK_ENGAGED)", ""),
    "a hold never ends": Edit(_L, "if not was.held_s < hold_s:", "if False:"),
    "a hold that failed is forgotten": Edit(_L, "(latches | LATCH_HOLD_FAILED) & ~LATCH_HOLD_ARMED", "latches & ~LATCH_HOLD_ARMED"),
    "an engaged lock is a failure still": Edit(_L, "if proven(shaft.known, shaft.on, LOCK_ENGAGED):", "if False:"),
    "a hold is armed at any time": Edit(_L, "if not usable or shaft.known", "if shaft.known"),
    "what the flow asks has the wrong sign": Edit(_T, "load_nm - step_nm", "load_nm + step_nm"),
    "what the flow asks has no limit": Edit(_T, "within(load_nm - step_nm, lim.rated_torque_nm)", "load_nm - step_nm"),
    "what the flow asks is kept at rest": Edit(_T, "        load_nm = 0.0\n", "        load_nm = was.load_nm\n"),
    "learnt too slowly": Constant("rules.hold.LEARN_S", 6.0),
    "held torque has the wrong sign": Edit(_N, "state.hold.load_nm - lim.rated_torque_nm *", "state.hold.load_nm + lim.rated_torque_nm *"),
    "held torque in heat": Edit(_N, "most_nm = lim.rated_torque_nm * temp_factor", "most_nm = lim.rated_torque_nm"),
    "held torque beyond rated power": Edit(_N, "if most_nm * omega > lim.rated_power_w * own_part:", "if False:"),
    "the slew may turn a held shaft": Edit("rules.torque.order", "if not state.hold.held_s < 0.0 and turns_with(lim, shaft, torque_nm):", "if False:"),
    "a held shaft is a jam": Edit("rules.coupling.coupling_timers", "still and was.hold.held_s < 0.0 and", "still and"),
    "any hold permits the lock": Edit("rules.permits.permit_word", "if state.mode == SHAFT_PROPEL and not state.hold.held_s < 0.0:", "if not state.hold.held_s < 0.0:"),
    "a failed hold is not told": Edit("rules.outputs.shaft_alarms", "alarms |= ALARM_HOLD_FAILED", "alarms |= 0"),
    "a hold asks for no thrust": Edit("rules.shaft_word.shaft_word", "    if not state.hold.held_s < 0.0:\n", "    if False:\n"),
}  # fmt: skip
