"""How each bit of the boat's word is formed: set exactly when, both ways, on every input, latch and timer."""

from collections.abc import Callable

from sim.prove.claims_bank import always
from sim.prove.forming_own import HELD_BAD, own_bad_boat
from sim.prove.forming_shaft import BIT as SIDE
from sim.prove.forming_shaft import off_ordered, reset_pressed
from sim.prove.plain import OF_BOAT, OF_SHAFT
from sim.prove.step import Step, StepClaim
from sim.prove.terms import ISOLATED, KEPT, NEUTRAL_WAIT, READY, REST, counted, length_s, lever_neutral, out_of_service
from sim.requirements.facts import BOAT, Bits, has, yes
from supervisor.modes import BoatCondition

BIT = Bits(**{str(bit.name): bit.value for bit in BoatCondition})
"""The bits as plain integers."""

TRIPS = SIDE.DRIVE_FAULT | SIDE.DISOBEYED | SIDE.PRECHARGE_FAILED | SIDE.INPUT_LOST | SIDE.LINK_LOST
TRIPS = TRIPS | SIDE.COUPLING_LOST | SIDE.JAMMED
"""The bits of a shaft's word that trip it."""


def said(step: Step, bit: int) -> bool:
    """The bit is set in the boat's word."""
    return step.now.boat_word & bit != 0


# --- trips


def emergency_stop(step: Step, i: int) -> bool:
    return said(step, BIT.EMERGENCY_STOP) == yes(step.boat_in, BOAT.EMERGENCY_STOP)


def monitor_fault(step: Step, i: int) -> bool:
    return said(step, BIT.MONITOR_FAULT) == yes(step.boat_in, BOAT.MONITOR_FAULT)


def runtime_fault(step: Step, i: int) -> bool:
    sound = yes(step.boat_in, BOAT.RECEIVE_OK) and yes(step.boat_in, BOAT.DEADLINE_OK)
    return said(step, BIT.RUNTIME_FAULT) == (not sound)


def input_lost(step: Step, i: int) -> bool:
    """Of the boat, or of a serving shaft, an input is unknown whose loss trips the boat."""
    lost = not has(step.boat_in, step.boat.limits.react.trip_boat)
    for k in range(len(step.shaft_in)):
        lacks = not has(step.shaft_in[k], step.boat.shafts[k].react.trip_boat)
        lost = lost or (lacks and not out_of_service(step, k))
    return said(step, BIT.INPUT_LOST) == lost


# --- orders


def enable_edge(step: Step, i: int) -> bool:
    seen_off = step.was.boat.latches & KEPT.ENABLE_WAS_OFF != 0
    return said(step, BIT.ENABLE_EDGE) == (seen_off and yes(step.boat_in, BOAT.ENABLE))


def reset_edge(step: Step, i: int) -> bool:
    return said(step, BIT.RESET_EDGE) == reset_pressed(step)


def off_order(step: Step, i: int) -> bool:
    return said(step, BIT.OFF_ORDER) == off_ordered(step)


# --- permissives and interlocks


def levers_neutral(step: Step, i: int) -> bool:
    """Each lever that serves is in neutral now, and had been for the dwell one tick ago."""
    all_neutral = True
    for k in range(len(step.shaft_in)):
        dwelt = step.was.shafts[k].dwells.neutral_s >= step.config.limits.neutral_s
        all_neutral = all_neutral and (out_of_service(step, k) or (lever_neutral(step, k) and dwelt))
    return said(step, BIT.LEVERS_NEUTRAL) == all_neutral


def contactor_closed(step: Step, i: int) -> bool:
    return said(step, BIT.CONTACTOR_CLOSED) == yes(step.boat_in, BOAT.CONTACTOR_CLOSED)


def available(step: Step, k: int) -> bool:
    """In service, not isolated, without a cause to be."""
    word = step.now.shaft_words[k]
    sound = word & TRIPS == 0 and word & SIDE.OWN_SHAFT != 0
    return word & SIDE.IN_SERVICE != 0 and step.was.shafts[k].mode != ISOLATED and sound


def links_charged(step: Step, i: int) -> bool:
    """Of the available shafts each link is charged, and there is one."""
    one, every = False, True
    for k in range(len(step.shaft_in)):
        charged = step.now.shaft_words[k] & SIDE.LINK_CHARGED != 0
        one = one or (available(step, k) and charged)
        every = every and (charged or not available(step, k))
    return said(step, BIT.LINKS_CHARGED) == (one and every)


def shaft_available(step: Step, i: int) -> bool:
    one = False
    for k in range(len(step.shaft_in)):
        one = one or available(step, k)
    return said(step, BIT.SHAFT_AVAILABLE) == one


def all_rest(step: Step) -> bool:
    """Every shaft was at rest or isolated before this tick."""
    every = True
    for state in step.was.shafts:
        every = every and state.mode in (REST, ISOLATED)
    return every


def shafts_at_rest(step: Step, i: int) -> bool:
    return said(step, BIT.SHAFTS_AT_REST) == all_rest(step)


def own_boat(step: Step, i: int) -> bool:
    return said(step, BIT.OWN_BOAT) == (not own_bad_boat(step))


# --- dwells


