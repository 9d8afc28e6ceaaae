"""The one cause that holds: what a condition means at this very tick, by name of input, limit and own interlock.

The register of conditions says what a bit means; a bit with several possible causes is told here by the cause that
holds.
"""

from collections.abc import Sequence
from enum import IntFlag
from typing import NamedTuple

from supervisor.config import BoatConfig
from supervisor.config.interlocks import acts_on, effect_of
from supervisor.controller.events import Missing
from supervisor.modes import BOAT_WORDS, PERMIT_WORDS, SHAFT_WORDS, BoatCondition, PermitCondition, ShaftCondition
from supervisor.rules import Boat, Memory
from supervisor.rules.bank import (
    BRAKE_CELL,
    BRAKE_FREE,
    BRAKE_MONITOR,
    BRAKE_PERMIT,
    BRAKE_TEMPERATURE,
    BRAKE_UNKNOWN,
    BankView,
    brake_limit_a,
    charge_inputs_known,
    falling,
    nearly_full,
    proven,
    proven_not,
    voltage_believed,
)
from supervisor.rules.bits import BOAT_LATCH_CHARGE_ENDED, BOAT_LATCH_DERATE_ENDED
from supervisor.rules.pause import moved_out
from supervisor.rules.readings import (
    CLUTCH_CLOSED,
    CLUTCH_OPEN,
    LOCK_ENGAGED,
    LOCK_RELEASED,
    engine_clear,
    out_of_service,
    read_lever,
    temperature_factor,
)
from supervisor.signals import (
    BOAT,
    BOAT_INPUTS,
    SHAFT_INPUTS,
    Alarm,
    BoatInput,
    BoatInputs,
    InputSpec,
    OwnEffect,
    ShaftInput,
    ShaftInputs,
)

_B = BoatCondition
_S = ShaftCondition
_P = PermitCondition

Lost = tuple[int, InputSpec]
"""An input: BOAT or the number of its shaft, and what it is."""

_LEVER = ShaftInput.LEVER | ShaftInput.LEVER_NEUTRAL

OWN_BITS: dict[IntFlag, tuple[OwnEffect, ...]] = {
    _B.OWN_BOAT: (OwnEffect.TRIP_BOAT,),
    _S.OWN_THRUST_START: (OwnEffect.INHIBIT_THRUST,),
    _S.OWN_THRUST_STAYS: (OwnEffect.RAMP_THRUST,),
    _S.OWN_THRUST: (OwnEffect.STOP_THRUST, OwnEffect.STOP_BOTH),
    _S.OWN_CHARGE_START: (OwnEffect.INHIBIT_CHARGE,),
    _S.OWN_CHARGE_STAYS: (OwnEffect.UNLOAD_CHARGE,),
    _S.OWN_CHARGE: (OwnEffect.STOP_CHARGE, OwnEffect.STOP_BOTH),
    _S.OWN_SHAFT: (OwnEffect.TRIP_SHAFT,),
    _P.OWN_ENGINE_START: (OwnEffect.INHIBIT_ENGINE_START,),
}
"""The effects whose interlocks clear a bit."""


class Moment(NamedTuple):
    """What a tick was decided on, as far as causes are read from it."""

    boat: Boat
    memory: Memory
    boat_in: BoatInputs
    shaft_in: tuple[ShaftInputs, ...]
    view: BankView | None


