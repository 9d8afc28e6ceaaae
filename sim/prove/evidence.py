"""Which tests show a requirement: by their mark, and by having failed when its rule was broken on trial.

`@pytest.mark.sr("SR-07")` says that a test is about a requirement. The trial (tests/mutation/trial.py) breaks the rules
of each requirement one at a time and keeps in `noticed.json` which of the marked tests then failed. Both are read here
without running anything.
"""

import ast
import json
from collections import Counter
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

NOTICED = Path("mutation") / "noticed.json"
"""Where the trial keeps its result, in the folder of the tests."""


class Trial(NamedTuple):
    """One break of a requirement's rule: what was broken, in words, and the marked tests that failed then."""

    broken: str
    tests: tuple[str, ...]


def marked_tests(folder: Path) -> dict[str, list[str]]:
    """Identifier -> what is marked for it in `folder`: `tests/a.py::TestB::test_c`, a whole class `tests/a.py::TestB`,
    or a file `tests/a.py` whose marks stand in no function of its own. Sorted."""
    found: dict[str, set[str]] = {}
    for path in sorted(folder.rglob("*.py")):
        tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
        place = path.relative_to(folder.parent).as_posix()
        for where, identifier in _marks(tree, place):
            found.setdefault(identifier, set()).add(where)
    return {identifier: sorted(places) for identifier, places in sorted(found.items())}


def _marks(tree: ast.Module, place: str) -> Iterator[tuple[str, str]]:
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            inner = f"{place}::{node.name}"
            yield from ((inner, one) for decorator in node.decorator_list for one in _named(decorator))
            for member in node.body:
                if isinstance(member, ast.FunctionDef):
                    yield from ((f"{inner}::{member.name}", one) for one in _decorated(member))
        elif isinstance(node, ast.FunctionDef):
            yield from ((f"{place}::{node.name}", one) for one in _decorated(node))
        else:
            yield from ((place, one) for one in _named(node))


def _decorated(function: ast.FunctionDef) -> Iterator[str]:
    for decorator in function.decorator_list:
        yield from _named(decorator)


def _named(node: ast.AST) -> Iterator[str]:
    """Identifiers in calls of `....sr("SR-01", ...)` anywhere below `node`."""
    for inner in ast.walk(node):
        if isinstance(inner, ast.Call) and isinstance(inner.func, ast.Attribute) and inner.func.attr == "sr":
            yield from (arg.value for arg in inner.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str))


def is_marked(marked: Mapping[str, list[str]], identifier: str, test: str) -> bool:
    """Whether a test carries the mark, itself, by its class, or by its file."""
    parts = test.split("::")
    return any("::".join(parts[:length]) in marked.get(identifier, ()) for length in range(1, len(parts) + 1))


def trials(folder: Path) -> dict[str, list[Trial]]:
    """Identifier -> its trials, as kept. Empty where none was ever made. Raises ValueError for a file that is none."""
    path = folder / NOTICED
    if not path.is_file():
        return {}
    kept: dict[str, dict[str, list[str]]] = json.loads(path.read_text(encoding="utf-8"))
    return {
        identifier: [Trial(broken, tuple(tests)) for broken, tests in breaks.items()]
        for identifier, breaks in sorted(kept.items())
    }


def weights(kept: Mapping[str, list[Trial]]) -> Counter[str]:
    """How many trials of any requirement each test noticed."""
    return Counter(test for made in kept.values() for trial in made for test in trial.tests)


def telling(made: list[Trial], weight: Mapping[str, int] | None = None) -> list[str]:
    """The fewest tests that between them noticed all trials. Greedy: the one that noticed most of those left comes
    first; of equal ones the one of the greater `weight`, then the one of the shorter name."""
    weight = weight or {}
    left = [set(trial.tests) for trial in made if trial.tests]
    chosen: list[str] = []
    while left:
        tests = {test for tests in left for test in tests}
        best = min(
            tests, key=lambda test: (-sum(test in one for one in left), -weight.get(test, 0), len(test), test)
        )  # fmt: skip
        chosen.append(best)
        left = [one for one in left if best not in one]
    return chosen
