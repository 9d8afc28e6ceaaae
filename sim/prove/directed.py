"""Directed voyages: a boat brought into each mode by sound inputs, then one thing wrong, then the crew's answer.

Random voyages seldom stand in HARVEST when the charge permit goes. So each *situation* is approached once, and from
there every single disturbance is tried: each contact flipped or unknown, each number unknown, at each bound of the boat
file, just under and just over, for a moment or for long; then all is sound again and the crew presses something.
"""

import random
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from sim.prove.step import Step
from sim.prove.streams import (
    BOAT_BY_FIELD,
    BOAT_CONTACTS,
    SHAFT_BY_FIELD,
    SHAFT_CONTACTS,
    SOUND_BOAT_ON,
    SOUND_SHAFT_ON,
    Bounds,
    Sounding,
)
from sim.prove.terms import RAD_S_PER_RPM
from sim.requirements.facts import BOAT, SHAFT
from supervisor.config import BoatConfig
from supervisor.config.schema import Interlock
from supervisor.rules import Boat, Memory, initial_memory, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, OwnInputs, ShaftInputs

ALL_BOAT = sum(int(spec.bit) for spec in BOAT_INPUTS)
ALL_SHAFT = sum(int(spec.bit) for spec in SHAFT_INPUTS)
MACHINERY = SHAFT.GEAR_NEUTRAL | SHAFT.CLUTCH_CLOSED

HOTEL_A = 6.0
"""Hotel load (A)."""

HOLDS = (1, 4, 12, 40, 160)
"""Ticks for which a disturbance stands."""


class SoundInputs(NamedTuple):
    """Sound inputs of boat and shafts at one time."""

    boat: Sounding
    sides: tuple[Sounding, ...]
    own: OwnInputs = OwnInputs()

    def all_sides(self, *, on: int = 0, off: int = 0, **numbers: float) -> "SoundInputs":
        """Every shaft with these contacts and numbers changed."""
        return self._replace(
            sides=tuple(
                side._replace(on=(side.on | on) & ~off, numbers={**side.numbers, **numbers}) for side in self.sides
            )
        )

    def one_side(self, index: int, *, on: int = 0, off: int = 0) -> "SoundInputs":
        """One shaft with these contacts changed."""
        side = self.sides[index]
        changed = side._replace(on=(side.on | on) & ~off)
        return self._replace(sides=(*self.sides[:index], changed, *self.sides[index + 1 :]))

    def helm(self, *, on: int = 0, off: int = 0, **numbers: float) -> "SoundInputs":
        """The boat's own inputs changed."""
        boat = self.boat
        return self._replace(boat=boat._replace(on=(boat.on | on) & ~off, numbers={**boat.numbers, **numbers}))


def at_rest(config: BoatConfig) -> SoundInputs:
    """Everything sound, nothing asked, nothing turning."""
    volts = (config.bank.min_voltage_v + config.bank.max_voltage_v) / 2.0
    bank = {
        "soc_pct": 60.0, "voltage_v": volts, "current_a": 0.0, "cell_max_v": 3.3, "cell_min_v": 3.25,
        "cell_hot_c": 20.0, "cell_cold_c": 18.0, "charge_limit_a": config.limits.full_charge_a,
        "discharge_limit_a": config.bank.max_discharge_a, "handset_minutes": 120.0,
    }  # fmt: skip
    shaft = dict.fromkeys(SHAFT_BY_FIELD, 0.0) | {"link_v": volts, "motor_c": 20.0, "inverter_c": 20.0,
                                                  "coolant_c": 20.0}  # fmt: skip
    side = Sounding(ALL_SHAFT, SOUND_SHAFT_ON, shaft)
    return SoundInputs(
        Sounding(ALL_BOAT, SOUND_BOAT_ON | BOAT.HANDSET_OURS, bank), (side,) * len(config.shaft), own_good(config)
    )


def own_good(config: BoatConfig) -> OwnInputs:
    """Every own interlock good."""
    own = OwnInputs(known=(1 << len(config.interlock)) - 1)
    for k, entry in enumerate(config.interlock):
        own = own_put(own, k, entry, good_value(entry))
    return own


