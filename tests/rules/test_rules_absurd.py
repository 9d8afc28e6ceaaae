"""Whatever comes in: finite orders within the ratings, no exception, and the invariants of the specification.

Random inputs, missing, NaN, infinite and absurd ones, ticks of 0, negative, huge and NaN length, one to four shafts.
"""

import math
from typing import Any

import pytest
from boatyard.boats import frozen
from boatyard.rig import Kept, Rig
from boatyard.states import flat_boat, flat_shaft
from hypothesis import given
from hypothesis import strategies as st

from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import ShaftLatch, initial_memory, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs, ShaftPermit

ODD = [0.0, -0.0, 1e-300, -1e-300, 1e300, -1e300, math.nan, math.inf, -math.inf, 100.0, -100.0, 5e-324]
DT = st.one_of(st.sampled_from([0.02, 0.0, -1.0, 1e9, math.nan, math.inf, -math.inf, 0.1, 5e-324]), st.floats(0, 0.2))


def _numbers(spec: InputSpec) -> st.SearchStrategy[float]:
    return st.one_of(st.floats(spec.low, spec.high), st.sampled_from([spec.low, spec.high, *ODD]))


def _level(kind: type, specs: tuple[InputSpec, ...]) -> st.SearchStrategy[Any]:
    """Any inputs at all: mostly known, values mostly within range."""
    fields = {spec.field: _numbers(spec) for spec in specs if spec.field}
    everything = sum(int(spec.bit) for spec in specs)
    known = st.one_of(st.just(everything), st.integers(0, everything))
    return st.builds(
        lambda k, on, numbers: kind(known=k, on=on & k, **numbers), known, st.integers(0, everything),
        st.fixed_dictionaries(fields),
    )  # fmt: skip


BOAT_IN, SHAFT_IN = _level(BoatInputs, BOAT_INPUTS), _level(ShaftInputs, SHAFT_INPUTS)


@pytest.mark.parametrize("shafts", [1, 2, 4])
@given(data=st.data())
def test_any_inputs_in_any_order_give_finite_orders_within_the_ratings(shafts: int, data: st.DataObject) -> None:
    boat = frozen(shafts=shafts)
    memory = initial_memory(boat)
    for _ in range(4):
        boat_in = data.draw(BOAT_IN)
        shaft_in = [data.draw(SHAFT_IN) for _ in range(shafts)]
        tick = run_tick(boat, memory, boat_in, shaft_in, data.draw(DT))
        memory = tick.memory
        for command in tick.shaft_commands:
            assert math.isfinite(command.torque_nm)
            assert abs(command.torque_nm) <= 110.0
            assert math.isfinite(command.current_a)
        assert math.isfinite(tick.boat_command.charge_limit_a)
        assert 0.0 <= tick.boat_command.charge_limit_a <= 240.0
        assert 0.0 <= tick.boat_command.derate_pct <= 100.0
        for state in (flat_boat(memory.boat), *map(flat_shaft, memory.shafts)):
            assert all(math.isfinite(value) for value in state)


SPOILS = [
    (name, value)
    for level in (BOAT_INPUTS, SHAFT_INPUTS)
    for spec in level
    for name in ([spec.name] if level is BOAT_INPUTS else [f"port.{spec.name}"])
    for value in ([None, True, False] if spec.is_contact else [None, math.nan, math.inf, -math.inf, 1e300, -1e300])
]


@pytest.mark.parametrize("mode", ["propel", "generate", "generate_at_rest", "harvest", "handset"])
def test_each_input_spoilt_in_each_mode(mode: str) -> None:
    """No spoilt input may raise, or let torque grow by more than one step of the slew in its tick."""
    rig = getattr(Rig(), mode)()
    rig.run(4.0)
    back = rig.save()
    for name, value in SPOILS:
        back()
        was = [abs(rig.torque(shaft)) for shaft in rig.names]
        rig[name] = value
        rig.obey = False
        for number in range(1, 4):
            rig.tick()
            for shaft, before in zip(rig.names, was, strict=True):
                rig.expect_that(
                    f"{name} = {value} in {mode}", abs(rig.torque(shaft)) <= before + number * 5.0 + 1e-9,
                    f"at most {before + number * 5.0:.1f} N m", rig.torque(shaft), shaft,
                )  # fmt: skip