class Causes:
    """Words for the bits of one boat. `config` gives names and the own interlocks' words."""

    def __init__(self, config: BoatConfig) -> None:
        self._config = config
        self._shafts = tuple(shaft.name for shaft in config.shaft)

    def boat(self, moment: Moment, bit: BoatCondition, is_set: bool) -> str:
        """A bit of the boat's word."""
        words = BOAT_WORDS[bit][0 if is_set else 1]
        if bit == _B.INPUT_LOST and is_set:
            return _named(words, input_words(lost_boat_inputs(moment), self._shafts))
        if bit == _B.OWN_BOAT and not is_set:
            return "; ".join(self.bad_interlocks(moment, bit, None)) or words
        if bit == _B.CONTACTOR_CLOSED and not is_set:
            return _contact(moment.boat_in, BoatInput.CONTACTOR_CLOSED, "bank contactor is open")
        return words

    def shaft(self, moment: Moment, bit: ShaftCondition, is_set: bool, index: int) -> str:
        """A bit of one shaft's word."""
        words = SHAFT_WORDS[bit][0 if is_set else 1]
        if bit in OWN_BITS and not is_set:
            return "; ".join(self.bad_interlocks(moment, bit, index)) or words
        if bit == _S.INPUT_LOST and is_set:
            return _named(words, [spec.text for _, spec in lost_shaft_inputs(moment, index)])
        if bit == _S.CONTROL_LOST and is_set:
            return _control_lost(moment, index, words)
        if bit == _S.HANDSET_LOST and is_set:
            return _handset_lost(moment, words)
        if bit == _S.PAUSE_FAILED and is_set:
            pause, state = moment.memory.shafts[index].pause, moment.memory.shafts[index]
            if moved_out(pause.began_pct, state.order_pct):
                return "the lever was moved further out while thrust was paused"
            away = _contacts_away(moment, index)
            return (
                _named("a contact stayed changed for too long, or changed for the third time", away) if away else words
            )
        if bit == _S.PAUSED and is_set:
            return _named(words, _contacts_away(moment, index))
        if is_set:
            return words
        if bit == _S.CHARGE_WANTED:
            return _named(words, no_charge_causes(moment, index))
        if bit == _S.CHARGE_PERMIT:
            return _named(words, _permit_causes(moment, charge=True))
        if bit == _S.DISCHARGE_PERMIT:
            return _named(words, _permit_causes(moment, charge=False))
        if bit == _S.DERATE_OPEN:
            return _derate_closed(moment, index, words)
        if bit == _S.NO_DIVER:
            return _contact(moment.boat_in, BoatInput.DIVER_LOCKOUT, "diver lockout is set")
        if bit == _S.NO_SHORE:
            return _contact(moment.boat_in, BoatInput.SHORE_CONNECTED, "shore cable is connected")
        if bit == _S.TRAILING_OK:
            allowed = moment.boat.shafts[index].trailing_allowed == 1
            if allowed:
                return "gearbox has turned with its engine stopped for too long"
            return "this gearbox is not allowed to turn with its engine stopped"
        return words

    def permit(self, moment: Moment, bit: PermitCondition, is_set: bool, index: int) -> str:
        """A bit of one shaft's permit word."""
        words = PERMIT_WORDS[bit][0 if is_set else 1]
        if is_set:
            return words
        if bit in OWN_BITS:
            return "; ".join(self.bad_interlocks(moment, bit, index)) or words
        if bit == _P.NO_DIVER:
            return self.shaft(moment, _S.NO_DIVER, False, index)
        if bit == _P.SPEEDS_MATCHED:
            return _speeds(moment.shaft_in[index], words)
        return words

    def bad_interlocks(self, moment: Moment, bit: IntFlag, index: int | None) -> list[str]:
        """The words of the own interlocks that hold `bit` clear, of shaft `index` (None: of the boat)."""
        own = moment.memory.boat.own
        return [self.interlock_words(k, moment.boat_in) for k in self.holding(own.bad, bit, index)]

    def alarm(self, moment: Moment, alarm: Alarm, words: str) -> str:
        """The text of an alarm that comes, with the levers or inputs that it means."""
        if alarm == Alarm.INPUT_LOST:
            return _named(words, _few(input_words(unheard_inputs(moment), self._shafts)))
        if alarm == Alarm.LEVER_LOST:
            return _named(words, [self._shafts[index] for index in lost_levers(moment)])
        if alarm == Alarm.ASTERN_SHORT:
            return _named(words, [_holds_braking(moment)])
        return words

    def holding(self, own_bad: int, bit: IntFlag, index: int | None) -> list[int]:
        """The own interlocks, by number, that hold `bit` clear while those of the mask `own_bad` are bad; for shaft
        `index` (None: for the boat)."""
        return [
            k
            for k, entry in enumerate(self._config.interlock)
            if own_bad >> k & 1
            and effect_of(entry) in OWN_BITS[bit]
            and (index is None or index in acts_on(self._config, entry))
        ]

    def interlock_words(self, k: int, boat_in: BoatInputs) -> str:
        """What the `k`-th own interlock says now: its own words, or that its signal is not known."""
        entry = self._config.interlock[k]
        if not boat_in.own.known >> k & 1:
            return f"{entry.bad} (or unknown: {entry.message}.{entry.signal})"
        return entry.bad


