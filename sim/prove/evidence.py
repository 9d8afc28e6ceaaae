"""Which tests say that they show a requirement, by the mark `@pytest.mark.sr("SR-07")`: found without running them."""

import ast
from pathlib import Path


def marked_files(folder: Path) -> dict[str, list[str]]:
    """Identifier -> test files (relative to the parent of `folder`, sorted) with a test marked for it."""
    found: dict[str, set[str]] = {}
    for path in sorted(folder.rglob("*.py")):
        for identifier in _marked(path):
            found.setdefault(identifier, set()).add(path.relative_to(folder.parent).as_posix())
    return {identifier: sorted(files) for identifier, files in sorted(found.items())}


def _marked(path: Path) -> set[str]:
    marked: set[str] = set()
    tree = ast.parse(path.read_text(encoding="utf-8"), str(path))
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "sr":
            marked |= {arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)}
    return marked
