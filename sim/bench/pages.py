"""The tables of docs/procedures.md and docs/boat-file.md, written from the program.

`python -m sim.bench.pages docs` rewrites what stands between the markers; `--check` only compares (status 1 if a page
is not current). Everything outside the markers is written by hand.
"""

import argparse
import re
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

from pydantic import BaseModel

from sim.bench.signal_words import BOAT_SIGNALS, OWN_SIGNALS, SHAFT_SIGNALS
from sim.faults.catalogue import CATALOGUE
from sim.rig.jumps import BOAT_JUMPS, SHAFT_JUMPS
from sim.rig.targets import BOAT_TARGETS, OWN_WORDS, SHAFT_TARGETS
from supervisor.bus import BOAT_OUTPUTS, SHAFT_OUTPUTS
from supervisor.config import schema
from supervisor.config.describe import describe
from supervisor.controller.controller import cause_number
from supervisor.controller.status import Rule
from supervisor.modes import SHAFT_TABLE, ShaftCondition, ShaftMode
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, InputSpec
from supervisor.signals.alarm_list import ALARM_LIST

_MARK = "<!-- {edge}:{name} (written by python -m sim.bench.pages) -->"
_HEAD = ("key", "allowed", "default", "means")
_TABLES = (
    ("boat", "[boat]", schema.Boat),
    ("bank", "[bank]", schema.Bank),
    ("limits", "[limits]", schema.Limits),
    ("buses", "[buses.NAME]", schema.Bus),
    ("drive", "[shaft.drive]", schema.Drive),
    ("engine", "[shaft.engine]", schema.Engine),
    ("gearbox", "[shaft.gearbox]", schema.Gearbox),
    ("clutch", "[shaft.clutch]", schema.Clutch),
    ("lock", "[shaft.lock]", schema.Lock),
    ("rules", "[shaft.rules]", schema.ShaftRules),
    ("input", "an input's mapping", schema.InputMap),
    ("interlock", "[[interlock]]", schema.Interlock),
)
_RATED = {"bank.cell_max_v": "[bank]", "bank.cell_min_v": "[bank]"}
"""Inputs whose name a rating of the boat file has as well."""
_AT_WORK = (ShaftMode.PROPEL, ShaftMode.GENERATE, ShaftMode.HARVEST, ShaftMode.UNLOAD)
_NO_STOP = (
    ShaftCondition.BOAT_READY | ShaftCondition.OFF_ORDER | ShaftCondition.THRUST_ORDER | ShaftCondition.HARVEST_ORDER
    | ShaftCondition.PAUSED
)  # fmt: skip
_RULES: dict[Rule, str] = {
    Rule.RATING: "a rating or a setting of the boat file, and nothing lower",
    Rule.PERMIT: "a permit of the bank monitor that is withdrawn or unknown",
    Rule.MONITOR: "the bank monitor's limit",
    Rule.SOC: "the state of charge",
    Rule.CELL_VOLTAGE: "the voltage of a cell",
    Rule.TEMPERATURE: "a temperature",
    Rule.UNKNOWN: "an input that is unknown",
    Rule.OTHER_SOURCES: "other sources: shore charger, alternators, solar",
    Rule.HOTEL_LOAD: "the hotel load",
    Rule.OWN_INTERLOCK: "an own interlock",
    Rule.HANDSET: "the handset's limit on thrust",
    Rule.ENDED: "charging that has ended and has not begun again",
}


def procedure_parts() -> dict[str, str]:
    """Name of each generated part of docs/procedures.md -> its Markdown."""
    return {"do": _do(), "set": _set(), "faults": _faults(), "signals": _signals()}


def boat_parts() -> dict[str, str]:
    """Name of each generated part of docs/boat-file.md -> its Markdown."""
    keys = "\n\n".join(f"### {title}\n\n{_keys(model)}" for _, title, model in _TABLES)
    return {"keys": keys, "inputs": _inputs(), "outputs": _outputs()}


def alarm_parts() -> dict[str, str]:
    """The generated parts of docs/alarms.md."""
    alarms = [
        (
            f"`{row.alarm.name}`", str(int(row.alarm).bit_length() - 1), str(int(row.priority)), row.cause,
            row.consequence, row.answer, row.goes,
        )
        for row in ALARM_LIST
    ]  # fmt: skip
    rules = [(str(int(rule)), rule.name.lower(), _RULES[rule]) for rule in Rule]
    head = ("alarm", "bit", "priority", "cause", "consequence", "answer", "ends")
    return {
        "alarms": _table(head, alarms),
        "causes": _table(("number", "condition", "what stopped the shaft"), _causes()),
        "rules": _table(("number", "rule", "the limit is set by"), rules),
    }


def _causes() -> list[tuple[str, ...]]:
    """The numbers of what can stop a shaft, with the words of the rows that go by each. What the crew ends itself, the
    boat leaving READY and a pause are no stops (`supervisor.rules.stops`)."""
    words: dict[int, list[str]] = {}
    for row in SHAFT_TABLE:
        stops = row.dest == ShaftMode.ISOLATED
        if row.source in _AT_WORK and row.dest in (ShaftMode.REST, ShaftMode.UNLOAD) and row.source != row.dest:
            deselected = not row.must and row.must_not & ShaftCondition.UNDER_WAY_ORDER
            stops = not deselected and not _NO_STOP & 1 << cause_number(row) - 1
        if stops and row.words not in words.setdefault(cause_number(row), []):
            words[cause_number(row)].append(row.words)
    return [
        (str(number), f"`{ShaftCondition(1 << number - 1).name}`", "; or ".join(words[number]))
        for number in sorted(words)
        if words[number]
    ]


