"""Mutation testing of the rules and the controller: a seeded sample of cosmic-ray's mutants, each against their tests.

    python tests/mutation/sample.py --count 120 --seed 1 --jobs 2

A mutant is *killed* when a test fails (pytest's exit status 1). One that cannot even be imported, or that runs beyond
the time limit, is counted as *crashed*: that says nothing about the tests. Survivors are printed with file, line and
change. The checkout itself is never touched: each job mutates a copy of its own.
"""

import argparse
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

ROOT = Path(__file__).resolve().parents[2]
MODULES = ("supervisor/rules", "supervisor/controller")
TESTS = ("tests/rules", "tests/controller", "tests/modes")
LIMIT_S = 300.0
CONFIG = """\
[cosmic-ray]
module-path = {modules}
timeout = {limit}
excluded-modules = ["supervisor/rules/bits.py", "**/__init__.py"]
test-command = "{python} {here} --one"

[cosmic-ray.distributor]
name = "local"
"""


class Outcome(NamedTuple):
    """What became of one mutant."""

    kind: str
    place: str
    change: str


def one() -> int:
    """The test command inside a mutated copy: pytest's exit status, said in words that the report finds again."""
    command = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", *TESTS]
    command += ["--ignore", "tests/rules/test_rules_compiled.py"]
    status = subprocess.run(command, capture_output=True, text=True, check=False).returncode
    print(f"PYTEST-STATUS {status}")
    return 0 if status == 0 else 1


def prepare(folder: Path) -> Path:
    """A copy of what git tracks, as it stands in the working tree."""
    copy = folder / "copy"
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in listed.splitlines():
        if (ROOT / name).is_file():
            place = copy / name
            place.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, place)
    here = copy / "tests" / "mutation" / "sample.py"
    text = CONFIG.format(modules=list(MODULES), limit=LIMIT_S, python=sys.executable, here=here).replace("'", '"')
    (copy / "cosmic-ray.toml").write_text(text, encoding="utf-8")
    return copy


def sessions(copies: Sequence[Path], count: int, seed: int) -> int:
    """Write a session into each copy, the sample shared out among them. Returns how many mutants there are in all."""
    from cosmic_ray.work_db import WorkDB, use_db

    total = 0
    for number, copy in enumerate(copies):
        tool = Path(sys.executable).with_name("cosmic-ray")
        subprocess.run([tool, "init", "cosmic-ray.toml", "session.sqlite"], cwd=copy, check=True, capture_output=True)
        with use_db(str(copy / "session.sqlite"), WorkDB.Mode.open) as database:
            items = sorted(database.work_items, key=lambda item: str(item.mutations))
            total = len(items)
            chosen = random.Random(seed).sample(items, min(count, total))
            database.clear()
            database.add_work_items(chosen[number :: len(copies)])
    return total


def outcomes(copy: Path) -> list[Outcome]:
    """What became of the mutants of one copy."""
    from cosmic_ray.work_db import WorkDB, use_db

    found = []
    with use_db(str(copy / "session.sqlite"), WorkDB.Mode.open) as database:
        items = {item.job_id: item for item in database.work_items}
        for job_id, result in database.results:
            mutation = items[job_id].mutations[0]
            place = f"{mutation.module_path}:{mutation.start_pos[0]}"
            output = result.output or ""
            if "PYTEST-STATUS 0" in output:
                kind = "survived"
            elif "PYTEST-STATUS 1" in output:
                kind = "killed"
            else:
                kind = "crashed"
            lines = (result.diff or "").splitlines()
            change = " -> ".join(
                line[1:].strip() for line in lines if line[:1] in "+-" and line[:3] not in ("+++", "---")
            )
            found.append(Outcome(kind, place, change or f"{mutation.operator_name} {mutation.occurrence}"))
    return found


def run(count: int, seed: int, jobs: int) -> tuple[list[Outcome], int]:
    """Run the sample. Returns the outcomes and how many mutants there are in all."""
    with tempfile.TemporaryDirectory() as place:
        copies = [prepare(Path(place) / str(job)) for job in range(jobs)]
        total = sessions(copies, count, seed)
        tool = Path(sys.executable).with_name("cosmic-ray")
        running = [
            subprocess.Popen([tool, "exec", "cosmic-ray.toml", "session.sqlite"], cwd=copy, stdout=subprocess.DEVNULL)
            for copy in copies
        ]
        for process in running:
            process.wait()
        return [outcome for copy in copies for outcome in outcomes(copy)], total


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=60, help="mutants to draw")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--one", action="store_true", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.one:
        return one()
    found, total = run(args.count, args.seed, args.jobs)
    kinds = {kind: [one for one in found if one.kind == kind] for kind in ("killed", "survived", "crashed")}
    for outcome in (*kinds["survived"], *kinds["crashed"]):
        print(f"{outcome.kind}  {outcome.place}  {outcome.change}")
    judged = len(kinds["killed"]) + len(kinds["survived"])
    score = 100.0 * len(kinds["killed"]) / judged if judged else 0.0
    print(f"{len(found)} of {total} mutants: {', '.join(f'{len(ones)} {kind}' for kind, ones in kinds.items())}; "
          f"score {score:.1f} % of those judged")  # fmt: skip
    return 0


if __name__ == "__main__":
    sys.exit(main())