def good_value(entry: Interlock) -> float:
    """A number, or the state of a contact, well on the good side."""
    if entry.good_when is not None:
        return 1.0 if entry.good_when == "on" else 0.0
    back = 2.0 * (entry.hysteresis or 0.0)
    return entry.bad_above - back if entry.bad_above is not None else (entry.bad_below or 0.0) + back


def own_put(own: OwnInputs, k: int, entry: Interlock, value: float) -> OwnInputs:
    """The k-th interlock's signal at a value: of a contact 0.0 or 1.0."""
    if entry.good_when is not None:
        bit = 1 << k
        return own._replace(on=own.on | bit if value > 0.0 else own.on & ~bit)
    return own._replace(values=(*own.values[:k], value, *own.values[k + 1 :]))


def own_bounds(entry: Interlock) -> list[float]:
    """The values of an own interlock that are worth trying: both states, or each threshold, just under, just over."""
    if entry.good_when is not None:
        return [0.0, 1.0]
    at, back = entry.bad_above if entry.bad_above is not None else entry.bad_below or 0.0, entry.hysteresis or 0.0
    other = at - back if entry.bad_above is not None else at + back
    return [good_value(entry), *(one + by for one in (at, other) for by in (-0.01, 0.0, 0.01))]


Standing = tuple[int, SoundInputs]
"""So many ticks of these inputs."""


def situations(config: BoatConfig) -> dict[str, list[Standing]]:
    """The ways from power-up into each situation of this boat, a stage after the other."""
    rest = at_rest(config)
    ready = [(60, rest), (1, rest.helm(on=BOAT.ENABLE)), (12, rest)]
    turning = rest.all_sides(machine_speed_rpm=150.0, propeller_speed_rpm=150.0)
    ahead = turning.all_sides(off=SHAFT.LEVER_NEUTRAL, lever_pct=60.0)
    astern = rest.all_sides(off=SHAFT.LEVER_NEUTRAL, lever_pct=-60.0, machine_speed_rpm=-150.0,
                            propeller_speed_rpm=-150.0)  # fmt: skip
    braking = astern.all_sides(machine_speed_rpm=150.0, propeller_speed_rpm=150.0)
    ratio = config.shaft[0].gearbox.ratio
    running = rest.all_sides(
        on=SHAFT.GEAR_AHEAD | SHAFT.ENGINE_RUN, off=SHAFT.GEAR_NEUTRAL, engine_speed_rpm=640.0 * ratio, gear_report=1.0,
        machine_speed_rpm=640.0, propeller_speed_rpm=640.0,
    )  # fmt: skip
    standing = running.all_sides(on=SHAFT.CLUTCH_OPEN, off=SHAFT.CLUTCH_CLOSED, propeller_speed_rpm=0.0)
    under_way, moored = running.all_sides(on=SHAFT.CHARGE_UNDER_WAY), standing.all_sides(on=SHAFT.CHARGE_AT_REST)
    slow = under_way.all_sides(engine_speed_rpm=800.0, machine_speed_rpm=320.0, propeller_speed_rpm=320.0)
    sailing = rest.all_sides(machine_speed_rpm=350.0, propeller_speed_rpm=350.0)
    held = rest.helm(on=BOAT.HANDSET_HELD)
    stopped = rest.helm(on=BOAT.EMERGENCY_STOP)
    jumps = ahead.all_sides(on=SHAFT.ENGINE_RUN, off=SHAFT.GEAR_NEUTRAL)
    bounced = [(2, jumps), (3, ahead)]
    found = {
        "standby": [(60, rest)],
        "waiting": [(60, ahead), (1, ahead.helm(on=BOAT.ENABLE)), (20, ahead)],
        "ready": ready,
        "ahead": [*ready, (60, ahead)],
        "astern": [*ready, (60, astern)],
        "crash stop": [*ready, (60, ahead), (4, turning), (60, braking)],
        "lever lost": [*ready, (60, ahead), (10, _unknown(ahead, SHAFT.LEVER))],
        "generate": [*ready, (3, running), (160, under_way)],
        "generate slow": [*ready, (3, running), (30, slow)],
        "unloading": [*ready, (3, running), (160, under_way), (1, running)],
        "isolated": [*ready, (60, ahead), (4, ahead.all_sides(on=SHAFT.DRIVE_FAULT)), (30, rest)],
        "isolated, turning": [*ready, (60, ahead), (4, ahead.all_sides(on=SHAFT.DRIVE_FAULT)), (4, ahead)],
        "tripped": [*ready, (60, ahead), (4, stopped), (30, rest)],
        "paused": [*ready, (60, ahead), (2, jumps)],
        "third pause": [*ready, (60, ahead), *bounced, *bounced, (2, jumps)],
        "low bank": [*ready, (60, ahead.helm(soc_pct=22.0))],
        "full bank": [*ready, (3, running.helm(soc_pct=91.0)), (160, under_way.helm(soc_pct=91.0))],
        "off": [*ready, (60, ahead), (2, ahead.helm(on=BOAT.DISABLE))],
    }
    if all(shaft.clutch.fitted for shaft in config.shaft):
        found["at rest"] = [*ready, (3, standing), (160, moored)]
    if all(shaft.gearbox.trailing_allowed for shaft in config.shaft):
        found["harvest"] = [*ready, (3, sailing), (100, sailing.all_sides(on=SHAFT.HARVEST))]
        found["harvest to thrust"] = [
            *found["harvest"], (2, sailing.all_sides(on=SHAFT.HARVEST, off=SHAFT.LEVER_NEUTRAL, lever_pct=60.0)),
        ]  # fmt: skip
    if all(shaft.lock.fitted and "shaft.stop_and_lock" in shaft.inputs for shaft in config.shaft):
        held_still = sailing.all_sides(on=SHAFT.STOP_AND_LOCK)
        stopped_still = held_still.all_sides(machine_speed_rpm=3.0, propeller_speed_rpm=3.0)
        found["held"] = [*ready, (3, sailing), (20, held_still), (120, stopped_still)]
    if "handset.held" not in config.not_fitted:
        driven = turning.helm(on=BOAT.HANDSET_HELD).all_sides(handset_thrust_pct=40.0)
        found["handset"] = [*ready, (4, held), (60, driven)]
        found["handset beside charging"] = [
            *ready, (3, standing), (160, moored), (4, moored.helm(on=BOAT.HANDSET_HELD)),
        ]  # fmt: skip
    return found


