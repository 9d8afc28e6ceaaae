"""The house: its rooms and what leans on what, read from the imports as they are. Writes its part of DEVELOPERS.md:

python tests/repository/house.py
"""

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- house: written by tests/repository/house.py -->\n", "<!-- end of house -->"


def rooms() -> dict[str, str]:
    """Each package below supervisor and sim, and the first line of what it says of itself."""
    found = {}
    for top in ("supervisor", "sim"):
        for folder in sorted(path for path in (ROOT / top).iterdir() if (path / "__init__.py").is_file()):
            text = ast.get_docstring(ast.parse((folder / "__init__.py").read_text(encoding="utf-8"))) or ""
            found[f"{top}.{folder.name}"] = text.split("\n")[0]
    return found


def leans(names: dict[str, str]) -> dict[str, set[str]]:
    """For each room, the rooms that its modules import from, functions' own imports included."""
    found: dict[str, set[str]] = {name: set() for name in names}
    for name in names:
        for file in (ROOT / name.replace(".", "/")).rglob("*.py"):
            for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
                modules = (
                    [node.module] if isinstance(node, ast.ImportFrom) and node.module and not node.level
                    else [one.name for one in node.names] if isinstance(node, ast.Import) else []
                )  # fmt: skip
                for module in modules:
                    room = ".".join(module.split(".")[:2])
                    if room in names and room != name:
                        found[name].add(room)
    return found


def reduced(found: dict[str, set[str]]) -> dict[str, set[str]]:
    """Without the arrows that follow from others."""
    below: dict[str, set[str]] = {}

    def reach(name: str, way: tuple[str, ...]) -> set[str]:
        if name in way:
            raise ValueError(f"a circle: {' -> '.join([*way, name])}")
        if name not in below:
            below[name] = {deep for one in found[name] for deep in (one, *reach(one, (*way, name)))}
        return below[name]

    for name in found:
        reach(name, ())
    return {
        name: {one for one in under if not any(one in below[other] for other in under if other != one)}
        for name, under in found.items()
    }


def part() -> str:
    """The picture and the table."""
    names = rooms()
    lines = ["```mermaid", "flowchart TD"]
    for top in ("sim", "supervisor"):
        lines.append(f"  subgraph {top}")
        lines += [f"    {name.replace('.', '_')}[{name.split('.')[1]}]" for name in names if name.startswith(f"{top}.")]
        lines.append("  end")
    for name, under in sorted(reduced(leans(names)).items()):
        lines += [f"  {name.replace('.', '_')} --> {one.replace('.', '_')}" for one in sorted(under)]
    lines += ["```", "", "| room | what it says of itself |", "| --- | --- |"]
    lines += [f"| `{name}` | {words} |" for name, words in names.items()]
    return "\n".join(lines) + "\n"


def page(text: str) -> str:
    """DEVELOPERS.md with its part as it should be."""
    head, _, rest = text.partition(BEGIN)
    _, _, tail = rest.partition(END)
    return f"{head}{BEGIN}{part()}{END}{tail}"


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
