"""How each bit of a shaft's permit word is formed, set exactly when; and each permit given exactly on its bits."""

from collections.abc import Callable

from sim.prove.claims_bank import always
from sim.prove.claims_trust import SILENT_S, silent_s
from sim.prove.forming_own import HELD_BAD, own_bad
from sim.prove.forming_shaft import latched
from sim.prove.step import Step, StepClaim
from sim.prove.terms import (
    HELD,
    ISOLATED,
    NEUTRAL_WAIT,
    PROPEL,
    READY,
    REST,
    gear_engaged,
    gear_neutral,
    in_service,
    is_held,
    lever_neutral,
    out_of_service,
    shaft_still,
)
from sim.requirements.facts import BOAT, SHAFT, Bits, has, no, yes
from supervisor.modes.conditions import PermitCondition
from supervisor.signals import ShaftPermit

BIT = Bits(**{str(bit.name): bit.value for bit in PermitCondition})
"""The bits as plain integers."""

GIVES = Bits(**{str(bit.name): bit.value for bit in ShaftPermit})
"""The permits as plain integers."""


def said(step: Step, i: int, bit: int) -> bool:
    """The bit is set in the permit word of this shaft."""
    return step.now.permit_words[i] & bit != 0


def boat_live(step: Step, i: int) -> bool:
    mode = step.now.memory.boat.mode
    return said(step, i, BIT.BOAT_LIVE) == (mode in (READY, NEUTRAL_WAIT))


def boat_ready(step: Step, i: int) -> bool:
    return said(step, i, BIT.BOAT_READY) == (step.now.memory.boat.mode == READY)


def serving(step: Step, i: int) -> bool:
    serves = in_service(step, i) and step.now.memory.shafts[i].mode != ISOLATED
    return said(step, i, BIT.SERVING) == serves


def contactor_closed(step: Step, i: int) -> bool:
    return said(step, i, BIT.CONTACTOR_CLOSED) == yes(step.boat_in, BOAT.CONTACTOR_CLOSED)


def precharge_sound(step: Step, i: int) -> bool:
    return said(step, i, BIT.PRECHARGE_SOUND) == (not latched(step.now.memory.shafts[i].latches, HELD.PRECHARGE_FAILED))


def link_was_charged(step: Step, i: int) -> bool:
    return said(step, i, BIT.LINK_WAS_CHARGED) == latched(step.now.memory.shafts[i].latches, HELD.LINK_WAS_CHARGED)


def neutral(step: Step, i: int) -> bool:
    return said(step, i, BIT.GEAR_NEUTRAL) == gear_neutral(step, i)


def no_diver(step: Step, i: int) -> bool:
    return said(step, i, BIT.NO_DIVER) == no(step.boat_in, BOAT.DIVER_LOCKOUT)


def tolerance_nm(step: Step, i: int) -> float:
    """Torque beyond this is not zero (N m)."""
    return step.config.limits.disobey_torque_pct / 100.0 * step.config.shaft[i].drive.rated_torque_nm


def torque_ended(step: Step, i: int) -> bool:
    """Nothing ordered now nor in the tick before, torque measured within tolerance, the shaft at REST or ISOLATED."""
    shaft, now = step.shaft_in[i], step.now.memory.shafts[i]
    measured = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) <= tolerance_nm(step, i)
    nothing = step.was.shafts[i].effort.torque_nm == 0.0 and now.effort.torque_nm == 0.0
    rests = now.mode in (REST, ISOLATED)
    return said(step, i, BIT.TORQUE_ENDED) == (measured and nothing and rests)


