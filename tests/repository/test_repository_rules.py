"""Rules of the repository itself, read from its source."""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("supervisor", "sim")
SOURCES = sorted(path for package in PACKAGES for path in (ROOT / package).rglob("*.py"))
PURE = ("rules", "modes", "controller", "signals", "config")


def name(path: Path) -> str:
    return str(path.relative_to(ROOT))


def trees() -> Iterator[tuple[str, ast.Module]]:
    for path in SOURCES:
        yield name(path), ast.parse(path.read_text(encoding="utf-8"))


def test_there_is_something_to_look_at() -> None:
    assert len(SOURCES) > 40


def test_no_file_is_long() -> None:
    """A hint: about 700 lines, for one thought that should not be torn apart."""
    long = {name(path): lines for path in SOURCES if (lines := len(path.read_text("utf-8").splitlines())) > 800}
    assert long == {}


def test_nothing_is_called_utils() -> None:
    bad = [name(path) for path in SOURCES if path.stem in ("utils", "util", "helpers", "misc", "common")]
    assert bad == []


def test_every_module_says_what_it_is() -> None:
    assert [where for where, tree in trees() if not ast.get_docstring(tree)] == []


def test_no_assert_guards_the_runtime() -> None:
    found = [f"{w}:{node.lineno}" for w, tree in trees() for node in ast.walk(tree) if isinstance(node, ast.Assert)]
    assert found == []


@pytest.mark.parametrize("package", PURE)
def test_no_clock_below_the_runtime(package: str) -> None:
    """Time is passed in: no `time`, no `datetime`, not even imported."""
    found = []
    for path in sorted((ROOT / "supervisor" / package).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            modules = []
            if isinstance(node, ast.Import):
                modules = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                modules = [node.module or ""]
            found += [f"{name(path)}:{node.lineno} imports {m}" for m in modules if m.split(".")[0] in
                      ("time", "datetime", "asyncio", "threading", "socket", "logging")]  # fmt: skip
    assert found == []


@pytest.mark.parametrize("package", ["rules", "modes", "signals"])
def test_rules_do_no_input_or_output(package: str) -> None:
    found = []
    for path in sorted((ROOT / "supervisor" / package).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("open", "print", "input")
            ):
                found.append(f"{name(path)}:{node.lineno} {node.func.id}()")
    assert found == []


def test_rules_compute_with_products_only() -> None:
    """Compiled `x**3`, hypot and the like differ from interpreted in the last bit; min and max treat NaN by order."""
    found = []
    for path in sorted((ROOT / "supervisor" / "rules").rglob("*.py")):
        if path.stem in ("tick", "finite"):  # the executor around the scalar rules
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Pow):
                found.append(f"{name(path)}:{node.lineno} **")
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("min", "max", "pow"):
                found.append(f"{name(path)}:{node.lineno} {node.func.id}()")
            if isinstance(node, ast.Attribute) and node.attr == "_replace":
                found.append(f"{name(path)}:{node.lineno} _replace")
    assert found == []


def _broad(handler: ast.ExceptHandler) -> bool:
    kinds = handler.type.elts if isinstance(handler.type, ast.Tuple) else [handler.type]
    return any(
        kind is None or (isinstance(kind, ast.Name) and kind.id in ("Exception", "BaseException")) for kind in kinds
    )


def test_no_broad_except_without_a_reason_beside_it() -> None:
    found = []
    for path in SOURCES:
        lines = path.read_text("utf-8").splitlines()
        for node in ast.walk(ast.parse("\n".join(lines))):
            if isinstance(node, ast.ExceptHandler) and _broad(node):
                raises = any(isinstance(inner, ast.Raise) for inner in ast.walk(node))
                reason = re.search(r"#.*\w{4,}", lines[node.lineno - 1])
                if not raises and not reason:
                    found.append(f"{name(path)}:{node.lineno}")
    assert found == []


def test_every_lint_ignore_in_the_supervisor_has_its_reason_beside_it() -> None:
    bad = []
    for path in sorted((ROOT / "supervisor").rglob("*.py")):
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            if re.search(r"#\s*noqa(:\s*[A-Z0-9, ]+)?\s*$", line):
                bad.append(f"{name(path)}:{number}")
    assert bad == []


def test_no_module_level_mutable_state_in_the_core() -> None:
    """Registers are filled once where they stand; a module-level list or set that starts empty is filled later."""
    found = []
    for path in SOURCES:
        if path.parts[-2] not in (*PURE, "bus", "runtime"):
            continue
        for node in ast.parse(path.read_text("utf-8")).body:
            value = getattr(node, "value", None)
            empty = (isinstance(value, ast.List | ast.Set) and not value.elts) or (
                isinstance(value, ast.Dict) and not value.keys
            )
            if isinstance(node, ast.Assign | ast.AnnAssign) and empty:
                found.append(f"{name(path)}:{node.lineno}")
            if isinstance(node, ast.Global):
                found.append(f"{name(path)}:{node.lineno} global")
    assert found == []


