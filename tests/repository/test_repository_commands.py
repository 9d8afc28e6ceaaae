"""Every command line of ours in README and docs: it is understood as it stands, and where it names adapters of a
shipped boat it names enough of them."""

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.cli.app import build_parser
from supervisor.bus import compile_boat
from supervisor.bus.port import bus_settings
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime.run import refuse_embedded_buses

ROOT = Path(__file__).resolve().parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
PLACEHOLDERS = re.compile(r"\b[A-Z]{3,}(?:\b|_)|\[|\.\.\.|<")
"""A form to fill in is no command."""


def commands() -> Iterator[tuple[str, str]]:
    """(page, command) of each line of a block, and each code span, that begins with `thwart` and a verb."""
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        blocks = re.findall(r"^```\w*\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
        lines = [line.strip() for block in blocks for line in block.replace("\\\n", " ").splitlines()]
        spans = re.findall(r"`(thwart [^`\n]+)`", re.sub(r"^```.*?^```", "", text, flags=re.DOTALL | re.MULTILINE))
        for line in [*(line for line in lines if re.match(r"(\$ )?thwart \w", line)), *spans]:
            command = (
                line.removeprefix("$ ")
                .split(" #")[0]
                .split(" && ")[0]
                .split(" | ")[0]
                .split(" > ")[0]
                .split("   ")[0]
                .strip()
            )
            if not PLACEHOLDERS.search(command):
                yield str(page.relative_to(ROOT)), command


ALL = sorted(set(commands()))
WHOLE = [(page, command) for page, command in ALL if len(command.split()) > 2 and command.split()[2][0] != "-"]
"""Without those that only name an option."""


def test_there_are_some() -> None:
    assert len(WHOLE) > 20
    assert any("--no-hardware" in command for _, command in WHOLE)


@pytest.mark.parametrize(("page", "command"), WHOLE, ids=[f"{page}: {command}"[:90] for page, command in WHOLE])
def test_it_is_understood(page: str, command: str) -> None:
    words = shlex.split(command)[1:]
    if words[-1] in ("--help", "--version"):
        return
    args = build_parser().parse_args(words)  # ends the test where it is not understood
    if getattr(args, "bus", None) and Path(str(args.config)).stem in ("marsh_tern", "reed_warbler", "example_tender"):
        file = ROOT / args.config if str(args.config).endswith(".toml") else resolve_boat(args.config)
        config = load_config(file)
        essential = frozenset(compile_boat(config, file).essential)
        # raises where a bus that matters has no adapter on this line
        refuse_embedded_buses(bus_settings(config, args.bus), essential, str(file))
