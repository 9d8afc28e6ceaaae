"""Streams of steps through the real tick, for claims to be run on: histories from power-up, and steps from anywhere.

A *history* begins at power-up and is a voyage with disturbances: crew orders that change, a boat that answers them, and
inputs that vanish, lie, or move to a bound of the boat file. *Anywhere* draws what was remembered, inputs and tick
length by themselves, near the bounds of the boat file: a claim is on one step, and must hold from every state that the
invariants allow, reached or not. Both are repeatable by their seed.
"""

import random
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple, TypeVar

from sim.prove.step import Step
from sim.prove.terms import (
    GENERATE,
    HARVEST,
    HELD,
    ISOLATED,
    KEPT,
    NEUTRAL_WAIT,
    PROPEL,
    RAD_S_PER_RPM,
    READY,
    REST,
    STANDBY,
    TRIPPED,
    UNLOAD,
)
from sim.requirements.facts import BOAT, SHAFT
from supervisor.config import BoatConfig
from supervisor.config.limits import boat_limits, shaft_limits
from supervisor.config.schema import Interlock
from supervisor.rules import Boat, BoatState, Memory, ShaftState, initial_memory, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs
from supervisor.signals.own import OWN_CHANNELS, OwnInputs

Values = dict[str, float]
TupleT = TypeVar("TupleT", bound=NamedTuple)

ALL_BOAT = sum(int(spec.bit) for spec in BOAT_INPUTS)
ALL_SHAFT = sum(int(spec.bit) for spec in SHAFT_INPUTS)
BOAT_BY_FIELD = {spec.field: spec for spec in BOAT_INPUTS if spec.field}
SHAFT_BY_FIELD = {spec.field: spec for spec in SHAFT_INPUTS if spec.field}
BOAT_CONTACTS = [int(spec.bit) for spec in BOAT_INPUTS if not spec.field]
SHAFT_CONTACTS = [int(spec.bit) for spec in SHAFT_INPUTS if not spec.field]

SOUND_BOAT_ON = BOAT.CHARGE_PERMIT | BOAT.DISCHARGE_PERMIT | BOAT.CONTACTOR_CLOSED | BOAT.RECEIVE_OK | BOAT.DEADLINE_OK
SOUND_SHAFT_ON = SHAFT.LEVER_NEUTRAL | SHAFT.GEAR_NEUTRAL | SHAFT.CLUTCH_CLOSED | SHAFT.LOCK_RELEASED


def frozen(config: BoatConfig) -> Boat:
    """The limits of a boat file, as the rules get them."""
    return Boat(boat_limits(config), tuple(shaft_limits(config, shaft) for shaft in config.shaft))


def filled(template: TupleT, values: dict[str, Any]) -> TupleT:
    """`template` with the leaves that `values` names replaced, however deep they are."""
    changed: dict[str, Any] = {}
    for name in template._fields:
        old = getattr(template, name)
        if hasattr(old, "_fields"):
            changed[name] = filled(old, values)
        elif name in values:
            changed[name] = values[name]
    return template._replace(**changed)


class Sounding(NamedTuple):
    """Inputs of one side while they are made: what is known, what is on, and the numbers; of the boat also those of its
    own interlocks."""

    known: int
    on: int
    numbers: Values
    own: OwnInputs = OwnInputs()

    def boat(self) -> BoatInputs:
        """As the tick takes them: absent numbers are 0.0, absent contacts off."""
        numbers = {f: (v if self.known & BOAT_BY_FIELD[f].bit else 0.0) for f, v in self.numbers.items()}
        return BoatInputs(known=self.known, on=self.on & self.known, own=self.own, **numbers)

    def shaft(self) -> ShaftInputs:
        """The same for a shaft."""
        numbers = {f: (v if self.known & SHAFT_BY_FIELD[f].bit else 0.0) for f, v in self.numbers.items()}
        return ShaftInputs(known=self.known, on=self.on & self.known, **numbers)


