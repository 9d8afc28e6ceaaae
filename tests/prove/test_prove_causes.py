"""Each cause of each requirement: rules that do not hear it, or decide against it, are caught by evaluator and claims.

A row is a requirement, the situation that the boat is in, and what the rules do not hear. An evaluator that forgets the
cause, or claims that do not forbid the tick, fail here. Numbers are typed by hand from the boat file of marsh_tern.
"""

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, NamedTuple

import pytest

from sim.prove import forged
from sim.prove.claims_numbers import NUMBER_CLAIMS
from sim.prove.directed import Runs, SoundInputs, Standing, Wrong, at_rest, situations
from sim.prove.forming import forming_claims
from sim.prove.parity import Forbidding, StepJudges
from sim.prove.rests_on import claims_with
from sim.prove.step import Step
from sim.prove.streams import BOAT_BY_FIELD, SHAFT_BY_FIELD, frozen
from sim.requirements.facts import BOAT, SHAFT
from supervisor.config import load_config
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, BoatMode, ShaftMode
from supervisor.rules import tick
from supervisor.signals import Alarm, ShaftPermit

CONFIG = load_config("marsh_tern")
LIMITS = frozen(CONFIG)
CLAIMS = claims_with((*forming_claims(CONFIG), *NUMBER_CLAIMS))
FORBIDDING = Forbidding(CLAIMS)
NAMES = ("port", "starboard")
RUNS = Runs(CONFIG, LIMITS)


def boat(name: str, *, lost: bool = False) -> Wrong:
    """A contact or number of the boat flipped, or lost."""
    return Wrong(-1, getattr(BOAT, name), lost=lost)


def port(name: str, *, lost: bool = False) -> Wrong:
    """The same of the port shaft."""
    return Wrong(0, getattr(SHAFT, name), lost=lost)


def reads(**numbers: float) -> Wrong:
    """A number of the boat or of the port shaft at a value."""
    ((field, value),) = numbers.items()
    if field in BOAT_BY_FIELD and field != "current_a":
        return Wrong(-1, int(BOAT_BY_FIELD[field].bit), field, value)
    return Wrong(0, int(SHAFT_BY_FIELD[field].bit), field, value)


def more_situations() -> dict[str, list[Standing]]:
    """Besides those of `situations`: what a cause needs that they do not show."""
    rest, ways = at_rest(CONFIG), situations(CONFIG)
    ready = ways["ready"]
    fast = rest.all_sides(off=SHAFT.LEVER_NEUTRAL, lever_pct=100.0, machine_speed_rpm=1000.0,
                          propeller_speed_rpm=1000.0)  # fmt: skip
    under_way = ways["generate"][-1][1]
    reset = rest.helm(on=BOAT.RESET)
    asks = rest.all_sides(off=SHAFT.LEVER_NEUTRAL, lever_pct=60.0)
    sailing = rest.all_sides(machine_speed_rpm=350.0, propeller_speed_rpm=350.0)
    return {
        "asks ahead": [*ready, (0, asks)],
        "asks to harvest": [*ready, (3, sailing), (0, sailing.all_sides(on=SHAFT.HARVEST))],
        "enabling": [(60, rest), (1, rest.helm(on=BOAT.ENABLE))],
        "fast ahead": [*ready, (120, fast)],
        "reset pressed while isolated": [*ways["isolated"], (0, reset)],
        "reset pressed while tripped": [*ways["tripped"], (0, reset)],
        "charging ended": [*ways["generate"], (60, under_way.helm(soc_pct=95.0)), (5, under_way.helm(soc_pct=92.0))],
        "still for a second": [*ready, (20, rest.all_sides(machine_speed_rpm=60.0)), (50, rest)],
        "reset held while tripped": [
            *ways["tripped"][:-1],
            (3, reset.helm(on=BOAT.EMERGENCY_STOP)),
            (5, reset),
        ],
        "reset held while isolated": [
            *ways["isolated"][:-1],
            (3, reset.all_sides(on=SHAFT.DRIVE_FAULT)),
            (5, reset),
        ],
        "enable held": [(60, rest.helm(on=BOAT.ENABLE))],
        "disobeying": [*ready, (12, reads(torque_nm=20.0).apply(rest))],
    }


WAYS = situations(CONFIG) | more_situations()


