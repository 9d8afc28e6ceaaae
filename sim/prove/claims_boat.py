"""Claims on the boat's table."""

from sim.prove.claims import Claim, into, other_than, words
from sim.prove.cubes import Cube
from supervisor.modes import BoatCondition, BoatMode

_C = BoatCondition
_M = BoatMode
BoatClaim = Claim[BoatMode]

_TRIPS = (
    (_C.EMERGENCY_STOP, "emergency stop"),
    (_C.MONITOR_FAULT, "a fault flag of the bank monitor"),
    (_C.RUNTIME_FAULT, "a dead receive path or missed deadlines"),
    (_C.INPUT_LOST, "a lost required input"),
)
_ANY_TRIP = _C.EMERGENCY_STOP | _C.MONITOR_FAULT | _C.RUNTIME_FAULT | _C.INPUT_LOST
_PERMISSIVES = _C.LEVERS_NEUTRAL | _C.CONTACTOR_CLOSED | _C.LINKS_CHARGED | _C.SHAFT_AVAILABLE


def sound(must: int = 0, must_not: int = 0) -> Cube:
    """The words without a cause to trip, own interlocks included, with all of `must` and none of `must_not`."""
    return words(int(must) | _C.OWN_BOAT, int(must_not) | _ANY_TRIP)


def _trip_claims() -> list[BoatClaim]:
    found = []
    for source in (_M.NEUTRAL_WAIT, _M.READY):
        for bit, text in _TRIPS:
            found.append(
                BoatClaim("SR-03", f"{source.name}: {bit.name} trips", source, words(bit), other_than(_M.TRIPPED),
                          f"{text} trips the boat from {source.name}, whatever else holds")
            )  # fmt: skip
        found.append(
            BoatClaim("SR-50", f"{source.name}: an own interlock trips", source, words(0, _C.OWN_BOAT),
                      other_than(_M.TRIPPED), f"an own interlock that trips the boat does so from {source.name}")
        )  # fmt: skip
    for source in (_M.STANDBY, _M.TRIPPED):
        found.append(
            BoatClaim("SR-50", f"{source.name}: an own interlock bars", source, words(0, _C.OWN_BOAT),
                      into(_M.NEUTRAL_WAIT, _M.READY) if source == _M.STANDBY else other_than(_M.TRIPPED),
                      f"{source.name} is not left towards thrust while an own interlock that trips the boat is bad")
        )  # fmt: skip
    for bit, text in _TRIPS[:2]:
        found.append(
            BoatClaim("SR-03", f"STANDBY: {bit.name} trips", _M.STANDBY, words(bit), other_than(_M.TRIPPED),
                      f"{text} trips the boat from STANDBY, whatever else holds")
        )  # fmt: skip
    for bit, text in _TRIPS[2:]:
        found.append(
            BoatClaim("SR-03", f"STANDBY: {bit.name} bars", _M.STANDBY, words(bit), into(_M.NEUTRAL_WAIT, _M.READY),
                      f"{text} bars enabling")
        )  # fmt: skip
    for source in (_M.NEUTRAL_WAIT, _M.READY, _M.STANDBY):
        need = _C.CONTACTOR_CLOSED if source == _M.READY else _C(0)
        found.append(
            BoatClaim("SR-49", f"{source.name}: no trip without a cause", source, sound(need),
                      into(_M.TRIPPED), f"without a cause {source.name} does not trip")
        )  # fmt: skip
    return found


def _latch_claims() -> list[BoatClaim]:
    found = [
        BoatClaim("SR-04", "TRIPPED only to STANDBY", _M.TRIPPED, words(), into(_M.READY, _M.NEUTRAL_WAIT),
                  "TRIPPED never leads to READY or NEUTRAL_WAIT"),
        BoatClaim("SR-04", "TRIPPED needs reset", _M.TRIPPED, words(0, _C.RESET_EDGE), other_than(_M.TRIPPED),
                  "TRIPPED stays without a press of reset"),
        BoatClaim("SR-49", "TRIPPED can be reset", _M.TRIPPED, sound(_C.RESET_EDGE),
                  other_than(_M.STANDBY), "reset with every cause gone leads to STANDBY"),
        BoatClaim("SR-04", "STANDBY never READY", _M.STANDBY, words(), into(_M.READY),
                  "STANDBY never leads to READY directly"),
        BoatClaim("SR-04", "STANDBY needs enable", _M.STANDBY, words(0, _C.ENABLE_EDGE), into(_M.NEUTRAL_WAIT),
                  "STANDBY needs a press of enable"),
        BoatClaim("SR-45", "STANDBY: off bars enable", _M.STANDBY, words(_C.OFF_ORDER), into(_M.NEUTRAL_WAIT),
                  "an order of off bars enabling"),
        BoatClaim("SR-49", "STANDBY needs a shaft", _M.STANDBY, words(0, _C.SHAFT_AVAILABLE), into(_M.NEUTRAL_WAIT),
                  "enabling needs an available shaft"),
        BoatClaim("SR-49", "enable is answered", _M.STANDBY,
                  sound(_C.ENABLE_EDGE | _C.SHAFT_AVAILABLE, _C.OFF_ORDER), other_than(_M.NEUTRAL_WAIT),
                  "a press of enable with nothing against it leads to NEUTRAL_WAIT"),
        BoatClaim("SR-04", "READY never back to NEUTRAL_WAIT", _M.READY, words(), into(_M.NEUTRAL_WAIT),
                  "READY never leads to NEUTRAL_WAIT"),
    ]  # fmt: skip
    for bit, text in _TRIPS:
        found.append(
            BoatClaim("SR-04", f"TRIPPED while {bit.name}", _M.TRIPPED, words(bit), other_than(_M.TRIPPED),
                      f"TRIPPED stays while {text} stands")
        )  # fmt: skip
    return found


