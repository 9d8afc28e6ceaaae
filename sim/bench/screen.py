"""The run on the screen: a live line while it goes, a table at the end. Plain lines where there is no terminal."""

import time
from collections.abc import Callable, Mapping
from importlib.util import find_spec
from typing import TYPE_CHECKING, TextIO

from sim.bench.bind import BoundStep
from sim.bench.result import Result, StepResult
from sim.bench.sinks import NullSink, Sink
from sim.bench.verdict import broken, notes, rows, seen

if TYPE_CHECKING:
    from rich.status import Status

_REDRAW_S = 0.15


def screen_for(stream: TextIO, say: Callable[[str], None]) -> Sink:
    """A live line on a terminal (if rich is installed), else plain lines through `say`."""
    if stream.isatty() and find_spec("rich") is not None:
        return LiveLine(stream)
    return PlainLines(say)


class PlainLines(NullSink):
    """One line a step as it is decided."""

    def __init__(self, say: Callable[[str], None]) -> None:
        self.say = say
        self.total = 0

    def started(self, total_steps: int) -> None:
        """Remember how many."""
        self.total = total_steps

    def step_finished(self, result: StepResult) -> None:
        """Say what came of it."""
        end_s = result.start_s + result.length_s
        self.say(f"{result.number:>3}/{self.total} {end_s:8.1f} s  {result.verdict:<9}  {result.name}")
        for check in result.checks:
            if check.verdict == "fail":
                self.say(f"{'':>24}expected {check.expected}; seen {seen(check)}")


class LiveLine(NullSink):
    """A line that shows step, simulated time, rate and modes; finished steps scroll up."""

    def __init__(self, stream: TextIO) -> None:
        from rich.console import Console

        self.console = Console(file=stream, highlight=False)
        self.status: Status | None = None
        self.total = 0
        self.failed = 0
        self.step: BoundStep | None = None
        self.began_s = 0.0
        self.began_wall_s = 0.0
        self.next_wall_s = 0.0

    def started(self, total_steps: int) -> None:
        """Show the line."""
        self.total = total_steps
        self.began_wall_s = time.perf_counter()
        self.status = self.console.status("", spinner="line")
        self.status.start()

    def step_started(self, step: BoundStep, time_s: float) -> None:
        """Note the step."""
        if self.step is None:
            self.began_s = time_s
        self.step = step

    def tick(self, time_s: float, signals: Mapping[str, float | str]) -> None:
        """Redraw a few times a second."""
        wall_s = time.perf_counter()
        if wall_s < self.next_wall_s or self.status is None or self.step is None:
            return
        self.next_wall_s = wall_s + _REDRAW_S
        took_s = max(wall_s - self.began_wall_s, 1e-6)
        modes = " ".join(f"{name[:-5]} {value}" for name, value in signals.items() if name.endswith(".mode"))
        bad = f"  [bold red]{self.failed} failed[/]" if self.failed else ""
        self.status.update(
            f"step {self.step.number}/{self.total}  {time_s:.0f} s  {(time_s - self.began_s) / took_s:.0f}x{bad}  "
            f"[dim]{modes}[/]  {_plain(self.step.name)}"
        )

    def step_finished(self, result: StepResult) -> None:
        """Scroll a failed step into view at once."""
        if result.verdict == "fail":
            self.failed += 1
            self.console.print(f"[bold red]failed[/] step {result.number}: {_plain(result.name)}")

    def finished(self, result: Result) -> None:
        """Take the line away."""
        self.close()

    def close(self) -> None:
        """Give the terminal back."""
        if self.status is not None:
            self.status.stop()
            self.status = None


def print_table(result: Result, stream: TextIO, say: Callable[[str], None]) -> None:
    """The verdict step by step: expected, seen, verdict."""
    if stream.isatty() and find_spec("rich") is not None:
        _rich_table(result, stream)
    else:
        for line in plain_table(result):
            say(line)
    for line in broken(result):
        say(line)


def print_short(result: Result, say: Callable[[str], None], every_step: bool) -> None:
    """What failed, which steps began with a jump of the simulated boat; with `every_step` one line for each."""
    say("")
    for step in result.steps:
        word = "FAIL" if step.verdict == "fail" else step.verdict
        if every_step or step.verdict == "fail":
            say(f"{step.number:>3}. {word:<8}  {step.name}")
        for expected, saw, verdict in rows(step):
            if verdict == "fail":
                say(f"               {expected}  |  {saw}")
    jumps = [f"{step.number} ({step.jumps})" for step in result.steps if step.jumps]
    if jumps:
        say(f"JUMP: the simulated boat was set, it did not come there by itself, in steps {', '.join(jumps)}")
    for line in broken(result):
        say(line)


def plain_table(result: Result) -> list[str]:
    """The table as lines of text."""
    lines = ["", result.title, f"boat {result.boat}", ""]
    for step in result.steps:
        at = f"at {step.start_s:.1f} s" if step.verdict != "not run" else "not run"
        lines.append(f"{step.number:>3}. {step.name}  ({at})")
        lines += [f"       {note}" for note in notes(step)]
        for expected, saw, verdict in rows(step):
            if step.checks:
                lines.append(f"     {'FAIL' if verdict == 'fail' else verdict:<9}  {expected}  |  {saw}")
    return lines


def _rich_table(result: Result, stream: TextIO) -> None:
    from rich import box
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    title = Text(f"{result.title} - {result.boat}")
    table = Table(title=title, box=box.SIMPLE_HEAD, pad_edge=False, title_style="bold", expand=True)
    table.add_column("", justify="right", no_wrap=True)
    table.add_column("step", ratio=3)
    table.add_column("expected", ratio=3)
    table.add_column("seen", ratio=3)
    table.add_column("verdict", no_wrap=True)
    styles = {"pass": "green", "fail": "bold red", "not run": "dim", "not shown": "yellow", "done": "dim"}
    for step in result.steps:
        what = Text(step.name)
        for note in notes(step):
            what.append(f"\n{note}", style="yellow" if note.startswith("JUMP") else "dim")
        for place, (expected, saw, verdict) in enumerate(rows(step)):
            head = (Text(str(step.number)), what) if place == 0 else (Text(""), Text(""))
            word = Text("FAIL" if verdict == "fail" else verdict, style=styles[verdict])
            table.add_row(*head, Text(expected), Text(saw), word)
    Console(file=stream, highlight=False).print(table)


def _plain(text: str) -> str:
    """Text that rich does not take for markup."""
    return text.replace("[", "\\[")
