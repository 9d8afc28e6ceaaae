"""The run folder: found, filled, never overwritten."""

import hashlib
import shutil
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from sim.bench.candump import CandumpLog
from sim.bench.procedure import Procedure
from sim.bench.recorder import Recorder
from sim.bench.result import Result
from sim.bench.rig import Recorded, Rig
from sim.bench.verdict import verdict_json, verdict_markdown
from sim.errors import BenchError, naming
from supervisor.config import BoatConfig
from supervisor.journal.ticks import TickLog


def new_folder(out: Path | None, procedure: str, boat: str, base: Path = Path("runs")) -> Path:
    """Make and return an empty folder: `out`, or `runs/<procedure>-<boat>-<n>` with the first free n.

    Raises BenchError if `out` holds something already or the folder cannot be written.
    """
    try:
        if out is not None:
            out.mkdir(parents=True, exist_ok=True)
            if any(out.iterdir()):
                raise BenchError(f"{out}: the folder is not empty, and a run never overwrites; name another one")
            return out
        base.mkdir(parents=True, exist_ok=True)
        number = 1
        while True:
            folder = base / f"{procedure}-{boat}-{number}"
            try:
                folder.mkdir()
            except FileExistsError:
                number += 1
            else:
                return folder
    except OSError as error:
        raise BenchError(f"{out or base}: the run folder cannot be made here: {error.strerror or error}") from error


def source_files(config: BoatConfig, config_path: Path, procedure_path: Path | None) -> dict[str, Path]:
    """Every file that decides the run: name in the run folder -> where it is. None: there is no procedure (yet)."""
    here = config_path.parent
    found = {"config.toml": config_path}
    if procedure_path is not None:
        found["procedure.toml"] = procedure_path
    if config.simulation is not None:
        found[config.simulation.plant] = here / config.simulation.plant
    for bus in config.buses.values():
        found.update({name: here / name for name in bus.dbc})
    return found


class RunFolder:
    """One run's files. Make it before the run, `finish` it after, stopped by hand or not."""

    def __init__(self, path: Path, rig: Rig, sources: Mapping[str, Path]) -> None:
        """`sources` are the files that decide the run: name in the folder -> where it is; all are hashed, `config.toml`
        and `procedure.toml` are copied."""
        self.path = path
        self.rig = rig
        self.sha256 = {name: hashlib.sha256(source.read_bytes()).hexdigest() for name, source in sources.items()}
        for name, source in sources.items():
            if name in ("config.toml", "procedure.toml"):
                shutil.copyfile(source, path / name)
        self.log = CandumpLog(path / "bus.log", rig.buses)
        self.ticks: TickLog | None = None
        if isinstance(rig, Recorded):
            self.ticks = TickLog(path / "ticks.csv")
            rig.record_supervisor(self.log.write, self.ticks.write)
        else:
            rig.on_frame = self.log.write

    def finish(self, result: Result, procedure: Procedure, recorder: Recorder, *, plot: bool) -> None:
        """Write every file. The verdict comes first, the plot last, so that an interrupted end loses the least."""
        self.close()
        evidence = self._evidence(plot)
        (self.path / "verdict.json").write_text(verdict_json(result, procedure, evidence), encoding="utf-8")
        (self.path / "verdict.md").write_text(verdict_markdown(result, procedure, evidence), encoding="utf-8")
        for name, write in (
            ("events.csv", recorder.write_events),
            ("signals.csv", recorder.write_signals),
            ("signals.parquet", recorder.write_parquet),
        ):
            with naming(self.path / name):
                write(self.path / name)
        if plot and recorder.rows:
            from sim.bench.plot import draw_run

            pictures = [self.path / "run.png", self.path / "run.svg"]
            failed = [step.number for step in result.steps if step.verdict == "fail"]
            draw_run(recorder, self.rig.shafts, result.title, result.boat, pictures, failed=failed)

    def close(self) -> None:
        """Close the bus log: for a run that ended without a result."""
        if isinstance(self.rig, Recorded):
            self.rig.record_supervisor(None, None)
        else:
            self.rig.on_frame = None
        try:
            self.log.close()
        finally:
            if self.ticks is not None:
                self.ticks.close()

    def _evidence(self, plot: bool) -> dict[str, Any]:
        try:
            thwart = version("thwart")
        except PackageNotFoundError:
            thwart = "not installed"
        return {
            "thwart": thwart,
            "finished_utc": datetime.now(UTC).isoformat(timespec="seconds"),
            "tick_s": self.rig.tick_s,
            "buses": {channel: bus for bus, channel in self.log.channel.items()},
            "frames": self.log.frames,
            "sha256": self.sha256,
            "plot": plot,
            "remarks": list(self.rig.remarks()),
        }
