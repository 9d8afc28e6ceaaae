"""A failing property handed over: a procedure that `thwart bench` reruns, and the frames of its run as a candump log.

The search may have been made without buses. The procedure is then run on the real rig, frames and all, and what came of
that is said: a failure that only exists without frames is not handed over as one that exists with them.
"""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from sim.bench import NullSink, Result, load_procedure, run_procedure
from sim.bench.candump import CandumpLog
from sim.nodes.rig import SimRig

MakeRig = Callable[[], SimRig]


class HandOver(NamedTuple):
    """What is handed over. `reproduced` says that the procedure fails on a rig with frames as well."""

    procedure: Path
    log: Path
    reproduced: bool
    summary: str

    def words(self) -> str:
        """For the report of a failed test."""
        outcome = "fails there too" if self.reproduced else "PASSES there: the failure needs a boat without buses"
        return (
            f"procedure {self.procedure} ({outcome})\nframes    {self.log}\n{self.summary}\n"
            f"To keep it for good, move the procedure to tests/traces."
        )


def rerun(procedure: Path, make_rig: MakeRig, log: Path | None = None) -> Result:
    """Run a procedure on a rig of `make_rig`; with `log`, its frames are written there in the format of candump."""
    rig = make_rig()
    try:
        writer = None
        if log is not None:
            writer = CandumpLog(log, rig.buses)
            rig.on_frame = writer.write
        try:
            return run_procedure(rig, load_procedure(procedure), NullSink(), file=str(procedure))
        finally:
            if writer is not None:
                rig.on_frame = None
                writer.close()
    finally:
        rig.close()


def hand_over(procedure: Path, boat: str | Path) -> HandOver:
    """Run a failure's procedure on the boat with its buses, and write the log beside it."""
    log = procedure.with_suffix(".log")
    result = rerun(procedure, lambda: SimRig(boat), log)
    return HandOver(procedure, log, not result.passed, result.summary())