def test_the_supervisor_never_imports_the_simulator() -> None:
    found = []
    for path in sorted((ROOT / "supervisor").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "sim":
                found.append(f"{name(path)}:{node.lineno}")
            if isinstance(node, ast.Import) and any(alias.name.split(".")[0] == "sim" for alias in node.names):
                found.append(f"{name(path)}:{node.lineno}")
    assert found == []


# ---- the project's files


def test_every_dependency_has_its_reason_beside_it() -> None:
    text = (ROOT / "pyproject.toml").read_text("utf-8")
    project = tomllib.loads(text)["project"]
    wanted = [*project["dependencies"], *(d for group in project["optional-dependencies"].values() for d in group)]
    lines = text.splitlines()
    bare = []
    for dependency in wanted:
        line = next(line for line in lines if f'"{dependency}"' in line)
        if "#" not in line and not dependency.startswith("thwart["):
            bare.append(dependency)
    assert bare == []


def test_the_core_stays_small_and_without_the_compiler() -> None:
    core = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    names = {re.split(r"[<>=~!\[]", dependency)[0] for dependency in core}
    assert names <= {"python-can", "cantools", "transitions", "pydantic", "pyserial"}, names


def test_the_readme_has_its_two_command_lines_between_markers() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    for mark, word in (("demo", "thwart demo"), ("tests", "pytest")):
        found = re.search(rf"<!-- {mark} -->\n```\w*\n(.+?)\n```\n<!-- end -->", text, re.DOTALL)
        assert found, f"no block between <!-- {mark} --> and <!-- end -->"
        commands = [line for line in found[1].splitlines() if line.strip()]
        assert len(commands) == 1, f"{mark}: one line that works as it stands"
        assert word in commands[0]


@pytest.mark.parametrize(
    "wanted", ["CHANGELOG.md", "DEVELOPERS.md", "LICENSE", "README.md", "docs/safety.md", ".ci/run"]
)
def test_the_file_is_there(wanted: str) -> None:
    path = ROOT / wanted
    assert path.is_file()
    assert path.read_text("utf-8").strip()


def test_the_changelog_speaks_of_this_version() -> None:
    version = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["version"]
    text = (ROOT / "CHANGELOG.md").read_text("utf-8")
    assert f"## {version}" in text or f"## [{version}]" in text or "Unreleased" in text


def test_the_readme_warns_of_the_name_it_shares() -> None:
    """The import name is also that of an unrelated process manager on PyPI."""
    text = (ROOT / "README.md").read_text("utf-8")
    assert "process manager" in text


def test_no_machine_path_is_written_anywhere() -> None:
    """Paths of the machine this was written on have no place in the project."""
    found = []
    for folder in ("supervisor", "sim", "configs", "docs", "tests"):
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".py", ".toml", ".md", ".dbc") and re.search(
                r"(?<![\w.])/(work|home|root|Users)/", path.read_text("utf-8")
            ):
                found.append(name(path))
    found = [where for where in found if not where.startswith("tests/repository/")]
    assert found == []


# ---- the tests


TESTS = sorted((ROOT / "tests").rglob("test_*.py"))


def test_file_names_of_tests_are_unique() -> None:
    """pytest imports them by their bare names."""
    names = [path.name for path in TESTS]
    assert sorted(set(names)) == sorted(names)


def test_no_test_is_skipped_or_expected_to_fail_for_good() -> None:
    found = []
    for path in TESTS:
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            if re.search(r"@?pytest\.mark\.(xfail|skip)\b", line) and "repository" not in str(path):
                found.append(f"{name(path)}:{number}")
    assert found == []


@pytest.mark.parametrize("folder", ["rules", "modes", "controller"])
def test_tests_of_rules_do_not_import_the_limits_they_check(folder: str) -> None:
    """A limit is retyped by hand: constants in capitals come from the code only as masks and tables."""
    allowed = {"BOAT_TABLE", "SHAFT_TABLE", "BOAT_COMPILED", "SHAFT_COMPILED", "BOAT_ROWS", "SHAFT_ROWS", "BOAT_WORDS",
               "SHAFT_WORDS", "NO_ROW", "NEVER", "NO_OWN", "BOAT_INPUTS", "SHAFT_INPUTS", "ALARM_TEXT"}  # fmt: skip
    found = []
    for path in sorted((ROOT / "tests" / folder).rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("supervisor"):
                found += [f"{name(path)}:{node.lineno} {alias.name}" for alias in node.names
                          if alias.name.isupper() and alias.name not in allowed]  # fmt: skip
    assert found == []