def _ready_claims() -> list[BoatClaim]:
    found = []
    for requirement, bit, text in (
        ("SR-01", _C.LEVERS_NEUTRAL, "every lever in neutral"),
        ("SR-34", _C.CONTACTOR_CLOSED, "the contactor closed"),
        ("SR-33", _C.LINKS_CHARGED, "every link precharged"),
        ("SR-49", _C.SHAFT_AVAILABLE, "an available shaft"),
    ):
        found.append(
            BoatClaim(requirement, f"READY needs {bit.name}", _M.NEUTRAL_WAIT, words(0, bit), into(_M.READY),
                      f"READY needs {text}")
        )  # fmt: skip
    found += [
        BoatClaim("SR-45", "off ends waiting", _M.NEUTRAL_WAIT, sound(_C.OFF_ORDER),
                  other_than(_M.STANDBY), "off ends NEUTRAL_WAIT in STANDBY"),
        BoatClaim("SR-44", "waiting ends", _M.NEUTRAL_WAIT, words(_C.WAIT_EXPIRED), into(_M.NEUTRAL_WAIT),
                  "NEUTRAL_WAIT does not outlast its time"),
        BoatClaim("SR-49", "permissives are answered", _M.NEUTRAL_WAIT,
                  sound(_PERMISSIVES, _C.OFF_ORDER), other_than(_M.READY),
                  "with every permissive NEUTRAL_WAIT leads to READY"),
        BoatClaim("SR-34", "contactor opens", _M.READY, words(0, _C.CONTACTOR_CLOSED), other_than(_M.TRIPPED),
                  "READY trips when the contactor is no longer confirmed closed"),
        BoatClaim("SR-45", "off at rest", _M.READY,
                  sound(_C.OFF_ORDER | _C.SHAFTS_AT_REST | _C.CONTACTOR_CLOSED), other_than(_M.STANDBY),
                  "off with the shafts at rest leads to STANDBY"),
        BoatClaim("SR-45", "off overdue", _M.READY,
                  sound(_C.OFF_ORDER | _C.OFF_OVERDUE | _C.CONTACTOR_CLOSED), other_than(_M.STANDBY),
                  "off that takes too long leads to STANDBY whatever a shaft does"),
        BoatClaim("SR-35", "idle ends", _M.READY,
                  sound(_C.IDLE_EXPIRED | _C.SHAFTS_AT_REST | _C.CONTACTOR_CLOSED),
                  other_than(_M.STANDBY), "idling for too long leads to STANDBY"),
        BoatClaim("SR-49", "READY stays (off lets shafts unload)", _M.READY,
                  sound(_C.CONTACTOR_CLOSED, _C.SHAFTS_AT_REST | _C.OFF_OVERDUE), other_than(_M.READY),
                  "READY stays while a shaft works and nothing is overdue"),
        BoatClaim("SR-49", "READY stays without an order", _M.READY,
                  sound(_C.CONTACTOR_CLOSED, _C.OFF_ORDER | _C.IDLE_EXPIRED), other_than(_M.READY),
                  "READY stays without off, idleness or a cause"),
        BoatClaim("SR-49", "idling needs shafts at rest", _M.READY,
                  sound(_C.CONTACTOR_CLOSED, _C.OFF_ORDER | _C.SHAFTS_AT_REST), other_than(_M.READY),
                  "READY stays for idleness while a shaft works"),
        BoatClaim("SR-49", "NEUTRAL_WAIT waits", _M.NEUTRAL_WAIT,
                  sound(0, _C.OFF_ORDER | _C.WAIT_EXPIRED), into(_M.STANDBY, _M.TRIPPED),
                  "NEUTRAL_WAIT does not give up before its time"),
        BoatClaim("SR-49", "STANDBY stays", _M.STANDBY, words(0, _C.ENABLE_EDGE | _C.EMERGENCY_STOP |
                                                             _C.MONITOR_FAULT), other_than(_M.STANDBY),
                  "STANDBY stays without enable or a cause"),
    ]  # fmt: skip
    return found


BOAT_CLAIMS: tuple[BoatClaim, ...] = (*_trip_claims(), *_latch_claims(), *_ready_claims())
