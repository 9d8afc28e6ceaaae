"""The cause-and-effect matrix, printed from the tables."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sim.prove.diagram import boat_svg, shaft_svg
from sim.prove.matrix_own import own_page
from supervisor.config import BoatConfig
from supervisor.modes import (
    BOAT_CONDITIONS,
    BOAT_TABLE,
    BOAT_WORDS,
    PERMIT_CONDITIONS,
    PERMIT_TABLE,
    PERMIT_WORDS,
    SHAFT_CONDITIONS,
    SHAFT_TABLE,
    SHAFT_WORDS,
    BoatMode,
    PermitRow,
    Row,
    ShaftMode,
)

_HEAD = "<!-- generated from the mode tables by thwart prove; do not edit -->\n"


def matrix_files(config: BoatConfig | None = None) -> dict[str, str]:
    """File name -> contents: a page for each mode table with its diagram, one for the permits, one with what each
    condition means; and a page of the own interlocks of a boat that has some."""
    own = "" if config is None else own_page(config)
    return {
        **({"own.md": own} if own else {}),
        "boat.md": _page("Boat", BOAT_TABLE, BoatMode, dict(BOAT_WORDS), "boat.svg"),
        "shaft.md": _page("Shaft", SHAFT_TABLE, ShaftMode, dict(SHAFT_WORDS), "shaft.svg"),
        "permits.md": _permit_page(),
        "conditions.md": _condition_page(),
        "boat.svg": boat_svg(),
        "shaft.svg": shaft_svg(),
    }


def write_matrix(folder: Path, config: BoatConfig | None = None) -> list[Path]:
    """Write the files into `folder`, made if need be. Returns their paths; OSError where that fails."""
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for name, contents in matrix_files(config).items():
        path = folder / name
        path.write_text(contents, encoding="utf-8")
        paths.append(path)
    return paths


def _page(
    title: str, rows: Sequence[Row[Any, Any]], modes: type[Any], words: dict[Any, tuple[str, str]], picture: str
) -> str:
    lines = [
        _HEAD,
        f"# {title}: cause and effect",
        "",
        f"![modes]({picture})",
        "",
        "In each mode the rows are tried from the top; the first whose conditions all hold is taken. No row, no "
        "change.",
        "Numbers are those of the diagram. *Disarms*: thrust comes back only after fresh neutral of the lever.",
        "",
        "## Causes",
        "",
        "What one cause by itself does in each mode (the row that asks for nothing else); `.` is nothing by itself.",
        "",
        "| cause | " + " | ".join(mode.name for mode in modes) + " |",
        "| --- |" + " --- |" * len(modes.__members__),
    ]
    for bit, (when_set, when_clear) in words.items():
        for text, must, must_not in ((when_set, int(bit), 0), (when_clear, 0, int(bit))):
            cells = [_alone(rows, mode, must, must_not) for mode in modes]
            if any(cell != "." for cell in cells):
                lines.append(f"| {text} | " + " | ".join(cells) + " |")
    for mode in modes:
        lines += ["", f"## {mode.name}", "", "| row | when all of this holds | then |", "| ---: | --- | --- |"]
        for number, row in enumerate(rows):
            if row.source == mode:
                lines.append(f"| {number} | {_conditions(row, words)} | {_effect(row)} |")
    return "\n".join(lines) + "\n"


def _permit_page() -> str:
    """The permit table: a permit is given while one of its rows holds."""
    lines = [
        _HEAD,
        "# Permits of a shaft",
        "",
        "A permit is given while everything in one of its rows is so; several rows of a permit are several ways.",
        "",
        "| permit | while all of this holds |",
        "| --- | --- |",
    ]
    for row in PERMIT_TABLE:
        lines.append(f"| {row.permit.name} | {_conditions(row, dict(PERMIT_WORDS))} |")
    return "\n".join(lines) + "\n"


def _condition_page() -> str:
    """The register of conditions: each bit of the three words, with its words and when it is set."""
    lines = [_HEAD, "# Conditions", "", "Each is set exactly when what the third column says is so."]
    for title, rows in (("Boat", BOAT_CONDITIONS), ("Shaft", SHAFT_CONDITIONS), ("Permits", PERMIT_CONDITIONS)):
        lines += ["", f"## {title}", "", "| condition | words when set; when clear | set when | formed by | alarm |",
                  "| --- | --- | --- | --- | --- |"]  # fmt: skip
        for one in rows:
            alarm = str(one.alarm.name) if one.alarm else ""
            lines.append(
                f"| `{one.bit.name}` | {one.when_set}; {one.when_clear} | {one.formed} | `{one.rule}` | {alarm} |"
            )
    return "\n".join(lines) + "\n"


def _alone(rows: Sequence[Row[Any, Any]], mode: Any, must: int, must_not: int) -> str:
    for row in rows:
        if row.source == mode and int(row.must) == must and int(row.must_not) == must_not:
            return f"{row.dest.name}{', disarms' if row.disarms else ''}"
    return "."


def _conditions(row: Row[Any, Any] | PermitRow, words: dict[Any, tuple[str, str]]) -> str:
    parts = [when_set for bit, (when_set, _) in words.items() if int(row.must) & int(bit)]
    parts += [when_clear for bit, (_, when_clear) in words.items() if int(row.must_not) & int(bit)]
    return "; ".join(parts)


def _effect(row: Row[Any, Any]) -> str:
    marks = ", disarms" if row.disarms else ""
    marks += ", to PROPEL once torque is zero" if row.unload_to_propel else ""
    return f"**{row.dest.name}**{marks}: {row.words}"
