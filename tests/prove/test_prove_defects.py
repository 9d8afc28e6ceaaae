"""Seeded defects: each realistic, each caught by the proof, and the test names the requirement that catches it.

Thirteen are drawn by the table mutator from a fixed seed, the others are made by hand.
"""

import random
from collections.abc import Callable
from typing import Any

import pytest

from sim.prove import Shown, prove_tables
from sim.prove.grid import Numbers
from sim.prove.mutate import fate, mutants, same_table
from sim.prove.numeric_bank import _derate, _limit, _permits, _share
from sim.prove.numeric_contacts import prove_boat_contacts, prove_contacts
from sim.prove.numeric_times import _boat_dwells, _edges, _lever_ramp, _restart, _shaft_dwells
from sim.prove.numeric_torque import _headroom, _ramps, _sag, _signs, _speeds, _thrust
from supervisor.config import load_config
from supervisor.controller.controller import freeze
from supervisor.modes import (
    BOAT_TABLE,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    Row,
    ShaftCondition,
    ShaftMode,
    TableError,
    validate,
)
from supervisor.rules import bank, orders, readings, shaft_timers, shaft_word, torque
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.state import ShaftLatch, ShaftState

CONFIG = load_config("marsh_tern")
BOAT = freeze(CONFIG)
B, C, S = BoatCondition, ShaftCondition, ShaftMode


def caught(shown: list[Shown] | tuple[Shown, ...]) -> set[str]:
    return {one.requirement for one in shown if not one.holds}


# --- drawn by the mutator


def drawn() -> list[Any]:
    """Thirteen mutants that change something and pass the check at import, from a fixed seed."""
    rng = random.Random(1864)
    made = [(one, BoatMode) for one in mutants(BOAT_TABLE, BoatMode)]
    made += [(one, ShaftMode) for one in mutants(SHAFT_TABLE, ShaftMode) if one.row % 3 == 0]  # type: ignore[misc]
    found: list[Any] = []
    while len(found) < 13:
        one, modes = rng.choice(made)
        try:
            validate(one.rows, modes, modes(0))  # type: ignore[type-var, arg-type]
        except TableError:
            continue
        if not same_table(BOAT_TABLE if modes is BoatMode else SHAFT_TABLE, one.rows, modes):
            found.append(pytest.param(one, modes, id=f"{one.kind}: {one.text}"))
    return found


@pytest.mark.parametrize(("mutant", "modes"), drawn())
def test_a_drawn_table_defect_is_caught_by_the_proof(mutant: Any, modes: Any) -> None:
    end = fate(mutant, modes, BOAT)
    assert end.by == "proof"
    assert end.why.startswith("SR-")


# --- made by hand in the tables


def changed(rows: tuple[Row[Any, Any], ...], which: Callable[[Row[Any, Any]], bool], **fields: Any) -> list[Any]:
    assert any(which(row) for row in rows), "no such row"
    return [row._replace(**fields) if which(row) else row for row in rows]


def leads(source: Any, dest: Any, *, must: int = 0, must_not: int = 0) -> Callable[[Row[Any, Any]], bool]:
    return lambda row: bool(
        row.source == source and row.dest == dest
        and int(row.must) & must == must and int(row.must_not) & must_not == must_not
    )  # fmt: skip


