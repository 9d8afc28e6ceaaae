"""Mutation testing of the rules and the controller: a seeded sample of cosmic-ray's mutants, each against their tests.

    python tests/mutation/sample.py --count 120 --seed 1 --jobs 2 --results sample.jsonl

A mutant is *killed* when a test's expectation fails. One that cannot even be imported, that only makes the code raise,
or that runs beyond the time limit, is *crashed*: that says nothing about the tests, and the score leaves it out. The
score is killed / (killed + survived), with a 95 % interval (Wilson). What is never drawn, and by which rule, is told in
`mutants.py` and counted in the report. Survivors are printed with file, line and change.

With one seed the draw is one long row: a larger `--count` goes on where a smaller one ended, and what stands in
`--results` already is not run again, save with `--again` what survived. The checkout itself is never touched: each job
mutates a copy of its own.
"""

import argparse
import json
import math
import os
import queue
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from mutants import Mutant, mutated, same_program, sort_out

ROOT = Path(__file__).resolve().parents[2]
MODULES = ("supervisor/rules", "supervisor/controller")
LIMIT_FACTOR = 4.0
LEAST_LIMIT_S = 120.0
"""Time limit of one mutant: so many times what the unmutated tests take, but at least this (s)."""
REMEMBERED = 8
"""Tests that killed a mutant of the same function before are tried first: so many."""
CONFIG = """\
[cosmic-ray]
module-path = {modules}
timeout = 300.0
excluded-modules = ["supervisor/rules/bits.py", "**/__init__.py"]
test-command = "false"

[cosmic-ray.distributor]
name = "local"
"""


class Outcome(NamedTuple):
    """What became of one mutant: `kind` killed, survived or crashed; `by` the test and its exception."""

    key: str
    kind: str
    place: str
    change: str
    by: str
    seconds: float


class Result(NamedTuple):
    """A whole sample. `total` mutants in all, `left_out` of them by rule; `same` drawn, but the same program."""

    outcomes: list[Outcome]
    total: int
    left_out: Counter[str]
    same: int

    def count(self, kind: str) -> int:
        """How many were killed, survived or crashed."""
        return sum(one.kind == kind for one in self.outcomes)


