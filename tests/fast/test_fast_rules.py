"""The whole tick compiled gives what the live one gives, in every bit, for boats of one to four unlike shafts.

Two kinds of ticks: a boat that is switched on, put under way and then loses and regains inputs at random, for the
histories; and states and inputs drawn at random, for what no history reaches soon.
"""

import random
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from boatyard.bits import differences
from boatyard.boats import frozen
from boatyard.rig import BOAT_AT_REST, SHAFT_AT_REST
from boatyard.states import FlatBoat, FlatShaft, kept_boat, kept_shaft
from boatyard.wandering import Wandering

from supervisor.rules import Boat, Memory, ShaftLatch, initial_memory, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs

pytest.importorskip("numba")

from sim.fast import built
from sim.fast.packed import packed

Moment = tuple[Memory, BoatInputs, tuple[ShaftInputs, ...], float]
READY, LASTS = 60, 250


def voyages(boat: Boat, luck: random.Random, ticks: int) -> Iterator[Moment]:
    """Moments of boats under way, each from what the live rules made of the one before."""
    for number in range(ticks):
        stage = number % LASTS
        if stage == 0:  # a fresh boat now and then: most wanderings end in a trip
            memory = initial_memory(boat)
            about = Wandering(BOAT_INPUTS, BOAT_AT_REST, luck)
            sides = [Wandering(SHAFT_INPUTS, SHAFT_AT_REST, luck) for _ in boat.shafts]
        about.values["helm.enable"] = stage == 40
        if stage in (READY, 150):
            for side in sides:
                side.values["lever.lever_pct"], side.values["lever.neutral"] = luck.choice([60.0, -80.0]), False
                side.values["drive.machine_speed_rpm"] = luck.choice([0.0, 300.0, -300.0, 900.0])
        if stage >= READY:
            about.move(luck.choice([0, 0, 0, 1]))
            for side in sides:
                side.move(luck.choice([0, 0, 1, 2]))
        moment = memory, about.inputs(BoatInputs), tuple(side.inputs(ShaftInputs) for side in sides), 0.0
        dt_s = luck.choice([0.02, 0.02, 0.02, 0.0, 0.3, float("nan")])
        yield *moment[:3], dt_s
        memory = run_tick(boat, *moment[:3], dt_s).memory


def wild(boat: Boat, luck: random.Random, ticks: int) -> Iterator[Moment]:
    """Moments with nothing in common: any mode, any latches, inputs anywhere in their range, some no numbers."""
    for _ in range(ticks):
        about = Wandering(BOAT_INPUTS, BOAT_AT_REST, luck)
        about.move(luck.choice([0, 0, 1, 4]))
        boat_in = about.inputs(BoatInputs)._replace(
            voltage_v=luck.uniform(48, 57), soc_pct=luck.uniform(10, 96), cell_max_v=luck.uniform(3.2, 3.56),
            cell_min_v=luck.uniform(2.7, 3.3), cell_hot_c=luck.uniform(10, 46), cell_cold_c=luck.uniform(-2, 20),
        )  # fmt: skip
        shaft_in = tuple(_somewhere(luck, boat_in.voltage_v) for _ in boat.shafts)
        if luck.random() < 0.2:
            boat_in = _anything(BOAT_INPUTS, BoatInputs, luck)
            shaft_in = tuple(_anything(SHAFT_INPUTS, ShaftInputs, luck) for _ in boat.shafts)
        state = kept_boat(FlatBoat(
            mode=luck.choice([0, 1, 2, 2, 2, 3]), latches=luck.getrandbits(14), hotel_a=luck.uniform(-50, 80),
            brake_a=luck.uniform(0, 300), brake_spent_s=luck.uniform(0, 12), age_s=luck.choice([0.0, 0.5, 100.0]),
        ))  # fmt: skip
        shafts = tuple(kept_shaft(FlatShaft(
            mode=luck.randrange(6), latches=latches(luck), torque_nm=luck.uniform(-110, 110),
            charge_a=luck.choice([0.0, luck.uniform(0, 120)]), order_pct=luck.uniform(-100, 100),
            last_sign=luck.choice([-1, 0, 1]), zero_s=luck.uniform(0, 1), sag_ref_rpm=luck.uniform(0, 3000),
            steady_s=luck.uniform(0, 6), ramp_nm_per_s=luck.uniform(0, 40), unload_s=luck.choice([-1.0, 0.5]),
            held_s=luck.choice([-1.0, 0.3]), load_nm=luck.uniform(0, 50),
        )) for _ in boat.shafts)  # fmt: skip
        yield Memory(state, shafts), boat_in, shaft_in, luck.choice([0.02, 0.02, 0.05, 1.0])