@pytest.mark.sr("SR-24")
@pytest.mark.parametrize("mode", ["propel", "generate", "harvest"])
@pytest.mark.parametrize("dt_s", [0.0, -5.0, math.nan, math.inf, -math.inf, 1e9])
def test_a_clock_gone_mad_changes_no_order_by_more_than_a_tick(mode: str, dt_s: float) -> None:
    rig = getattr(Rig(), mode)()
    rig.run(3.0)
    now_s, was = rig.now_s, rig.torque("port")
    rig.tick(dt_s)
    assert abs(rig.torque("port") - was) <= 250.0 * 0.1 + 1e-9
    rig.now_s = now_s + 1.0
    rig.tick()
    assert math.isfinite(rig.torque("port"))
    rig.run(0.5)


def test_time_that_stands_still_lets_nothing_grow() -> None:
    rig = Rig().ready()
    rig.levers(100)
    rig.tick()
    was = rig.torque("port")
    for _ in range(200):
        rig.tick(0.0)
    assert rig.torque("port") <= was + 1e-12


# ---- a random walk of a boat, with the invariants of section 5 checked at every tick

STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("lever"), st.sampled_from([0, 0, 30, 100, -60, None])),
        st.tuples(st.just("press"), st.sampled_from(["helm.enable", "helm.reset", "helm.acknowledge", "helm.disable"])),
        st.tuples(st.just("rpm"), st.sampled_from([0.0, 4.0, 50.0, 99.0, 120.0, 600.0, 900.0, -200.0])),
        st.tuples(st.just("engine"), st.sampled_from([(0, "neutral"), (900, "neutral"), (2000, "ahead")])),
        st.tuples(st.just("clutch"), st.sampled_from(["closed", "open", "transit"])),
        st.tuples(st.just("lock"), st.sampled_from(["released", "engaged", "transit"])),
        st.tuples(st.just("select"), st.sampled_from(["charge_under_way", "charge_at_rest", "harvest", "none"])),
        st.tuples(st.just("contact"), st.sampled_from([
            "bank.charge_permit", "bank.discharge_permit", "bank.fault", "helm.emergency_stop", "helm.diver_lockout",
            "helm.shore_connected", "handset.held", "port.drive.fault", "port.shaft.out_of_service",
            "helm.full_charge", "helm.get_home", "bank.contactor_closed"])),
        st.tuples(st.just("soc"), st.sampled_from([10.0, 18.5, 25.0, 60.0, 89.0, 93.0, 95.0, None])),
        st.tuples(st.just("wait"), st.sampled_from([1, 5, 40])),
    ),
    min_size=5, max_size=40,
)  # fmt: skip

STARTS = {
    "ready": Kept(lambda: Rig(shafts=1).ready()),
    "propel": Kept(lambda: Rig(shafts=1).propel(60.0, 1.0, 300.0)),
    "generate": Kept(lambda: Rig(shafts=1).generate(15.0)),
    "at rest": Kept(lambda: Rig(shafts=1).generate_at_rest(15.0)),
    "harvest": Kept(lambda: Rig(shafts=1).harvest(8.0)),
    "handset": Kept(lambda: Rig(shafts=1).handset()),
}
HELD = BoatMode.READY


def _step(rig: Rig, what: str, how: Any) -> None:
    if what == "lever":
        rig["port.lever.lever_pct"] = None if how is None else float(how)
        rig["port.lever.neutral"] = None if how is None else how == 0
    elif what == "rpm":
        rig.speed("port", how)
    elif what == "engine":
        rig.engine("port", *how)
    elif what == "clutch":
        rig["port.clutch.closed"], rig["port.clutch.open"] = how == "closed", how == "open"
    elif what == "lock":
        rig["port.lock.released"], rig["port.lock.engaged"] = how == "released", how == "engaged"
    elif what == "select":
        for selector in ("charge_under_way", "charge_at_rest", "harvest"):
            rig[f"port.shaft.{selector}"] = selector == how
    elif what == "contact":
        rig[how] = not rig[how]
    elif what == "soc":
        rig["bank.soc_pct"] = how