class Bounds:
    """Numbers worth trying, from the boat file: each bound, just under, just over."""

    def __init__(self, config: BoatConfig) -> None:
        c, bank = config.limits, config.bank
        self.config = config
        self.boat: dict[str, list[float]] = {
            "soc_pct": [0.0, c.derate_end_pct, c.derate_return_pct, c.derate_start_pct, c.taper_start_pct,
                        c.charge_restart_pct, c.taper_end_pct, 100.0, 60.0, 22.0, 91.5],
            "voltage_v": [0.5 * bank.min_voltage_v, bank.min_voltage_v, bank.max_voltage_v, 1.1 * bank.max_voltage_v],
            "current_a": [0.0, -20.0, 20.0, -300.0, 100.0, -0.5],
            "cell_max_v": [
                c.cell_taper_start_v, c.cell_taper_end_v, 3.3, (c.cell_taper_start_v + c.cell_taper_end_v) / 2],
            "cell_min_v": [c.cell_derate_end_v, c.cell_derate_start_v, 3.2, 2.9],
            "cell_hot_c": [c.hot_start_c, c.hot_zero_c, 20.0, (c.hot_start_c + c.hot_zero_c) / 2],
            "cell_cold_c": [c.cold_zero_c, c.cold_full_c, c.cold_zero_c + 1.0, 18.0, 5.0],
            "charge_limit_a": [0.0, c.charge_end_a, 1.5 * c.charge_end_a, c.full_charge_a, 30.0, 5000.0],
            "discharge_limit_a": [0.0, 10.0, 60.0, bank.max_discharge_a, 5000.0],
            "handset_minutes": [0.0, c.handset_low_minutes, 120.0],
        }  # fmt: skip
        self.shaft = [self._of_shaft(index) for index in range(len(config.shaft))]

    def _of_shaft(self, index: int) -> dict[str, list[float]]:
        own, c = self.config.shaft[index], self.config.limits
        band, still, tolerance = own.rules.neutral_band_pct, own.rules.still_rpm, own.drive.link_tolerance_pct / 100.0
        drive, engine = own.drive, own.engine
        volts = (self.config.bank.min_voltage_v + self.config.bank.max_voltage_v) / 2.0
        disobey_nm = c.disobey_torque_pct / 100.0 * drive.rated_torque_nm
        lever = [0.0, 0.5 * band, band, 3.0 * band, 50.0, 100.0]
        speeds = [0.0, still, own.rules.generate_min_rpm, 0.95 * drive.max_speed_rpm,
                  0.97 * drive.max_speed_rpm, drive.max_speed_rpm, 400.0,
                  own.clutch.close_within_rpm]  # fmt: skip
        return {
            "lever_pct": [*lever, *(-x for x in lever)],
            "handset_thrust_pct": [*lever, *(-x for x in lever)],
            "engine_speed_rpm": [
                0.0, 50.0, engine.idle_rpm / 2.0, engine.idle_rpm, engine.max_rpm, 1.1 * engine.max_rpm, 1600.0,
                                 *(rpm for rpm, _ in engine.torque_curve), 1600.0 - engine.sag_rpm,
                                 1600.0 - 2.0 * engine.sag_rpm, engine.torque_curve[0][0] / 2.0,
                                 engine.idle_rpm - engine.sag_rpm, engine.idle_rpm - 0.5 * engine.sag_rpm,
                                 engine.idle_rpm - 1.5 * engine.sag_rpm],
            "machine_speed_rpm": [*speeds, *(-x for x in speeds)],
            "propeller_speed_rpm": [*speeds, *(-x for x in speeds)],
            "torque_nm": [0.0, disobey_nm, -disobey_nm, drive.rated_torque_nm, -drive.rated_torque_nm],
            "current_a": [0.0, c.disobey_current_a, -c.disobey_current_a, 60.0, -60.0,
                          -c.disobey_current_a - drive.no_load_loss_w / self.config.bank.min_voltage_v],
            "link_v": [
                0.0, volts, volts * (1.0 - tolerance), volts * (1.0 - 2.0 * tolerance), volts * (1.0 + tolerance)],
            "motor_c": [20.0, drive.motor_derate_start_c, drive.motor_derate_end_c,
                        (drive.motor_derate_start_c + drive.motor_derate_end_c) / 2],
            "inverter_c": [20.0, drive.inverter_derate_start_c, drive.inverter_derate_end_c,
                           (drive.inverter_derate_start_c + drive.inverter_derate_end_c) / 2],
            "coolant_c": [20.0, drive.coolant_derate_start_c, drive.coolant_derate_end_c,
                          (drive.coolant_derate_start_c + drive.coolant_derate_end_c) / 2],
            "gear_report": [0.0, 1.0, -1.0],
        }  # fmt: skip


def tried_at(luck: random.Random, points: Sequence[float]) -> float:
    """A number at a bound or just beside it."""
    return luck.choice(points) + luck.choice((0.0, -0.01, 0.01, 1.0, -1.0))


def tried(luck: random.Random, spec: InputSpec, points: Sequence[float]) -> float:
    """A number of this input: at a bound, next to it, or anywhere."""
    way = luck.random()
    if way < 0.45:
        value = luck.choice(points)
    elif way < 0.75:
        value = luck.choice(points) + luck.choice((-1.0, 1.0)) * luck.choice((1e-3, 0.01, 0.1, 1.0)) * luck.random()
    elif way < 0.9:
        value = luck.uniform(min(points), max(points))
    else:
        value = luck.uniform(spec.low, spec.high)
    return min(spec.high, max(spec.low, value))