def _keys(model: type[BaseModel]) -> str:
    """The keys of one table; of an interlock those that it has besides an input's mapping."""
    rows = describe(model)
    if model is not schema.Interlock:
        return _table(_HEAD, rows)
    own = [row for row in rows if row[0].strip("`") not in schema.SignalMap.model_fields]
    mapped = ", ".join(f"`{name}`" for name in schema.SignalMap.model_fields)
    return f"{_table(_HEAD, own)}\n\nand, as in an input's mapping: {mapped}."


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [f"| {' | '.join(head)} |", f"| {' | '.join('---' for _ in head)} |"]
    return "\n".join([*lines, *(f"| {' | '.join(row)} |" for row in rows)])


def _do() -> str:
    rows = [(f"`{name}`", kind.allowed()) for name, kind in BOAT_TARGETS.items()]
    rows += [(f"`SHAFT.{name}`", kind.allowed()) for name, kind in SHAFT_TARGETS.items()]
    rows.append(("`handset.SHAFT_pct`", SHAFT_TARGETS["lever_pct"].allowed()))
    words = ", ".join(f'"{word}"' for word in OWN_WORDS)
    rows.append(("`interlock.NAME`", f"{words}; for a number also a value in its unit"))
    return _table(("target of `do`", "takes"), rows)


def _set() -> str:
    rows = [(f"`{name}`", f"{low:g} to {high:g}") for name, (low, high) in BOAT_JUMPS.items()]
    rows += [(f"`SHAFT.{name}`", f"{low:g} to {high:g}") for name, (low, high) in SHAFT_JUMPS.items()]
    return _table(("target of `set`", "takes"), rows)


def _faults() -> str:
    rows = []
    for entry in CATALOGUE.values():
        params = "; ".join(
            f"`{key}` {param.allowed()} (default {_plain(param.default)})" for key, param in entry.params.items()
        )
        rows.append((f"`{entry.name}`", entry.targets, entry.words, params or "-"))
    return _table(("fault", "target", "what happens", "parameters"), rows)


def _plain(value: object) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _signals() -> str:
    rows = [(f"`{name}`", words) for name, words in BOAT_SIGNALS.items()]
    rows += [(f"`SHAFT.{name}`", words) for name, words in SHAFT_SIGNALS.items()]
    rows += [(f"`{name}`", words) for name, words in OWN_SIGNALS.items()]
    return _table(("signal", "is"), rows)


def _inputs() -> str:
    rows = [_input(spec) for spec in BOAT_INPUTS if not spec.name.startswith("runtime.")]
    head = ("input", "is", "plausible", "guarded", "when lost", "may be left out")
    boat = _table(head, rows)
    shaft = _table(head, [_input(spec) for spec in SHAFT_INPUTS])
    return f"Of the boat, under `[inputs]`:\n\n{boat}\n\nOf a shaft, under `[shaft.inputs]`:\n\n{shaft}"


def _input(spec: InputSpec) -> tuple[str, ...]:
    plausible = "contact" if spec.is_contact else f"{spec.low:g} to {spec.high:g} {spec.unit}".rstrip()
    lost = spec.default.name.lower()
    if spec.floor is not spec.default:
        lost += f" (at least {spec.floor.name.lower()})" if spec.floor.value else ""
    elif spec.floor.value:
        lost += " (at least)"
    absent = "no" if spec.if_not_fitted is None else "yes"
    text = spec.text + (
        f"; measured, the rating of the same name is in {_RATED[spec.name]}" if spec.name in _RATED else ""
    )
    return (f"`{spec.name}`", text, plausible, "yes" if spec.guarded else "no", f"{lost}", absent)


def _outputs() -> str:
    rows = [
        (f"`{spec.name}`", level, spec.text, "yes" if spec.guarded else "no", "yes" if spec.required else "no")
        for level, register in (("boat", BOAT_OUTPUTS), ("shaft", SHAFT_OUTPUTS))
        for spec in register.values()
    ]
    return _table(("output", "of", "is", "guarded", "required"), rows)


def renewed(page: str, parts: Mapping[str, str]) -> str:
    """The page with each generated part in its place. Raises ValueError where a marker is missing."""
    for name, text in parts.items():
        begin, end = _MARK.format(edge="begin", name=name), _MARK.format(edge="end", name=name)
        pattern = re.compile(re.escape(begin) + ".*?" + re.escape(end), re.DOTALL)
        if not pattern.search(page):
            raise ValueError(f"the page has no place for {name!r}: it needs the lines {begin!r} and {end!r}")
        written = f"{begin}\n\n{text}\n\n{end}"
        page = pattern.sub(lambda _match, written=written: written, page)  # type: ignore[misc]
    return page


def main(argv: Sequence[str] | None = None) -> int:
    """Write or check the pages. Status 0 current or written, 1 not current, 2 bad input."""
    parser = argparse.ArgumentParser(prog="python -m sim.bench.pages", description=__doc__)
    parser.add_argument("docs", type=Path, metavar="DOCS", help="folder of the pages")
    parser.add_argument("--check", action="store_true", help="only compare")
    args = parser.parse_args(argv)
    current = True
    for name, parts in (
        ("procedures.md", procedure_parts()), ("boat-file.md", boat_parts()), ("alarms.md", alarm_parts()),
    ):  # fmt: skip
        path: Path = args.docs / name
        try:
            was = path.read_text(encoding="utf-8")
            now = renewed(was, parts)
            if was != now and not args.check:
                path.write_text(now, encoding="utf-8")
        except (OSError, ValueError) as error:
            print(f"{path}: {error}", file=sys.stderr)
            return 2
        current = current and was == now
    return 1 if args.check and not current else 0


if __name__ == "__main__":
    sys.exit(main())
