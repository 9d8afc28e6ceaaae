"""A failure found by the machine is handed over as a procedure that fails with the defect and passes without it."""

from pathlib import Path

import defects
import pytest
from can.io import CanutilsLogReader

from sim.bench import load_procedure
from sim.rig.simulated import SimRig
from sim.testing import RequirementViolatedError, hand_over, machine_for, rerun, sail


def found(defect: defects.Defect, folder: Path, wanted: str) -> RequirementViolatedError:
    """What the machine finds, shrunk: the first search of ten that comes upon the requirement wanted."""
    machine = machine_for(
        situations=defect.situations, soc_pct=defect.soc_pct, faults=defect.faults, failures=folder
    )  # fmt: skip
    for seed in range(3, 13):
        try:
            sail(machine, voyages=150, steps=4, seed=seed)
        except RequirementViolatedError as error:
            if error.violation.judgement.id == wanted:
                return error
    raise AssertionError(f"{wanted} was not found in ten searches")


def named(name: str) -> defects.Defect:
    """A defect of the list."""
    return next(defect for defect in defects.DEFECTS if defect.name == name)


class TestHandOver:
    def test_a_dropped_neutral_bit_becomes_a_procedure_that_tells_sound_from_unsound(self, tmp_path: Path) -> None:
        """The whole way: found without buses, shrunk, written, failing with buses, passing once mended."""
        with pytest.MonkeyPatch.context() as patch:
            defect = named("neutral bit dropped")
            defect.seed(patch)
            error = found(defect, tmp_path, "SR-01")
            assert error.procedure is not None
            assert error.procedure.parent == tmp_path
            handed = hand_over(error.procedure, error.violation)
            assert handed.reproduced, handed.words()
        sound = rerun(error.procedure, lambda: SimRig("marsh_tern"))
        assert sound.passed, sound.summary()
        # what is left: power up, lever ahead, enable
        assert len(load_procedure(error.procedure).step) <= 4
        with CanutilsLogReader(str(handed.log)) as log:
            frames = list(log)
        assert len(frames) > 100
        assert frames[-1].timestamp > frames[0].timestamp

    def test_the_failure_reads_like_a_fault_report(self, tmp_path: Path) -> None:
        """Rule, signal, expected and got, modes with times, permissives, what was done, and the command."""
        with pytest.MonkeyPatch.context() as patch:
            defect = named("soft start ten times too fast")
            defect.seed(patch)
            error = found(defect, tmp_path, "SR-20")
        text = str(error)
        for part in ("RULE      SR-20 Soft start", "SIGNAL    ", "EXPECTED  ", "GOT       ", "A/s", "MODES     ",
                     "REST->GENERATE", "HELD      boat: ", "CHARGE_PERMIT", "ORDERS    ", "DONE"):  # fmt: skip
            assert part in text
        assert f"REPEAT    thwart bench marsh_tern {tmp_path}/sr_20_marsh_tern.toml" in text