def _unknown(scene: SoundInputs, bit: int) -> SoundInputs:
    return scene._replace(sides=tuple(side._replace(known=side.known & ~bit) for side in scene.sides))


class Wrong(NamedTuple):
    """One thing that is wrong: of the boat (`side` -1), of a shaft, or an own interlock (`own` its table, `bit` its
    channel's). `field` and `value` for a number, `bit` for what is flipped, or unknown where `lost`."""

    side: int
    bit: int
    field: str = ""
    value: float = 0.0
    lost: bool = False
    own: Interlock | None = None

    def apply(self, scene: SoundInputs) -> SoundInputs:
        """The scene with this wrong."""
        if self.own is not None:
            return scene._replace(own=self.apply_own(scene.own))
        now = scene.boat if self.side < 0 else scene.sides[self.side]
        if self.lost:
            now = now._replace(known=now.known & ~self.bit)
        elif self.field:
            now = now._replace(numbers={**now.numbers, self.field: self.value})
        else:
            now = now._replace(on=now.on ^ self.bit)
        if self.side < 0:
            return scene._replace(boat=now)
        return scene._replace(sides=tuple(now if i == self.side else one for i, one in enumerate(scene.sides)))

    def apply_own(self, own: OwnInputs) -> OwnInputs:
        """The signals of own interlocks with this one wrong."""
        k = self.bit.bit_length() - 1
        if self.own is None or not self.lost:
            return own if self.own is None else own_put(own, k, self.own, self.value)
        values = (*own.values[:k], 0.0, *own.values[k + 1 :])
        return OwnInputs(own.known & ~self.bit, own.on & ~self.bit, values)


