"""Each evaluator on real voyages: it holds on what the controller did, and catches a forged record of the same voyage.

The numbers are typed by hand from the boat file of marsh_tern and the defaults in docs/boat-file.md.
"""

from collections.abc import Callable

import pytest
from requirement_voyages import (
    VOYAGES,
    B,
    S,
    forged,
    voyage,
    with_bank,
    with_boat_command,
    with_boat_mode,
    with_command,
    with_inputs,
    with_mode,
    with_torque,
)

from sim.requirements import JUDGES, Evaluator, Judgement, Record, evaluate
from sim.requirements.record import Tally
from supervisor.modes import BoatMode, ShaftMode
from supervisor.signals import Alarm, ShaftPermit

Forge = Callable[[list[Record]], list[Record]]


def judged(name: str, records: list[Record], identifier: str) -> Judgement:
    controller = voyage(name).controller
    evaluator = Evaluator(controller.boat, controller.shaft_names, only=(identifier,), from_power_up=True)
    for record in records:
        evaluator.feed(record)
    return evaluator.finish()[0]


def mode(record: Record, side: int = 0) -> int | None:
    return record.shaft_modes[side]


def torque(record: Record, side: int = 0) -> float:
    command = record.shaft_commands[side]
    return 0.0 if command is None else command.torque_nm


def working(wanted: ShaftMode) -> Callable[[Record], bool]:
    return lambda record: mode(record) == wanted and torque(record) != 0.0


def bank_on(bit: int) -> Callable[[Record], bool]:
    return lambda record: record.boat_in is not None and bool(record.boat_in.known & record.boat_in.on & bit)


def bank_off(bit: int) -> Callable[[Record], bool]:
    return lambda record: record.boat_in is not None and not record.boat_in.on & bit


def shaft_lacks(bit: int) -> Callable[[Record], bool]:
    return lambda record: record.shaft_in[0] is not None and not record.shaft_in[0].on & bit


def permits(bit: int) -> Callable[[Record], bool]:
    return lambda record: record.shaft_commands[0] is not None and bool(record.shaft_commands[0].permits & bit)


def boat_is(wanted: BoatMode) -> Callable[[Record], bool]:
    return lambda record: record.boat_mode == wanted


def f(when: Callable[[Record], bool], change: Callable[[Record], Record], most: int = 1) -> Forge:
    return lambda records: forged(records, when, change, most)


def propels(record: Record) -> bool:
    return mode(record) == ShaftMode.PROPEL


def ready_while_ahead(records: list[Record]) -> list[Record]:
    return forged(
        records, lambda r: r.boat_mode == BoatMode.NEUTRAL_WAIT and r.time_s > 2.0, with_boat_mode(BoatMode.READY)
    )


def never_isolated(records: list[Record]) -> list[Record]:
    lies = lambda r: r._replace(  # noqa: E731
        shaft_modes=(ShaftMode.REST, r.shaft_modes[1]),
        shaft_commands=(r.shaft_commands[0]._replace(permits=int(ShaftPermit.DRIVE_ENABLE)), r.shaft_commands[1]),
    )
    return [lies(r) if r.shaft_in[0].torque_nm == 40.0 else r for r in records]  # type: ignore[union-attr]


def thrust_for_ever(records: list[Record]) -> list[Record]:
    lost = [r for r in records if not r.shaft_in[0].known & S.LEVER]  # type: ignore[union-attr]
    return [with_mode(ShaftMode.UNLOAD, 20.0)(r) if r in lost else r for r in records]


def cold_for_ever(records: list[Record]) -> list[Record]:
    """Into cold cells beyond the time: the last ticks brake on."""
    cold = [r for r in records if r.boat_in.cell_cold_c < 0.0]  # type: ignore[union-attr]
    assert torque(cold[-1]) == 0.0
    return [with_torque(-9.0)(r) if r in cold[-20:] else r for r in records]


def no_astern(records: list[Record]) -> list[Record]:
    """Astern is asked of a sound bank, nothing comes, and nobody is told."""
    asked = [r for r in records if r.shaft_in[0].lever_pct < 0.0]  # type: ignore[union-attr]
    silent = with_boat_command(alarms=0)
    return [silent(with_torque(0.0, 1)(with_torque(0.0)(r))) if r in asked else r for r in records]