@cache
def arrived(name: str) -> tuple[tuple[Step, ...], StepJudges]:
    """The way into a situation, and evaluators that saw it."""
    looking = StepJudges(LIMITS, NAMES)
    steps = RUNS.approach(WAYS[name])
    for step in steps:
        looking.at(step)
    return tuple(steps), looking


class Row(NamedTuple):
    """One cause. `ticks` is how long it lasts."""

    requirement: str
    situation: str
    wrongs: tuple[Wrong, ...]
    ticks: int = 6


def rows() -> list[Any]:
    found: list[Row] = []

    def add(requirement: str, situations_: str, *wrongs: Wrong, ticks: int = 6) -> None:
        found.extend(Row(requirement, name, wrongs, ticks) for name in situations_.split(", "))

    for lever in (reads(lever_pct=30.0), port("LEVER_NEUTRAL"), port("LEVER", lost=True),
                  port("LEVER_NEUTRAL", lost=True)):  # fmt: skip
        add("SR-01", "enabling", lever, ticks=12)
        add("SR-29", "handset", lever)
    for stop in (boat("EMERGENCY_STOP"), boat("MONITOR_FAULT"), boat("RECEIVE_OK"), boat("DEADLINE_OK")):
        add("SR-03", "ahead, generate, harvest", stop)
        add("SR-03", "waiting", stop)
    for name in ("RECEIVE_OK", "DEADLINE_OK", "CONTACTOR_CLOSED", "MONITOR_FAULT", "MONITOR_OPENING", "DISABLE",
                 "EMERGENCY_STOP"):  # fmt: skip
        add("SR-03", "ahead, generate", boat(name, lost=True))
    for cause in ("EMERGENCY_STOP", "MONITOR_FAULT"):
        add("SR-04", "reset pressed while tripped", boat(cause))
    for cause in (boat("DIVER_LOCKOUT"), boat("DISCHARGE_PERMIT"), port("OUT_OF_SERVICE"), reads(motor_c=141.0),
                  reads(inverter_c=86.0), reads(coolant_c=71.0)):  # fmt: skip
        add("SR-05", "ahead, astern", cause)
    for contact in (port("LOCK_RELEASED"), port("CLUTCH_CLOSED")):
        add("SR-05", "ahead, astern", contact, ticks=14)  # for less it may be a pause
    add("SR-05", "ahead, astern", port("ENGINE_RUN"), port("GEAR_NEUTRAL"), ticks=14)
    for wrong in (port("LOCK_RELEASED"), port("CLUTCH_CLOSED")):
        add("SR-62", "ahead, astern", wrong, ticks=14)
    for cause in (port("LEVER_NEUTRAL"), port("LEVER", lost=True), reads(torque_nm=20.0),
                  port("MACHINE_SPEED", lost=True),
                  port("DRIVE_FAULT"), port("TORQUE", lost=True)):  # fmt: skip
        add("SR-06", "reset pressed while isolated", cause, ticks=2)
    for name in ("LOCK_RELEASED", "LOCK_ENGAGED"):
        add("SR-07", "ahead, generate, harvest", port(name))
        add("SR-07", "ahead, generate, harvest", port(name, lost=True))
    add("SR-07", "at rest", port("LOCK_RELEASED"))
    for name in ("CLUTCH_CLOSED", "CLUTCH_OPEN"):
        add("SR-08", "ahead, generate", port(name))
        add("SR-08", "ahead, generate", port(name, lost=True))
        add("SR-08", "at rest", port(name))
    add("SR-08", "ahead, harvest", port("CLUTCH_CLOSED"), port("CLUTCH_OPEN"))
    for lost in (port("GEAR_NEUTRAL"), port("GEAR_NEUTRAL", lost=True), port("GEAR_AHEAD"), reads(gear_report=1.0)):
        add("SR-09", "ahead, astern", port("ENGINE_RUN"), lost)
        add("SR-09", "ahead", reads(engine_speed_rpm=900.0), lost)
    for contact in (boat("DIVER_LOCKOUT"), boat("DIVER_LOCKOUT", lost=True)):
        add("SR-10", "ahead, generate, at rest, harvest, handset, lever lost", contact)
    add("SR-37", "ready", boat("DIVER_LOCKOUT"))
    for contact in (boat("SHORE_CONNECTED"), boat("SHORE_CONNECTED", lost=True)):
        add("SR-11", "asks ahead, asks to harvest", contact)
    for speed in (reads(propeller_speed_rpm=20.0), port("PROPELLER_SPEED", lost=True)):
        add("SR-12", "at rest", speed)
    for cause in (boat("CHARGE_PERMIT"), boat("CHARGE_PERMIT", lost=True), reads(charge_limit_a=0.0),
                  boat("CHARGE_LIMIT", lost=True), boat("CONTACTOR_CLOSED"), boat("MONITOR_OPENING")):  # fmt: skip
        add("SR-13", "generate, at rest, harvest, crash stop", cause)
    for cause in (boat("DISCHARGE_PERMIT"), boat("DISCHARGE_PERMIT", lost=True), reads(discharge_limit_a=0.0),
                  boat("DISCHARGE_LIMIT", lost=True), boat("CONTACTOR_CLOSED"), boat("MONITOR_OPENING")):  # fmt: skip
        add("SR-14", "ahead, astern, handset", cause)
    for cause in (reads(charge_limit_a=2.0), reads(soc_pct=93.9), reads(cell_max_v=3.549), reads(cell_hot_c=44.9),
                  boat("SOC", lost=True), boat("CELL_MAX", lost=True), boat("CHARGE_LIMIT", lost=True)):  # fmt: skip
        add("SR-15", "generate", cause, ticks=3)
    for cause in (reads(cell_cold_c=-0.5), reads(cell_hot_c=45.5), boat("CELL_COLD", lost=True),
                  boat("CELL_HOT", lost=True)):  # fmt: skip
        add("SR-16", "generate, harvest", cause)
    for cause in (reads(charge_limit_a=2.0), reads(cell_max_v=3.549), reads(cell_cold_c=-0.5), reads(cell_hot_c=45.5),
                  boat("CELL_COLD", lost=True), boat("CELL_HOT", lost=True), boat("CELL_MAX", lost=True)):  # fmt: skip
        add("SR-51", "crash stop", cause)
    for cause in (reads(soc_pct=19.0), reads(cell_min_v=2.82), boat("SOC", lost=True), reads(soc_pct=17.0),
                  reads(cell_min_v=2.7), boat("CELL_MIN", lost=True)):  # fmt: skip
        add("SR-18", "fast ahead", cause, ticks=150)
    for cause in (reads(engine_speed_rpm=450.0), reads(propeller_speed_rpm=2000.0), port("ENGINE_SPEED", lost=True),
                  port("PROPELLER_SPEED", lost=True)):  # fmt: skip
        add("SR-21", "generate", cause)
    for cause in (port("ENGINE_RUN"), port("ENGINE_RUN", lost=True), reads(engine_speed_rpm=300.0),
                  port("ENGINE_SPEED", lost=True), reads(machine_speed_rpm=60.0), reads(machine_speed_rpm=-640.0),
                  port("MACHINE_SPEED", lost=True)):  # fmt: skip
        add("SR-23", "generate", cause)
    for cause in (port("LEVER", lost=True), port("LEVER_NEUTRAL", lost=True), port("LEVER_NEUTRAL")):
        add("SR-26", "ahead", cause, ticks=160)
    for cause in (boat("HANDSET_OURS"), boat("HANDSET_OURS", lost=True), boat("HANDSET_HELD", lost=True),
                  port("HANDSET_THRUST", lost=True)):  # fmt: skip
        add("SR-27", "handset", cause)
    for cause in (boat("HANDSET_HELD"), boat("HANDSET_OURS"), boat("HANDSET_HELD", lost=True)):
        add("SR-29", "handset", cause)
    for name in ("MACHINE_SPEED", "TORQUE", "CURRENT", "DRIVE_FAULT"):
        add("SR-30", "ahead, ready, generate", port(name, lost=True))
    add("SR-30", "ahead, ready", port("DRIVE_FAULT"))
    for cause in (reads(torque_nm=20.0), reads(torque_nm=-20.0), Wrong(0, SHAFT.CURRENT, "current_a", 20.0)):
        add("SR-32", "ready", cause, ticks=12)
    for cause in (reads(link_v=40.0), port("LINK_VOLTAGE", lost=True), boat("VOLTAGE", lost=True)):
        add("SR-33", "enabling", cause, ticks=12)
    for cause in (boat("CONTACTOR_CLOSED"), boat("CONTACTOR_CLOSED", lost=True)):
        add("SR-34", "ahead, generate, harvest", cause)
    for cause in (port("GEAR_NEUTRAL"), port("GEAR_AHEAD"), reads(gear_report=1.0)):
        add("SR-37", "ready", cause)
        add("SR-38", "ready", cause)
    add("SR-38", "ready", port("GEAR_NEUTRAL", lost=True))
    for cause in (reads(torque_nm=20.0), port("TORQUE", lost=True)):
        add("SR-37", "ready", cause, ticks=3)
    for cause in (port("LEVER_NEUTRAL"), reads(lever_pct=30.0), port("LEVER", lost=True),
                  reads(propeller_speed_rpm=40.0), port("PROPELLER_SPEED", lost=True),
                  port("MACHINE_SPEED", lost=True)):  # fmt: skip
        add("SR-38", "ready", cause)
    for cause in (reads(propeller_speed_rpm=6.0), reads(machine_speed_rpm=-6.0), port("PROPELLER_SPEED", lost=True),
                  port("MACHINE_SPEED", lost=True)):  # fmt: skip
        add("SR-39", "standby", cause, ticks=120)
    add("SR-40", "generate", boat("SOC", lost=True))
    for cause in (port("ENGINE_RUN"), port("GEAR_NEUTRAL"), port("CLUTCH_CLOSED")):
        add("SR-41", "harvest", cause)
    add("SR-42", "ahead", reads(machine_speed_rpm=1300.0))
    add("SR-43", "ready", reads(soc_pct=25.9))
    return [pytest.param(row, id=f"{row.requirement} {row.situation} {said(row.wrongs)}") for row in found]


