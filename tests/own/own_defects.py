"""Defects of the own interlocks, one monkeypatch each, and who catches them: the table in catches.md.

`python tests/own/own_defects.py` writes the table anew (some minutes). A cell names the first thing that catches the
defect: the step of the written procedure that fails, and whether the interlock's own judge has called it violated by
then.
"""

import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from own_boat import LADDER, SEAL, write_boat

from sim.bench import NullSink, parse_procedure, run_procedure
from sim.bench.own_procedure import interlock_procedure
from sim.rig.simulated import SimRig
from supervisor.bus import compile_boat
from supervisor.config import limits, load_config
from supervisor.controller import controller
from supervisor.modes import SHAFT_TABLE, ShaftCondition, ShaftMode
from supervisor.modes.table import compile_all, compile_rows
from supervisor.rules import own, tick
from supervisor.signals import OwnEffect

Patch = pytest.MonkeyPatch
STEP_C = 0.1 + 1e-6
"""One count of the seal's signal (degC), typed from its DBC line, and a hair that rounding does not eat."""


def contact_inverted(patch: Patch) -> None:
    sound = own.signal_bad

    def bad(one: Any, known: bool, on: bool, value: float, was_bad: bool) -> bool:
        return sound(one, known, on != (one.number == 0), value, was_bad)

    patch.setattr(own, "signal_bad", bad)


def contact_frozen_inverted(patch: Patch) -> None:
    sound = limits.own_limits
    patch.setattr(
        limits, "own_limits", lambda config, entry: sound(config, entry)._replace(bad_on=int(entry.good_when == "on"))
    )


def threshold_a_count_late(patch: Patch) -> None:
    sound = own.signal_bad

    def bad(one: Any, known: bool, on: bool, value: float, was_bad: bool) -> bool:
        late = one._replace(bad_at=one.bad_at + (STEP_C if one.high else -STEP_C))
        return sound(late, known, on, value, was_bad)

    patch.setattr(own, "signal_bad", bad)


def threshold_a_count_early(patch: Patch) -> None:
    sound = own.signal_bad

    def bad(one: Any, known: bool, on: bool, value: float, was_bad: bool) -> bool:
        early = one._replace(bad_at=one.bad_at - (STEP_C if one.high else -STEP_C))
        return sound(early, known, on, value, was_bad)

    patch.setattr(own, "signal_bad", bad)


def hysteresis_a_count_early(patch: Patch) -> None:
    sound = own.signal_bad

    def bad(one: Any, known: bool, on: bool, value: float, was_bad: bool) -> bool:
        early = one._replace(good_at=one.good_at + (STEP_C if one.high else -STEP_C))
        return sound(early, known, on, value, was_bad)

    patch.setattr(own, "signal_bad", bad)


def unknown_taken_for_good(patch: Patch) -> None:
    sound = own.signal_bad

    def bad(one: Any, known: bool, on: bool, value: float, was_bad: bool) -> bool:
        return known and sound(one, known, on, value, was_bad)

    patch.setattr(own, "signal_bad", bad)


def debounce_in_ticks(patch: Patch) -> None:
    sound = own.count
    patch.setattr(own, "count", lambda timer, running, dt_s: sound(timer, running, 1.0))


def debounce_in_milliseconds(patch: Patch) -> None:
    sound = own.count
    patch.setattr(own, "count", lambda timer, running, dt_s: sound(timer, running, dt_s / 1000.0))


def wrong_shaft(patch: Patch) -> None:
    sound = tick.own_on_shaft
    patch.setattr(tick, "own_on_shaft", lambda lim, state, index, latches: sound(lim, state, 1 - index, latches))


def forgotten_in_unload(patch: Patch) -> None:
    """The rows that leave UNLOAD for an own interlock are not there."""
    bits = ShaftCondition.OWN_THRUST | ShaftCondition.OWN_CHARGE | ShaftCondition.OWN_SHAFT
    rows = tuple(
        row for row in SHAFT_TABLE
        if not (row.source == ShaftMode.UNLOAD and row.must_not & bits and row.dest != ShaftMode.PROPEL)
    )  # fmt: skip
    if len(rows) == len(SHAFT_TABLE):
        raise ValueError("there are no such rows")
    patch.setattr(controller, "SHAFT_TABLE", rows)
    patch.setattr(tick, "SHAFT_ROWS", compile_all(rows))
    patch.setattr(tick, "SHAFT_COMPILED", compile_rows(rows, ShaftMode))


def effect_forgotten(patch: Patch) -> None:
    """It is held for bad, said so, and nothing else comes of it."""
    sound = tick.own_on_shaft
    nothing = own.OwnState(bad=0)
    patch.setattr(tick, "own_on_shaft", lambda lim, state, index, latches: sound(lim, nothing, index, latches))