def _named(words: str, causes: Sequence[str]) -> str:
    return f"{words}: {', '.join(causes)}" if causes else words


def _contacts_away(moment: Moment, index: int) -> list[str]:
    """What the contacts of this shaft do not say and thrust needs, in the words of their bits."""
    shaft = moment.shaft_in[index]
    released = proven(shaft.known, shaft.on, LOCK_RELEASED) and proven_not(shaft.known, shaft.on, LOCK_ENGAGED)
    closed = proven(shaft.known, shaft.on, CLUTCH_CLOSED) and proven_not(shaft.known, shaft.on, CLUTCH_OPEN)
    clear = engine_clear(moment.boat.shafts[index], shaft)
    said = ((released, _S.LOCK_RELEASED), (closed, _S.CLUTCH_CLOSED), (clear, _S.ENGINE_CLEAR))
    return [SHAFT_WORDS[bit][1] for so, bit in said if not so]


def _contact(boat_in: BoatInputs, bit: BoatInput, when_known: str) -> str:
    """`when_known` for a contact that is known, else that it is unknown."""
    if boat_in.known & bit:
        return when_known
    text = next(spec.text for spec in BOAT_INPUTS if spec.bit == bit)
    return f"{text}: unknown"


_BRAKE_WORDS = {
    BRAKE_FREE: "other sources charge the bank, or the drives have just braked",
    BRAKE_PERMIT: "no charge permit",
    BRAKE_MONITOR: "the bank monitor's charge limit",
    BRAKE_CELL: "highest cell near its limit",
    BRAKE_TEMPERATURE: "cells cold or hot",
    BRAKE_UNKNOWN: "a cell's voltage or temperature is unknown",
}


def _holds_braking(moment: Moment) -> str:
    """What holds the budget of braking down now."""
    if moment.view is not None and moment.view.charge_permit == 0:
        return _BRAKE_WORDS[BRAKE_PERMIT]
    if nearly_full(moment.boat_in):
        return "the bank is full"
    _, cause, _ = brake_limit_a(moment.boat.limits, moment.boat_in, moment.memory.boat.bank.brake_spent_s)
    return _BRAKE_WORDS[cause]


SHOWN = 3
"""So many inputs are named; of more only the number."""

MAY_BE_AWAY = ("handset.", "gearbox.gear_report")
"""Inputs that are not called lost by themselves: a handset is put away, a gearbox is silent while it changes."""


def _few(names: list[str]) -> list[str]:
    return names if len(names) <= SHOWN else [*names[:SHOWN], f"and {len(names) - SHOWN} more"]


def _lost(index: int, lost: int) -> list[Lost]:
    return [(index, spec) for spec in (BOAT_INPUTS if index == BOAT else SHAFT_INPUTS) if lost & spec.bit]


def input_words(lost: Sequence[Lost], shaft_names: Sequence[str]) -> list[str]:
    """Inputs in words, those of a shaft with its name."""
    return [spec.text if index == BOAT else f"{shaft_names[index]} {spec.text}" for index, spec in lost]


def unheard_inputs(moment: Moment) -> list[Lost]:
    """The inputs that the boat file maps and that are not known."""
    found = _lost(BOAT, moment.boat.limits.react.mapped & ~moment.boat_in.known)
    sides = zip(moment.boat.shafts, moment.memory.shafts, moment.shaft_in, strict=True)
    for index, (limits, state, shaft) in enumerate(sides):
        if not out_of_service(shaft, state.latches):
            found += _lost(index, limits.react.mapped & ~shaft.known)
    return [(index, spec) for index, spec in found if not spec.name.startswith(MAY_BE_AWAY)]


def lost_levers(moment: Moment) -> list[int]:
    """The shafts whose lever is lost."""
    sides = zip(moment.boat.shafts, moment.shaft_in, strict=True)
    return [index for index, (limits, shaft) in enumerate(sides) if read_lever(limits, shaft).lost]