class Voyage:
    """Sound inputs of a boat and what the crew does, with the boat answering roughly; then disturbed."""

    def __init__(self, config: BoatConfig, luck: random.Random) -> None:
        self.config, self.luck = config, luck
        self.bounds = Bounds(config)
        self.volts = luck.uniform(config.bank.min_voltage_v, config.bank.max_voltage_v)

    def boat(self) -> Sounding:
        """A sound bank and helm."""
        numbers = {
            "soc_pct": self.luck.choice((60.0, 60.0, 60.0, 22.0, 90.0, 30.0)), "voltage_v": self.volts,
            "current_a": 0.0, "cell_max_v": 3.3, "cell_min_v": 3.25, "cell_hot_c": 20.0, "cell_cold_c": 18.0,
            "charge_limit_a": self.luck.choice((5000.0, 40.0)), "discharge_limit_a": self.luck.choice((5000.0, 60.0)),
            "handset_minutes": 120.0,
        }  # fmt: skip
        return Sounding(ALL_BOAT, SOUND_BOAT_ON, numbers, self.own(0.0))

    def own(self, bad: float) -> OwnInputs:
        """Own interlocks, each good but for this part of them (0 to 1), some of which are unknown."""
        known = on = 0
        values = [0.0] * OWN_CHANNELS
        for k, entry in enumerate(self.config.interlock):
            wrong = self.luck.random() < bad
            if wrong and self.luck.random() < 0.3:
                continue
            known |= 1 << k
            if entry.good_when is not None:
                on |= 1 << k if (entry.good_when == "on") != wrong else 0
            else:
                values[k] = self._beside(entry, wrong)
        return OwnInputs(known, on, tuple(values))

    def _beside(self, entry: Interlock, wrong: bool) -> float:
        """A number on the bad or the good side of its threshold, often just there, or within the hysteresis."""
        back = entry.hysteresis or 0.0
        far = self.luck.choice((0.0, 0.0, 1e-6, 0.5 * back, back, back + 1e-6, 2.0 * back + 1.0))
        if entry.bad_above is not None:
            return entry.bad_above + far if wrong else entry.bad_above - far - 1e-9
        below = entry.bad_below or 0.0
        return below - far if wrong else below + far + 1e-9

    def shaft(self, index: int, work: int) -> Sounding:
        """A sound shaft on which the crew asks for `work` (a mode), turning as it would."""
        luck, own = self.luck, self.config.shaft[index]
        numbers = dict.fromkeys(SHAFT_BY_FIELD, 0.0)
        numbers.update(link_v=self.volts, motor_c=20.0, inverter_c=20.0, coolant_c=20.0)
        on, turns = SOUND_SHAFT_ON, 0.0
        if work == PROPEL:
            asked = luck.choice((-1.0, 1.0)) * luck.choice((20.0, 60.0, 100.0))
            turns = luck.choice((-1.0, 1.0)) * luck.choice((0.0, 3.0, 150.0, 500.0, 1.2 * own.drive.max_speed_rpm))
            numbers.update(lever_pct=asked)
            on &= ~SHAFT.LEVER_NEUTRAL
            if luck.random() < 0.15:  # not by the lever: the shaft is to be stopped and locked
                on |= SHAFT.LEVER_NEUTRAL | SHAFT.STOP_AND_LOCK
                numbers.update(lever_pct=0.0)
        elif work == GENERATE:
            turns = luck.choice((90.0, 320.0, 640.0, 900.0)) * luck.choice((1.0, 1.0, -1.0))
            at_rest = own.clutch.fitted and luck.random() < 0.4
            on = (on & ~SHAFT.GEAR_NEUTRAL) | SHAFT.GEAR_AHEAD | SHAFT.ENGINE_RUN
            on |= SHAFT.CHARGE_AT_REST if at_rest else SHAFT.CHARGE_UNDER_WAY
            if at_rest:
                on = (on & ~SHAFT.CLUTCH_CLOSED) | SHAFT.CLUTCH_OPEN
            numbers.update(engine_speed_rpm=abs(turns) * own.gearbox.ratio, gear_report=1.0)
            numbers.update(propeller_speed_rpm=0.0 if at_rest else turns)
        elif work == HARVEST:
            turns = luck.choice((90.0, 250.0, 450.0)) * luck.choice((1.0, -1.0))
            on |= SHAFT.HARVEST
        if work != GENERATE:
            numbers.update(propeller_speed_rpm=turns)
        numbers.update(machine_speed_rpm=turns)
        return Sounding(ALL_SHAFT, on, numbers)

    def disturbed_boat(self, sound: Sounding, times: int) -> Sounding:
        """`sound` with that many inputs unknown, flipped, or elsewhere."""
        disturbed = self._disturbed(sound, times, BOAT_BY_FIELD, BOAT_CONTACTS, self.bounds.boat)
        return disturbed._replace(own=self.own(self.luck.choice((0.0, 0.0, 0.2, 0.6))))

    def disturbed_shaft(self, sound: Sounding, times: int, index: int) -> Sounding:
        """The same for a shaft."""
        return self._disturbed(sound, times, SHAFT_BY_FIELD, SHAFT_CONTACTS, self.bounds.shaft[index])

    def elsewhere_boat(self, sound: Sounding) -> Sounding:
        """`sound` with many of its numbers elsewhere, everything known and every contact as it was."""
        numbers = self._elsewhere(sound, BOAT_BY_FIELD, self.bounds.boat)
        return sound._replace(numbers=numbers, own=self.own(self.luck.choice((0.0, 0.0, 0.2, 0.6))))

    def elsewhere_shaft(self, sound: Sounding, index: int) -> Sounding:
        """The same for a shaft."""
        return sound._replace(numbers=self._elsewhere(sound, SHAFT_BY_FIELD, self.bounds.shaft[index]))

    def _elsewhere(self, sound: Sounding, fields: dict[str, InputSpec], points: dict[str, list[float]]) -> Values:
        luck, part = self.luck, self.luck.choice((0.05, 0.15, 0.3))
        return {
            field: tried(luck, fields[field], points[field]) if luck.random() < part else value
            for field, value in sound.numbers.items()
        }

    def _disturbed(
        self, sound: Sounding, times: int, fields: dict[str, InputSpec], contacts: list[int],
        points: dict[str, list[float]],
    ) -> Sounding:  # fmt: skip
        known, on, numbers, luck = sound.known, sound.on, dict(sound.numbers), self.luck
        for _ in range(times):
            way = luck.random()
            if way < 0.25:
                bits = [*contacts, *(int(spec.bit) for spec in fields.values())]
                known &= ~luck.choice(bits)
            elif way < 0.5:
                on ^= luck.choice(contacts)
            else:
                field = luck.choice(list(fields))
                numbers[field] = tried(luck, fields[field], points[field])
        return Sounding(known, on, numbers)