def _invariants(rig: Rig, was_nm: float, was_mode: str) -> None:
    out = rig.out
    assert out is not None
    torque, rpm = rig.torque("port"), rig["port.drive.machine_speed_rpm"]
    mode = out.shaft_modes[0]

    def hold(rule: str, holds: bool) -> None:
        rig.expect_that(rule, holds, "the rule holds", (mode.name, torque, rpm), "port")

    on = torque != 0.0
    hold("no torque outside READY", not on or out.boat_mode is HELD)
    hold("no torque in REST or ISOLATED", not on or mode not in (ShaftMode.REST, ShaftMode.ISOLATED))
    hold("torque only with the drive enabled", not on or bool(rig.permits("port") & ShaftPermit.DRIVE_ENABLE))
    hold("no torque with a trip present", not on or not (
        rig["bank.fault"] or rig["helm.emergency_stop"] or rig["port.drive.fault"] or not rig["bank.contactor_closed"]
    ))  # fmt: skip
    hold("no torque with a diver", not on or not rig["helm.diver_lockout"])
    hold("no torque on a shaft out of service", not on or not rig["port.shaft.out_of_service"])
    charging = abs(rpm) > 5.0 and torque * rpm < 0
    hold("no charging without the permit", not charging or rig["bank.charge_permit"])
    # thrust that opposes rotation brakes, on its way down in UNLOAD too: braking is not charging (SR-51)
    unloads = mode is ShaftMode.UNLOAD and rig.controller.memory.shafts[0].latches & ShaftLatch.UNLOADS_SOURCE
    source = charging and (mode in (ShaftMode.GENERATE, ShaftMode.HARVEST) or bool(unloads))
    hold("no charging with an unknown SOC", not source or rig["bank.soc_pct"] is not None)
    hold(
        "no charging above 94 % without a full charge",
        not source or rig["bank.soc_pct"] < 94 or rig["helm.full_charge"],
    )
    hold("no driving without the permit", not on or charging or rig["bank.discharge_permit"])
    hold("a clutch in transit is no torque", not on or rig["port.clutch.closed"] != rig["port.clutch.open"])
    hold("a lock in transit is no torque", not on or rig["port.lock.released"] != rig["port.lock.engaged"])
    if mode in (ShaftMode.GENERATE, ShaftMode.HARVEST):
        hold("sources only oppose, above 100 rpm", not on or (charging and abs(rpm) >= 100))
    if abs(torque) > abs(was_nm) or torque * was_nm < 0:
        hold("torque grows by the slew", abs(torque - was_nm) <= 250.0 * 0.02 + 1e-9)
        hold(
            "torque grows only where an order stands", mode in (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST)
        )
    if was_mode != "PROPEL" and mode is ShaftMode.PROPEL:
        lever = rig["port.lever.lever_pct"]
        hold("PROPEL begins with an order", rig["handset.held"] or (lever is not None and abs(lever) > 5))
    hold("never beyond rated torque", abs(torque) <= 110.0)


@given(start=st.sampled_from(list(STARTS)), steps=STEPS)
def test_a_random_walk_keeps_every_invariant(start: str, steps: list[tuple[str, Any]]) -> None:
    rig = STARTS[start]()
    for what, how in steps:
        was_nm, was_mode = rig.torque("port"), rig.mode("port")
        if what == "press":
            rig[how] = True
            rig.tick()
            _invariants(rig, was_nm, was_mode)
            was_nm, was_mode = rig.torque("port"), rig.mode("port")
            rig[how] = False
        else:
            _step(rig, what, how)
        for _ in range(how if what == "wait" else 2):
            rig.tick()
            _invariants(rig, was_nm, was_mode)
            was_nm, was_mode = rig.torque("port"), rig.mode("port")
