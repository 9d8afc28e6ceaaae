"""From a violated requirement to what a procedure expects on its last tick: signals that any bench can read.

The numeric ones ask for the middle between what was allowed and what was seen, so that quantisation on a real bus
decides nothing.
"""

from collections.abc import Callable
from typing import Any

from sim.requirements import OWN_PREFIX
from sim.testing.violations import Violation
from supervisor.signals import ALARM_TEXT, Alarm

Expect = dict[str, Any]
NO_TORQUE_NM = 0.05
"""Half the step of a torque order on the bus: less is none."""


def expectations(violation: Violation) -> list[Expect]:
    """What a sound boat shows on the tick at which `violation` was seen, and an unsound one does not."""
    maker = _own if violation.judgement.id.startswith(OWN_PREFIX) else _MAKERS.get(violation.judgement.id, _no_torque)
    found = maker(violation)
    return found or _not_these_modes(violation)


def _shafts(violation: Violation) -> list[int]:
    """The shaft that the judgement names, else all."""
    return [violation.shaft] if violation.shaft >= 0 else list(range(len(violation.shafts)))


def _no_torque(violation: Violation) -> list[Expect]:
    found: list[Expect] = []
    for number in _shafts(violation):
        if abs(violation.seen.outcome.shaft_commands[number].torque_nm) > NO_TORQUE_NM:
            signal = f"{violation.shafts[number]}.order_nm"
            found.append({"signal": signal, "of": "magnitude", "op": "<", "value": NO_TORQUE_NM})
    return found


def _not_these_modes(violation: Violation) -> list[Expect]:
    """The modes that were come to in this tick are wrong; if none changed, the mode that stands is."""
    outcome, before = violation.seen.outcome, violation.before
    found: list[Expect] = []
    changed = before is None or before.boat_mode != outcome.boat_mode
    for number in _shafts(violation):
        mode = outcome.shaft_modes[number]
        if before is not None and before.shaft_modes[number] != mode:
            found.append({"signal": f"{violation.shafts[number]}.mode", "op": "!=", "value": mode.name})
    if changed or not found:
        found = [{"signal": "boat.mode", "op": "!=", "value": outcome.boat_mode.name}]
    return found


def _boat_mode(violation: Violation) -> list[Expect]:
    return [{"signal": "boat.mode", "op": "!=", "value": violation.seen.outcome.boat_mode.name}]


def _isolated(violation: Violation) -> list[Expect]:
    return [{"signal": f"{violation.shafts[number]}.mode", "value": "ISOLATED"} for number in _shafts(violation)]


def _left_mode(violation: Violation) -> list[Expect]:
    modes = violation.seen.outcome.shaft_modes
    return [
        {"signal": f"{violation.shafts[number]}.mode", "op": "!=", "value": modes[number].name}
        for number in _shafts(violation)
    ]


def _permit(name: str) -> Callable[[Violation], list[Expect]]:
    def made(violation: Violation) -> list[Expect]:
        return [{"signal": f"{violation.shafts[number]}.{name}", "value": 0.0} for number in _shafts(violation)]

    return made


def _less_order(scale: Callable[[Violation, float], float]) -> Callable[[Violation], list[Expect]]:
    """The order is smaller: `scale` gives, from violation and present order (N m), how much too large it is (N m)."""

    def made(violation: Violation) -> list[Expect]:
        found: list[Expect] = []
        for number in _shafts(violation):
            size = abs(violation.seen.outcome.shaft_commands[number].torque_nm)
            if size <= NO_TORQUE_NM:
                continue
            most = max(NO_TORQUE_NM, size - scale(violation, size) / 2.0)
            signal = f"{violation.shafts[number]}.order_nm"
            found.append({"signal": signal, "of": "magnitude", "op": "<", "value": round(most, 3)})
        return found

    return made


def _margin(violation: Violation, _size: float) -> float:
    return abs(violation.judgement.closest or 0.0)


def _margin_a_tick(violation: Violation, _size: float) -> float:
    return abs(violation.judgement.closest or 0.0) * violation.tick_s


