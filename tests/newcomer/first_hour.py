"""The first hour of an electrician, played by a script: python tests/newcomer/first_hour.py [--clone] [--tests]

From ratings to a boat of one's own with an interlock of one's own, a procedure, a run in two processes without
hardware, and a replay of what was recorded. Each step is timed. With `--clone` it begins as a person would, with a
fresh clone and the README's demo line in an environment of its own; with `--tests` the README's test line too (some 20
minutes). README lines, DBC file and interlock are read from README and docs as they stand there.
"""

import argparse
import re
import shlex
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Thread

ROOT = Path(__file__).resolve().parents[2]

RATINGS = "--shafts 1 --capacity-ah 400 --torque-nm 90 --power-kw 7 --waterline-m 10.5 --displacement-kg 9000"
PROCEDURE = """\
title = "Ladder down under way"

[[step]]
name = "power up"
wait_s = 2.0

[[step]]
name = "enable"
do = { "helm.enable" = "press" }
wait_s = 2.0
expect = [{ signal = "boat.mode", op = "==", value = "READY" }]

[[step]]
name = "ahead"
do = { "main.lever_pct" = 40 }
wait_s = 4.0
expect = [{ signal = "main.order_nm", op = ">", value = 5.0 }]

[[step]]
name = "the ladder comes down"
do = { "interlock.swim_ladder" = "bad" }
wait_s = 2.0
expect = [
  { signal = "main.order_nm", op = "==", value = 0.0, within_s = 0.4 },
  { signal = "interlock.swim_ladder", op = "==", value = "bad" },
]
"""