def lengths(luck: random.Random, tick_s: float) -> float:
    """A tick's length (s): mostly the boat's own, sometimes none, late, or very late."""
    return luck.choice((tick_s, tick_s, tick_s, tick_s, tick_s, 0.0, 0.05, 0.1, 0.3, 2.0, 75.0))


def _step(config: BoatConfig, boat: Boat, memory: Memory, boat_in: BoatInputs, shaft_in: list[ShaftInputs],
          dt_s: float) -> Step:  # fmt: skip
    return Step(
        config, boat, memory, boat_in, tuple(shaft_in), dt_s, run_tick(boat, memory, boat_in, shaft_in, dt_s)
    )  # fmt: skip


# --- from power-up


def histories(config: BoatConfig, boat: Boat, seed: int, ticks: int) -> Iterator[Step]:
    """`ticks` steps in voyages from power-up, each of a few hundred ticks."""
    luck = random.Random(seed)
    done = 0
    while done < ticks:
        for step in _voyage(config, boat, luck, min(400, ticks - done)):
            done += 1
            yield step


class _Crew:
    """What the crew does now, for a while; and what is wrong, for a while."""

    def __init__(self, voyage: Voyage, shafts: int, luck: random.Random) -> None:
        self.voyage, self.luck = voyage, luck
        self.sound = voyage.boat()
        self.sides = [voyage.shaft(index, REST) for index in range(shafts)]
        self.wrong = self.sound
        self.wrong_sides = list(self.sides)

    def orders(self) -> None:
        """New orders for each shaft: the same for all, or each its own."""
        luck = self.luck
        works = (REST, PROPEL, PROPEL, PROPEL, GENERATE, GENERATE, HARVEST)
        one = luck.choice(works)
        for index in range(len(self.sides)):
            self.sides[index] = self.voyage.shaft(index, one if luck.random() < 0.6 else luck.choice(works))
        self.sound = self.voyage.boat()
        if luck.random() < 0.15:  # by handset
            self.sides = [self.voyage.shaft(index, REST) for index in range(len(self.sides))]
            self.sound = self.sound._replace(on=self.sound.on | BOAT.HANDSET_HELD | BOAT.HANDSET_OURS)
        self.right()

    def right(self) -> None:
        """Nothing is wrong any more."""
        self.wrong, self.wrong_sides = self.sound, list(self.sides)

    def trouble(self) -> None:
        """Something goes wrong."""
        luck = self.luck
        if luck.random() < 0.5:
            self.wrong = self.voyage.disturbed_boat(self.sound, luck.choice((1, 1, 2)))
        for index, side in enumerate(self.sides):
            if luck.random() < 0.5:
                self.wrong_sides[index] = self.voyage.disturbed_shaft(side, luck.choice((1, 1, 2, 3)), index)