PROPEL_ROW = leads(S.REST, S.PROPEL)
READY_ROW = leads(BoatMode.NEUTRAL_WAIT, BoatMode.READY)
RESET_ROW = leads(BoatMode.TRIPPED, BoatMode.STANDBY)
THRUST = next(row for row in SHAFT_TABLE if PROPEL_ROW(row))
ENTER = next(row for row in BOAT_TABLE if READY_ROW(row))
TABLE_DEFECTS = {
    "a dropped neutral bit": (changed(BOAT_TABLE, READY_ROW, must=ENTER.must & ~B.LEVERS_NEUTRAL), None, "SR-01"),
    "a reset into READY": (changed(BOAT_TABLE, RESET_ROW, dest=BoatMode.READY), None, "SR-04"),
    "a reset while the cause stands": (changed(BOAT_TABLE, RESET_ROW, must_not=B(0)), None, "SR-04"),
    "a missing lock interlock": (None, changed(SHAFT_TABLE, PROPEL_ROW, must=THRUST.must & ~C.LOCK_RELEASED), "SR-07"),
    "thrust without rearming": (None, changed(SHAFT_TABLE, PROPEL_ROW, must=THRUST.must & ~C.REARMED), "SR-05"),
    "a monitor fault that does not trip": (
        [row for row in BOAT_TABLE if not leads(BoatMode.READY, BoatMode.TRIPPED, must=int(B.MONITOR_FAULT))(row)],
        None, "SR-03",
    ),
    "a diver who ends thrust by a ramp": (
        None, changed(SHAFT_TABLE, leads(S.PROPEL, S.REST, must_not=int(C.NO_DIVER)), dest=S.UNLOAD), "SR-10",
    ),
    "a withdrawn charge permit that unloads": (
        None, changed(SHAFT_TABLE, leads(S.GENERATE, S.REST, must_not=int(C.CHARGE_PERMIT)), dest=S.UNLOAD), "SR-13",
    ),
    "a shaft that leaves ISOLATED while turning": (
        None, changed(SHAFT_TABLE, leads(S.ISOLATED, S.REST), must=C.RESET_EDGE), "SR-06",
    ),
    "a lost lever that leaves the shaft armed": (
        None, changed(SHAFT_TABLE, leads(S.PROPEL, S.UNLOAD, must=int(C.CONTROL_LOST)), disarms=False), "SR-05",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", TABLE_DEFECTS)
def test_a_table_defect_is_caught_by_the_proof(name: str) -> None:
    boat_rows, shaft_rows, requirement = TABLE_DEFECTS[name]
    proof = prove_tables(
        boat_rows or BOAT_TABLE, shaft_rows or SHAFT_TABLE, BOAT.shafts[0], BOAT.limits.neutral_s, 1, "numpy"
    )  # fmt: skip
    assert requirement in caught(proof.shown)
    against = next(one.counterexample for one in proof.shown if one.requirement == requirement and not one.holds)
    assert "while:" in against or "1. boat" in against  # in words


# --- made by hand in the latch rule: only history can tell


def never_disarms(lim, state, word, new_mode, disarms, *rest):  # type: ignore[no-untyped-def]
    """REARMED survives whatever ended thrust."""
    after = after_mode(lim, state, word, new_mode, False, *rest)
    return after._replace(latches=after.latches | (state.latches & int(ShaftLatch.REARMED)))


def arms_in_standby(lim, state, word, new_mode, disarms, to_propel, dwell, _boat_mode):  # type: ignore[no-untyped-def]
    """REARMED does not ask whether the boat is READY."""
    return after_mode(lim, state, word, new_mode, disarms, to_propel, dwell, 2)


def arms_while_asked(lim, state, word, *rest):  # type: ignore[no-untyped-def]
    """Neutral that was held arms although thrust is asked again."""
    after = after_mode(lim, state, word, *rest)
    if state.dwells.neutral_s >= 0.5 and not word & C.CONTROL_LOST and rest[-1] == 2:
        return after._replace(latches=after.latches | int(ShaftLatch.REARMED))
    return after


@pytest.mark.parametrize("latches", [never_disarms, arms_in_standby, arms_while_asked], ids=lambda f: f.__doc__)
def test_a_latch_defect_is_caught_on_the_product(latches: Callable[..., ShaftState]) -> None:
    proof = prove_tables(BOAT_TABLE, SHAFT_TABLE, BOAT.shafts[0], 0.5, 1, "numpy", latches)
    failed = [one for one in proof.failed() if one.how == "product"]
    assert "SR-05" in {one.requirement for one in failed}
    assert failed[0].counterexample.startswith("1. boat STANDBY -> ")


# --- made by hand in the numeric rules


def numbers(**limits: Any) -> Numbers:
    """The boat of the file, with frozen limits that do not follow from it."""
    boat_fields = {name: value for name, value in limits.items() if name in BOAT.limits._fields}
    shaft_fields = {name: value for name, value in limits.items() if name not in boat_fields}
    shafts = tuple(shaft._replace(**shaft_fields) for shaft in BOAT.shafts)
    return Numbers(CONFIG, BOAT._replace(limits=BOAT.limits._replace(**boat_fields), shafts=shafts))


def flat(value: float, start: float, end: float) -> float:
    del value, start, end
    return 1.0


def soc_taper(n: Numbers) -> list[Shown]:
    return _limit(n, "soc_pct")


def cold_taper(n: Numbers) -> list[Shown]:
    return _limit(n, "cell_cold_c")


def shares(n: Numbers) -> list[Shown]:
    del n
    return _share()


def port(part: Callable[..., list[Shown]]) -> Callable[[Numbers], list[Shown]]:
    return lambda n: part(n, n.boat.shafts[0])


Patch = tuple[Any, str, Any]
Part = Callable[[Numbers], list[Shown]]
RULE_DEFECTS: dict[str, tuple[list[Patch], dict[str, Any], Part, str]] = {
    "a taper with the wrong sign": (
        [(bank, "falling", lambda v, a, b: 0.0 if v <= a else 1.0)], {}, soc_taper, "SR-15",
    ),
    "no taper at all": ([(bank, "falling", flat)], {}, soc_taper, "SR-15"),
    "a derate that is not": ([(bank, "rising", flat)], {}, _derate, "SR-18"),
    "a cold limit in the wrong unit": ([], {"cold_zero_c": -18.0}, cold_taper, "SR-16"),
    "a permit that is believed when unknown": (
        [(bank, "proven", lambda known, on, bit: not (known & bit and not on & bit))], {}, _permits, "SR-13",
    ),
    "shares that do not share": (
        [(torque, "share", lambda budget, asked: 1.0 if budget > 0 else 0.0)], {}, shares, "SR-15",
    ),
    "a charging torque of the wrong sign": (
        [(torque, "charge_torque_nm", lambda lim, v, a, w: -a)], {}, port(_signs), "SR-23",
    ),
    "no lowest speed for charging": ([], {"generate_min_rpm": 0.0}, port(_signs), "SR-23"),
    "an engine curve read twice": (
        [(torque, "curve_nm", lambda lim, rpm: 300.0)], {}, port(_headroom), "SR-21",
    ),
    "a slew off by ten": ([], {"torque_slew_nm_per_s": 2500.0}, port(_thrust), "SR-24"),
    "a soft start off by ten": ([], {"charge_rise_a_per_s": 40.0}, port(_ramps), "SR-20"),
    "a handset with full thrust": ([], {"handset_thrust_pct": 100.0}, port(_thrust), "SR-28"),
    "a reversal without dwell": ([], {"reversal_dwell_s": 0.0}, port(_thrust), "SR-25"),
    "thrust into overspeed": ([(torque, "falling", flat)], {}, port(_speeds), "SR-42"),
    "sag that is not seen": ([(torque, "sag", lambda lim, state, shaft: 0)], {}, port(_sag), "SR-22"),
    "a wait off by ten": ([], {"neutral_wait_s": 300.0}, _boat_dwells, "SR-44"),
    "an idle time off by ten": ([], {"idle_reminder_s": 6000.0}, _boat_dwells, "SR-35"),
    "a lever ramp off by ten": ([], {"lever_ramp_s": 30.0}, lambda n: [_lever_ramp(n, 0)], "SR-26"),
    "a precharge without end": ([], {"precharge_s": 1e6}, lambda n: _shaft_dwells(n, 0), "SR-33"),
    "a neutral dwell of nothing": ([], {"neutral_s": 0.02}, lambda n: _shaft_dwells(n, 0), "SR-05"),
    "a drive that may disobey": (
        [(shaft_timers, "disobeys", lambda *_: False)], {}, lambda n: _shaft_dwells(n, 0), "SR-32",
    ),
    "a maintained switch that passes": (
        [(orders, "_edge", lambda known, on, bit, was_off: bool(known & on & bit))], {}, _edges, "SR-46",
    ),
    "an unknown lever that is neutral": (
        [(readings, "read_lever", lambda lim, shaft: readings.Lever(1, 0, 0))], {},
        lambda n: prove_contacts(n, 0), "SR-01",
    ),
    "an unknown diver who is ashore": (
        [(shaft_word, "proven_not", lambda known, on, bit: not on & bit)], {}, lambda n: prove_contacts(n, 0), "SR-10",
    ),
    "inputs that nobody misses": (
        [], {"react": BOAT.limits.react._replace(trip_boat=0)}, prove_boat_contacts, "SR-03",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", RULE_DEFECTS)
def test_a_rule_defect_is_caught_by_the_proof(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    patches, limits, part, requirement = RULE_DEFECTS[name]
    fields = limits
    if "react" in limits:
        boat = BOAT._replace(limits=BOAT.limits._replace(**limits))
        subject = Numbers(CONFIG, boat)
    else:
        subject = numbers(**fields)
    for module, attribute, value in patches:
        monkeypatch.setattr(module, attribute, value)
    assert requirement in caught(part(subject))


def test_there_are_enough_of_them() -> None:
    assert len(drawn()) + len(TABLE_DEFECTS) + len(RULE_DEFECTS) + 3 >= 24
    assert len(drawn()) >= 12


def test_without_a_defect_nothing_is_caught() -> None:
    """So that a catch means something; the whole proof of the sound boat is in test_prove_boat."""
    sound = numbers()
    for part in (soc_taper, cold_taper, _permits, port(_signs), port(_ramps), _edges, prove_boat_contacts):
        assert caught(part(sound)) == set()
    assert _restart(sound).holds
