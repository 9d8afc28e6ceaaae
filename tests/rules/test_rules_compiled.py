"""Interpreted and compiled rules are the same rules: every scalar rule compiles, and gives bit-identical results.

Every call that a tick makes is made twice, on thousands of ticks of a boat whose inputs wander at random.
"""

import random
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from boatyard.boats import frozen
from boatyard.compiled import compile_modules, differences
from boatyard.rig import BOAT_AT_REST, SHAFT_AT_REST
from boatyard.states import FlatBoat, FlatShaft, kept_boat, kept_shaft

from supervisor.rules import (
    bank,
    boat_timers,
    boat_word,
    coupling,
    hold,
    initial_memory,
    orders,
    outputs,
    own,
    pause,
    permits,
    readings,
    run_tick,
    shaft_latches,
    shaft_timers,
    shaft_word,
    sources,
    state,
    stops,
    tick,
    torque,
)
from supervisor.rules.torque import Shares
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInput, BoatInputs, InputSpec, ShaftInputs

pytest.importorskip("numba")

MODULES = [
    bank,
    boat_timers,
    boat_word,
    orders,
    outputs,
    own,
    coupling,
    hold,
    pause,
    permits,
    readings,
    shaft_latches,
    shaft_timers,
    shaft_word,
    sources,
    state,
    stops,
    torque,
]
TICKS = 2500


class Wanderer:
    """Inputs that begin healthy and wander: mostly within range, now and then unknown."""

    def __init__(self, specs: tuple[InputSpec, ...], start: dict[str, Any], luck: random.Random) -> None:
        self.specs, self.luck = specs, luck
        self.values = {spec.name: start.get(spec.name, 0.0) for spec in specs}

    def move(self, changes: int) -> tuple[int, int, dict[str, float]]:
        luck = self.luck
        for spec in luck.sample(self.specs, changes):
            if spec.is_contact:
                good = spec.name not in ("bank.fault", "bank.opening", "helm.emergency_stop", "drive.fault",
                                         "helm.disable", "helm.diver_lockout", "helm.shore_connected",
                                         "shaft.out_of_service", "lock.engaged", "clutch.open")  # fmt: skip
                self.values[spec.name] = luck.choice([good, good, good, luck.random() < 0.5, None])
            elif luck.random() < 0.1:
                self.values[spec.name] = None
            else:
                old = self.values[spec.name]
                span = min(spec.high - spec.low, 120.0)
                near = (old or 0.0) + luck.gauss(0, 0.15) * span
                self.values[spec.name] = min(spec.high, max(spec.low, near))
        known = on = 0
        numbers = {}
        for spec in self.specs:
            value = self.values[spec.name]
            if value is None:
                continue
            known |= int(spec.bit)
            if spec.is_contact:
                on |= int(spec.bit) if value else 0
            else:
                numbers[spec.field] = float(value)
        return known, on, numbers


@pytest.fixture(scope="module")
def compiled() -> dict[str, Callable[..., Any]]:
    return compile_modules(MODULES)


