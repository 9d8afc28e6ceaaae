"""Claims on the shaft's table: charging, harvest, unloading, rest."""

from sim.prove.claims import armed_out_of, into, other_than, towards_propel, words
from sim.prove.claims_shaft import (
    _ALL_THRUST,
    _AT_REST_ALL,
    _C,
    _GENERATE_NEEDS,
    _HARVEST_ALL,
    _HARVEST_NEEDS,
    _M,
    _NO_BAR,
    _SOURCE_NEEDS,
    _UNDER_WAY_ALL,
    SHAFT_CLAIMS_THRUST,
    ShaftClaim,
    sound,
)
from sim.prove.cubes import Cube
from supervisor.modes import ShaftMode


def _generate_claims() -> list[ShaftClaim]:
    found = []
    for source in ShaftMode:
        for requirement, bit, text in (*_SOURCE_NEEDS, *_GENERATE_NEEDS):
            found.append(
                ShaftClaim(requirement, f"{source.name}: GENERATE needs {bit.name}", source, words(0, bit),
                           into(_M.GENERATE), f"GENERATE, entered or kept from {source.name}, needs {text}")
            )  # fmt: skip
        for requirement, name, where, text in (
            ("SR-45", "off", words(_C.OFF_ORDER), "no GENERATE while off is ordered"),
            ("SR-08", "clutch in transit", words(0, _C.CLUTCH_CLOSED | _C.CLUTCH_OPEN), "no GENERATE through a "
                "transit"),
            ("SR-07", "locked", words(_C.CLUTCH_CLOSED, _C.LOCK_RELEASED), "no GENERATE against the lock"),
            ("SR-46", "no selector", words(0, _C.UNDER_WAY_ORDER | _C.AT_REST_ORDER), "GENERATE needs a selector"),
            ("SR-08", "under way", words(_C.UNDER_WAY_ORDER, _C.CLUTCH_CLOSED), "charging under way: clutch closed"),
            ("SR-12", "at rest", words(_C.AT_REST_ORDER, _C.CLUTCH_OPEN), "charging at rest: clutch open"),
            ("SR-12", "at rest, turning", words(_C.AT_REST_ORDER, _C.PROPELLER_STILL), "charging at rest: still"),
            ("SR-12", "clutch open, turning", words(_C.CLUTCH_OPEN, _C.PROPELLER_STILL | _C.CLUTCH_CLOSED),
             "charging with the clutch open: propeller still"),
        ):  # fmt: skip
            found.append(
                ShaftClaim(requirement, f"{source.name}: GENERATE, {name}", source, where, into(_M.GENERATE), text)
            )
        if source != _M.GENERATE:
            found.append(
                ShaftClaim("SR-50", f"{source.name}: GENERATE needs OWN_CHARGE_START", source,
                           words(0, _C.OWN_CHARGE_START), into(_M.GENERATE),
                           f"GENERATE does not begin from {source.name} while an own interlock inhibits charging")
            )  # fmt: skip
        if source not in (_M.REST, _M.GENERATE):
            found.append(
                ShaftClaim("SR-24", f"{source.name}: GENERATE from REST only", source, words(), into(_M.GENERATE),
                           "GENERATE begins at REST only")
            )  # fmt: skip
    found += [
        ShaftClaim("SR-46", "both selectors start nothing", _M.REST, words(_C.UNDER_WAY_ORDER | _C.AT_REST_ORDER),
                   into(_M.GENERATE), "both selectors together start nothing"),
        ShaftClaim("SR-49", "charging under way is given", _M.REST,
                   sound(_UNDER_WAY_ALL, _C.OFF_ORDER | _C.AT_REST_ORDER | _C.ENGINE_CLEAR),
                   other_than(_M.GENERATE), "charging under way with every permissive is given"),
        ShaftClaim("SR-49", "charging at rest is given", _M.REST,
                   sound(_AT_REST_ALL, _C.OFF_ORDER | _C.UNDER_WAY_ORDER | _C.CLUTCH_CLOSED),
                   other_than(_M.GENERATE), "charging at rest with every permissive is given"),
        ShaftClaim("SR-49", "charging under way is kept", _M.GENERATE,
                   sound(_UNDER_WAY_ALL, _C.OFF_ORDER | _C.AT_REST_ORDER), other_than(_M.GENERATE),
                   "charging under way with every permissive is kept"),
        ShaftClaim("SR-49", "charging at rest is kept", _M.GENERATE,
                   sound(_AT_REST_ALL, _C.OFF_ORDER | _C.UNDER_WAY_ORDER | _C.CLUTCH_CLOSED),
                   other_than(_M.GENERATE), "charging at rest with every permissive is kept"),
        ShaftClaim("SR-24", "GENERATE ends through UNLOAD (under way)", _M.GENERATE,
                   sound(_C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.LOCK_SETTLED | _C.LOCK_RELEASED |
                         _C.CHARGE_PERMIT | _C.ENGINE_RUNNING | _C.CLUTCH_CLOSED | _C.OWN_CHARGE, _C.AT_REST_ORDER),
                   into(_M.REST), "charging that need not end at once ends through UNLOAD"),
        ShaftClaim("SR-24", "GENERATE ends through UNLOAD (at rest)", _M.GENERATE,
                   sound(_C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.LOCK_SETTLED | _C.CHARGE_PERMIT |
                         _C.ENGINE_RUNNING | _C.CLUTCH_OPEN | _C.PROPELLER_STILL | _C.OWN_CHARGE,
                         _C.UNDER_WAY_ORDER | _C.CLUTCH_CLOSED),
                   into(_M.REST), "charging that need not end at once ends through UNLOAD"),
        ShaftClaim("SR-24", "GENERATE never straight to another", _M.GENERATE, words(), into(_M.PROPEL, _M.HARVEST),
                   "GENERATE never leads to PROPEL or HARVEST directly"),
        ShaftClaim("SR-05", "leaving GENERATE disarms", _M.GENERATE, words(), armed_out_of(_M.GENERATE),
                   "leaving GENERATE disarms: the lever was a throttle"),
        ShaftClaim("SR-05", "no unload target out of GENERATE", _M.GENERATE, words(), towards_propel,
                   "GENERATE sets no unload target"),
    ]  # fmt: skip
    for requirement, bit in (
        ("SR-02", _C.BOAT_READY), ("SR-06", _C.IN_SERVICE), ("SR-10", _C.NO_DIVER), ("SR-07", _C.LOCK_SETTLED),
        ("SR-13", _C.CHARGE_PERMIT), ("SR-23", _C.ENGINE_RUNNING), ("SR-50", _C.OWN_CHARGE),
    ):  # fmt: skip
        found.append(
            ShaftClaim(requirement, f"GENERATE ends at once without {bit.name}", _M.GENERATE, words(0, bit),
                       into(_M.GENERATE, _M.UNLOAD), f"without {bit.name} charging ends at once")
        )  # fmt: skip
    for requirement, name, where in (
        ("SR-08", "in transit", words(0, _C.CLUTCH_CLOSED | _C.CLUTCH_OPEN)),
        ("SR-07", "against the lock", words(_C.CLUTCH_CLOSED, _C.LOCK_RELEASED)),
        ("SR-12", "with the propeller turning", words(_C.AT_REST_ORDER, _C.PROPELLER_STILL)),
        ("SR-12", "at rest, clutch not open", words(_C.AT_REST_ORDER, _C.CLUTCH_OPEN)),
        ("SR-08", "under way, clutch not closed", words(_C.UNDER_WAY_ORDER, _C.CLUTCH_CLOSED)),
    ):
        found.append(
            ShaftClaim(requirement, f"GENERATE ends at once {name}", _M.GENERATE, where, into(_M.GENERATE, _M.UNLOAD),
                       f"charging ends at once {name}")
        )  # fmt: skip
    return found