def _asks_at_rest(r: Record) -> bool:
    asks = mode(r) == ShaftMode.REST and not r.shaft_in[0].on & S.LEVER_NEUTRAL  # type: ignore[union-attr]
    return asks and bool(r.shaft_in[0].on & S.CLUTCH_CLOSED)  # type: ignore[union-attr]


def the_third_comes_back(records: list[Record]) -> list[Record]:
    """The first that was not given back: the third within ten seconds."""
    return forged(records, _asks_at_rest, with_mode(ShaftMode.PROPEL, 9.0), 5)


def back_too_late(records: list[Record]) -> list[Record]:
    """And the one after it, which was away for 0.4 s."""
    third = next(r.time_s for r in records if _asks_at_rest(r))
    return forged(records, lambda r: _asks_at_rest(r) and r.time_s > third + 5.0, with_mode(ShaftMode.PROPEL, 9.0), 5)


def not_back(records: list[Record]) -> list[Record]:
    """The contact of the first bounce is back, thrust is not, and nobody is told."""
    away = next(r.time_s for r in records if mode(r) == ShaftMode.REST and not r.shaft_in[0].on & S.CLUTCH_CLOSED)  # type: ignore[union-attr]
    late = [r for r in records if away < r.time_s < away + 0.5]
    return [with_boat_command(alarms=0)(with_mode(ShaftMode.REST, 0.0)(r)) if r in late else r for r in records]


def ready_for_ever(records: list[Record]) -> list[Record]:
    began = False
    result = []
    for record in records:
        began = began or record.boat_mode == BoatMode.READY
        result.append(with_boat_mode(BoatMode.READY)(record) if began else record)
    return result


def waits_for_ever(records: list[Record]) -> list[Record]:
    began = False
    result = []
    for record in records:
        began = began or record.boat_mode == BoatMode.NEUTRAL_WAIT
        result.append(with_boat_mode(BoatMode.NEUTRAL_WAIT)(record) if began else record)
    return result


DIVER = int(B.DIVER_LOCKOUT)
SHORE = int(B.SHORE_CONNECTED)
ENABLE = int(ShaftPermit.DRIVE_ENABLE)