def test_every_call_of_a_tick_gives_the_same_bits(
    compiled: dict[str, Callable[..., Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    calls: Counter[str] = Counter()

    def twin(name: str, plain: Callable[..., Any]) -> Callable[..., Any]:
        fast = compiled[name]

        def both(*args: Any) -> Any:
            result = plain(*args)
            other = fast(*args)
            assert not differences(result, other), f"{name}{args}"
            calls[name] += 1
            return result

        return both

    replaced = set()
    for space in (tick, outputs):
        for name, value in list(vars(space).items()):
            key = f"{getattr(value, '__module__', '').rsplit('.', 1)[-1]}.{name}"
            if key in compiled and (space is tick or value.__module__ == outputs.__name__):
                monkeypatch.setattr(space, name, twin(key, value))
                replaced.add(key)

    luck = random.Random(20)
    boat = frozen(shafts=2)
    memory = initial_memory(boat)
    about = Wanderer(BOAT_INPUTS, BOAT_AT_REST, luck)
    shafts = [Wanderer(SHAFT_INPUTS, SHAFT_AT_REST, luck) for _ in boat.shafts]
    modes: Counter[int] = Counter()
    for number in range(TICKS):
        if number % 250 == 0:  # a fresh boat now and then: most wanderings end in a trip
            memory = initial_memory(boat)
            about = Wanderer(BOAT_INPUTS, BOAT_AT_REST, luck)
            shafts = [Wanderer(SHAFT_INPUTS, SHAFT_AT_REST, luck) for _ in boat.shafts]
        stage = number % 250
        about.values["helm.enable"] = stage == 40
        calm = stage < 60
        if stage in (60, 150):
            for shaft in shafts:
                shaft.values["lever.lever_pct"], shaft.values["lever.neutral"] = luck.choice([60.0, -80.0]), False
                shaft.values["drive.machine_speed_rpm"] = luck.choice([0.0, 300.0, -300.0, 900.0])
        known, on, numbers = about.move(0 if calm else luck.choice([0, 0, 0, 1]))
        boat_in = BoatInputs(known=known, on=on, **numbers)
        shaft_in = []
        for shaft in shafts:
            known, on, numbers = shaft.move(0 if calm else luck.choice([0, 0, 1, 2]))
            shaft_in.append(ShaftInputs(known=known, on=on, **numbers))
        dt_s = luck.choice([0.02, 0.02, 0.02, 0.0, 0.3])
        memory = run_tick(boat, memory, boat_in, shaft_in, dt_s).memory
        modes.update(state.mode for state in memory.shafts)
    assert set(calls) == replaced, f"never called: {replaced - set(calls)}"
    assert min(calls.values()) >= 10
    assert set(modes) >= {0, 1, 4, 5}, modes


def _wild(luck: random.Random, specs: tuple[InputSpec, ...], kind: type) -> Any:
    everything = sum(int(spec.bit) for spec in specs)
    gaps = luck.getrandbits(28) & luck.getrandbits(28) & luck.getrandbits(28) if luck.random() < 0.3 else 0
    known = everything & ~gaps
    numbers = {spec.field: luck.choice([spec.low, spec.high, 0.0, luck.uniform(spec.low, spec.high)])
               for spec in specs if spec.field}  # fmt: skip
    return kind(known=known, on=luck.getrandbits(28) & known, **numbers)


def test_torque_rules_give_the_same_bits_in_every_mode(compiled: dict[str, Callable[..., Any]]) -> None:
    """The rules with the most arithmetic, on states that a short wander seldom reaches."""
    luck = random.Random(21)
    boat = frozen(shafts=1)
    lim, shaft_lim = boat.limits, boat.shafts[0]
    seen = 0
    for _ in range(4000):
        boat_in, shaft_in = _wild(luck, BOAT_INPUTS, BoatInputs), _wild(luck, SHAFT_INPUTS, ShaftInputs)
        boat_in = boat_in._replace(
            on=luck.choice([boat_in.on, int(BoatInput.CHARGE_PERMIT | BoatInput.DISCHARGE_PERMIT
                                            | BoatInput.CONTACTOR_CLOSED)]),
            voltage_v=luck.uniform(42, 60), soc_pct=luck.uniform(10, 96), cell_max_v=luck.uniform(3.2, 3.56),
            cell_min_v=luck.uniform(2.7, 3.3), cell_hot_c=luck.uniform(10, 46), cell_cold_c=luck.uniform(-2, 20),
        )  # fmt: skip
        shaft_in = shaft_in._replace(machine_speed_rpm=luck.choice([1.0, -1.0]) * luck.uniform(0, 1400))
        boat_state = kept_boat(FlatBoat(
            mode=luck.randrange(4), hotel_a=luck.uniform(-50, 80), brake_a=luck.uniform(0, 300),
            brake_spent_s=luck.uniform(0, 12),
        ))  # fmt: skip
        view_args = (lim, boat_state, boat_in, luck.uniform(-300, 300), luck.random() < 0.9, luck.random() < 0.5, 0.02)
        view = bank.bank_view(*view_args)
        assert not differences(view, compiled["bank.bank_view"](*view_args))
        shaft = kept_shaft(FlatShaft(
            mode=luck.randrange(6), latches=luck.getrandbits(10), torque_nm=luck.uniform(-110, 110),
            charge_a=luck.choice([0.0, luck.uniform(0, 120)]), order_pct=luck.uniform(-100, 100),
            last_sign=luck.choice([-1, 0, 1]), zero_s=luck.uniform(0, 1), sag_ref_rpm=luck.uniform(0, 3000),
            steady_s=luck.uniform(0, 6), ramp_nm_per_s=luck.uniform(0, 40),
        ))  # fmt: skip
        args = (lim, shaft_lim, shaft, shaft_in, view, luck.random() < 0.3, 0.02)
        asked = torque.ask(*args)
        assert not differences(asked, compiled["torque.ask"](*args))
        args = (shaft_lim, shaft, shaft_in, view, asked, Shares(luck.random(), luck.random(), luck.random()), 0.02)
        after = torque.order(*args)
        assert not differences(after, compiled["torque.order"](*args)), args
        seen += after.effort.torque_nm != 0.0
    assert seen > 250