def wilson(good: int, of: int, z: float = 1.959964) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927, as in any statistics handbook); 0 to 1 while nothing was drawn."""
    if of == 0:
        return 0.0, 1.0
    share = good / of
    middle = share + z * z / (2 * of)
    half = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return (middle - half) / (1 + z * z / of), (middle + half) / (1 + z * z / of)


def prepare(copy: Path) -> Path:
    """A copy of what git tracks, and of what is new, as it stands in the working tree."""
    command = ["git", "ls-files", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in listed.splitlines():
        if (ROOT / name).is_file():
            place = copy / name
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, place)
    text = CONFIG.format(modules=list(MODULES)).replace("'", '"')
    (copy / "cosmic-ray.toml").write_text(text, encoding="utf-8")
    return copy


def draw(mutants: Sequence[Mutant], count: int, seed: int) -> list[Mutant]:
    """`count` different mutants (all, if there are fewer): the first of one long row that the seed determines."""
    luck = random.Random(seed)
    places: dict[int, None] = {}
    while len(places) < min(count, len(mutants)):
        places[luck.randrange(len(mutants))] = None
    return [mutants[place] for place in places]


def judge(copy: Path, words: Sequence[str], limit_s: float) -> str:
    """Run `judge.py` in a copy; its verdict, "crashed time limit" when it takes too long."""
    command = [sys.executable, str(copy / "tests" / "mutation" / "judge.py"), *words]
    learning = "--learn" in words
    # bytecode is kept of the unmutated copy only: of a mutant it could be taken for the next one's
    env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "" if learning else "1"}
    with tempfile.TemporaryFile("w+", encoding="utf-8") as output:
        process = subprocess.Popen(
            command, cwd=copy, env=env, stdout=output, stderr=subprocess.STDOUT, start_new_session=True
        )
        try:
            process.wait(limit_s)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, 9)
            process.wait()
            return f"crashed time limit of {limit_s:.0f} s"
        output.seek(0)
        text = output.read()
    told = [line for line in text.splitlines() if line.startswith("VERDICT ")]
    return told[-1].removeprefix("VERDICT ") if told else f"crashed without a verdict: {text[-200:]!r}"


def try_one(copy: Path, mutant: Mutant, order: Sequence[str], limit_s: float) -> Outcome | None:
    """Mutate a copy, judge it, bring it back. None: the change is none to the interpreter."""
    path = copy / mutant.module
    before = path.read_text(encoding="utf-8")
    after = mutated(mutant, before)
    try:
        if same_program(before, after):
            return None
    except SyntaxError:
        return Outcome(mutant.key, "crashed", _place(mutant), "no Python", "", 0.0)
    pairs = zip(before.splitlines(), after.splitlines(), strict=False)
    change = " / ".join(f"{old.strip()} -> {new.strip()}" for old, new in pairs if old != new)
    started_s = time.perf_counter()
    path.write_text(after, encoding="utf-8")
    try:
        (copy / "order.json").write_text(json.dumps(list(order)), encoding="utf-8")
        kind, _, by = judge(copy, [], limit_s).partition(" ")
    finally:
        path.write_text(before, encoding="utf-8")
    return Outcome(mutant.key, kind, _place(mutant), change, by, round(time.perf_counter() - started_s, 1))


def _place(mutant: Mutant) -> str:
    return f"{mutant.module}:{mutant.start[0]}"


def load(path: Path | None) -> dict[str, Outcome | None]:
    """What a file of results holds already."""
    if path is None or not path.is_file():
        return {}
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return {line["key"]: Outcome(**line) if line["kind"] != "same" else None for line in lines}


class Learnt(NamedTuple):
    """What a run of the unmutated tests has shown."""

    seconds: dict[str, float]
    lines: dict[str, list[int]]
    whole_s: float

    def order(self, place: str, first: Sequence[str]) -> list[str]:
        """All tests: `first`, then those that run this place, then the rest; one of each function before its other
        parameters, short ones before long ones."""
        names = list(self.seconds)
        near = {names[number] for number in self.lines.get(place, [])}
        turns: Counter[str] = Counter()
        rank: dict[str, tuple[bool, bool, int, float]] = {}
        for name in sorted(names, key=self.seconds.__getitem__):
            function = name.partition("[")[0]
            turns[function] += 1
            rank[name] = name not in first, name not in near, turns[function], self.seconds[name]
        return sorted(names, key=rank.__getitem__)


class Sampler:
    """Shares a row of mutants out among jobs, and keeps what becomes of them."""

    def __init__(
        self, copies: Sequence[Path], learnt: Learnt, results: Path | None, pause: Path | None, again: bool
    ) -> None:
        self.copies, self.learnt, self.results, self.pause, self.again = copies, learnt, results, pause, again
        self.limit_s = max(LEAST_LIMIT_S, LIMIT_FACTOR * len(copies) * learnt.whole_s)
        self.known = load(results)
        self._killers: defaultdict[str, list[str]] = defaultdict(list)
        self._lock = threading.Lock()

    def run(self, row: Iterable[Mutant], told: Callable[[Outcome], None]) -> None:
        """Judge every mutant of the row that is not known yet."""
        waiting: queue.SimpleQueue[Mutant | None] = queue.SimpleQueue()
        for mutant in row:
            known = self.known.get(mutant.key)
            if mutant.key not in self.known or (self.again and known is not None and known.kind == "survived"):
                waiting.put(mutant)
        threads = [threading.Thread(target=self._work, args=(copy, waiting, told)) for copy in self.copies]
        for thread in threads:
            waiting.put(None)
            thread.start()
        for thread in threads:
            thread.join()

    def _work(self, copy: Path, waiting: "queue.SimpleQueue[Mutant | None]", told: Callable[[Outcome], None]) -> None:
        while (mutant := waiting.get()) is not None:
            while self.pause is not None and self.pause.exists():
                time.sleep(2.0)
            where = f"{mutant.module} {mutant.definition}"
            order = self.learnt.order(_place(mutant), self._killers[where])
            outcome = try_one(copy, mutant, order, self.limit_s)
            with self._lock:
                self.known[mutant.key] = outcome
                if outcome is not None and outcome.kind == "killed":
                    test = outcome.by.rpartition(" ")[0]
                    self._killers[where] = [test, *(t for t in self._killers[where] if t != test)][:REMEMBERED]
                if self.results is not None:
                    line = outcome._asdict() if outcome else {"key": mutant.key, "kind": "same"}
                    with self.results.open("a", encoding="utf-8") as file:
                        file.write(json.dumps(line) + "\n")
                if outcome is not None:
                    told(outcome)


def run(
    count: int,
    seed: int,
    jobs: int,
    results: Path | None = None,
    pause: Path | None = None,
    again: bool = False,
    told: Callable[[Outcome], None] = lambda outcome: None,
) -> Result:
    """Run the sample. Raises RuntimeError if the tests are not green before anything is changed."""
    with tempfile.TemporaryDirectory() as place:
        copies = [prepare(Path(place) / "0")]
        mutants, left_out = sort_out(copies[0])
        total = len(mutants) + left_out.total()
        row = draw(mutants, count, seed)
        verdict = judge(copies[0], ["--learn"], 1800.0)
        if verdict != "survived":
            raise RuntimeError(f"the unmutated tests are not green: {verdict}")
        learnt = Learnt(**json.loads((copies[0] / "learnt.json").read_text(encoding="utf-8")))
        for job in range(1, jobs):
            copies.append(Path(place) / str(job))
            shutil.copytree(copies[0], copies[-1])
        sampler = Sampler(copies, learnt, results, pause, again)
        sampler.run(row, told)
        drawn = [sampler.known[mutant.key] for mutant in row]
        return Result([one for one in drawn if one is not None], total, left_out, drawn.count(None))


def report(result: Result) -> str:
    """The survivors, the crashed, and the score."""
    lines = [
        f"{one.kind}  {one.place}  {one.change}  {one.by}"
        for kind in ("survived", "crashed")
        for one in result.outcomes
        if one.kind == kind
    ]
    killed, survived = result.count("killed"), result.count("survived")
    low, high = wilson(killed, killed + survived)
    score = 100.0 * killed / (killed + survived) if killed + survived else 0.0
    rules = ", ".join(f"{name} {number}" for name, number in sorted(result.left_out.items()))
    lines += [
        f"{result.total} mutants in all, {result.left_out.total()} left out by rule ({rules})",
        f"{len(result.outcomes) + result.same} drawn, {result.same} of them no change to the interpreter: "
        f"{killed} killed, {survived} survived, {result.count('crashed')} crashed",
        f"score {score:.1f} % of those judged, 95 % interval {100 * low:.1f} to {100 * high:.1f} %",
    ]
    return "\n".join(lines)


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60, help="mutants to draw")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument(
        "--results", type=Path, help="a file (JSON lines) that keeps what was found, and is gone on with"
    )
    parser.add_argument("--pause", type=Path, metavar="FILE", help="begin no mutant while this file exists")
    parser.add_argument("--again", action="store_true", help="judge anew what survived according to --results")
    args = parser.parse_args()

    def told(one: Outcome) -> None:
        print(f"{one.kind:9}{one.seconds:7.1f} s  {one.place}  {one.change}  {one.by}", flush=True)

    print(report(run(args.count, args.seed, args.jobs, args.results, args.pause, args.again, told)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