def _voyage(config: BoatConfig, boat: Boat, luck: random.Random, ticks: int) -> Iterator[Step]:
    memory = initial_memory(boat)
    voyage = Voyage(config, luck)
    crew = _Crew(voyage, len(config.shaft), luck)
    hotel_a = luck.choice((0.0, 8.0, 40.0, -5.0))
    dt_s = config.boat.tick_s
    off_until = 0
    for number in range(ticks):
        if number > 45 and luck.random() < 0.012:
            crew.orders()
        if number > 10 and luck.random() < 0.03:
            crew.trouble()
        elif luck.random() < 0.08:
            crew.right()
        if number > 60 and luck.random() < 0.02:  # selectors and levers back, so that they can be seen off
            crew.sides = [voyage.shaft(index, REST) for index in range(len(crew.sides))]
            crew.right()
        now, sides = crew.wrong, list(crew.wrong_sides)
        buttons = BOAT.ENABLE if number % 40 == 5 else BOAT.RESET if number % 40 in (2, 3, 22) else 0
        if luck.random() < 0.004:
            off_until = number + luck.randrange(1, 30)
        if number < off_until:
            buttons |= BOAT.DISABLE
        if luck.random() < 0.03:
            buttons |= BOAT.ACKNOWLEDGE
        now = now._replace(on=(now.on ^ buttons))
        drives_a = 0.0
        for index, side in enumerate(sides):
            sides[index] = answered = _answer(config, memory, index, side, luck)
            drives_a += answered.numbers["current_a"]
        if now.numbers["current_a"] == 0.0:
            now = now._replace(numbers={**now.numbers, "current_a": drives_a - hotel_a + luck.uniform(-0.5, 0.5)})
        if crew.sound.on & BOAT.HANDSET_OURS and number % 25 > 3:  # held since it was seen let go
            for index, side in enumerate(sides):
                sides[index] = side._replace(
                    numbers={
                        **side.numbers,
                        "handset_thrust_pct": 0.0 if number % 25 < 6 else 40.0 - 80.0 * (index % 2),
                    }
                )
        elif crew.sound.on & BOAT.HANDSET_OURS:
            now = now._replace(on=now.on & ~BOAT.HANDSET_HELD)
        length = dt_s if luck.random() < 0.93 else lengths(luck, dt_s)
        step = _step(config, boat, memory, now.boat(), [side.shaft() for side in sides], length)
        memory = step.now.memory
        yield step


def _answer(config: BoatConfig, memory: Memory, index: int, side: Sounding, luck: random.Random) -> Sounding:
    """The drive obeys the last order, roughly, unless it is the one that is disturbed."""
    numbers, drive = dict(side.numbers), config.shaft[index].drive
    ordered_nm = memory.shafts[index].effort.torque_nm
    if numbers["torque_nm"] == 0.0:
        numbers["torque_nm"] = ordered_nm * luck.uniform(0.95, 1.0)
    if numbers["current_a"] == 0.0:
        watts = -ordered_nm * numbers["machine_speed_rpm"] * RAD_S_PER_RPM
        numbers["current_a"] = watts * (0.9 if watts > 0.0 else 1.0 / drive.motor_efficiency) / 52.0
    if numbers["engine_speed_rpm"] > 0.0 and luck.random() < 0.1:
        numbers["engine_speed_rpm"] -= luck.choice((0.0, 70.0, 130.0, 400.0))
    return side._replace(numbers=numbers)


# --- from anywhere


