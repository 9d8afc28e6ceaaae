"""The tables of docs/safety.md, written from the register.

`python -m sim.prove.page docs/safety.md` rewrites what stands between the markers; `--check` only compares (status 1
if the page is not current). Everything outside the markers is written by hand.
"""

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sim.prove.claims import Claim
from sim.prove.claims_boat import BOAT_CLAIMS
from sim.prove.claims_source import SHAFT_CLAIMS
from sim.prove.evidence import telling, trials, weights
from sim.prove.hazard_page import hazards_page
from sim.prove.numeric_index import NUMERIC_CLAIMS
from sim.prove.product import HISTORY
from sim.requirements import JUDGES, REGISTER, Requirement
from supervisor.config import load_config
from supervisor.controller.controller import freeze

BOAT = "marsh_tern"
JUDGED_BY_NAME = frozenset({"SR-50"})
"""Judged for each own interlock by its name, not by the requirement's."""
HANDFUL = 6
"""Tests that are named for one requirement, at most."""
_MARK = "<!-- {edge}:{name} (written by python -m sim.prove.page) -->"


def tables(tests: Path) -> dict[str, str]:
    """Name of each generated part -> its Markdown. `tests` is the folder of the tests."""
    return {"hazards": hazards_page(), "requirements": _requirements(tests)}


def _requirements(tests: Path) -> str:
    boat = freeze(load_config(BOAT))
    made = trials(tests)
    weight = weights(made)
    judged = {judge.identifier for judge in JUDGES}
    parts = [f"The numbers are those of the shipped `{BOAT}`; another boat file has its own."]
    for one in REGISTER:
        rows = [("hazards", ", ".join(one.hazards))]
        if one.rows:
            rows.append(("table rows", ", ".join(f"`{pattern}`" for pattern in one.rows)))
        rows.append(("rules", ", ".join(f"`{name}`" for name in one.rules)))
        rows.append(("proof", proof_words(one)))
        tried = made.get(one.id, [])
        rows.append(("broken on trial", "; ".join(trial.broken for trial in tried) or "nothing yet"))
        rows.append(("noticed by", _named(telling(tried, weight))))
        seen = "judged on signals: " if one.id in judged | JUDGED_BY_NAME else "not judged on signals; "
        rows.append(("closest approach", f"{seen}{one.margin}, {one.unit}"))
        rows.append(("installer", one.installer))
        if one.sources:
            rows.append(("sources", one.sources))
        body = "\n".join(f"| {name} | {text} |" for name, text in rows)
        parts.append(f"### {one.id} {one.title}\n\n{one.sentence(boat)}\n\n| | |\n| --- | --- |\n{body}")
    return "\n\n".join(parts)


def _named(tests: list[str]) -> str:
    shown = [f"`{test}`" for test in tests[:HANDFUL]]
    if len(tests) > HANDFUL:
        shown.append(f"and {len(tests) - HANDFUL} more in `tests/mutation/noticed.json`")
    return "<br>".join(shown) or "nobody"


def proof_words(one: Requirement) -> str:
    """How `thwart prove` shows a requirement, by number and names of claims."""
    claims: list[Claim[Any]] = [*BOAT_CLAIMS, *SHAFT_CLAIMS]
    tables_ = [claim.name for claim in claims if claim.requirement == one.id]
    history = [name for requirement, name, _ in HISTORY if requirement == one.id]
    numbers = [name for requirement, name in NUMERIC_CLAIMS if requirement == one.id]
    parts = []
    if tables_:
        parts.append(f"{len(tables_)} claim{'s' * (len(tables_) > 1)} on every word of the tables")
    if history:
        parts.append(f"on the product: {', '.join(history)}")
    if numbers:
        parts.append(f"on numbers: {', '.join(numbers)}")
    return "; ".join(parts) or one.instead


def renewed(page: str, parts: dict[str, str]) -> str:
    """The page with each generated part in its place. Raises ValueError where a marker is missing."""
    for name, text in parts.items():
        begin, end = _MARK.format(edge="begin", name=name), _MARK.format(edge="end", name=name)
        pattern = re.compile(re.escape(begin) + ".*?" + re.escape(end), re.DOTALL)
        if not pattern.search(page):
            raise ValueError(f"the page has no place for {name!r}: it needs the lines {begin!r} and {end!r}")
        page = pattern.sub(lambda _m, b=begin, t=text, e=end: f"{b}\n\n{t}\n\n{e}", page)  # type: ignore[misc]
    return page


def main(argv: Sequence[str] | None = None) -> int:
    """Write or check the page. Status 0 current or written, 1 not current, 2 bad input."""
    parser = argparse.ArgumentParser(prog="python -m sim.prove.page", description=__doc__)
    parser.add_argument("page", type=Path, metavar="PAGE", help="docs/safety.md")
    parser.add_argument("--check", action="store_true", help="only compare")
    args = parser.parse_args(argv)
    path: Path = args.page
    try:
        was = path.read_text(encoding="utf-8")
        now = renewed(was, tables(path.resolve().parent.parent / "tests"))
    except (OSError, ValueError) as error:
        print(f"{path}: {error}", file=sys.stderr)
        return 2
    if args.check:
        return 0 if was == now else 1
    path.write_text(now, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