def _harvest_claims() -> list[ShaftClaim]:
    found = []
    for source in ShaftMode:
        for requirement, bit, text in (*_SOURCE_NEEDS, *_HARVEST_NEEDS):
            found.append(
                ShaftClaim(requirement, f"{source.name}: HARVEST needs {bit.name}", source, words(0, bit),
                           into(_M.HARVEST), f"HARVEST, entered or kept from {source.name}, needs {text}")
            )  # fmt: skip
        for requirement, bit in (("SR-45", _C.OFF_ORDER), ("SR-05", _C.THRUST_ORDER)):
            found.append(
                ShaftClaim(requirement, f"{source.name}: no HARVEST with {bit.name}", source, words(bit),
                           into(_M.HARVEST), f"no HARVEST with {bit.name}")
            )  # fmt: skip
        if source != _M.HARVEST:
            found.append(
                ShaftClaim("SR-50", f"{source.name}: HARVEST needs OWN_CHARGE_START", source,
                           words(0, _C.OWN_CHARGE_START), into(_M.HARVEST),
                           f"HARVEST does not begin from {source.name} while an own interlock inhibits charging")
            )  # fmt: skip
        if source not in (_M.REST, _M.HARVEST):
            found.append(
                ShaftClaim("SR-24", f"{source.name}: HARVEST from REST only", source, words(), into(_M.HARVEST),
                           "HARVEST begins at REST only")
            )  # fmt: skip
    found += [
        ShaftClaim("SR-49", "harvest is given", _M.REST,
                   sound(_HARVEST_ALL, _C.OFF_ORDER | _C.THRUST_ORDER | _C.ENGINE_RUNNING),
                   other_than(_M.HARVEST), "harvest with every permissive is given"),
        ShaftClaim("SR-49", "harvest is kept", _M.HARVEST,
                   sound(_HARVEST_ALL, _C.OFF_ORDER | _C.THRUST_ORDER), other_than(_M.HARVEST),
                   "harvest with every permissive is kept"),
        ShaftClaim("SR-49", "harvest gives way to thrust", _M.HARVEST,
                   sound(_ALL_THRUST | _C.REARMED | _C.OWN_THRUST_START | _C.CHARGE_PERMIT | _C.OWN_CHARGE, _NO_BAR),
                   lambda _dest, disarms, to_propel: disarms or not to_propel,
                   "harvest gives way to thrust, through UNLOAD"),
        ShaftClaim("SR-24", "HARVEST ends through UNLOAD", _M.HARVEST,
                   sound(_C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.NO_SHORE | _C.LOCK_RELEASED |
                         _C.LOCK_SETTLED | _C.CLUTCH_CLOSED | _C.CHARGE_PERMIT | _C.OWN_CHARGE),
                   into(_M.REST), "harvest that need not end at once ends through UNLOAD"),
        ShaftClaim("SR-05", "HARVEST: thrust without its permissives disarms", _M.HARVEST, words(_C.THRUST_ORDER),
                   lambda dest, disarms, to_propel: dest != _M.HARVEST and not disarms and not to_propel,
                   "harvest that ends by thrust which may not be given disarms"),
        ShaftClaim("SR-24", "HARVEST never straight to another", _M.HARVEST, words(), into(_M.PROPEL, _M.GENERATE),
                   "HARVEST never leads to PROPEL or GENERATE directly"),
        ShaftClaim("SR-49", "deselecting harvest stays armed", _M.HARVEST,
                   sound(_HARVEST_ALL & ~_C.HARVEST_ORDER, _C.OFF_ORDER | _C.THRUST_ORDER |
                         _C.HARVEST_ORDER),
                   lambda _dest, disarms, _to: disarms, "harvest that is deselected leaves the lever armed"),
    ]  # fmt: skip
    for bit in (_C.OFF_ORDER,):
        found.append(
            ShaftClaim("SR-05", f"HARVEST: {bit.name} disarms", _M.HARVEST, words(bit), armed_out_of(_M.HARVEST),
                       f"harvest that ends with {bit.name} disarms")
        )  # fmt: skip
    for requirement, bit, text in (*_SOURCE_NEEDS, *_HARVEST_NEEDS):
        if bit != _C.HARVEST_ORDER:
            found.append(
                ShaftClaim("SR-05", f"HARVEST: losing {bit.name} disarms", _M.HARVEST, words(0, bit),
                           lambda dest, disarms, to_propel: dest != _M.HARVEST and not disarms and not to_propel,
                           f"harvest that ends without {text} disarms")
            )  # fmt: skip
        if bit in _AT_ONCE_HARVEST:
            found.append(
                ShaftClaim(requirement, f"HARVEST ends at once without {bit.name}", _M.HARVEST, words(0, bit),
                           into(_M.HARVEST, _M.UNLOAD), f"without {text} harvest ends at once")
            )  # fmt: skip
    found += _target_claims(_M.HARVEST)
    return found