def anywhere(config: BoatConfig, boat: Boat, seed: int, count: int) -> Iterator[Step]:
    """`count` steps, each from a state and inputs of its own."""
    luck = random.Random(seed)
    for _ in range(count):
        voyage = Voyage(config, luck)
        memory, works = _remembered(config, voyage, luck)
        numbers_only, handset = luck.random() < 0.5, luck.random() < 0.15
        sound = voyage.boat()
        if handset:
            memory, works = _handset_steers(memory, works)
            sound.numbers["handset_minutes"] = luck.choice(
                (120.0, tried_at(luck, voyage.bounds.boat["handset_minutes"]))
            )
        if luck.random() < 0.15:  # a full charge, nearly there
            full_v = luck.uniform(config.limits.cell_taper_start_v, config.limits.cell_taper_end_v)
            sound = sound._replace(on=sound.on | BOAT.FULL_CHARGE, numbers={**sound.numbers, "cell_max_v": full_v})
        if numbers_only:
            sound = voyage.elsewhere_boat(sound)
        else:
            sound = voyage.disturbed_boat(sound, luck.choice((0, 0, 0, 1, 2, 4)))
        buttons = 0
        for bit in (BOAT.ENABLE, BOAT.RESET, BOAT.ACKNOWLEDGE, BOAT.DISABLE, BOAT.GET_HOME, BOAT.FULL_CHARGE):
            buttons |= bit if luck.random() < 0.12 else 0
        if handset or luck.random() < 0.2:
            buttons |= BOAT.HANDSET_HELD | BOAT.HANDSET_OURS
        sound = sound._replace(on=sound.on ^ buttons)
        sides = []
        for index, work in enumerate(works):
            side = voyage.shaft(index, work)
            if numbers_only:
                side = voyage.elsewhere_shaft(side, index)
            else:
                side = voyage.disturbed_shaft(side, luck.choice((0, 0, 0, 1, 2, 4)), index)
            if luck.random() < 0.5:
                side = _answer(config, memory, index, side, luck)
            if handset:
                turns = luck.choice((0.0, 3.0, 200.0, -200.0, 600.0, 1400.0))
                side = side._replace(
                    numbers={**side.numbers, "lever_pct": 0.0, "machine_speed_rpm": turns},
                    on=side.on | SHAFT.LEVER_NEUTRAL,
                )
            if handset or luck.random() < 0.3:
                asked = luck.choice((0.0, 40.0, 100.0, -100.0, 3.0))
                side = side._replace(numbers={**side.numbers, "handset_thrust_pct": asked})
            sides.append(side)
        if luck.random() < 0.5:
            total_a = sum(side.numbers["current_a"] for side in sides)
            sound = sound._replace(numbers={**sound.numbers, "current_a": total_a - memory.boat.bank.hotel_a})
        dt_s = lengths(luck, config.boat.tick_s)
        yield _step(config, boat, memory, sound.boat(), [side.shaft() for side in sides], dt_s)


def _handset_steers(memory: Memory, works: list[int]) -> tuple[Memory, list[int]]:
    """The same with the handset in control of a boat that is READY, or about to take over, and thrust by it where there
    was thrust."""
    latches = memory.boat.latches | KEPT.HELD_WAS_OFF
    if memory.boat.acknowledged % 2 == 0:
        latches = latches | KEPT.HANDSET_IN_CONTROL
    shafts = tuple(filled(state, {"neutral_s": max(state.dwells.neutral_s, 0.6)}) for state in memory.shafts)
    boat = memory.boat._replace(mode=READY, latches=latches)
    return Memory(boat, shafts), [REST if work == PROPEL else work for work in works]


def _timer(luck: random.Random, *marks: float) -> float:
    way = luck.random()
    if way < 0.2:
        return -1.0
    if way < 0.3:
        return 0.0
    mark = luck.choice(marks)
    if way < 0.9:
        return max(0.0, mark + luck.choice((-0.3, -0.1, -0.02, -0.001, 0.0, 0.001, 0.02, 1.0)))
    return luck.choice((1e9, 1e9 - 0.01, 2.0 * mark + 1.0))


def _some(luck: random.Random, bits: Sequence[int], part: float) -> int:
    chosen = 0
    for bit in bits:
        chosen |= bit if luck.random() < part else 0
    return chosen


