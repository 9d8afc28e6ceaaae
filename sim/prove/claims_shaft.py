"""Claims on the shaft's table."""

from sim.prove.claims import Claim, armed_out_of, into, other_than, towards_propel, words
from sim.prove.cubes import Cube
from supervisor.modes import ShaftCondition, ShaftMode

_C = ShaftCondition
_M = ShaftMode
ShaftClaim = Claim[ShaftMode]

_CAUSES = (_C.DRIVE_FAULT, _C.DISOBEYED, _C.PRECHARGE_FAILED, _C.LINK_LOST, _C.COUPLING_LOST, _C.JAMMED)
_ALL_CAUSES = _C.DRIVE_FAULT | _C.DISOBEYED | _C.PRECHARGE_FAILED | _C.LINK_LOST | _C.COUPLING_LOST | _C.JAMMED
_ANY_CAUSE = _ALL_CAUSES | _C.INPUT_LOST
_CAUSE_OF = {
    _C.DRIVE_FAULT: "SR-30", _C.DISOBEYED: "SR-32", _C.PRECHARGE_FAILED: "SR-33", _C.LINK_LOST: "SR-33",
    _C.COUPLING_LOST: "SR-54", _C.JAMMED: "SR-55",
}  # fmt: skip
_WORKING = (_M.PROPEL, _M.GENERATE, _M.HARVEST)

# what thrust needs, requirement by requirement: retyped from docs/safety.md, not from the table
_THRUST_NEEDS = (
    ("SR-02", _C.BOAT_READY, "the boat READY"),
    ("SR-06", _C.IN_SERVICE, "the shaft in service"),
    ("SR-33", _C.LINK_CHARGED, "its link precharged"),
    ("SR-05", _C.THRUST_ORDER, "thrust asked"),
    ("SR-11", _C.NO_SHORE, "no shore cable"),
    ("SR-10", _C.NO_DIVER, "no diver"),
    ("SR-07", _C.LOCK_RELEASED, "the lock confirmed released"),
    ("SR-07", _C.LOCK_SETTLED, "the lock at rest"),
    ("SR-08", _C.CLUTCH_CLOSED, "the clutch confirmed closed"),
    ("SR-09", _C.ENGINE_CLEAR, "the engine stopped or in neutral"),
    ("SR-14", _C.DISCHARGE_PERMIT, "the discharge permit"),
    ("SR-18", _C.DERATE_OPEN, "a derate above zero"),
    ("SR-50", _C.OWN_THRUST, "no own interlock that stops thrust"),
    ("SR-50", _C.OWN_THRUST_STAYS, "no own interlock that ramps thrust down"),
)
_THRUST_BARS = (
    ("SR-45", _C.OFF_ORDER, "OFF was pressed"),
    ("SR-26", _C.CONTROL_LOST, "the lever is lost"),
    ("SR-27", _C.HANDSET_LOST, "the handset is lost"),
    ("SR-62", _C.PAUSE_FAILED, "a pause has failed"),
)
_ALL_THRUST = (
    _C.BOAT_READY | _C.IN_SERVICE | _C.LINK_CHARGED | _C.THRUST_ORDER | _C.NO_SHORE | _C.NO_DIVER | _C.LOCK_RELEASED
    | _C.LOCK_SETTLED | _C.CLUTCH_CLOSED | _C.ENGINE_CLEAR | _C.DISCHARGE_PERMIT | _C.DERATE_OPEN
    | _C.OWN_THRUST | _C.OWN_THRUST_STAYS
)  # fmt: skip
_NO_BAR = _C.OFF_ORDER | _C.CONTROL_LOST | _C.HANDSET_LOST | _C.PAUSE_FAILED
_AT_ONCE_THRUST = (
    _C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.NO_SHORE | _C.LOCK_RELEASED | _C.LOCK_SETTLED
    | _C.CLUTCH_CLOSED
    | _C.DISCHARGE_PERMIT | _C.OWN_THRUST
)  # fmt: skip