def drive_off(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    pulls = has(shaft, SHAFT.TORQUE) and abs(shaft.torque_nm) > tolerance_nm(step, i)
    silent = out_of_service(step, i) and step.now.memory.shafts[i].effort.torque_nm == 0.0 and not pulls
    return said(step, i, BIT.DRIVE_OFF) == silent


def lever_stands(step: Step, i: int) -> bool:
    return said(step, i, BIT.LEVER_NEUTRAL) == lever_neutral(step, i)


def speeds_matched(step: Step, i: int) -> bool:
    shaft = step.shaft_in[i]
    apart_rpm = abs(shaft.machine_speed_rpm - shaft.propeller_speed_rpm)
    both = has(shaft, SHAFT.MACHINE_SPEED | SHAFT.PROPELLER_SPEED)
    return said(step, i, BIT.SPEEDS_MATCHED) == (both and apart_rpm <= step.config.shaft[i].clutch.close_within_rpm)


def still_long(step: Step, i: int) -> bool:
    dwelt = step.now.memory.shafts[i].dwells.still_s >= step.config.shaft[i].lock.still_s
    return said(step, i, BIT.STILL_LONG) == (shaft_still(step, i) and dwelt)


def own_engine_start(step: Step, i: int) -> bool:
    return said(step, i, BIT.OWN_ENGINE_START) == (not own_bad(step, i, "inhibit_engine_start"))


# --- the permits, on the bits


def holds_for_lock(step: Step, i: int) -> bool:
    return said(step, i, BIT.HOLDS) == (step.now.memory.shafts[i].mode == PROPEL and is_held(step, i))


def given(step: Step, i: int, permit: int) -> bool:
    """The permit is given to this shaft."""
    return step.now.shaft_commands[i].permits & permit != 0


def live(step: Step, i: int) -> bool:
    """What precharge and enable need alike."""
    boat = said(step, i, BIT.BOAT_LIVE) and said(step, i, BIT.CONTACTOR_CLOSED)
    return boat and said(step, i, BIT.SERVING) and said(step, i, BIT.PRECHARGE_SOUND)


def precharge(step: Step, i: int) -> bool:
    return given(step, i, GIVES.PRECHARGE) == live(step, i)


def enable(step: Step, i: int) -> bool:
    may = live(step, i) and said(step, i, BIT.BOAT_READY) and said(step, i, BIT.LINK_WAS_CHARGED)
    return given(step, i, GIVES.DRIVE_ENABLE) == may


def not_engaged(step: Step, i: int) -> bool:
    return said(step, i, BIT.GEAR_NOT_ENGAGED) != gear_engaged(step, i)


def diver_not_set(step: Step, i: int) -> bool:
    return said(step, i, BIT.DIVER_NOT_SET) != yes(step.boat_in, BOAT.DIVER_LOCKOUT)


def drive_silent(step: Step, i: int) -> bool:
    nothing = step.now.memory.shafts[i].effort.torque_nm == 0.0
    return said(step, i, BIT.DRIVE_SILENT) == (nothing and silent_s(step, i) >= SILENT_S)


def start(step: Step, i: int) -> bool:
    at_end = said(step, i, BIT.TORQUE_ENDED) or said(step, i, BIT.DRIVE_OFF) or said(step, i, BIT.DRIVE_SILENT)
    may = at_end and said(step, i, BIT.GEAR_NOT_ENGAGED) and said(step, i, BIT.DIVER_NOT_SET)
    return given(step, i, GIVES.ENGINE_START) == (may and said(step, i, BIT.OWN_ENGINE_START))


def close(step: Step, i: int) -> bool:
    may = said(step, i, BIT.GEAR_NEUTRAL) and said(step, i, BIT.LEVER_NEUTRAL) and said(step, i, BIT.NO_DIVER)
    may = may and said(step, i, BIT.TORQUE_ENDED)
    return given(step, i, GIVES.CLUTCH_CLOSE) == (may and said(step, i, BIT.SPEEDS_MATCHED))


def engage(step: Step, i: int) -> bool:
    may = said(step, i, BIT.STILL_LONG) and (said(step, i, BIT.TORQUE_ENDED) or said(step, i, BIT.HOLDS))
    return given(step, i, GIVES.LOCK_ENGAGE) == may


def _forms(requirement: str, bit: str, when: str, then: Callable[[Step, int], bool], *rests: str) -> StepClaim:
    return StepClaim(
        requirement, f"permit's {bit} is formed", f"set exactly when {when}", always, then, forms=f"permit.{bit}",
        rests_on=rests, parity=False,
    )  # fmt: skip


PERMIT_FORMING: tuple[StepClaim, ...] = (
    _forms("SR-02", "BOAT_LIVE", "the boat is READY or on its way there after this tick", boat_live),
    _forms("SR-02", "BOAT_READY", "the boat is READY after this tick", boat_ready),
    _forms("SR-02", "SERVING", "the shaft is in service and not ISOLATED after this tick", serving,
           "service is remembered"),
    _forms("SR-34", "CONTACTOR_CLOSED", "the contactor is known and closed", contactor_closed),
    _forms("SR-33", "PRECHARGE_SOUND", "no precharge has failed, or its reset was seen", precharge_sound,
           "precharge fails", "precharge counts", "one retry"),
    _forms("SR-33", "LINK_WAS_CHARGED", "the link was precharged since the boat was enabled", link_was_charged,
           "link is latched"),
    _forms("SR-38", "GEAR_NEUTRAL", "the neutral contact is on, and neither the ahead contact nor a fresh report "
           "contradicts it", neutral),
    _forms("SR-37", "GEAR_NOT_ENGAGED", "neither contact nor a fresh report says that the gearbox is in gear",
           not_engaged),
    _forms("SR-37", "DIVER_NOT_SET", "the diver lockout is not known to be set", diver_not_set),
    _forms("SR-37", "DRIVE_SILENT", "nothing is ordered and the drive's torque has not been heard for 1 s with its "
           "enable dropped", drive_silent, "silence counts"),
    _forms("SR-38", "NO_DIVER", "the diver lockout is known and off", no_diver),
    _forms("SR-37", "TORQUE_ENDED", "nothing is ordered now nor was in the tick before, the torque measured is within "
           "tolerance, and the shaft is at REST or ISOLATED", torque_ended),
    _forms("SR-37", "DRIVE_OFF", "the shaft is out of service, nothing is ordered and no torque is measured", drive_off,
           "service is remembered"),
    _forms("SR-38", "LEVER_NEUTRAL", "the lever is in neutral by contact and position", lever_stands),
    _forms("SR-38", "SPEEDS_MATCHED", "both sides are known and turn alike within the limit", speeds_matched),
    _forms("SR-39", "STILL_LONG", "both sides are still and have been for the lock's time", still_long, "still counts"),
    _forms("SR-39", "HOLDS", "the shaft propels after this tick because it is to be stopped and locked", holds_for_lock,
           "a hold counts"),
    _forms("SR-50", "OWN_ENGINE_START", "no own interlock that inhibits this engine's start is bad", own_engine_start,
           HELD_BAD),
)  # fmt: skip


def _gives(requirement: str, name: str, when: str, then: Callable[[Step, int], bool]) -> StepClaim:
    return StepClaim(requirement, name, f"given exactly while {when}", always, then, parity=False)


PERMIT_CLAIMS: tuple[StepClaim, ...] = (
    _gives("SR-33", "precharge by its bits", "live, serving, contactor closed and no precharge failed", precharge),
    _gives("SR-33", "enable by its bits", "so, the boat READY and the link precharged", enable),
    _gives("SR-37", "start by its bits", "not in gear, no diver set, torque at an end or the drive off or silent, no "
           "own interlock against it", start),
    _gives("SR-38", "closing by its bits", "gear and lever neutral, no diver, torque at an end, both sides alike",
           close),
    _gives("SR-39", "engaging by its bits", "still for its time with torque at an end", engage),
)  # fmt: skip
"""The permit table, restated as what each permit needs and all that it needs."""