def _remembered(config: BoatConfig, voyage: Voyage, luck: random.Random) -> tuple[Memory, list[int]]:
    """What was remembered, within the invariants, and the work that each shaft's inputs suit."""
    c = config.limits
    mode = luck.choice((STANDBY, NEUTRAL_WAIT, READY, READY, READY, READY, READY, TRIPPED))
    latches = _some(luck, list(vars(KEPT).values()), 0.3)
    hotel_a = luck.choice((0.0, 20.0, -10.0, 80.0))
    boat = filled(
        BoatState(),
        {
            "mode": mode, "latches": latches,
            "wait_s": _timer(luck, c.neutral_wait_s) if mode == NEUTRAL_WAIT else -1.0,
            "off_s": _timer(luck, c.disable_s) if mode == READY else -1.0,
            "idle_s": _timer(luck, c.idle_reminder_s, c.idle_reminder_s + c.idle_off_s) if mode == READY else -1.0,
            "since_full_s": _timer(luck, c.full_charge_reminder_days * 86400.0),
            "derate_pct": luck.choice((100.0, 100.0, 100.0, 50.0, c.derate_floor_pct, 0.0, 0.01, luck.uniform(0, 100))),
            "hotel_a": hotel_a, "load_a": hotel_a + luck.choice((0.0, 0.0, 10.0, 200.0)),
            "brake_a": luck.choice((0.0, 5.0, 40.0, config.bank.max_charge_a)),
            "brake_spent_s": luck.choice((0.0, 0.0, 3.0, c.brake_cold_s - 0.01, 2.0 * c.brake_cold_s, c.brake_cold_s)),
            "drives_a": luck.choice((0.0, 0.0, 30.0, -60.0)), "age_s": max(0.0, _timer(luck, 1.0, 1.0, 100.0)),
            "lying_s": _timer(luck, c.shore_still_s),
            "cell_pct": 100.0, "given_a": config.bank.max_discharge_a,
            "low_s": luck.choice((-1.0, -1.0, 0.0, c.derate_dip_s - 0.01, c.derate_dip_s)),
            "over_s": luck.choice((-1.0, -1.0, 0.0, c.source_over_s - 0.01, c.source_over_s)),
            "gave_a": luck.choice((0.0, 20.0, 78.0, c.full_charge_a)),
            "stopped_s": luck.choice((-1.0, -1.0, 0.0, c.source_stop_s - 0.01, c.source_stop_s)),
            "held_s": luck.choice((0.0, c.source_return_s - 0.01, c.source_return_s, 1e9)),
            "faulted": luck.choice((0, 0, 1)) if mode == TRIPPED else 0, "stop": luck.choice((0, 1)),
            "acknowledged": luck.choice((0, luck.getrandbits(48))),
            **_own_remembered(config, luck),
        },
    )  # fmt: skip
    modes = (REST, PROPEL, PROPEL, GENERATE, GENERATE, HARVEST, UNLOAD, UNLOAD, ISOLATED)
    states, works = [], []
    for index in range(len(config.shaft)):
        work = luck.choice(modes) if mode == READY else luck.choice((REST, REST, ISOLATED))
        states.append(_shaft_remembered(config, index, work, mode, luck))
        suits = work if work not in (UNLOAD, ISOLATED, REST) else luck.choice((REST, PROPEL, GENERATE, HARVEST))
        works.append(suits if luck.random() < 0.85 else luck.choice((REST, PROPEL, GENERATE, HARVEST)))
    return Memory(boat, tuple(states)), works


def _own_remembered(config: BoatConfig, luck: random.Random) -> dict[str, Any]:
    bad, bad_s = 0, [-1.0] * OWN_CHANNELS
    for k, entry in enumerate(config.interlock):
        bad_s[k] = _timer(luck, entry.debounce_s)
        bad |= 1 << k if luck.random() < (0.5 if bad_s[k] >= entry.debounce_s else 0.1) else 0
    return {"bad": bad, "bad_s": tuple(bad_s)}


def _turned(luck: random.Random) -> dict[str, float]:
    """What a drive turned with of late."""
    speeds = (0.0, 250.0, 320.0, 500.0, 640.0, -500.0)
    low_rpm, before_low_rpm = luck.choice(speeds), luck.choice(speeds)
    return {
        "low_rpm": low_rpm, "high_rpm": low_rpm + luck.choice((0.0, 0.0, 30.0, 400.0)),
        "before_low_rpm": before_low_rpm, "before_high_rpm": before_low_rpm + luck.choice((0.0, 0.0, 30.0, 400.0)),
        "runs_s": luck.choice((-1.0, 0.0, 0.06, 0.079, 0.2, 0.24)),
    }  # fmt: skip


def _hold(config: BoatConfig, rated_nm: float, mode: int, luck: random.Random) -> dict[str, float]:
    """A shaft that is held for its lock, now and then."""
    times = (0.0, 3.0, config.limits.hold_s - 0.01, config.limits.hold_s)
    return {
        "held_s": luck.choice(times) if luck.random() < 0.2 else -1.0,
        "load_nm": luck.choice((0.0, 30.0, -30.0, rated_nm, -rated_nm)),
    }