def disturbances(config: BoatConfig) -> list[Wrong]:
    """Every single thing that can be wrong with the boat, its own interlocks, its first or its last shaft."""
    bounds = Bounds(config)
    found: list[Wrong] = []
    for k, entry in enumerate(config.interlock):
        found.append(Wrong(-1, 1 << k, lost=True, own=entry))
        found += [Wrong(-1, 1 << k, value=value, own=entry) for value in own_bounds(entry)]
    for side in (-1, *sorted({0, len(config.shaft) - 1})):
        contacts, fields, points = (
            (BOAT_CONTACTS, BOAT_BY_FIELD, bounds.boat) if side < 0
            else (SHAFT_CONTACTS, SHAFT_BY_FIELD, bounds.shaft[side])
        )  # fmt: skip
        for bit in contacts:
            found += [Wrong(side, bit), Wrong(side, bit, lost=True)]
        for field, spec in fields.items():
            found.append(Wrong(side, int(spec.bit), field, lost=True))
            for point in sorted(set(points[field])):
                for value in (point, point - 0.01, point + 0.01):
                    if spec.low <= value <= spec.high:
                        found.append(Wrong(side, int(spec.bit), field, value))
    return found


BUTTONS = (0, 0, BOAT.RESET, BOAT.ENABLE, BOAT.ACKNOWLEDGE, BOAT.DISABLE, BOAT.HANDSET_HELD, BOAT.GET_HOME)


class Runs:
    """Steps of the rules as they are now, the drives obeying."""

    def __init__(self, config: BoatConfig, boat: Boat) -> None:
        self._config, self._boat = config, boat

    def approach(self, stages: Sequence[Standing]) -> list[Step]:
        """From power-up through all stages."""
        memory, found = initial_memory(self._boat), []
        for ticks, scene in stages:
            for _ in range(ticks):
                step = self.step(memory, scene)
                memory = step.now.memory
                found.append(step)
        return found

    def step(self, memory: Memory, scene: SoundInputs, dt_s: float = 0.0) -> Step:
        """One tick of these inputs; a number of torque or current that is not zero already is disturbed, and stays."""
        shaft_in = tuple(self._answered(memory, index, side).shaft() for index, side in enumerate(scene.sides))
        boat_in = self._metered(scene.boat, shaft_in).boat()._replace(own=scene.own)
        dt_s = dt_s or self._config.boat.tick_s
        now = run_tick(self._boat, memory, boat_in, shaft_in, dt_s)
        return Step(self._config, self._boat, memory, boat_in, shaft_in, dt_s, now)

    def _metered(self, bank: Sounding, sides: Sequence[ShaftInputs]) -> Sounding:
        """The bank's current beside those of the drives, with a small hotel load."""
        if bank.numbers["current_a"] != 0.0:
            return bank
        return bank._replace(numbers={**bank.numbers, "current_a": sum(side.current_a for side in sides) - HOTEL_A})

    def _answered(self, memory: Memory, index: int, side: Sounding) -> Sounding:
        numbers, drive = dict(side.numbers), self._config.shaft[index].drive
        ordered_nm = memory.shafts[index].effort.torque_nm
        if numbers["torque_nm"] == 0.0:
            numbers["torque_nm"] = ordered_nm
        if numbers["current_a"] == 0.0:
            watts = -ordered_nm * numbers["machine_speed_rpm"] * RAD_S_PER_RPM
            part = drive.efficiency if watts > 0.0 else 1.0 / drive.motor_efficiency
            numbers["current_a"] = watts * part / self._config.bank.max_voltage_v
        return side._replace(numbers=numbers)

    def onward(self, memory: Memory, scene: SoundInputs, wrong: Wrong, luck: random.Random) -> Iterator[Step]:
        """The disturbance for a while, the crew's answer, then all sound again."""
        hold, button = luck.choice(HOLDS), luck.choice(BUTTONS)
        levers = luck.random() < 0.3
        ticks = hold + luck.choice((3, 20))
        pressed_at = luck.randrange(ticks)
        for number in range(ticks):
            now = wrong.apply(scene) if number < hold else scene
            if button and number >= pressed_at:
                now = now._replace(boat=now.boat._replace(on=now.boat.on ^ button))
            if levers and number >= pressed_at:
                now = now.all_sides(off=SHAFT.LEVER_NEUTRAL, lever_pct=80.0)
            step = self.step(memory, now, self._length(luck))
            memory = step.now.memory
            yield step

    def deaf(self, memory: Memory, scene: SoundInputs, wrong: Wrong, luck: random.Random) -> Iterator[Step]:
        """The disturbance for a while, and rules that do not hear it: each tick decided as if all were sound."""
        hold = luck.choice(HOLDS)
        button, pressed_at = luck.choice(BUTTONS), luck.randrange(hold + 3)
        for number in range(hold + 3):
            now = scene
            if button and number >= pressed_at:
                now = now._replace(boat=now.boat._replace(on=now.boat.on ^ button))
            step = self.step(memory, now, self._length(luck))
            memory = step.now.memory
            yield self._heard(step, wrong.apply(now)) if number < hold else step

    def unheard(self, memory: Memory, scene: SoundInputs, wrongs: Sequence[Wrong], ticks: int) -> Iterator[Step]:
        """So many ticks decided as if all were sound, beside inputs on which all of `wrongs` are."""
        heard = scene
        for wrong in wrongs:
            heard = wrong.apply(heard)
        for _ in range(ticks):
            step = self.step(memory, scene)
            memory = step.now.memory
            yield self._heard(step, heard)

    def _heard(self, step: Step, scene: SoundInputs) -> Step:
        """The step as decided, beside the inputs as they were."""
        sides = tuple(self._answered(step.was, index, side).shaft() for index, side in enumerate(scene.sides))
        boat_in = self._metered(scene.boat, sides).boat()._replace(own=scene.own)
        return step._replace(boat_in=boat_in, shaft_in=sides)

    def wander(
        self, memory: Memory, scenes: Sequence[SoundInputs], wrongs: Sequence[Wrong], luck: random.Random
    ) -> Iterator[Step]:
        """Without end: scenes that change as a crew would change them, disturbances that come and go, buttons."""
        scene, standing, pressed = scenes[0], [], 0
        while True:
            if luck.random() < 0.02:
                scene = luck.choice(scenes)
            if luck.random() < 0.02:
                standing.append(luck.choice(wrongs))
            if standing and luck.random() < 0.04:
                standing.pop(0)
            pressed = luck.choice(BUTTONS) if luck.random() < 0.05 else 0 if luck.random() < 0.3 else pressed
            now = scene._replace(boat=scene.boat._replace(on=scene.boat.on ^ pressed))
            for wrong in standing:
                now = wrong.apply(now)
            step = self.step(memory, now, self._length(luck))
            memory = step.now.memory
            yield step

    def _length(self, luck: random.Random) -> float:
        """Mostly the boat's tick, now and then late, but not as late as would trip it."""
        return self._config.boat.tick_s * luck.choice((2, 3, 5)) if luck.random() < 0.02 else self._config.boat.tick_s