def _all_of_it(_violation: Violation, size: float) -> float:
    return size


def _part(total: Callable[[Violation], float]) -> Callable[[Violation, float], float]:
    """Too large by the margin's part of a total, in another unit than the order's."""

    def scale(violation: Violation, size: float) -> float:
        whole = total(violation)
        return size * min(1.0, abs(violation.judgement.closest or 0.0) / whole) if whole > 0.0 else size

    return scale


def _aimed_a(violation: Violation) -> float:
    return sum(command.current_a for command in violation.seen.outcome.shaft_commands)


def _driven_w(violation: Violation) -> float:
    number = max(violation.shaft, 0)
    order_nm = violation.seen.outcome.shaft_commands[number].torque_nm
    return abs(order_nm * violation.seen.shaft_in[number].machine_speed_rpm) * 0.104719755


def _slower_rise(violation: Violation) -> list[Expect]:
    """Soft start: the current aimed at is smaller by the excess of this tick."""
    found: list[Expect] = []
    for number in _shafts(violation):
        aim_a = violation.seen.outcome.shaft_commands[number].current_a
        excess_a = abs(violation.judgement.closest or 0.0) * violation.tick_s
        found.append(
            {"signal": f"{violation.shafts[number]}.aim_a", "op": "<", "value": round(aim_a - excess_a / 2.0, 5)}
        )
    return found


def _alarm(alarm: Alarm) -> Callable[[Violation], list[Expect]]:
    def made(violation: Violation) -> list[Expect]:
        if violation.seen.outcome.boat_command.alarms & alarm:
            return _no_torque(violation)
        return [{"signal": "boat.alarms", "op": "has", "value": ALARM_TEXT[alarm]}]

    return made


def _warned(violation: Violation) -> list[Expect]:
    alarm = Alarm.TIME_TO_LIMIT if "lower limit" in violation.judgement.words else Alarm.DERATE_BAND
    return [{"signal": "boat.alarms", "op": "has", "value": ALARM_TEXT[alarm]}]


def _handset_out(_violation: Violation) -> list[Expect]:
    return [{"signal": "boat.handset_in_control", "value": 0.0}]


def _off(violation: Violation) -> list[Expect]:
    return _no_torque(violation) or _permit("drive_enable")(violation)


def _own(violation: Violation) -> list[Expect]:
    """An own interlock: what is said of alarm or engine start, else no torque, else not this mode."""
    words = violation.judgement.words
    if "no alarm for it" in words:
        return [{"signal": "boat.alarms", "op": "has", "value": ALARM_TEXT[Alarm.OWN_INTERLOCK]}]
    if "engine start permitted" in words:
        return _permit("engine_start")(violation)
    if "left by a limit" in words:
        return _less_order(_margin)(violation)
    return _no_torque(violation)


_MAKERS: dict[str, Callable[[Violation], list[Expect]]] = {
    "SR-01": _boat_mode,
    "SR-02": _off,
    "SR-04": _boat_mode,
    "SR-06": _left_mode,
    "SR-09": _less_order(_all_of_it),
    "SR-15": _less_order(_part(_aimed_a)),
    "SR-17": _left_mode,
    "SR-18": _less_order(_part(_driven_w)),
    "SR-19": _left_mode,
    "SR-20": _slower_rise,
    "SR-21": _less_order(_margin),
    "SR-24": _less_order(_margin_a_tick),
    "SR-26": _alarm(Alarm.LEVER_LOST),
    "SR-28": _less_order(_margin),
    "SR-29": _handset_out,
    "SR-31": _boat_mode,
    "SR-32": _isolated,
    "SR-33": _permit("drive_enable"),
    "SR-35": _boat_mode,
    "SR-37": _permit("engine_start"),
    "SR-38": _permit("clutch_close"),
    "SR-39": _permit("lock_engage"),
    "SR-40": _alarm(Alarm.SOC_UNKNOWN),
    "SR-43": _warned,
    "SR-44": _boat_mode,
    "SR-45": _boat_mode,
}
"""Requirements that are not here want no torque, or failing that, not the modes that were come to."""
