"""A procedure, or a drive by hand, kept in a run folder as `thwart bench` keeps it."""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sim.bench.bind import BoundStep, bind
from sim.bench.folder import RunFolder, new_folder, source_files
from sim.bench.judge import Judge
from sim.bench.load import parse_procedure
from sim.bench.procedure import Procedure
from sim.bench.recorder import Recorder
from sim.bench.result import Result, StepResult
from sim.bench.runner import run_procedure
from sim.bench.sinks import NullSink, Tee
from sim.bench.verdict import rows
from sim.panel.rig import PanelRig
from supervisor.config import BoatConfig

_SIGNAL_PERIOD_S = 0.1


class Progress(NullSink):
    """The verdicts so far, for pages that look on."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.total = 0
        self.now = ""
        self.done: list[dict[str, Any]] = []
        self.summary = ""
        self.folder = ""
        self.passed: bool | None = None

    def started(self, total_steps: int) -> None:
        """The run begins."""
        self.total = total_steps

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """A step begins."""
        self.now = f"{step.number}. {step.name}"

    def step_finished(self, result: StepResult) -> None:
        """A step is decided."""
        checks = [{"expected": e, "seen": s, "verdict": v} for e, s, v in rows(result)]
        self.done.append({"number": result.number, "name": result.name, "verdict": result.verdict, "checks": checks})

    def finished(self, result: Result) -> None:
        """The run is over."""
        self.now, self.summary, self.passed = "", result.summary(), result.passed

    def shown(self) -> dict[str, Any]:
        """For a page."""
        return {
            "title": self.title, "total": self.total, "now": self.now, "done": list(self.done), "summary": self.summary,
            "folder": self.folder, "passed": self.passed,
        }  # fmt: skip


def run_in_folder(
    rig: PanelRig, config: BoatConfig, config_path: Path, text: str, name: str, base: Path,
    progress: Progress, stop: Callable[[], bool], plot: bool,
) -> None:  # fmt: skip
    """Run a procedure on a boat just powered up. `text` is the file's, `name` what the folder is called after.

    Raises BenchError for a procedure that this boat cannot run, OSError for a disk that cannot be written.
    """
    procedure = parse_procedure(text, name, config)
    bind(procedure, rig, name)  # complain before a folder is made
    with TemporaryDirectory() as place:
        file = Path(place) / "procedure.toml"
        file.write_text(text, encoding="utf-8")
        folder = RunFolder(new_folder(None, name, config.boat.name, base), rig, source_files(config, config_path, file))
    recorder = Recorder(_SIGNAL_PERIOD_S)
    progress.title, progress.folder = procedure.title, str(folder.path)
    try:
        result = run_procedure(rig, procedure, Tee((recorder, progress)), file=name, stop=stop)
    except BaseException:
        folder.close()
        raise
    folder.finish(result, procedure, recorder, plot=plot)


class ByHand:
    """A drive by hand from power-up on, recorded until `finish`: every safety requirement that can be judged on signals
    is judged on every tick, and what was done is kept as a procedure."""

    def __init__(self, rig: PanelRig, config: BoatConfig, config_path: Path, base: Path) -> None:
        self._rig, self._config = rig, config
        path = new_folder(None, "by_hand", config.boat.name, base)
        self.folder = RunFolder(path, rig, source_files(config, config_path, None))
        self._recorder = Recorder(_SIGNAL_PERIOD_S)
        self._judge = Judge(rig)
        rig.begin_audit()
        self._told = 0
        self._began_s, self._ticks = rig.now_s, 0

    def tick(self) -> None:
        """One tick was done."""
        rig = self._rig
        self._ticks += 1
        self._judge.tick()
        self._recorder.tick(rig.now_s, rig.signals())
        while self._told < len(rig.events):
            self._recorder.happened(rig.events[self._told])
            self._told += 1

    def finish(self, wall_s: float, plot: bool) -> Result:
        """Write the folder. Raises OSError for a disk that cannot be written."""
        rig = self._rig
        try:
            text = rig.made()
        except ValueError:  # nothing was done, or too much: the recording is as good without
            text = f'title = "Recorded on the panel"\nboat = "{rig.boat}"\n[[step]]\nname = "no procedure was made"\n'
        else:
            (self.folder.path / "procedure.toml").write_text(text, encoding="utf-8")
        procedure = parse_procedure(text, "made on the panel", self._config)
        result = Result(
            "Driven by hand on the panel", rig.boat, _done(procedure), False, rig.now_s - self._began_s, wall_s,
            self._ticks, self._judge.verdicts(), dict(self._judge.unjudged), rig.energy(),
        )  # fmt: skip
        self.folder.finish(result, procedure, self._recorder, plot=plot)
        return result

    def abandon(self) -> None:
        """Close the files as they are."""
        self.folder.close()


def _done(procedure: Procedure) -> tuple[StepResult, ...]:
    """What hands did, one row a step: nothing was expected of it."""
    found, start_s = [], 0.0
    for number, step in enumerate(procedure.step, 1):
        found.append(StepResult(number, step.name, start_s, step.wait_s, "", "", "", (), "pass"))
        start_s += step.wait_s
    return tuple(found)
