"""The folder of a replay: page, pictures, tables. Begun before the run, so that the tables grow with it."""

import gc
from base64 import b64encode
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from sim.replay.disagreements import Stretch
from sim.replay.drawn import Drawn, RecordedOrders
from sim.replay.errors import ReplayError
from sim.replay.look import available, look_html
from sim.replay.machine import result_json, write_events
from sim.replay.page import page_text
from sim.replay.plots import curve_names, draw_overview, draw_window, panels, styled, svg_text
from sim.replay.result import Result
from sim.replay.session import Session
from sim.replay.signals import Signals
from sim.replay.tables import TableWriter, row_file
from sim.replay.windows import Windows

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def make_folder(path: Path) -> Path:
    """An empty folder to write to. Raises ReplayError if it holds something already or cannot be made."""
    try:
        path.mkdir(parents=True, exist_ok=True)
        if any(path.iterdir()):
            raise ReplayError(f"{path}: the folder is not empty, and a replay never overwrites; name another one")
    except OSError as exc:
        raise ReplayError(f"{path}: the folder cannot be made: {exc.strerror or exc}") from exc
    return path


class OutputFolder:
    """Observers of a session, and what becomes of them on disk. Raises OSError when the disk does."""

    def __init__(self, path: Path, session: Session) -> None:
        self.path = path
        signals = self.signals = Signals(session.subject.boat_map)
        orders = RecordedOrders(session.commands, signals.shafts)
        self.panels = panels(signals, orders.names)
        file, self.table_path = row_file(path, signals)
        self.table = TableWriter(0, signals, file)
        self.drawn = Drawn(0, signals, curve_names(self.panels), session.ticks, orders)
        self.windows = Windows(0, signals)
        self.observers = (self.table, self.drawn, self.windows)

    def close(self) -> None:
        """Close the tables: for a replay that ended without a result."""
        self.table.finish()

    def finish(self, result: Result, pictures: bool = True) -> list[Path]:
        """Write everything. Returns the files, the page first."""
        self.table.finish()
        self.drawn.finish(result.end_s)
        path = self.path
        (path / "replay.json").write_text(result_json(result), encoding="utf-8")
        write_events(path / "events.csv", result)
        files = [path / "report.html", path / "replay.json", path / "events.csv", self.table_path]
        look, fixed = "", list[str]()
        if pictures:
            if available():
                look = look_html(self.panels, self.drawn.traces, result.run, _differences(result), result.end_s)
            drawn = self._pictures(result, as_svg=not look)
            fixed = [element for element, _ in drawn]
            files += [name for _, name in drawn]
        overview, windows = (fixed[0], fixed[1:]) if fixed else ("", [])
        (path / "report.html").write_text(page_text(result, overview, windows, look), encoding="utf-8")
        return files

    def _pictures(self, result: Result, as_svg: bool) -> list[tuple[str, Path]]:
        """Each picture as an element for the page, and its file. A page that zooms shows them in print only: there
        they are small, as they are in the file."""
        found: list[tuple[str, Path]] = []
        with styled():
            for name, figure in self._figures(result):
                file = self.path / name
                figure.savefig(file, dpi=100)
                element = svg_text(figure) if as_svg else _image(file)
                found.append((element, file))
                figure.clear()
                gc.collect()  # a figure is full of cycles, and takes some megabytes: one at a time
        return found

    def _figures(self, result: Result) -> "Iterator[tuple[str, Figure]]":
        run = result.run
        yield "overview.png", draw_overview(self.panels, self.drawn.envelope, run.spans, run.names, run.trips,
                                            _differences(result), result.end_s)  # fmt: skip
        for number, window in enumerate(self.windows.windows, start=1):
            yield f"trip-{number}.png", draw_window(self.panels, self.signals, window, run.spans, run.names)


def _image(file: Path) -> str:
    code = b64encode(file.read_bytes()).decode("ascii")
    return f'<img alt="{file.stem}" src="data:image/png;base64,{code}">'


def _differences(result: Result) -> list[Stretch]:
    """What the picture marks: the what-if if there is one, else the shadow comparison."""
    if result.difference is not None:
        return list(result.difference.disagreements.stretches)
    return [] if result.shadow is None else list(result.shadow.disagreements.stretches)