CONTACT, NUMBER, ANY = "contact", "number", "any"


class Defect(NamedTuple):
    """One defect: how it is seeded, on which kind of signal, and on which effects (empty: all)."""

    seed: Callable[[Patch], None]
    kind: str = ANY
    effects: tuple[OwnEffect, ...] = ()
    one_shaft: bool = False


_E = OwnEffect
_ON_SHAFTS = tuple(effect for effect in OwnEffect if effect not in (_E.WARN, _E.TRIP_BOAT))
DEFECTS: dict[str, Defect] = {
    "contact inverted": Defect(contact_inverted, CONTACT),
    "contact frozen inverted": Defect(contact_frozen_inverted, CONTACT),
    "threshold a count late": Defect(threshold_a_count_late, NUMBER),
    "threshold a count early": Defect(threshold_a_count_early, NUMBER),
    "hysteresis a count early": Defect(hysteresis_a_count_early, NUMBER),
    "unknown taken for good": Defect(unknown_taken_for_good),
    "debounce in ticks": Defect(debounce_in_ticks),
    "debounce in milliseconds": Defect(debounce_in_milliseconds),
    "forgotten in UNLOAD": Defect(
        forgotten_in_unload, effects=(_E.STOP_THRUST, _E.STOP_CHARGE, _E.STOP_BOTH, _E.TRIP_SHAFT)
    ),
    "wrong shaft": Defect(wrong_shaft, effects=_ON_SHAFTS, one_shaft=True),
    "effect forgotten": Defect(effect_forgotten, effects=_ON_SHAFTS),
}

SEAL_NUMBER = {key: value for key, value in SEAL.items() if key not in ("effect", "limit_pct")} | {"debounce_s": 0.2}


class Catch(NamedTuple):
    """What caught a defect; `judge` says whether its own judge had by then."""

    effect: str
    defect: str
    step: str
    judge: bool


def cells() -> Iterator[tuple[OwnEffect, str]]:
    """Every effect with every defect that can be of it."""
    for effect in OwnEffect:
        for name, defect in DEFECTS.items():
            if not defect.effects or effect in defect.effects:
                yield effect, name


def entry_of(effect: OwnEffect, defect: Defect) -> dict[str, Any]:
    """The interlock, as a stranger would write it."""
    entry = (SEAL_NUMBER if defect.kind == NUMBER else LADDER) | {"effect": effect.name.lower()}
    if effect is OwnEffect.LIMIT_THRUST:
        entry |= {"limit_pct": 40.0}
    return entry | ({"shafts": ["port"]} if defect.one_shaft else {})


def catch(folder: Path, effect: OwnEffect, name: str, patch: Patch) -> Catch:
    """Seed the defect and run the written procedure, up to the first step that fails. `step` is "" where none does."""
    defect = DEFECTS[name]
    entry = entry_of(effect, defect)
    file = write_boat(folder, entry)
    config = load_config(file)
    procedure = parse_procedure(interlock_procedure(config, compile_boat(config, file), entry["name"]), "written")
    defect.seed(patch)
    rig = SimRig(file)
    try:
        result = run_procedure(rig, procedure, NullSink(), stop_at_first=True)
    finally:
        rig.close()
        patch.undo()
    failed = next((step.name for step in result.steps if step.verdict == "fail"), "")
    judged = {one.id: one.held for one in result.judged}[f"interlock {entry['name']}"]
    return Catch(effect.name.lower(), name, failed, judged is False)


def row_of(found: Catch) -> str:
    """A row of the table."""
    step = found.step or "**nothing**"
    return f"| {found.effect} | {found.defect} | {step} | {'yes' if found.judge else 'no'} |"


HEAD = """\
# Who catches what: own interlocks

Each effect with each defect, seeded one at a time into the running product (tests/own/own_defects.py, which writes
this page). The interlock is written as a stranger would, on `marsh_tern`: a contact, or a shaft seal's temperature for
defects of a threshold. The procedure is the one that `thwart bench BOAT --interlock NAME` writes; its first failing
step is named. The judge is the evaluator by the interlock's name: *yes* where it had called it violated by that step.

| effect | defect | first step that fails | judge |
| --- | --- | --- | --- |
"""


def main() -> int:
    rows = []
    for effect, name in cells():
        with tempfile.TemporaryDirectory() as folder:
            found = catch(Path(folder), effect, name, pytest.MonkeyPatch())
        rows.append(row_of(found))
        print(rows[-1], flush=True)
    Path(__file__).with_name("catches.md").write_text(HEAD + "\n".join(rows) + "\n", encoding="utf-8")
    return 1 if any("**nothing**" in row and row.endswith("| no |") for row in rows) else 0


if __name__ == "__main__":
    sys.exit(main())