def lost_boat_inputs(moment: Moment) -> list[Lost]:
    """The inputs whose loss trips the boat and that are not known."""
    found = _lost(BOAT, moment.boat.limits.react.trip_boat & ~moment.boat_in.known)
    for index, (limits, shaft) in enumerate(zip(moment.boat.shafts, moment.shaft_in, strict=True)):
        found += _lost(index, limits.react.trip_boat & ~shaft.known)
    return found


def lost_shaft_inputs(moment: Moment, index: int) -> list[Lost]:
    """The inputs whose loss trips this shaft and that are not known."""
    found = _lost(index, moment.boat.shafts[index].react.trip_shaft & ~moment.shaft_in[index].known)
    return found + _lost(BOAT, moment.boat.limits.react.trip_shaft & ~moment.boat_in.known)


def lost_controls(moment: Moment, index: int) -> list[Lost]:
    """The inputs whose loss ramps this shaft's thrust down and that are not known, its lever among them."""
    lost = (moment.boat.shafts[index].react.ramp_down | int(_LEVER)) & ~moment.shaft_in[index].known
    return _lost(index, lost) + _lost(BOAT, moment.boat.limits.react.ramp_down & ~moment.boat_in.known)


def missing_for_alarm(moment: Moment, alarm: Alarm) -> Missing:
    """The inputs that an alarm which comes is about; () where it is about none that is missing."""
    if alarm == Alarm.INPUT_LOST:
        return _missing(unheard_inputs(moment))
    if alarm == Alarm.LEVER_LOST:
        levers = [one for index in lost_levers(moment) for one in _lost(index, int(_LEVER))]
        return _missing([(index, spec) for index, spec in levers if not moment.shaft_in[index].known & spec.bit])
    return ()


def missing_for_trip(moment: Moment, first_out: str, index: int = BOAT) -> Missing:
    """The inputs whose loss the trip of the boat or of shaft `index` is about; () where it is about another cause."""
    if first_out != _S.INPUT_LOST.name:
        return ()
    return _missing(lost_boat_inputs(moment) if index == BOAT else lost_shaft_inputs(moment, index))


def _missing(lost: Sequence[Lost]) -> Missing:
    return tuple((index, int(spec.bit)) for index, spec in lost)


def _control_lost(moment: Moment, index: int, words: str) -> str:
    """The lever itself, or another input whose loss ramps thrust down."""
    lever = _LEVER
    names = [spec.text for at, spec in lost_controls(moment, index) if at == BOAT or not spec.bit & lever]
    lever_known = moment.shaft_in[index].known & lever == lever
    if names and lever_known:
        return f"signal is lost: {', '.join(names)}"
    return f"{words}, and {', '.join(names)} as well" if names else words


def _handset_lost(moment: Moment, words: str) -> str:
    ours = BoatInput.HANDSET_HELD | BoatInput.HANDSET_OURS
    linked = moment.boat_in.known & ours == ours and moment.boat_in.on & BoatInput.HANDSET_OURS
    thrust = all(shaft.known & ShaftInput.HANDSET_THRUST for shaft in moment.shaft_in)
    if linked and thrust:
        return "a lever was moved while the handset had control"
    return "handset link is lost" if not linked or not thrust else words