def with_own(step: Step, luck: random.Random) -> Step:
    """The same step with the own interlocks remembered and signalled anyhow, near their bounds."""
    config = step.config
    own, bad, bad_s = own_good(config), 0, list(step.was.boat.own.bad_s)
    for k, entry in enumerate(config.interlock):
        own = own_put(own, k, entry, luck.choice(own_bounds(entry)))
        if luck.random() < 0.2:
            own = Wrong(-1, 1 << k, lost=True, own=entry).apply_own(own)
        bad |= luck.getrandbits(1) << k
        bad_s[k] = luck.choice((-1.0, 0.0, entry.debounce_s, max(0.0, entry.debounce_s - step.dt_s), 5.0))
    left = [100.0, *(entry.limit_pct for entry in config.interlock if entry.limit_pct is not None)]
    shafts = tuple(
        state._replace(own_ahead_pct=luck.choice(left), own_astern_pct=luck.choice(left)) for state in step.was.shafts
    )
    held = step.was.boat.own._replace(bad=bad, bad_s=tuple(bad_s))
    was = step.was._replace(boat=step.was.boat._replace(own=held), shafts=shafts)
    boat_in = step.boat_in._replace(own=own)
    now = run_tick(step.boat, was, boat_in, step.shaft_in, step.dt_s)
    return step._replace(was=was, boat_in=boat_in, now=now)