_SOURCE_NEEDS = (
    ("SR-02", _C.BOAT_READY, "the boat READY"),
    ("SR-06", _C.IN_SERVICE, "the shaft in service"),
    ("SR-33", _C.LINK_CHARGED, "its link precharged"),
    ("SR-10", _C.NO_DIVER, "no diver"),
    ("SR-07", _C.LOCK_SETTLED, "the lock at rest"),
    ("SR-13", _C.CHARGE_PERMIT, "the charge permit"),
    ("SR-15", _C.CHARGE_WANTED, "a bank that takes charge"),
    ("SR-50", _C.OWN_CHARGE, "no own interlock that stops charging"),
    ("SR-50", _C.OWN_CHARGE_STAYS, "no own interlock that unloads charging"),
)
_GENERATE_NEEDS = (
    ("SR-23", _C.ENGINE_RUNNING, "the engine confirmed running"),
    ("SR-12", _C.GEAR_AHEAD, "the gearbox ahead"),
)
_HARVEST_NEEDS = (
    ("SR-11", _C.NO_SHORE, "no shore cable"),
    ("SR-07", _C.LOCK_RELEASED, "the lock confirmed released"),
    ("SR-08", _C.CLUTCH_CLOSED, "the clutch confirmed closed"),
    ("SR-41", _C.ENGINE_STOPPED, "the engine stopped"),
    ("SR-41", _C.GEAR_NEUTRAL, "the gearbox in neutral"),
    ("SR-41", _C.TRAILING_OK, "a gearbox that may trail"),
    ("SR-46", _C.HARVEST_ORDER, "harvest selected"),
)
_SOURCE_ALL = (
    _C.BOAT_READY
    | _C.IN_SERVICE
    | _C.LINK_CHARGED
    | _C.NO_DIVER
    | _C.LOCK_SETTLED
    | _C.CHARGE_PERMIT
    | _C.CHARGE_WANTED
    | _C.OWN_CHARGE
    | _C.OWN_CHARGE_STAYS
    | _C.OWN_CHARGE_START
)
_UNDER_WAY_ALL = (
    _SOURCE_ALL | _C.ENGINE_RUNNING | _C.GEAR_AHEAD | _C.UNDER_WAY_ORDER | _C.CLUTCH_CLOSED | _C.LOCK_RELEASED
)
_AT_REST_ALL = _SOURCE_ALL | _C.ENGINE_RUNNING | _C.GEAR_AHEAD | _C.AT_REST_ORDER | _C.CLUTCH_OPEN | _C.PROPELLER_STILL
_HARVEST_ALL = (
    _SOURCE_ALL | _C.NO_SHORE | _C.LOCK_RELEASED | _C.CLUTCH_CLOSED | _C.ENGINE_STOPPED | _C.GEAR_NEUTRAL
    | _C.TRAILING_OK | _C.HARVEST_ORDER
)  # fmt: skip


def sound(must: int = 0, must_not: int = 0) -> Cube:
    """The words without a cause to isolate, own interlocks included, with all of `must` and none of `must_not`."""
    return words(int(must) | _C.OWN_SHAFT, int(must_not) | _ANY_CAUSE)


def _trip_claims() -> list[ShaftClaim]:
    found = []
    for source in ShaftMode:
        for cause in _CAUSES:
            found.append(
                ShaftClaim(_CAUSE_OF[cause], f"{source.name}: {cause.name} isolates", source, words(cause),
                           other_than(_M.ISOLATED), f"{cause.name} isolates the shaft from {source.name}")
            )  # fmt: skip
        found.append(
            ShaftClaim("SR-30", f"{source.name}: INPUT_LOST sends a shaft of an enabled boat to ISOLATED", source,
                       words(_C.INPUT_LOST | _C.BOAT_LIVE), other_than(_M.ISOLATED),
                       f"a lost required input sends a shaft of an enabled boat to ISOLATED from {source.name}")
        )  # fmt: skip
        found.append(
            ShaftClaim("SR-50", f"{source.name}: an own interlock sends a shaft of an enabled boat to ISOLATED", source,
                       words(_C.BOAT_LIVE, _C.OWN_SHAFT), other_than(_M.ISOLATED),
                       f"an own interlock that trips the shaft isolates it from {source.name}")
        )  # fmt: skip
        if source == _M.ISOLATED:
            continue
        found.append(
            ShaftClaim("SR-49", f"{source.name}: not isolated without a cause", source, sound(0),
                       into(_M.ISOLATED), f"without a cause {source.name} is not isolated")
        )  # fmt: skip
        found.append(
            ShaftClaim("SR-49", f"{source.name}: not isolated for a lost input unless live", source,
                       words(0, _ALL_CAUSES | _C.BOAT_LIVE),
                       into(_M.ISOLATED), "a lost input does not isolate while the boat is switched on piece by piece")
        )  # fmt: skip
        found.append(
            ShaftClaim("SR-05", f"{source.name}: isolating disarms", source, words(),
                       lambda dest, disarms, _to: dest == _M.ISOLATED and not disarms, "isolating disarms")
        )  # fmt: skip
    return found