class Terminal:
    """A program in a terminal of its own: what it prints, and what is typed into it."""

    def __init__(self, words: list[str], folder: Path) -> None:
        self.lines: list[str] = []
        self._process = subprocess.Popen(
            words, cwd=folder, text=True, bufsize=1,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip
        Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.lines.append(line.rstrip())

    def wait_for(self, words: str, within_s: float = 30.0) -> None:
        """Wait until it has said so; AssertionError with all that it said if it does not."""
        end_s = time.monotonic() + within_s
        while not any(words in line for line in self.lines):
            if time.monotonic() > end_s or self._process.poll() is not None:
                raise AssertionError(f"never said {words!r}:\n" + "\n".join(self.lines))
            time.sleep(0.05)

    def type(self, words: str) -> None:
        """Type a line."""
        assert self._process.stdin is not None
        self._process.stdin.write(words + "\n")

    def end(self) -> int:
        """Ctrl-C; its exit status."""
        if self._process.poll() is None:
            self._process.send_signal(signal.SIGINT)
        return self._process.wait(20)


class FirstHour:
    """A person with a folder and a command `thwart`."""

    def __init__(self, folder: Path, thwart: list[str]) -> None:
        self.folder = folder
        self.thwart = thwart
        self.seconds: dict[str, float] = {}

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """Time a step."""
        began_s = time.perf_counter()
        yield
        self.seconds[name] = time.perf_counter() - began_s
        print(f"{self.seconds[name]:7.1f} s  {name}", flush=True)

    def say(self, *words: str, status: int = 0) -> str:
        """A command, which must end with this status; what it printed."""
        done = subprocess.run(
            [*self.thwart, *words], cwd=self.folder, text=True, capture_output=True, check=False, input=""
        )
        said = done.stdout + done.stderr
        assert done.returncode == status, f"{shlex.join(words)} ended with {done.returncode}:\n{said}"
        return said

    def all(self) -> None:
        """Every step with a boat of one's own."""
        for name, do in self.steps().items():
            with self.step(name):
                do()

    def steps(self) -> dict[str, Callable[[], None]]:
        """Name of a step -> what is done."""
        return {
            "new: a boat from its ratings": self.new,
            "check: nothing to mend": self.check,
            "bench: its first procedure": self.first,
            "a DBC file and an interlock of its own": self.interlock,
            "bench: the interlock tried": self.try_interlock,
            "bench: a procedure of its own": self.own_procedure,
            "run and stand-in: two processes, no hardware": self.live,
            "replay: what was recorded": self.replay,
        }

    def new(self) -> None:
        """The boat's files."""
        self.say("new", "my_boat", *RATINGS.split())

    def check(self) -> None:
        """Its boat file."""
        assert "0 errors, 0 warnings and notes" in self.say("check", "my_boat/my_boat.toml")

    def first(self) -> None:
        """Its first procedure."""
        said = self.say("bench", "my_boat/my_boat.toml", "my_boat/first.toml", "--out", "first")
        assert "PASS" in said, said

    def interlock(self) -> None:
        """The swim ladder of docs/interlocks.md, as it stands there."""
        page = (ROOT / "docs" / "interlocks.md").read_text(encoding="utf-8")
        part = page[page.index("## Swim ladder down") :]
        dbc = _block(part, "dbc")
        table = next(
            block for block in re.findall(r"^```toml\n(.*?)^```", part, re.S | re.M) if "[[interlock]]" in block
        )
        (self.folder / "my_boat" / "deck.dbc").write_text(dbc, encoding="utf-8")
        file = self.folder / "my_boat" / "my_boat.toml"
        text = file.read_text(encoding="utf-8")
        text, found = re.subn(r'"dbc/rvc_bank\.dbc"\]', '"dbc/rvc_bank.dbc", "deck.dbc"]', text, count=1)
        assert found == 1
        file.write_text(text + "\n" + table, encoding="utf-8")
        self.say("check", "--quick", "my_boat/my_boat.toml")

    def try_interlock(self) -> None:
        """The procedure that is generated for it."""
        said = self.say("bench", "my_boat/my_boat.toml", "--interlock", "swim_ladder", "--no-plot", "--out", "ladder")
        assert "PASS" in said, said

    def own_procedure(self) -> None:
        """A procedure written by hand."""
        (self.folder / "mine.toml").write_text(PROCEDURE, encoding="utf-8")
        said = self.say("bench", "my_boat/my_boat.toml", "mine.toml", "--no-plot", "--out", "mine")
        assert "PASS" in said, said
        assert " 0 violated" in said, said

    def live(self) -> None:
        """Supervisor and boat in two terminals, their buses inside this computer."""
        supervisor = Terminal(
            [*self.thwart, "run", "my_boat/my_boat.toml", "--no-hardware", "--out", "live"], self.folder
        )
        boat: Terminal | None = None
        try:
            supervisor.wait_for("NO HARDWARE")
            boat = Terminal(
                [*self.thwart, "stand-in", "my_boat/my_boat.toml", "--nodes", "all", "--no-hardware"], self.folder
            )
            boat.wait_for("ready")
            supervisor.wait_for("STANDBY: torque zero")
            time.sleep(1.0)
            boat.type("helm.enable press")
            supervisor.wait_for("-> READY", 10.0)
            boat.type("main.lever_pct 40")
            supervisor.wait_for("main REST -> PROPEL", 10.0)
            time.sleep(2.0)
            boat.type("interlock.swim_ladder bad")
            supervisor.wait_for("swim ladder is down", 10.0)
        finally:
            if boat is not None:
                boat.end()
            status = supervisor.end()
        assert status == 0, "\n".join(supervisor.lines)

    def replay(self) -> None:
        """What the supervisor recorded."""
        said = self.say("replay", "my_boat/my_boat.toml", "live", "--out", "told")
        assert "identical to the run" in said, said
        assert (self.folder / "told" / "report.html").is_file(), list((self.folder / "told").iterdir())


def _block(text: str, kind: str) -> str:
    found = re.search(rf"^```{kind}\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    assert found is not None, f"no block of {kind}"
    return found[1]


def readme_line(name: str) -> str:
    """A command line of the README, by its mark."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    part = text[text.index(f"<!-- {name} -->") :]
    return _block(part[: part.index("<!-- end -->")], "sh").strip()


def main() -> None:
    """Play it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--clone", action="store_true", help="begin with a fresh clone and the README's demo line")
    parser.add_argument("--tests", action="store_true", help="the README's test line too")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        person = FirstHour(folder, [sys.executable, "-m", "sim.cli"])
        if asked.clone or asked.tests:
            with person.step("a fresh clone"):
                subprocess.run(["git", "clone", "-q", str(ROOT), "thwart"], cwd=folder, check=True)
            for name in ("demo", "tests"):
                if name == "demo" or asked.tests:
                    with person.step(f"README: {name}"):
                        subprocess.run(["bash", "-euo", "pipefail", "-c", readme_line(name)], cwd=folder / "thwart",
                                       check=True, stdout=subprocess.DEVNULL)  # fmt: skip
            with person.step("README: extras for a page of a replay"):
                subprocess.run([".venv/bin/python", "-m", "pip", "install", "-q", ".[replay]"], cwd=folder / "thwart",
                               check=True)  # fmt: skip
            person.thwart = [str(folder / "thwart" / ".venv" / "bin" / "thwart")]
        person.all()
        print(f"{sum(person.seconds.values()):7.1f} s  in all")


if __name__ == "__main__":
    main()
