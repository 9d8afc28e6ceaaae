"""One mutant before the tests: run inside a mutated copy by `sample.py`, which reads the last line printed.

    python judge.py            VERDICT killed <test> <exception>
    python judge.py --learn    which test runs which line, and how long it takes: into `learnt.json`

A mutant is *killed* when a test's own expectation fails. One that only makes the code raise (TypeError and the like, no
`raise` of ours) is *crashed* unless another test's expectation fails too; so is one that cannot be imported. The tests
run in the order of `order.json`, likely killers first: that only saves time, for a survivor has passed them all.
"""

import argparse
import json
import linecache
import os
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
LEARNT = "learnt.json"
ORDER = "order.json"
TESTS = ("tests/rules", "tests/controller", "tests/modes")
# numba takes longer to compile the rules than all the other tests take together, and would compile each mutant anew
LEFT_OUT = ("tests/rules/test_rules_compiled.py",)
CRASHES = 5
"""Tests that crash before a mutant is given up as crashed."""
MEMORY_BYTES = 4 << 30


def crashed_in_ours(error: BaseException) -> bool:
    """Whether an exception came out of the code under test by accident: through one of its frames, and not by a `raise`
    of its own there."""
    if isinstance(error, BaseExceptionGroup):
        return all(crashed_in_ours(one) for one in error.exceptions)
    ours = None
    trace = error.__traceback__
    while trace is not None:
        name = trace.tb_frame.f_code.co_filename
        if name.startswith(str(ROOT / "supervisor")):
            ours = name, trace.tb_lineno
        trace = trace.tb_next
    if ours is None:
        return False
    return not linecache.getline(*ours).strip().startswith("raise ")


class Judge:
    """The pytest plugin."""

    def __init__(self, order: list[str]) -> None:
        self.rank = {name: number for number, name in enumerate(order)}
        self.verdict = ""
        self.crashes: list[str] = []
        self.seconds: dict[str, float] = {}

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        """Likely killers first."""
        items.sort(key=lambda item: self.rank.get(item.nodeid, len(self.rank)))

    def pytest_runtest_makereport(self, item: Any, call: Any) -> None:
        """Judge a failure as it happens."""
        if call.when == "call":
            self.seconds[item.nodeid] = call.duration
        if call.excinfo is None or self.verdict:
            return
        error = call.excinfo.value
        name = type(error).__name__
        if name in ("Skipped", "XFailed"):
            return
        said = f"{item.nodeid} {name}".replace("\n", " ")
        if crashed_in_ours(error):
            self.crashes.append(said)
            if len(self.crashes) >= CRASHES:
                self.verdict = f"crashed {self.crashes[0]}"
        else:
            self.verdict = f"killed {said}"
        if self.verdict:
            item.session.shouldstop = "judged"

    def pytest_collectreport(self, report: Any) -> None:
        """What cannot be imported has crashed."""
        if report.failed and not self.verdict:
            self.verdict = f"crashed {report.nodeid} at import"

    def final(self, status: int) -> str:
        """The verdict."""
        if self.verdict:
            return self.verdict
        if self.crashes:
            return f"crashed {self.crashes[0]}"
        return "survived" if status == 0 else f"crashed pytest status {status}"


def run_tests(judge: Judge, *more: str) -> int:
    """pytest's exit status."""
    import pytest

    left_out = [word for name in LEFT_OUT for word in ("--ignore", name)]
    plugins = ["-p", "no:cacheprovider", "-p", "no:xdist", "-p", "no:benchmark"]
    return int(pytest.main(["-q", "--no-header", "--tb=no", *plugins, *left_out, *more, *TESTS], plugins=[judge]))


def learn() -> str:
    """Run the unmutated tests twice: for their times, and for the lines that each of them runs. Returns the verdict."""
    judge = Judge([])
    started_s = time.perf_counter()
    verdict = judge.final(run_tests(judge, "-p", "no:cov"))
    whole_s = time.perf_counter() - started_s
    lines = _lines_by_test(list(judge.seconds)) if verdict == "survived" else {}
    learnt = {"seconds": judge.seconds, "lines": lines, "whole_s": whole_s}
    (ROOT / LEARNT).write_text(json.dumps(learnt), encoding="utf-8")
    return verdict


def _lines_by_test(names: list[str]) -> dict[str, list[int]]:
    """For "module:line" the tests that run it, by their place in `names`."""
    # in a process of its own, since the code under test is imported already
    subprocess.run([sys.executable, __file__, "--trace"], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)
    from coverage import CoverageData

    data = CoverageData(str(ROOT / ".coverage"))
    data.read()
    index = {name: number for number, name in enumerate(names)}
    found: dict[str, list[int]] = {}
    for path in data.measured_files():
        where = Path(path).relative_to(ROOT).as_posix()
        for line, contexts in data.contexts_by_lineno(path).items():
            tests = {index.get(one.rpartition("|")[0]) for one in contexts}
            found[f"{where}:{line}"] = sorted(number for number in tests if number is not None)
    return found


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--learn", action="store_true")
    what.add_argument("--trace", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    os.chdir(ROOT)
    sys.path[0] = str(ROOT)
    os.environ["HYPOTHESIS_PROFILE"] = "ci"  # the same examples each time: no mutant is killed by luck
    if args.learn:
        print(f"\nVERDICT {learn()}")
        return 0
    if args.trace:
        return run_tests(Judge([]), "--cov=supervisor", "--cov-context=test", "--cov-report=")
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    judge = Judge(json.loads((ROOT / ORDER).read_text(encoding="utf-8")))
    verdict = judge.final(run_tests(judge, "-p", "no:cov"))
    import supervisor

    if not str(supervisor.__file__).startswith(str(ROOT)):
        verdict = "crashed another checkout was tested"
    print(f"\nVERDICT {verdict}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