CASES = [
    pytest.param("SR-01", "waits", ready_while_ahead, marks=pytest.mark.sr("SR-01")),
    pytest.param("SR-02", "trips", f(boat_is(BoatMode.STANDBY), with_torque(3.0)), marks=pytest.mark.sr("SR-02")),
    pytest.param(
        "SR-02", "off", f(boat_is(BoatMode.STANDBY), with_command(permits=ENABLE)), marks=pytest.mark.sr("SR-02")
    ),
    pytest.param("SR-03", "trips", f(bank_on(B.EMERGENCY_STOP), with_torque(1.0)), marks=pytest.mark.sr("SR-03")),
    pytest.param(
        "SR-03", "trips", f(bank_on(B.EMERGENCY_STOP), with_boat_mode(BoatMode.READY)), marks=pytest.mark.sr("SR-03")
    ),
    pytest.param("SR-04", "trips", f(boat_is(BoatMode.STANDBY), lambda r: r, 60), marks=pytest.mark.sr("SR-04")),
    pytest.param(
        "SR-05",
        "trips",
        f(
            lambda r: boat_is(BoatMode.STANDBY)(r) and r.time_s > 2.0,
            lambda r: with_mode(ShaftMode.PROPEL, 9.0)(with_boat_mode(BoatMode.READY)(r)),
        ),
        marks=pytest.mark.sr("SR-05"),
    ),
    pytest.param(
        "SR-05",
        "machinery",
        f(
            lambda r: mode(r) == ShaftMode.REST and not r.shaft_in[0].on & S.LEVER_NEUTRAL and not r.boat_in.on & DIVER,
            with_mode(ShaftMode.PROPEL, 9.0),
        ),
        marks=pytest.mark.sr("SR-05"),
    ),
    pytest.param(
        "SR-06",
        "isolated",
        f(
            lambda r: mode(r) == ShaftMode.ISOLATED and not r.shaft_in[0].on & S.DRIVE_FAULT,
            with_mode(ShaftMode.REST),
            2,
        ),
        marks=pytest.mark.sr("SR-06"),
    ),
    pytest.param(
        "SR-07", "machinery", f(shaft_lacks(S.LOCK_RELEASED), with_torque(5.0)), marks=pytest.mark.sr("SR-07")
    ),
    pytest.param(
        "SR-08", "machinery", f(shaft_lacks(S.CLUTCH_CLOSED), with_torque(5.0)), marks=pytest.mark.sr("SR-08")
    ),
    pytest.param(
        "SR-09",
        "machinery",
        f(shaft_lacks(S.GEAR_NEUTRAL), with_mode(ShaftMode.PROPEL, 5.0)),
        marks=pytest.mark.sr("SR-09"),
    ),
    pytest.param("SR-10", "machinery", f(bank_on(DIVER), with_torque(5.0)), marks=pytest.mark.sr("SR-10")),
    pytest.param("SR-11", "shore", f(bank_on(SHORE), with_torque(5.0)), marks=pytest.mark.sr("SR-11")),
    pytest.param(
        "SR-11", "shore", f(bank_on(SHORE), with_mode(ShaftMode.HARVEST, -5.0)), marks=pytest.mark.sr("SR-11")
    ),
    pytest.param(
        "SR-12",
        "at rest",
        f(working(ShaftMode.GENERATE), with_inputs(propeller_speed_rpm=6.0)),
        marks=pytest.mark.sr("SR-12"),
    ),
    pytest.param("SR-13", "charging", f(bank_off(B.CHARGE_PERMIT), with_torque(-5.0)), marks=pytest.mark.sr("SR-13")),
    pytest.param(
        "SR-13",
        "charging",
        f(bank_off(B.CHARGE_PERMIT), with_inputs(current_a=20.0), 30),
        marks=pytest.mark.sr("SR-13"),
    ),
    pytest.param(
        "SR-14", "machinery", f(bank_off(B.DISCHARGE_PERMIT), with_torque(5.0)), marks=pytest.mark.sr("SR-14")
    ),
    pytest.param(
        "SR-15",
        "charging",
        f(working(ShaftMode.GENERATE), with_bank(charge_limit_a=0.1), 100),
        marks=pytest.mark.sr("SR-15"),
    ),
    pytest.param(
        "SR-16", "charging", f(working(ShaftMode.GENERATE), with_bank(cell_cold_c=0.0)), marks=pytest.mark.sr("SR-16")
    ),
    pytest.param(
        "SR-17",
        "full bank",
        f(lambda r: r.boat_in.soc_pct == 92.0, with_mode(ShaftMode.GENERATE, -5.0), 20),
        marks=pytest.mark.sr("SR-17"),
    ),
    pytest.param(
        "SR-18",
        "low bank",
        f(lambda r: 18.5 < r.boat_in.soc_pct < 19.0 and working(ShaftMode.PROPEL)(r), with_torque(60.0)),
        marks=pytest.mark.sr("SR-18"),
    ),
    pytest.param(
        "SR-19",
        "low bank",
        f(
            lambda r: (
                r.boat_in.soc_pct == 20.0 and mode(r) == ShaftMode.REST and not r.shaft_in[0].on & S.LEVER_NEUTRAL
            ),
            with_mode(ShaftMode.PROPEL, 1.0),
        ),
        marks=pytest.mark.sr("SR-19"),
    ),
    pytest.param(
        "SR-20", "charging", f(working(ShaftMode.GENERATE), with_command(current_a=50.0)), marks=pytest.mark.sr("SR-20")
    ),
    pytest.param(
        "SR-21", "charging", f(working(ShaftMode.GENERATE), with_torque(-196.0)), marks=pytest.mark.sr("SR-21")
    ),
    pytest.param("SR-23", "charging", f(working(ShaftMode.GENERATE), with_torque(5.0)), marks=pytest.mark.sr("SR-23")),
    pytest.param(
        "SR-23",
        "charging",
        f(working(ShaftMode.GENERATE), with_inputs(machine_speed_rpm=99.0)),
        marks=pytest.mark.sr("SR-23"),
    ),
    pytest.param(
        "SR-24",
        "thrust",
        f(lambda r: working(ShaftMode.PROPEL)(r) and torque(r) > 20.0, with_torque(10.0)),
        marks=pytest.mark.sr("SR-24"),
    ),
    pytest.param(
        "SR-25",
        "thrust",
        f(lambda r: mode(r) == ShaftMode.PROPEL and torque(r) == 0.0 and r.time_s > 3.0, with_torque(-1.0)),
        marks=pytest.mark.sr("SR-25"),
    ),
    pytest.param("SR-26", "lever lost", thrust_for_ever, marks=pytest.mark.sr("SR-26")),
    pytest.param(
        "SR-26",
        "lever lost",
        f(lambda r: not r.shaft_in[0].known & S.LEVER, with_boat_command(alarms=0)),
        marks=pytest.mark.sr("SR-26"),
    ),
    pytest.param(
        "SR-27",
        "handset",
        f(lambda r: not r.boat_in.known & B.HANDSET_HELD, with_torque(4.0)),
        marks=pytest.mark.sr("SR-27"),
    ),
    pytest.param("SR-28", "handset", f(working(ShaftMode.PROPEL), with_torque(55.5)), marks=pytest.mark.sr("SR-28")),
    pytest.param(
        "SR-29", "handset", f(working(ShaftMode.PROPEL), with_inputs(1, lever_pct=5.5)), marks=pytest.mark.sr("SR-29")
    ),
    pytest.param(
        "SR-30",
        "isolated",
        f(lambda r: not r.shaft_in[0].known & S.TORQUE, with_torque(2.0)),
        marks=pytest.mark.sr("SR-30"),
    ),
    pytest.param(
        "SR-31",
        "isolated",
        f(lambda r: mode(r) == ShaftMode.ISOLATED, with_boat_mode(BoatMode.TRIPPED)),
        marks=pytest.mark.sr("SR-31"),
    ),
    pytest.param("SR-32", "isolated", never_isolated, marks=pytest.mark.sr("SR-32")),
    pytest.param("SR-33", "thrust", f(permits(ENABLE), with_inputs(link_v=40.0)), marks=pytest.mark.sr("SR-33")),
    pytest.param("SR-34", "trips", f(bank_off(B.CONTACTOR_CLOSED), with_torque(2.0)), marks=pytest.mark.sr("SR-34")),
    pytest.param("SR-35", "idle", ready_for_ever, marks=pytest.mark.sr("SR-35")),
    pytest.param(
        "SR-37",
        "machinery",
        f(bank_on(DIVER), with_command(permits=int(ShaftPermit.ENGINE_START))),
        marks=pytest.mark.sr("SR-37"),
    ),
    pytest.param(
        "SR-37",
        "thrust",
        f(permits(ShaftPermit.ENGINE_START), with_inputs(torque_nm=6.0)),
        marks=pytest.mark.sr("SR-37"),
    ),
    pytest.param(
        "SR-38",
        "thrust",
        f(permits(ShaftPermit.CLUTCH_CLOSE), with_inputs(machine_speed_rpm=31.0)),
        marks=pytest.mark.sr("SR-38"),
    ),
    pytest.param(
        "SR-39",
        "machinery",
        f(lambda r: r.time_s > 1.0 and mode(r) == ShaftMode.REST, with_command(permits=int(ShaftPermit.LOCK_ENGAGE))),
        marks=pytest.mark.sr("SR-39"),
    ),
    pytest.param(
        "SR-40", "full bank", f(lambda r: not r.boat_in.known & B.SOC, with_torque(-9.0)), marks=pytest.mark.sr("SR-40")
    ),
    pytest.param(
        "SR-40",
        "full bank",
        f(lambda r: not r.boat_in.known & B.SOC, with_boat_command(alarms=0)),
        marks=pytest.mark.sr("SR-40"),
    ),
    pytest.param(
        "SR-41",
        "harvest",
        f(working(ShaftMode.HARVEST), with_inputs(engine_speed_rpm=51.0)),
        marks=pytest.mark.sr("SR-41"),
    ),
    pytest.param(
        "SR-42",
        "thrust",
        f(lambda r: working(ShaftMode.PROPEL)(r) and torque(r) > 60.0, with_inputs(machine_speed_rpm=1301.0), 50),
        marks=pytest.mark.sr("SR-42"),
    ),
    pytest.param(
        "SR-43",
        "low bank",
        f(lambda r: r.boat_in.soc_pct < 25.0, with_boat_command(alarms=int(Alarm.TIME_TO_LIMIT))),
        marks=pytest.mark.sr("SR-43"),
    ),
    pytest.param(
        "SR-43",
        "low bank",
        f(lambda r: r.boat_in.soc_pct < 23.0, with_boat_command(alarms=int(Alarm.DERATE_BAND))),
        marks=pytest.mark.sr("SR-43"),
    ),
    pytest.param(
        "SR-51",
        "astern",
        f(lambda r: r.boat_in.charge_limit_a == 20.0, with_torque(-60.0)),
        marks=pytest.mark.sr("SR-51"),
    ),
    pytest.param("SR-51", "astern", cold_for_ever, marks=pytest.mark.sr("SR-51")),
    pytest.param(
        "SR-53",
        "machinery",
        f(lambda r: bool(r.boat_command.alarms & Alarm.STOPPED_1), with_boat_command(alarms=0)),
        marks=pytest.mark.sr("SR-53"),
    ),
    pytest.param(
        "SR-54",
        "loose",
        f(lambda r: mode(r) == ShaftMode.ISOLATED, with_mode(ShaftMode.PROPEL, 20.0), 9999),
        marks=pytest.mark.sr("SR-54"),
    ),
    pytest.param(
        "SR-55",
        "jam",
        f(lambda r: bool(r.boat_command.alarms & Alarm.JAMMED), with_boat_command(alarms=0), 9999),
        marks=pytest.mark.sr("SR-55"),
    ),
    pytest.param(
        "SR-55",
        "jam",
        f(lambda r: mode(r) != ShaftMode.REST, with_mode(ShaftMode.PROPEL, 110.0), 9999),
        marks=pytest.mark.sr("SR-55"),
    ),
    pytest.param("SR-60", "held", f(propels, with_torque(5.0), 20), marks=pytest.mark.sr("SR-60")),
    pytest.param(
        "SR-60",
        "held",
        f(lambda r: mode(r) == ShaftMode.REST, with_mode(ShaftMode.PROPEL, 0.0)),
        marks=pytest.mark.sr("SR-60"),
    ),
    pytest.param(
        "SR-61",
        "held",
        f(lambda r: r.time_s > 2.0 and not propels(r), with_mode(ShaftMode.PROPEL, 0.0), 9999),
        marks=pytest.mark.sr("SR-61"),
    ),
    pytest.param(
        "SR-61",
        "held",
        f(lambda r: bool(r.boat_command.alarms & Alarm.HOLD_FAILED), with_boat_command(alarms=0), 9999),
        marks=pytest.mark.sr("SR-61"),
    ),
    pytest.param(
        "SR-56",
        "sources",
        f(lambda r: r.boat_command.stop_sources == 1, with_boat_command(stop_sources=0), 9999),
        marks=pytest.mark.sr("SR-56"),
    ),
    pytest.param(
        "SR-56",
        "sources",
        f(lambda r: bool(r.boat_command.alarms & Alarm.SOURCES_OVER), with_boat_command(alarms=0), 9999),
        marks=pytest.mark.sr("SR-56"),
    ),
    pytest.param(
        "SR-57",
        "load",
        f(lambda r: bool(r.boat_command.alarms & Alarm.THRUST_SHORT), with_boat_command(alarms=0), 9999),
        marks=pytest.mark.sr("SR-57"),
    ),
    pytest.param("SR-62", "bounces", back_too_late, marks=pytest.mark.sr("SR-62")),
    pytest.param("SR-62", "bounces", the_third_comes_back, marks=pytest.mark.sr("SR-62")),
    pytest.param("SR-62", "bounces", not_back, marks=pytest.mark.sr("SR-62")),
    pytest.param("SR-52", "astern", no_astern, marks=pytest.mark.sr("SR-52")),
    pytest.param("SR-44", "waits", waits_for_ever, marks=pytest.mark.sr("SR-44")),
    pytest.param("SR-45", "off", ready_for_ever, marks=pytest.mark.sr("SR-45")),
]