def wait_expired(step: Step, i: int) -> bool:
    waited_s = counted(step.was.boat.dwells.wait_s, step.was.boat.mode == NEUTRAL_WAIT, length_s(step))
    return said(step, BIT.WAIT_EXPIRED) == (waited_s >= step.config.limits.neutral_wait_s)


def off_overdue(step: Step, i: int) -> bool:
    runs = step.was.boat.mode == READY and off_ordered(step)
    return said(step, BIT.OFF_OVERDUE) == (
        counted(step.was.boat.dwells.off_s, runs, length_s(step)) >= step.config.limits.disable_s
    )


def some_order(step: Step) -> bool:
    """A shaft has an order that can come to something: charging beside a running engine, harvest on a turning shaft."""
    some = False
    for word in step.now.shaft_words:
        charge = word & (SIDE.UNDER_WAY_ORDER | SIDE.AT_REST_ORDER) != 0 and word & SIDE.ENGINE_RUNNING != 0
        some = some or charge or (word & SIDE.HARVEST_ORDER != 0 and word & SIDE.SHAFT_STILL == 0)
    return some


def acknowledge_pressed(step: Step) -> bool:
    """Acknowledge is seen on, and was seen off one tick before."""
    return step.was.boat.latches & KEPT.ACKNOWLEDGE_WAS_OFF != 0 and yes(step.boat_in, BOAT.ACKNOWLEDGE)


def idle_expired(step: Step, i: int) -> bool:
    runs = step.was.boat.mode == READY and all_rest(step) and not some_order(step) and not acknowledge_pressed(step)
    idle_s = counted(step.was.boat.dwells.idle_s, runs, length_s(step))
    return said(step, BIT.IDLE_EXPIRED) == (
        idle_s >= step.config.limits.idle_reminder_s + step.config.limits.idle_off_s
    )


def _forms(requirement: str, bit: str, when: str, then: Callable[[Step, int], bool], *rests: str) -> StepClaim:
    return StepClaim(
        requirement, f"boat's {bit} is formed", f"set exactly when {when}", always, then, per_shaft=False,
        forms=f"boat.{bit}", rests_on=rests, parity=False,
    )  # fmt: skip


BOAT_FORMING: tuple[StepClaim, ...] = (
    _forms("SR-03", "EMERGENCY_STOP", "emergency stop is known and pressed", emergency_stop),
    _forms("SR-03", "MONITOR_FAULT", "the monitor's fault flag is known and on", monitor_fault),
    _forms("SR-03", "RUNTIME_FAULT", "receive path or deadlines are not known to be good", runtime_fault),
    _forms("SR-03", "INPUT_LOST", "an input of the boat or of a serving shaft is unknown whose loss trips the boat",
           input_lost, OF_BOAT, OF_SHAFT, "service is remembered"),
    _forms("SR-04", "ENABLE_EDGE", "enable is seen on and was seen off one tick before", enable_edge, "seen off"),
    _forms("SR-04", "RESET_EDGE", "reset is seen on and was seen off one tick before", reset_edge, "seen off"),
    _forms("SR-45", "OFF_ORDER", "off is pressed, or was since the boat was enabled", off_order, "off is remembered"),
    _forms("SR-01", "LEVERS_NEUTRAL", "each lever but those out of service is in neutral now and had been for the "
           "dwell", levers_neutral, "neutral counts", "service is remembered"),
    _forms("SR-34", "CONTACTOR_CLOSED", "the contactor is known and closed", contactor_closed),
    _forms("SR-33", "LINKS_CHARGED", "there is an available shaft and every one's link is charged", links_charged,
           "shaft.IN_SERVICE", "shaft.LINK_CHARGED", "shaft.DRIVE_FAULT", "shaft.DISOBEYED", "shaft.PRECHARGE_FAILED",
           "shaft.INPUT_LOST", "shaft.LINK_LOST", "shaft.COUPLING_LOST", "shaft.JAMMED", "shaft.OWN_SHAFT"),
    _forms("SR-33", "SHAFT_AVAILABLE", "a shaft is in service, not isolated and without a cause to be",
           shaft_available, "shaft.IN_SERVICE", "shaft.DRIVE_FAULT", "shaft.DISOBEYED", "shaft.PRECHARGE_FAILED",
           "shaft.INPUT_LOST", "shaft.LINK_LOST", "shaft.COUPLING_LOST", "shaft.JAMMED", "shaft.OWN_SHAFT"),
    _forms("SR-45", "SHAFTS_AT_REST", "every shaft was at REST or ISOLATED before this tick", shafts_at_rest),
    _forms("SR-44", "WAIT_EXPIRED", "NEUTRAL_WAIT has lasted for its time", wait_expired, "wait counts"),
    _forms("SR-45", "OFF_OVERDUE", "OFF was pressed in READY, longer ago than its time", off_overdue, "off counts",
           "off is remembered"),
    _forms("SR-35", "IDLE_EXPIRED", "READY has been idle for reminder and grace", idle_expired, "idle counts",
           "seen off", "shaft.UNDER_WAY_ORDER", "shaft.AT_REST_ORDER", "shaft.HARVEST_ORDER", "shaft.ENGINE_RUNNING",
           "shaft.SHAFT_STILL"),
    _forms("SR-50", "OWN_BOAT", "no own interlock that trips the boat is bad", own_boat, HELD_BAD),
)  # fmt: skip