def no_charge_causes(moment: Moment, index: int) -> list[str]:
    """Why the bank accepts no charging current: which reading is unknown, which taper has closed, what has ended."""
    lim, bank = moment.boat.limits, moment.boat_in
    shaft_lost = moment.boat.shafts[index].react.inhibit_charge & ~moment.shaft_in[index].known
    unknown = [f"{spec.text} unknown" for spec in SHAFT_INPUTS if shaft_lost & spec.bit]
    if not charge_inputs_known(lim, bank):
        needed = (
            BoatInput.SOC | BoatInput.CELL_MAX | BoatInput.CELL_HOT | BoatInput.CELL_COLD | BoatInput.CHARGE_LIMIT
            | BoatInput.VOLTAGE
        )  # fmt: skip
        lost = (int(needed) | lim.react.inhibit_charge) & ~bank.known
        unknown += [f"{spec.text} unknown" for spec in BOAT_INPUTS if lost & spec.bit]
        if bank.known & BoatInput.VOLTAGE and not voltage_believed(lim, bank):
            unknown.append(f"bank voltage reading is not possible: {bank.voltage_v:g} V")
        return unknown
    found = list(unknown)
    least = lim.charge_end_a / lim.full_charge_a if lim.full_charge_a > 0.0 else 1.0
    full_active = moment.view is not None and moment.view.full_active == 1
    if not full_active and falling(bank.soc_pct, lim.taper_start_pct, lim.taper_end_pct) < least:
        found.append(f"full, SOC {bank.soc_pct:g} %")
    if falling(bank.cell_max_v, lim.cell_taper_start_v, lim.cell_taper_end_v) < least:
        found.append(f"highest cell at {bank.cell_max_v:g} V")
    if falling(bank.cell_hot_c, lim.hot_start_c, lim.hot_zero_c) < least:
        found.append(f"hot, {bank.cell_hot_c:g} degC")
    if not bank.cell_cold_c > lim.cold_zero_c or (
        not bank.cell_cold_c > lim.cold_full_c and lim.cold_limit_a < lim.charge_end_a
    ):
        found.append(f"cold, {bank.cell_cold_c:g} degC")
    if bank.charge_limit_a < lim.charge_end_a:
        found.append(f"bank monitor's limit {bank.charge_limit_a:g} A")
    if not found and moment.memory.boat.latches & BOAT_LATCH_CHARGE_ENDED:
        found.append(f"charging has ended and begins again below {lim.charge_restart_pct:g} % SOC")
    return found


def _permit_causes(moment: Moment, *, charge: bool) -> list[str]:
    bank = moment.boat_in
    bit = BoatInput.CHARGE_PERMIT if charge else BoatInput.DISCHARGE_PERMIT
    limit = BoatInput.CHARGE_LIMIT if charge else BoatInput.DISCHARGE_LIMIT
    limit_a = bank.charge_limit_a if charge else bank.discharge_limit_a
    found = []
    if not proven(bank.known, bank.on, int(BoatInput.CONTACTOR_CLOSED)):
        found.append("contactor not confirmed closed")
    if not bank.known & BoatInput.MONITOR_OPENING:
        found.append("its warning before opening unknown")
    elif bank.on & BoatInput.MONITOR_OPENING:
        found.append("it is about to open its contactor")
    if not bank.known & bit:
        found.append("permit unknown")
    elif not bank.on & bit:
        found.append("permit withdrawn")
    if not bank.known & limit:
        found.append("limit unknown")
    elif not limit_a > 0.0:
        found.append("limit 0 A")
    return found


def _derate_closed(moment: Moment, index: int, words: str) -> str:
    lim, bank = moment.boat.limits, moment.boat_in
    shaft_lim, shaft = moment.boat.shafts[index], moment.shaft_in[index]
    if not temperature_factor(shaft_lim, shaft, lim.unknown_soc_pct / 100.0) > 0.0:
        return "motor, inverter or coolant is too hot"
    if bank.known & BoatInput.SOC and not bank.soc_pct > lim.derate_end_pct:
        return f"{words}: SOC {bank.soc_pct:g} %"
    if bank.known & BoatInput.CELL_MIN and not bank.cell_min_v > lim.cell_derate_end_v:
        return f"{words}: lowest cell {bank.cell_min_v:g} V"
    if moment.memory.boat.latches & BOAT_LATCH_DERATE_ENDED:
        return (
            f"{words}: thrust returns above {lim.derate_return_pct:g} % SOC and {lim.cell_derate_start_v:g} V of the "
            "lowest cell"
        )
    return words


def _speeds(shaft: ShaftInputs, words: str) -> str:
    both = ShaftInput.MACHINE_SPEED | ShaftInput.PROPELLER_SPEED
    if shaft.known & both != both:
        return "speed of one side of the clutch is unknown"
    apart_rpm = abs(shaft.machine_speed_rpm - shaft.propeller_speed_rpm)
    return f"both sides of the clutch turn too differently: {apart_rpm:.0f} rpm apart" if apart_rpm > 0.0 else words