def _shaft_remembered(config: BoatConfig, index: int, work: int, mode: int, luck: random.Random) -> ShaftState:
    c, own = config.limits, config.shaft[index]
    late = (HELD.HOLD_ARMED, HELD.HOLD_FAILED)
    latches = _some(luck, [bit for bit in vars(HELD).values() if bit not in late], 0.3)
    latches |= _some(luck, (HELD.REARMED, HELD.LINK_WAS_CHARGED, HELD.IN_SERVICE, HELD.CHARGE_ARMED,
                            HELD.HARVEST_ARMED), 0.6)  # fmt: skip
    latches &= ~_some(luck, (HELD.PRECHARGE_FAILED, HELD.OUT_OF_SERVICE), 0.8)
    if latches & HELD.IN_SERVICE:
        latches &= ~HELD.OUT_OF_SERVICE
    if mode != READY:
        latches &= ~(HELD.REARMED | HELD.CHARGE_ARMED | HELD.HARVEST_ARMED)
    if mode not in (READY, NEUTRAL_WAIT):
        latches &= ~HELD.LINK_WAS_CHARGED
    if work != UNLOAD:
        latches &= ~(HELD.UNLOAD_TO_PROPEL | HELD.UNLOADS_SOURCE | HELD.SLOW_RAMP)
    if work != GENERATE:
        latches &= ~HELD.SAGGING
    if work != REST or mode != READY:
        latches &= ~HELD.PAUSED
    if latches & HELD.UNLOADS_SOURCE:
        latches &= ~HELD.SLOW_RAMP
    source = work in (GENERATE, HARVEST) or latches & HELD.UNLOADS_SOURCE
    most_nm = own.drive.generate_torque_nm if source else own.drive.rated_torque_nm
    torque_nm = 0.0
    if work in (PROPEL, GENERATE, HARVEST, UNLOAD) and luck.random() < 0.8:
        torque_nm = luck.choice((-1.0, -1.0, 1.0)) * most_nm * luck.choice((1e-6, 0.05, 0.5, 0.9, 1.0, luck.random()))
    sign = (1 if torque_nm > 0 else -1) if torque_nm else luck.choice((-1, 0, 1))
    charge_a = 0.0
    if torque_nm and (source or luck.random() < 0.4):
        charge_a = luck.choice((0.05, 5.0, 40.0, 0.9 * own.drive.max_current_a, luck.uniform(0.0, 100.0)))
    values = {
        "mode": work, "latches": latches, "neutral_s": _timer(luck, c.neutral_s),
        "lever_lost_s": _timer(luck, c.lever_hold_s, 1.0),
        "unload_s": _timer(luck, 10.0 + c.lever_ramp_s, 1.0) if work == UNLOAD else -1.0,
        "precharge_s": max(0.0, _timer(luck, own.drive.precharge_s, 0.0)),
        "disobey_s": _timer(luck, c.disobey_s), "link_off_s": luck.choice((-1.0, -1.0, _timer(luck, 0.2))),
        "still_s": _timer(luck, own.lock.still_s), "trail_s": max(0.0, _timer(luck, own.gearbox.trailing_limit_s)),
        "zero_s": 0.0 if torque_nm else _timer(luck, own.drive.reversal_dwell_s), "torque_nm": torque_nm,
        "last_sign": sign, "charge_a": charge_a,
        "order_pct": luck.choice((0.0, 60.0, -60.0, 100.0, -100.0, own.rules.neutral_band_pct)),
        "sag_ref_rpm": luck.choice((0.0, 1600.0, 1600.0, 2250.0)) if work == GENERATE else 0.0,
        "lever_ref_pct": luck.choice((0.0, 60.0, -60.0)),
        "ramp_nm_per_s": luck.choice((0.0, own.drive.rated_torque_nm / c.lever_ramp_s, 3.0)),
        "steady_s": luck.choice((0.0, 2.99, 3.0, 10.0, 1e9)), "gear_contradicts_s": _timer(luck, 2.0),
        "own_ahead_pct": luck.choice((100.0, 100.0, 40.0, 99.9)), "own_astern_pct": luck.choice((100.0, 100.0, 40.0)),
        "engine_contradicts_s": _timer(luck, 2.0), "obeyed_s": _timer(luck, 2.0),
        "silent_s": luck.choice((_timer(luck, 1.0), 2.0, 2.0)),
        "pardon_s": luck.choice((1e9, 1e9, 0.0, 3.0, 599.99, 600.0)),
        "lasts_s": luck.choice((0.0, 0.1, c.pause_s, c.pause_s - 0.02)) if latches & HELD.PAUSED else -1.0,
        "last_s": luck.choice((1e9, 0.1, c.pause_window_s - 0.01, c.pause_window_s)),
        "before_last_s": luck.choice((1e9, 1e9, 1.0, c.pause_window_s - 0.01, c.pause_window_s)),
        "began_pct": luck.choice((0.0, 60.0, 59.0, -60.0, -57.0, 100.0)),
        "off_s": luck.choice((-1.0, -1.0, 0.0, c.coupling_s - 0.01, c.coupling_s)),
        "slip_s": luck.choice((0.0, 0.0, c.slip_s - 0.01, c.slip_s, 2.0 * c.slip_s)),
        "jam_s": luck.choice((-1.0, -1.0, -1.0, 0.0, c.jam_s - 0.01, c.jam_s, 2.0 * c.jam_s - 0.01)),
        "contradicts_s": luck.choice((-1.0, 0.0, 0.19, 0.2)),
    }  # fmt: skip
    # luck of its own, by what has been drawn: what else is drawn stays what it was
    own_luck = random.Random(repr(values))
    values |= _turned(own_luck) | _hold(config, own.drive.rated_torque_nm, mode, own_luck)
    values["latches"] = latches | _some(own_luck, late, 0.3)
    return filled(ShaftState(), values)
