"""The trial of the marked tests: break each requirement's rules one at a time, and see who notices.

    python tests/mutation/trial.py                 try every break of breaks.py, say what noticed it
    python tests/mutation/trial.py --only SR-07    those of one requirement
    python tests/mutation/trial.py --write         and keep the result in noticed.json, for docs/safety.md

A break is put into a copy of the project; there the tests run that are marked `@pytest.mark.sr` for its requirement,
and no others. A test *notices* when its own expectation fails. Code that only raises, by accident, is not noticed
(`crashed_in_ours`); a break that nobody notices is an error, exit status 1.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from pathlib import Path
from queue import SimpleQueue
from typing import Any, NamedTuple

from breaks import BREAKS, Break
from judge import crashed_in_ours

ROOT = Path(__file__).resolve().parents[2]
TESTS = ROOT / "tests"
NOTICED = TESTS / "mutation" / "noticed.json"
LIMIT_S = 300.0
"""A break that keeps its tests from ending for so long is crashed."""


class Seen(NamedTuple):
    """What became of one break: the tests (functions) that noticed it, those that only crashed on it, and why nothing
    could be tried ("" otherwise)."""

    noticed: tuple[str, ...]
    crashed: tuple[str, ...]
    problem: str = ""


def patched(one: Break, text: str) -> str:
    """The source with the break in it. Raises ValueError where its place is not found, or found twice."""
    if (found := text.count(one.old)) != 1:
        raise ValueError(f"{one.requirement}, {one.broken!r}: {one.old!r} stands {found} times in {one.file}")
    return text.replace(one.old, one.new)


# ---- inside the copy


class Witness:
    """The pytest plugin: only the tests marked for one requirement, and which of their functions fail."""

    def __init__(self, requirement: str) -> None:
        self.requirement = requirement
        self.noticed: set[str] = set()
        self.crashed: set[str] = set()
        self.run: set[str] = set()

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Leave out what is not marked."""
        items[:] = [
            item for item in items if any(self.requirement in mark.args for mark in item.iter_markers("sr"))
        ]  # fmt: skip

    def pytest_runtest_makereport(self, item: Any, call: Any) -> None:
        """Note a failure."""
        test = item.nodeid.partition("[")[0]
        if call.when == "call":
            self.run.add(test)
        if call.excinfo is None or type(call.excinfo.value).__name__ in ("Skipped", "XFailed"):
            return
        (self.crashed if crashed_in_ours(call.excinfo.value) else self.noticed).add(test)

    def pytest_collectreport(self, report: Any) -> None:
        """What cannot be imported has crashed."""
        if report.failed:
            self.crashed.add(report.nodeid)


def inside(requirement: str, files: Sequence[str]) -> dict[str, list[str]]:
    """Run the marked tests of this copy."""
    import pytest

    witness = Witness(requirement)
    quiet = ["-q", "--no-header", "--tb=no", "-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:cov"]
    pytest.main([*quiet, *files], plugins=[witness])
    return {
        "run": sorted(witness.run),
        "noticed": sorted(witness.noticed),
        "crashed": sorted(witness.crashed - witness.noticed),
    }


# ---- outside


def copied(place: Path) -> Path:
    """A copy of what git tracks, and of what is new, as it stands in the working tree, with the bytecode of all that is
    sound: without it most of the time would go into compiling the same tests again."""
    from sample import prepare

    copy = prepare(place)
    folders = [f"tests/{name}" for name in FOLDERS]
    command = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-p", "no:cacheprovider", *folders]
    subprocess.run(command, cwd=copy, env={**os.environ, "PYTHONPATH": str(copy)}, capture_output=True, check=False)
    return copy


def _run(copy: Path, requirement: str, files: Sequence[str]) -> dict[str, list[str]] | str:
    command = [sys.executable, "tests/mutation/trial.py", "--inside", requirement, *files]
    # no bytecode: that of one break could be taken for the next one's; the same Hypothesis examples every time
    env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "CI": "1", "PYTHONPATH": str(copy)}
    try:
        done = subprocess.run(
            command, cwd=copy, env=env, capture_output=True, text=True, timeout=LIMIT_S, check=False
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return f"no end within {LIMIT_S:.0f} s"
    told = [line for line in done.stdout.splitlines() if line.startswith("SEEN ")]
    if not told:
        return f"no result: {(done.stdout + done.stderr)[-300:]!r}"
    seen: dict[str, list[str]] = json.loads(told[-1].removeprefix("SEEN "))
    return seen


@cache
def files_of(requirement: str) -> list[str]:
    """Test files with a mark for the requirement, in the folders of the fast tests."""
    from sim.prove.evidence import marked_tests

    places = {place.partition("::")[0] for place in marked_tests(TESTS).get(requirement, [])}
    return sorted(place for place in places if place.split("/")[1] in FOLDERS and place not in LEFT_OUT)


FOLDERS = ("bus", "config", "controller", "faults", "modes", "nodes", "requirements", "rules", "runtime")
"""Where the trial looks for marked tests."""

LEFT_OUT = ("tests/requirements/test_requirements_evaluators.py",)
"""Its marks say which judge a case is about: it tests the judges."""


def try_break(copy: Path, one: Break) -> Seen:
    """Break one rule of a copy, run the tests marked for its requirement, mend it."""
    path = copy / one.file
    sound, times = path.read_text(encoding="utf-8"), path.stat()
    path.write_text(patched(one, sound), encoding="utf-8")
    os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns + 2_000_000_000))  # no bytecode has this time
    try:
        seen = _run(copy, one.requirement, files_of(one.requirement))
    finally:
        path.write_text(sound, encoding="utf-8")
        os.utime(path, ns=(times.st_atime_ns, times.st_mtime_ns))
    if isinstance(seen, str):
        return Seen((), (), seen)
    return Seen(tuple(seen["noticed"]), tuple(seen["crashed"]))