def skip_standby(records: list[Record]) -> list[Record]:
    """A reset straight into READY."""
    out, tripped = [], False
    for record in records:
        tripped = tripped or record.boat_mode == BoatMode.TRIPPED
        out.append(
            with_boat_mode(BoatMode.READY)(record) if tripped and record.boat_mode == BoatMode.STANDBY else record
        )
    return out


@pytest.mark.parametrize(("identifier", "name", "forge"), CASES)
def test_holds_on_the_voyage_and_catches_the_forgery(identifier: str, name: str, forge: Forge) -> None:
    records = voyage(name).records
    honest = judged(name, records, identifier)
    assert honest.held is not False, honest
    if identifier == "SR-04":
        forge = skip_standby
    caught = judged(name, forge(records), identifier)
    assert caught.held is False, caught
    assert caught.closest is None or not caught.closest >= -1e-6
    assert caught.words
    assert caught.time_s is not None


def test_every_evaluator_has_an_occasion_and_holds() -> None:
    """On the voyages together each requirement is judged at least once, and none is broken."""
    seen: set[str] = set()
    for name in VOYAGES:
        controller = voyage(name).controller
        for one in evaluate(controller.boat, voyage(name).records, controller.shaft_names):
            assert one.held is not False, (name, one)
            if one.held:
                seen.add(one.id)
    assert seen == {judge.identifier for judge in JUDGES}


