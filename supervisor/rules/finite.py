"""Refusing what is not a finite number, before any rule sees it. The bus refuses it too: this is the second door."""

from math import isfinite

from supervisor.signals.inputs import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, ShaftInputs
from supervisor.signals.own import OwnInputs

_BOAT_FIELDS = {spec.field: int(spec.bit) for spec in BOAT_INPUTS if spec.field}
_SHAFT_FIELDS = {spec.field: int(spec.bit) for spec in SHAFT_INPUTS if spec.field}
_CONTACTS = 2


def finite_own(own: OwnInputs) -> OwnInputs:
    """The same for the inputs of the own interlocks."""
    if own.known == 0 or isfinite(sum(own.values)):
        return own  # what is not known is not looked at
    known = own.known
    for channel, value in enumerate(own.values):
        if not isfinite(value):
            known &= ~(1 << channel)
    return OwnInputs(known, own.on & known, tuple(value if isfinite(value) else 0.0 for value in own.values))


def finite_boat(boat: BoatInputs) -> BoatInputs:
    """The inputs as they are, or with every number that is NaN or infinite made absent."""
    own = finite_own(boat.own)
    if own is not boat.own:
        boat = boat._replace(own=own)
    if isfinite(sum(getattr(boat, field) for field in _BOAT_FIELDS)):
        return boat
    known = boat.known
    values: dict[str, float] = {}
    for field, bit in _BOAT_FIELDS.items():
        if not isfinite(getattr(boat, field)):
            known &= ~bit
            values[field] = 0.0
    return BoatInputs(**{**boat._asdict(), **values, "known": known})


def finite_shaft(shaft: ShaftInputs) -> ShaftInputs:
    """The inputs as they are, or with every number that is NaN or infinite made absent."""
    if isfinite(sum(shaft[_CONTACTS:])):
        return shaft
    known = shaft.known
    values: dict[str, float] = {}
    for field, bit in _SHAFT_FIELDS.items():
        if not isfinite(getattr(shaft, field)):
            known &= ~bit
            values[field] = 0.0
    return ShaftInputs(**{**shaft._asdict(), **values, "known": known})