def latches(luck: random.Random) -> int:
    """Those of a shaft that has begun to work, mostly; or any."""
    if luck.random() < 0.2:
        return luck.getrandbits(18)
    works = ShaftLatch.REARMED | ShaftLatch.LINK_WAS_CHARGED | ShaftLatch.IN_SERVICE | ShaftLatch.CHARGE_ARMED
    some = luck.getrandbits(18) & int(
        ShaftLatch.HARVEST_ARMED | ShaftLatch.SLOW_RAMP | ShaftLatch.BEGUN | ShaftLatch.PAUSED | ShaftLatch.HOLD_ARMED
    )
    return int(works | ShaftLatch.HARVEST_ARMED) | some


def _somewhere(luck: random.Random, voltage_v: float) -> ShaftInputs:
    """A shaft that turns, its lever and selectors anywhere, most of its contacts as they should be."""
    side = Wandering(SHAFT_INPUTS, SHAFT_AT_REST, luck)
    rpm = luck.choice([0.0, luck.uniform(-1400.0, 1400.0)])
    lever_pct = luck.choice([0.0, luck.uniform(-100.0, 100.0)])
    engine = luck.random() < 0.4
    side.values |= {
        "drive.machine_speed_rpm": rpm, "shaft.propeller_speed_rpm": rpm, "drive.link_v": voltage_v,
        "lever.lever_pct": lever_pct, "lever.neutral": abs(lever_pct) < 5.0, "engine.running": engine,
        "engine.engine_speed_rpm": 1800.0 if engine else 0.0,
        "shaft.charge_under_way": luck.random() < 0.3, "shaft.charge_at_rest": luck.random() < 0.3,
        "shaft.harvest": luck.random() < 0.3, "shaft.stop_and_lock": luck.random() < 0.1,
    }  # fmt: skip
    if engine and luck.random() < 0.6:  # in gear, at the speed that the gearbox makes of it
        side.values |= {
            "gearbox.neutral": False, "gearbox.ahead": True, "gearbox.gear_report": 1.0,
            "drive.machine_speed_rpm": 720.0, "shaft.propeller_speed_rpm": 720.0, "shaft.charge_under_way": True,
        }  # fmt: skip
    side.move(luck.choice([0, 0, 1, 3]))
    inputs: ShaftInputs = side.inputs(ShaftInputs)
    return inputs


def _anything(specs: tuple[InputSpec, ...], kind: type, luck: random.Random) -> Any:
    everything = sum(int(spec.bit) for spec in specs)
    gaps = luck.getrandbits(40) & luck.getrandbits(40) & luck.getrandbits(40) if luck.random() < 0.3 else 0
    known = everything & ~gaps
    odd = [float("nan"), float("inf")] if luck.random() < 0.1 else []
    numbers = {
        spec.field: luck.choice([spec.low, spec.high, 0.0, luck.uniform(spec.low, spec.high), *odd])
        for spec in specs
        if spec.field
    }
    return kind(known=known, on=luck.getrandbits(40) & known, **numbers)


def unlike(boat: Boat) -> Boat:
    """Shafts that differ: none may be taken for another."""
    return boat._replace(
        shafts=tuple(
            one._replace(
                rated_torque_nm=one.rated_torque_nm * (1.0 + 0.07 * index),
                rated_power_w=one.rated_power_w * (1.0 - 0.05 * index),
                torque_slew_nm_per_s=one.torque_slew_nm_per_s * (1.0 + 0.11 * index),
            )
            for index, one in enumerate(boat.shafts)
        )
    )


def compare(shafts: int, ticks: int, seed: int) -> tuple[Counter[int], Counter[int]]:
    """How often each boat mode and each shaft mode came out; the two ticks were the same in each."""
    boat = unlike(frozen(shafts=shafts))
    fast = built(shafts).tick
    limits = Boat(packed(boat.limits), tuple(packed(one) for one in boat.shafts))
    luck = random.Random(seed)
    modes: Counter[int] = Counter()
    shaft_modes: Counter[int] = Counter()
    for course in (voyages, wild):
        for memory, boat_in, shaft_in, dt_s in course(boat, luck, ticks // 2):
            live = run_tick(boat, memory, boat_in, shaft_in, dt_s)
            assert not differences(live, fast(limits, memory, boat_in, shaft_in, dt_s)), (
                memory,
                boat_in,
                shaft_in,
                dt_s,
            )
            modes[live.memory.boat.mode] += 1
            shaft_modes.update(state.mode for state in live.memory.shafts)
    return modes, shaft_modes


@pytest.mark.parametrize("shafts", [2])
def test_the_tick_compiled_is_the_live_tick(shafts: int) -> None:
    modes, shaft_modes = compare(shafts, 6000, 20 + shafts)
    assert min(modes[mode] for mode in range(4)) > 10, modes
    assert min(shaft_modes[mode] for mode in range(6)) > 10, shaft_modes


@pytest.mark.campaign
@pytest.mark.parametrize("shafts", [1, 2, 3, 4])
def test_the_tick_compiled_is_the_live_tick_for_a_hundred_thousand(shafts: int) -> None:
    modes, shaft_modes = compare(shafts, 100_000, 40 + shafts)
    assert min(modes[mode] for mode in range(4)) > 100, modes
    assert min(shaft_modes[mode] for mode in range(6)) > 100, shaft_modes