def test_every_evaluator_has_a_forgery() -> None:
    assert {case.values[0] for case in CASES} == {judge.identifier for judge in JUDGES}


def test_unknown_is_not_judged() -> None:
    controller = voyage("thrust").controller
    empty = [Record(0.02 * i) for i in range(10)]
    assert all(one.held is None and one.closest is None for one in evaluate(controller.boat, empty))


def test_one_shaft_missing_is_not_judged_and_the_other_is() -> None:
    v = voyage("isolated")
    halves = [r._replace(shaft_in=(None, r.shaft_in[1])) for r in v.records]
    verdicts = {one.id: one for one in evaluate(v.controller.boat, halves, v.controller.shaft_names)}
    assert verdicts["SR-06"].held is None  # only the missing shaft was isolated
    assert verdicts["SR-02"].held is True


def test_a_gap_starts_histories_anew() -> None:
    """An edge that falls into a gap is no violation: what came between is not known."""
    v = voyage("trips")
    kept = [r for r in v.records if r.boat_mode not in (BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT)]
    assert judged("trips", kept, "SR-04").held is not False


def test_broken_is_seen_at_once() -> None:
    v = voyage("trips")
    evaluator = Evaluator(v.controller.boat, only=("SR-03",))
    for record in forged(v.records, bank_on(B.EMERGENCY_STOP), with_torque(1.0)):
        evaluator.feed(record)
        if evaluator.broken:
            break
    assert evaluator.broken
    assert record.boat_in is not None
    assert record.boat_in.on & B.EMERGENCY_STOP