_AT_ONCE_HARVEST = (
    _C.BOAT_READY, _C.IN_SERVICE, _C.NO_DIVER, _C.NO_SHORE, _C.LOCK_RELEASED, _C.LOCK_SETTLED, _C.CLUTCH_CLOSED,
    _C.CHARGE_PERMIT, _C.OWN_CHARGE,
)  # fmt: skip


def _target_claims(source: ShaftMode) -> list[ShaftClaim]:
    """The unload target is set only on the way to thrust that everything permits."""
    found = []
    for bit in (*_bits(int(_ALL_THRUST)), _C.REARMED):
        found.append(
            ShaftClaim("SR-05", f"{source.name}: unload target needs {bit.name}", source, words(0, bit),
                       towards_propel, f"the unload target is set only with {bit.name}")
        )  # fmt: skip
    for bit in _bits(int(_NO_BAR)):
        found.append(
            ShaftClaim("SR-05", f"{source.name}: no unload target with {bit.name}", source, words(bit),
                       towards_propel, f"the unload target is not set with {bit.name}")
        )  # fmt: skip
    return found


def _bits(mask: int) -> list[_C]:
    return [bit for bit in _C if mask & int(bit)]


def unless_paused(where: Cube) -> Cube:
    """Of these words those without PAUSED."""
    return Cube(where.mask | int(_C.PAUSED), where.value)