def said(wrongs: Sequence[Wrong]) -> str:
    parts = []
    for wrong in wrongs:
        names = BOAT if wrong.side < 0 else SHAFT
        name = next(name for name, bit in vars(names).items() if bit == wrong.bit)
        parts.append(f"{name} {'lost' if wrong.lost else f'{wrong.value:g}' if wrong.field else 'flipped'}")
    return " and ".join(parts)


def violated(steps: Sequence[Step], looking: StepJudges, requirement: str) -> list[int]:
    """The ticks at which the evaluator of a requirement sees a violation."""
    found = []
    for number, step in enumerate(steps):
        notice = looking.at(step).get(requirement)
        if notice is not None and notice.violates:
            found.append(number)
    return found


@pytest.mark.parametrize("row", rows())
def test_a_cause_that_is_not_heard_is_seen(row: Row) -> None:
    before, looking = arrived(row.situation)
    scene: SoundInputs = WAYS[row.situation][-1][1]
    steps = list(RUNS.unheard(before[-1].now.memory, scene, row.wrongs, row.ticks))
    seen = violated(steps, looking.copy(), row.requirement)
    assert seen, "the evaluator sees no violation"
    assert FORBIDDING.explains(row.requirement, [*before, *steps[: seen[0] + 1]])


# --- what is decided against it, in one tick