def test_durations_add_up() -> None:
    v = voyage("machinery")
    records = forged(v.records, bank_on(DIVER), with_torque(5.0), most=10)
    assert judged("machinery", records, "SR-10").duration_s == pytest.approx(0.2, abs=0.021)


@pytest.mark.sr("SR-13")
def test_a_current_that_nobody_ordered_counts_from_its_beginning() -> None:
    """A drive that disobeys long after a permit was withdrawn is SR-32's business, unless it lasts."""
    records = voyage("charging").records
    last = records[-1].time_s
    late = f(lambda r: bank_off(B.CHARGE_PERMIT)(r) and r.time_s > last - 0.15, with_inputs(current_a=20.0), 8)
    assert judged("charging", late(records), "SR-13").held is True
    early = f(lambda r: bank_off(B.CHARGE_PERMIT)(r) and r.time_s > last - 0.4, with_inputs(current_a=20.0), 30)
    assert judged("charging", early(records), "SR-13").held is False


def test_a_tick_counts_once_however_many_shafts_violate_in_it() -> None:
    tally = Tally("SR-02", "N m")
    for time_s in (0.02, 0.04):
        for margin in (-1.0, 1.0, -2.0):
            tally.note(margin, time_s, 0.02, lambda: "two shafts")
    tally.note(1.0, 0.06, 0.02, lambda: "none")
    assert tally.judgement().duration_s == pytest.approx(0.04)