def _unload_claims() -> list[ShaftClaim]:
    found = []
    for requirement, name, where in (
        ("SR-02", "BOAT_READY", words(0, _C.BOAT_READY)),
        ("SR-06", "IN_SERVICE", words(0, _C.IN_SERVICE)),
        ("SR-10", "NO_DIVER", words(0, _C.NO_DIVER)),
        ("SR-07", "LOCK_SETTLED", words(0, _C.LOCK_SETTLED)),
        ("SR-08", "a clutch at rest", words(0, _C.CLUTCH_CLOSED | _C.CLUTCH_OPEN)),
        ("SR-07", "the lock released", words(_C.CLUTCH_CLOSED, _C.LOCK_RELEASED)),
        ("SR-11", "the shore cable out", words(_C.CLUTCH_CLOSED, _C.NO_SHORE)),
        ("SR-27", "the handset", words(_C.HANDSET_LOST)),
        ("SR-50", "OWN_THRUST", words(0, _C.OWN_THRUST | _C.UNLOADS_SOURCE)),
        ("SR-50", "OWN_CHARGE", words(_C.UNLOADS_SOURCE, _C.OWN_CHARGE)),
    ):
        found.append(
            ShaftClaim(requirement, f"UNLOAD ends at once without {name}", _M.UNLOAD, where,
                       into(_M.UNLOAD, _M.PROPEL), f"unloading ends at once without {name}")
        )  # fmt: skip
        found.append(
            ShaftClaim("SR-05", f"UNLOAD without {name} disarms", _M.UNLOAD,
                       unless_paused(where), armed_out_of(_M.UNLOAD),
                       f"unloading that ends without {name} disarms, unless thrust pauses")
        )  # fmt: skip
    good = (
        _C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.LOCK_SETTLED | _C.CLUTCH_CLOSED | _C.LOCK_RELEASED
        | _C.NO_SHORE | _C.OWN_THRUST | _C.OWN_CHARGE
    )  # fmt: skip
    found += [
        ShaftClaim("SR-24", "UNLOAD waits for zero torque", _M.UNLOAD,
                   sound(good, _C.HANDSET_LOST | _C.TORQUE_ZERO | _C.UNLOAD_OVERDUE | _C.PAUSED),
                   other_than(_M.UNLOAD), "unloading lasts until torque is zero"),
        ShaftClaim("SR-24", "UNLOAD waits for zero torque (clutch open)", _M.UNLOAD,
                   sound(_C.BOAT_READY | _C.IN_SERVICE | _C.NO_DIVER | _C.LOCK_SETTLED | _C.CLUTCH_OPEN |
                         _C.OWN_THRUST | _C.OWN_CHARGE,
                         _C.HANDSET_LOST | _C.TORQUE_ZERO | _C.UNLOAD_OVERDUE | _C.CLUTCH_CLOSED | _C.PAUSED),
                   other_than(_M.UNLOAD), "unloading lasts until torque is zero"),
        ShaftClaim("SR-24", "PROPEL from UNLOAD at zero torque", _M.UNLOAD, words(0, _C.TORQUE_ZERO), into(_M.PROPEL),
                   "thrust follows UNLOAD only at zero torque"),
        ShaftClaim("SR-24", "PROPEL from UNLOAD on the way there", _M.UNLOAD, words(0, _C.UNLOAD_TO_PROPEL),
                   into(_M.PROPEL), "thrust follows UNLOAD only on the way to PROPEL"),
        ShaftClaim("SR-49", "crash stop is given", _M.UNLOAD,
                   sound(_ALL_THRUST | _C.REARMED | _C.OWN_THRUST_START | _C.OWN_CHARGE | _C.UNLOAD_TO_PROPEL |
                         _C.TORQUE_ZERO, _NO_BAR | _C.PAUSED),
                   other_than(_M.PROPEL), "thrust asked again is given once torque is zero"),
        ShaftClaim("SR-49", "crash stop is noted", _M.UNLOAD,
                   sound(_ALL_THRUST | _C.REARMED | _C.OWN_THRUST_START | _C.OWN_CHARGE,
                         _NO_BAR | _C.UNLOAD_TO_PROPEL | _C.PAUSED),
                   lambda _dest, _disarms, to_propel: not to_propel, "thrust asked while unloading is noted"),
        ShaftClaim("SR-24", "UNLOAD ends at zero torque", _M.UNLOAD, words(_C.TORQUE_ZERO | _C.UNLOAD_TO_PROPEL),
                   into(_M.UNLOAD), "unloading ends when torque is zero"),
        ShaftClaim("SR-24", "UNLOAD ends at zero torque, nothing asked", _M.UNLOAD,
                   words(_C.TORQUE_ZERO, _C.THRUST_ORDER), into(_M.UNLOAD), "unloading ends when torque is zero"),
        ShaftClaim("SR-24", "UNLOAD is bounded", _M.UNLOAD, words(_C.UNLOAD_OVERDUE | _C.UNLOAD_TO_PROPEL),
                   into(_M.UNLOAD), "unloading does not outlast its time"),
        ShaftClaim("SR-24", "UNLOAD is bounded, nothing asked", _M.UNLOAD,
                   words(_C.UNLOAD_OVERDUE, _C.THRUST_ORDER), into(_M.UNLOAD), "unloading does not outlast its time"),
        ShaftClaim("SR-05", "overdue unloading disarms", _M.UNLOAD, words(_C.UNLOAD_OVERDUE, _C.TORQUE_ZERO | _C.PAUSED),
                   armed_out_of(_M.UNLOAD), "unloading that took too long disarms"),
        ShaftClaim("SR-49", "unloading to rest stays armed", _M.UNLOAD,
                   sound(good | _C.TORQUE_ZERO, _C.HANDSET_LOST),
                   lambda _dest, disarms, _to: disarms, "unloading that ends at rest leaves the lever armed"),
    ]  # fmt: skip
    found += _target_claims(_M.UNLOAD)
    for source in ShaftMode:
        found.append(
            ShaftClaim("SR-05", f"{source.name}: unload target only while unloading", source, words(),
                       lambda dest, _disarms, to_propel: to_propel and dest != _M.UNLOAD,
                       "the unload target is set only by rows that lead to UNLOAD")
        )  # fmt: skip
    found += [
        ShaftClaim("SR-49", "the lever's own neutral stays armed", _M.PROPEL,
                   sound(_ALL_THRUST & ~_C.THRUST_ORDER, _NO_BAR | _C.THRUST_ORDER),
                   lambda _dest, disarms, _to: disarms, "thrust that the lever itself ends leaves it armed"),
        ShaftClaim("SR-24", "REST never to UNLOAD", _M.REST, words(), into(_M.UNLOAD), "REST has nothing to unload"),
        ShaftClaim("SR-49", "REST: no row disarms but a trip", _M.REST, sound(0),
                   lambda _dest, disarms, _to: disarms, "leaving REST does not disarm"),
        ShaftClaim("SR-05", "no unload target out of REST", _M.REST, words(), towards_propel,
                   "REST sets no unload target"),
    ]  # fmt: skip
    return found


SHAFT_CLAIMS: tuple[ShaftClaim, ...] = (
    *SHAFT_CLAIMS_THRUST, *_generate_claims(), *_harvest_claims(), *_unload_claims(),
)  # fmt: skip