_WAY_OUT = _C.RESET_EDGE | _C.LEVER_NEUTRAL | _C.TORQUE_ZERO | _C.OBEDIENT | _C.TRUSTED


def _isolated_claims() -> list[ShaftClaim]:
    found = [
        ShaftClaim("SR-06", "ISOLATED needs reset", _M.ISOLATED, words(0, _C.RESET_EDGE), other_than(_M.ISOLATED),
                   "ISOLATED stays without a press of reset"),
        ShaftClaim("SR-06", "ISOLATED needs its lever in neutral", _M.ISOLATED, words(0, _C.LEVER_NEUTRAL),
                   other_than(_M.ISOLATED), "ISOLATED stays while the lever is not in neutral"),
        ShaftClaim("SR-06", "ISOLATED needs zero torque", _M.ISOLATED, words(0, _C.TORQUE_ZERO),
                   other_than(_M.ISOLATED), "ISOLATED stays while torque is not known to be zero"),
        ShaftClaim("SR-06", "ISOLATED needs obedience", _M.ISOLATED, words(0, _C.OBEDIENT),
                   other_than(_M.ISOLATED), "ISOLATED stays while a drive that disobeyed has yet to be seen obeying"),
        ShaftClaim("SR-06", "ISOLATED needs trust", _M.ISOLATED, words(0, _C.TRUSTED),
                   other_than(_M.ISOLATED), "ISOLATED stays while a drive that disobeyed twice turns"),
        ShaftClaim("SR-06", "ISOLATED only to REST", _M.ISOLATED, words(), into(*_WORKING, _M.UNLOAD),
                   "ISOLATED leads to REST only"),
        ShaftClaim("SR-05", "leaving ISOLATED disarms", _M.ISOLATED, words(), armed_out_of(_M.ISOLATED),
                   "leaving ISOLATED disarms"),
        ShaftClaim("SR-49", "ISOLATED can be reset", _M.ISOLATED, sound(_WAY_OUT),
                   other_than(_M.REST), "reset with the cause gone, lever in neutral and torque zero leads to REST"),
    ]  # fmt: skip
    for cause in (*_CAUSES, _C.INPUT_LOST):
        found.append(
            ShaftClaim("SR-06", f"ISOLATED while {cause.name}", _M.ISOLATED, words(cause), other_than(_M.ISOLATED),
                       f"ISOLATED stays while {cause.name} stands")
        )  # fmt: skip
    found.append(
        ShaftClaim("SR-50", "ISOLATED while an own interlock trips", _M.ISOLATED, words(0, _C.OWN_SHAFT),
                   other_than(_M.ISOLATED), "ISOLATED stays while an own interlock that trips the shaft is bad")
    )  # fmt: skip
    return found