def sound_first(copy: Path, requirements: Iterable[str]) -> None:
    """Raises RuntimeError if a marked test fails, or none runs, before anything is broken."""
    for requirement in requirements:
        seen = _run(copy, requirement, files_of(requirement))
        if isinstance(seen, str) or seen["noticed"] or seen["crashed"] or not seen["run"]:
            raise RuntimeError(f"{requirement}: the marked tests are not green before anything is broken: {seen}")


def try_all(
    copies: Sequence[Path], breaks: Sequence[Break], told: Callable[[Break, Seen], None] = lambda one, seen: None
) -> list[Seen]:
    """Try breaks, shared out among copies. The results are in the order of `breaks`."""
    waiting: SimpleQueue[int | None] = SimpleQueue()
    found: dict[int, Seen] = {}
    lock = threading.Lock()

    def work(copy: Path) -> None:
        while (number := waiting.get()) is not None:
            seen = try_break(copy, breaks[number])
            with lock:
                found[number] = seen
                told(breaks[number], seen)

    threads = [threading.Thread(target=work, args=(copy,)) for copy in copies]
    for number in range(len(breaks)):
        waiting.put(number)
    for thread in threads:
        waiting.put(None)
        thread.start()
    for thread in threads:
        thread.join()
    return [found[number] for number in range(len(breaks))]


def known_so_far() -> dict[str, dict[str, list[str]]]:
    """Identifier -> what was broken -> who noticed, as kept."""
    kept: dict[str, dict[str, list[str]]] = json.loads(NOTICED.read_text("utf-8")) if NOTICED.is_file() else {}
    return kept


def keep(breaks: Sequence[Break], seen: Sequence[Seen]) -> None:
    """Write noticed.json: what was tried now replaces what was kept of the same requirement; what is no longer in
    breaks.py goes."""
    kept = known_so_far()
    known = {(one.requirement, one.broken) for one in BREAKS}
    for one, result in zip(breaks, seen, strict=True):
        kept.setdefault(one.requirement, {})[one.broken] = list(result.noticed)
    order = [(one.requirement, one.broken) for one in BREAKS]
    kept = {
        requirement: {b: kept[requirement][b] for r, b in order if r == requirement and b in kept[requirement]}
        for requirement in sorted(kept)
        if any((requirement, b) in known for b in kept[requirement])
    }
    parts = []
    for requirement, found in kept.items():
        lines = [f"  {json.dumps(broken)}: {json.dumps(tests)}" for broken, tests in found.items()]  # one a line
        parts.append(f" {json.dumps(requirement)}: {{\n" + ",\n".join(lines) + "\n }")
    NOTICED.write_text("{\n" + ",\n".join(parts) + "\n}\n", encoding="utf-8")


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", nargs="+", metavar="SR-xx", default=[])
    parser.add_argument("--new", action="store_true", help="only breaks that noticed.json does not know yet")
    parser.add_argument("--write", action="store_true", help="keep the result in noticed.json")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--unbroken", action="store_true", help="see first that the marked tests are green")
    parser.add_argument("--inside", nargs="+", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.inside:
        print("SEEN " + json.dumps(inside(args.inside[0], args.inside[1:])))
        return 0
    breaks = [one for one in BREAKS if not args.only or one.requirement in args.only]
    if args.new:
        kept = known_so_far()
        breaks = [one for one in breaks if not kept.get(one.requirement, {}).get(one.broken)]

    def told(one: Break, seen: Seen) -> None:
        word = "noticed" if seen.noticed else f"NOT NOTICED {seen.problem} {' '.join(seen.crashed)}"
        print(f"{one.requirement}  {one.broken}: {word}", *seen.noticed, sep="\n    ", flush=True)

    with tempfile.TemporaryDirectory() as place:
        copies = [copied(Path(place) / str(job)) for job in range(args.jobs)]
        if args.unbroken:
            sound_first(copies[0], sorted({one.requirement for one in breaks}))
        seen = try_all(copies, breaks, told)
    if args.write:
        keep(breaks, seen)
    missed = [one for one, result in zip(breaks, seen, strict=True) if not result.noticed]
    print(f"{len(breaks)} breaks, {len(breaks) - len(missed)} noticed")
    for one in missed:
        print(f"nobody noticed: {one.requirement} {one.broken}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.exit(main())