def to_shaft(source: ShaftMode, dest: ShaftMode) -> int:
    return next(n for n, row in enumerate(SHAFT_TABLE) if row.source == source and row.dest == dest)


def to_boat(source: BoatMode, dest: BoatMode) -> int:
    return next(n for n, row in enumerate(BOAT_TABLE) if row.source == source and row.dest == dest)


def ready_at_once(step: Step) -> Step:
    memory = step.now.memory._replace(boat=step.now.memory.boat._replace(mode=int(BoatMode.READY)))
    return step._replace(now=step.now._replace(memory=memory))


ENABLE, START = ShaftPermit.DRIVE_ENABLE.value, ShaftPermit.ENGINE_START.value
CLOSE, ENGAGE = ShaftPermit.CLUTCH_CLOSE.value, ShaftPermit.LOCK_ENGAGE.value
FORGED: list[tuple[str, str, str, Callable[[Step], Step]]] = [
    ("SR-02", "standby", "torque", lambda s: forged.torque(s, 0, 3.0)),
    ("SR-02", "waiting", "torque of the second shaft", lambda s: forged.torque(s, 1, -3.0)),
    ("SR-02", "tripped", "enable", lambda s: forged.permit(s, 0, ENABLE)),
    ("SR-02", "ready", "torque at REST", lambda s: forged.torque(s, 0, 3.0)),
    ("SR-02", "isolated", "torque in ISOLATED", lambda s: forged.torque(s, 0, 3.0)),
    ("SR-04", "tripped", "READY out of TRIPPED", ready_at_once),
    ("SR-04", "standby", "READY out of STANDBY", ready_at_once),
    ("SR-04", "tripped", "no press of reset",
     lambda s: forged.boat_row(s, to_boat(BoatMode.TRIPPED, BoatMode.STANDBY))),
    ("SR-04", "standby", "no press of enable",
     lambda s: forged.boat_row(s, to_boat(BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT))),
    ("SR-06", "isolated", "no press of reset",
     lambda s: forged.shaft_row(s, 0, to_shaft(ShaftMode.ISOLATED, ShaftMode.REST))),
    ("SR-02", "waiting", "torque of a shaft at work",
     lambda s: forged.torque(forged.shaft_row(s, 0, to_shaft(ShaftMode.REST, ShaftMode.PROPEL)), 0, 3.0)),
    ("SR-04", "reset held while tripped", "reset was held",
     lambda s: forged.boat_row(s, to_boat(BoatMode.TRIPPED, BoatMode.STANDBY))),
    ("SR-04", "enable held", "enable was held",
     lambda s: forged.boat_row(s, to_boat(BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT))),
    ("SR-06", "reset held while isolated", "reset was held",
     lambda s: forged.shaft_row(s, 0, to_shaft(ShaftMode.ISOLATED, ShaftMode.REST))),
    ("SR-06", "reset pressed while isolated", "into thrust",
     lambda s: forged.shaft_row(s, 0, to_shaft(ShaftMode.REST, ShaftMode.PROPEL))),
    ("SR-32", "disobeying", "enable stays", lambda s: forged.permit(s, 0, ENABLE)),
    ("SR-32", "disobeying", "not isolated",
     lambda s: forged.shaft_row(s, 0, to_shaft(ShaftMode.ISOLATED, ShaftMode.REST))),
    ("SR-06", "isolated", "torque", lambda s: forged.torque(s, 0, 3.0)),
    ("SR-13", "ready", "charging", lambda s: forged.torque(s._replace(
        boat_in=s.boat_in._replace(on=s.boat_in.on & ~BOAT.CHARGE_PERMIT),
        shaft_in=(s.shaft_in[0]._replace(machine_speed_rpm=200.0), s.shaft_in[1])), 0, -3.0)),
    ("SR-17", "charging ended", "charging begins again",
     lambda s: forged.shaft_row(s, 0, to_shaft(ShaftMode.REST, ShaftMode.GENERATE))),
    ("SR-20", "generate", "current", lambda s: forged.current(s, 0, s.was.shafts[0].effort.charge_a + 0.2)),
    ("SR-24", "ahead", "a jump", lambda s: forged.torque(s, 0, s.was.shafts[0].effort.torque_nm + 5.5)),
    ("SR-24", "ahead", "through zero", lambda s: forged.torque(s, 0, -0.5)),
    ("SR-24", "generate", "a source jumps", lambda s: forged.torque(s, 0, s.was.shafts[0].effort.torque_nm - 5.5)),
    ("SR-23", "generate", "a source drives", lambda s: forged.torque(s, 0, 2.0)),
    ("SR-23", "unloading", "what unloads drives", lambda s: forged.torque(s, 0, 2.0)),
    ("SR-09", "lever lost", "thrust grows beside an engine in gear", lambda s: forged.torque(s._replace(
        shaft_in=(s.shaft_in[0]._replace(on=(s.shaft_in[0].on | SHAFT.ENGINE_RUN) & ~SHAFT.GEAR_NEUTRAL),
                  s.shaft_in[1])), 0, s.was.shafts[0].effort.torque_nm + 1.0)),
    ("SR-25", "crash stop", "reversed at once", lambda s: forged.torque(s, 0, 1.0)),
    ("SR-28", "handset", "more than its part", lambda s: forged.torque(s, 0, 56.0)),
    ("SR-31", "isolated now", "boat trips with one shaft",
     lambda s: forged.boat_row(s, to_boat(BoatMode.READY, BoatMode.TRIPPED))),
    ("SR-37", "ready", "torque ordered", lambda s: forged.torque(s, 0, 2.0)),
    ("SR-38", "ready", "torque ordered", lambda s: forged.torque(s, 0, 2.0)),
    ("SR-39", "still for a second", "too early", lambda s: forged.permit(s, 0, ENGAGE)),
    ("SR-39", "ahead", "under thrust", lambda s: forged.permit(s, 0, ENGAGE)),
    ("SR-37", "generate", "gear ahead", lambda s: forged.permit(s, 0, START)),
    ("SR-38", "generate", "gear ahead", lambda s: forged.permit(s, 0, CLOSE)),
    ("SR-26", "lever lost", "no alarm", lambda s: forged.alarm(s, Alarm.LEVER_LOST.value)),
    ("SR-43", "low bank", "no alarm of the band", lambda s: forged.alarm(s, Alarm.DERATE_BAND.value)),
    ("SR-40", "soc lost", "no alarm of the SOC", lambda s: forged.alarm(s, Alarm.SOC_UNKNOWN.value)),
]  # fmt: skip
WAYS["isolated now"] = [*WAYS["ahead"], (0, WAYS["ahead"][-1][1].one_side(0, on=SHAFT.DRIVE_FAULT))]
WAYS["soc lost"] = [*WAYS["ready"], (10, boat("SOC", lost=True).apply(at_rest(CONFIG)))]