def _propel_claims() -> list[ShaftClaim]:
    found = []
    for source in ShaftMode:
        for requirement, bit, text in _THRUST_NEEDS:
            found.append(
                ShaftClaim(requirement, f"{source.name}: PROPEL needs {bit.name}", source, words(0, bit),
                           into(_M.PROPEL), f"PROPEL, entered or kept from {source.name}, needs {text}")
            )  # fmt: skip
        for requirement, bit, text in _THRUST_BARS:
            found.append(
                ShaftClaim(requirement, f"{source.name}: no PROPEL with {bit.name}", source, words(bit),
                           into(_M.PROPEL), f"no PROPEL, entered or kept from {source.name}, while {text}")
            )  # fmt: skip
        if source != _M.PROPEL:
            found.append(
                ShaftClaim("SR-50", f"{source.name}: PROPEL needs OWN_THRUST_START", source,
                           words(0, _C.OWN_THRUST_START), into(_M.PROPEL),
                           f"PROPEL does not begin from {source.name} while an own interlock inhibits thrust")
            )  # fmt: skip
            found.append(
                ShaftClaim("SR-05", f"{source.name}: PROPEL needs REARMED", source, words(0, _C.REARMED),
                           into(_M.PROPEL), f"PROPEL from {source.name} needs fresh neutral")
            )  # fmt: skip
        if source not in (_M.PROPEL, _M.REST, _M.UNLOAD):
            found.append(
                ShaftClaim("SR-24", f"{source.name}: never straight to PROPEL", source, words(), into(_M.PROPEL),
                           f"{source.name} leads to PROPEL through UNLOAD only")
            )  # fmt: skip
    found += [
        ShaftClaim("SR-49", "thrust is given", _M.REST, sound(_ALL_THRUST | _C.REARMED | _C.OWN_THRUST_START, _NO_BAR),
                   other_than(_M.PROPEL), "thrust asked with every permissive is given"),
        ShaftClaim("SR-49", "thrust is kept", _M.PROPEL, sound(_ALL_THRUST, _NO_BAR | _C.PAUSED),
                   other_than(_M.PROPEL), "thrust with every permissive is kept"),
        ShaftClaim("SR-24", "PROPEL ends through UNLOAD", _M.PROPEL,
                   sound(_AT_ONCE_THRUST, _C.HANDSET_LOST | _C.PAUSED | _C.PAUSE_FAILED), into(_M.REST),
                   "thrust that need not end at once ends through UNLOAD"),
        ShaftClaim("SR-24", "PROPEL never straight to a source", _M.PROPEL, words(), into(_M.GENERATE, _M.HARVEST),
                   "PROPEL never leads to GENERATE or HARVEST directly"),
        ShaftClaim("SR-05", "only the lever ends thrust armed", _M.PROPEL, words(_C.THRUST_ORDER, _C.PAUSED),
                   armed_out_of(_M.PROPEL), "thrust that ends while it is asked disarms, unless it pauses"),
        ShaftClaim("SR-62", "a pause ends thrust at once", _M.PROPEL, sound(_C.PAUSED, _NO_BAR), other_than(_M.REST),
                   "thrust that pauses ends at once, without a ramp"),
        ShaftClaim("SR-62", "a pause disarms nothing", _M.PROPEL, sound(_C.PAUSED, _NO_BAR),
                   lambda _dest, disarms, _to: disarms, "thrust that pauses leaves the lever armed"),
        ShaftClaim("SR-05", "no unload target out of PROPEL", _M.PROPEL, words(), towards_propel,
                   "PROPEL sets no unload target"),
    ]  # fmt: skip
    for _, bit, text in _THRUST_NEEDS:
        if bit != _C.THRUST_ORDER:
            found.append(
                ShaftClaim("SR-05", f"losing {bit.name} disarms", _M.PROPEL, words(0, bit | _C.PAUSED), armed_out_of(_M.PROPEL),
                           f"thrust that ends without {text} disarms, unless it pauses")
            )  # fmt: skip
    for _, bit, text in _THRUST_BARS:
        found.append(
            ShaftClaim("SR-05", f"{bit.name} disarms", _M.PROPEL, words(bit), armed_out_of(_M.PROPEL),
                       f"thrust that ends while {text} disarms")
        )  # fmt: skip
    for requirement, bit in (
        ("SR-02", _C.BOAT_READY), ("SR-06", _C.IN_SERVICE), ("SR-10", _C.NO_DIVER), ("SR-11", _C.NO_SHORE),
        ("SR-07", _C.LOCK_RELEASED), ("SR-07", _C.LOCK_SETTLED), ("SR-08", _C.CLUTCH_CLOSED),
        ("SR-14", _C.DISCHARGE_PERMIT), ("SR-50", _C.OWN_THRUST),
    ):  # fmt: skip
        found.append(
            ShaftClaim(requirement, f"PROPEL ends at once without {bit.name}", _M.PROPEL, words(0, bit),
                       into(_M.PROPEL, _M.UNLOAD), f"without {bit.name} thrust ends at once, without a ramp")
        )  # fmt: skip
    found.append(
        ShaftClaim("SR-27", "PROPEL ends at once without the handset", _M.PROPEL, words(_C.HANDSET_LOST),
                   into(_M.PROPEL, _M.UNLOAD), "a lost handset ends thrust at once")
    )  # fmt: skip
    return found


SHAFT_CLAIMS_THRUST: tuple[ShaftClaim, ...] = (*_trip_claims(), *_isolated_claims(), *_propel_claims())
