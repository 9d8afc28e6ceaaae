"""A failing property handed over: a procedure that `thwart bench` reruns, and the frames of its run as a candump log.

The search may have been made without buses. The procedure is then run on the real rig, frames and all, and what came of
that is said: a failure that only exists without frames is not handed over as one that exists with them.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from sim.bench import NullSink, Result, load_procedure, run_procedure
from sim.bench.candump import CandumpLog
from sim.rig.simulated import SimRig
from sim.testing.expectations import expectations
from sim.testing.script import ScriptStep, procedure_text
from sim.testing.violations import Violation

MakeRig = Callable[[], SimRig]

LAGS = (0, 1, 2, 3, 4, 6, 8, 12, 16, 25)
"""How much later than without buses a failure may show with them, in ticks."""


class HandOver(NamedTuple):
    """What is handed over. `reproduced` says that the procedure fails on a rig with frames as well."""

    procedure: Path
    log: Path
    reproduced: bool
    summary: str
    boat_file: str

    def words(self) -> str:
        """For the report of a failed test."""
        outcome = "fails there too" if self.reproduced else "PASSES there: the failure needs a boat without buses"
        return (
            f"procedure {self.procedure} ({outcome})\nframes    {self.log}\n{self.summary}\n"
            f"REPEAT    thwart bench {self.boat_file} {self.procedure}\n"
            f"To keep it for good, move the procedure to the traces that your tests run (here tests/traces)."
        )


class Missed(NamedTuple):
    """An expectation of a test that was not met, with the way there. `expect` is the expectation as a procedure has it,
    read on the last tick; `boat_text` the boat file's text where a test varied it, else None; `folder` None writes
    nothing."""

    boat: str
    boat_file: str
    boat_text: str | None
    tick_s: float
    steps: tuple[ScriptStep, ...]
    expect: Mapping[str, object]
    folder: Path | None


def rerun(procedure: Path, make_rig: MakeRig, log: Path | None = None) -> Result:
    """Run a procedure on a rig of `make_rig`; with `log`, its frames are written there in the format of candump."""
    rig = make_rig()
    try:
        writer = None
        if log is not None:
            writer = CandumpLog(log, rig.buses)
            rig.on_frame = writer.write
        try:
            return run_procedure(rig, load_procedure(procedure, rig.config), NullSink(), file=str(procedure))
        finally:
            if writer is not None:
                rig.on_frame = None
                writer.close()
    finally:
        rig.close()


def failure_text(violation: Violation, lag_ticks: int = 0) -> str:
    """The way to a violation as a procedure file, which expects on its last tick what a sound boat shows there.

    `lag_ticks` lets the last step last longer: on a bus everything comes a little later.
    """
    judged = violation.judgement
    return procedure_text(
        f"Found by a property test: {judged.id}", violation.boat, f"{judged.words}. {violation.sentence}", [judged.id],
        _later(violation.steps, lag_ticks), violation.tick_s, expectations(violation),
    )  # fmt: skip


def missed_text(missed: Missed, test: str, lag_ticks: int = 0) -> str:
    """The way to a missed expectation as a procedure file, which expects it on its last tick. `test` names the test."""
    return procedure_text(
        f"Found by a test: {test}", missed.boat, "An expectation of a test that was not met.", [],
        _later(missed.steps, lag_ticks), missed.tick_s, [missed.expect],
    )  # fmt: skip


def hand_over(procedure: Path, violation: Violation) -> HandOver:
    """Run a failure's procedure on the boat with its buses, and write the log beside it.

    Where it was found without buses, it may show there some ticks later: the first of LAGS that shows it is kept in the
    procedure. If none does, the procedure stays as it was found, and `reproduced` is False.
    """
    return _rerun_later(procedure, violation.boat_file, lambda lag: failure_text(violation, lag))


def hand_over_missed(missed: Missed, test: str) -> HandOver | None:
    """The same for an expectation of a test, under the test's name. None where nothing shall be written."""
    if missed.folder is None:
        return None
    missed.folder.mkdir(parents=True, exist_ok=True)
    name = re.sub(r"[^a-z0-9]+", "_", test.lower()).strip("_")[:80]
    procedure = missed.folder / f"{name}_{missed.boat}.toml"
    boat_file = missed.boat_file
    if missed.boat_text is not None:
        varied = procedure.with_name(f"{procedure.stem}.boat.toml")
        varied.write_text(missed.boat_text, encoding="utf-8")
        boat_file = str(varied)
    return _rerun_later(procedure, boat_file, lambda lag: missed_text(missed, test, lag))


def _later(steps: Sequence[ScriptStep], lag_ticks: int) -> list[ScriptStep]:
    return [*steps[:-1], replace(steps[-1], ticks=steps[-1].ticks + lag_ticks)]


def _rerun_later(procedure: Path, boat_file: str, text: Callable[[int], str]) -> HandOver:
    log = procedure.with_suffix(".log")
    for lag in LAGS:
        procedure.write_text(text(lag), encoding="utf-8")
        result = rerun(procedure, lambda: SimRig(boat_file), log)
        if not result.passed:
            return HandOver(procedure, log, True, result.summary(), boat_file)
    procedure.write_text(text(0), encoding="utf-8")
    result = rerun(procedure, lambda: SimRig(boat_file), log)
    return HandOver(procedure, log, False, result.summary(), boat_file)