@pytest.mark.parametrize(
    ("requirement", "situation", "name", "forge"), FORGED, ids=[f"{one[0]} {one[1]}, {one[2]}" for one in FORGED]
)
def test_a_tick_decided_against_it_is_seen(
    requirement: str, situation: str, name: str, forge: Callable[[Step], Step]
) -> None:
    before, looking = arrived(situation)
    sound = RUNS.step(before[-1].now.memory, WAYS[situation][-1][1])
    step = forge(sound)
    assert violated([step], looking.copy(), requirement) == [0], f"{name}: the evaluator sees no violation"
    assert not violated([sound], looking.copy(), requirement)
    assert FORBIDDING.explains(requirement, [step])


# --- what should have ended by now

SHORT = {
    "limits.neutral_wait_s": 1.0, "limits.disable_s": 1.0, "limits.idle_reminder_s": 1.0, "limits.idle_off_s": 1.0,
}  # fmt: skip
ENDLESS: list[tuple[str, str, BoatCondition]] = [
    ("SR-44", "waiting", BoatCondition.WAIT_EXPIRED),
    ("SR-45", "working on", BoatCondition.OFF_OVERDUE),
    ("SR-35", "ready", BoatCondition.IDLE_EXPIRED),
]


@pytest.mark.parametrize(("requirement", "situation", "bit"), ENDLESS, ids=[one[0] for one in ENDLESS])
@pytest.mark.parametrize("broken", [True, False], ids=["never ends", "sound"])
def test_what_does_not_end_is_seen(
    requirement: str, situation: str, bit: BoatCondition, broken: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The bit that ends a wait, an off or idleness is never set: three seconds in each, with times of one second."""
    config = load_config("marsh_tern", SHORT)
    limits = frozen(config)
    claims = claims_with((*forming_claims(config), *NUMBER_CLAIMS))
    if broken:
        sound = tick.boat_word
        monkeypatch.setattr(tick, "boat_word", lambda *given: sound(*given) & ~int(bit))
    if situation == "working on":  # a shaft that hears of no off goes on with its thrust
        with_boat = tick.with_boat
        monkeypatch.setattr(tick, "with_boat", lambda word, mode, reset, off: with_boat(word, mode, reset, False))
    ways = situations(config)
    ways["working on"] = [*ways["ahead"], (1, ways["ahead"][-1][1].helm(on=BOAT.DISABLE))]
    stages = ways[situation]
    runs, looking = Runs(config, limits), StepJudges(limits, NAMES)
    steps = runs.approach([*stages, (160, stages[-1][1])])
    seen = violated(steps, looking, requirement)
    assert bool(seen) is broken
    if broken:
        assert Forbidding(claims).explains(requirement, steps[: seen[0] + 1])
