"""The verdict of a run as JSON, Markdown and plain text."""

import json
import math
from collections.abc import Collection, Iterator, Mapping
from typing import Any

from sim.bench.procedure import Procedure
from sim.bench.result import Check, Result, StepResult
from sim.requirements import Judgement, called
from sim.rig.energy import Energy

SCHEMA = 1


def verdict_json(result: Result, procedure: Procedure, evidence: Mapping[str, Any]) -> str:
    """The whole verdict for machines; `evidence` adds files, hashes and versions."""
    steps = [{**step._asdict(), "checks": [check._asdict() for check in step.checks]} for step in result.steps]
    whole = {
        "schema": SCHEMA,
        "verdict": "pass" if result.passed else "stopped" if result.interrupted else "fail",
        "title": result.title,
        "boat": result.boat,
        "purpose": procedure.purpose,
        "requirements": procedure.requirements,
        "failures": result.failures,
        "not_shown": result.not_shown,
        "simulated_s": result.sim_s,
        "ticks": result.ticks,
        "wall_s": round(result.wall_s, 3),
        "steps": steps,
        "judged": [_judged(one) for one in result.judged],
        "unjudged": dict(result.unjudged),
        "energy": None if result.energy is None else _energy_json(result.energy),
        **evidence,
    }
    return json.dumps(whole, indent=1, allow_nan=False) + "\n"


def rows(step: StepResult) -> Iterator[tuple[str, str, str]]:
    """Expected, seen, verdict: one row a check; a step without expectations is one row."""
    if not step.checks:
        yield "-", "", "done" if step.verdict == "pass" else step.verdict
    for check in step.checks:
        yield check.expected, seen(check), check.verdict


def seen(check: Check) -> str:
    """What was seen, and when."""
    if check.at_s is None or check.verdict in ("not run", "not shown"):
        return check.seen
    return f"{check.seen} at {check.at_s:.2f} s"


def notes(step: StepResult) -> list[str]:
    """What was done to the boat; a jump of the simulated boat says so."""
    lines = []
    if step.jumps:
        lines.append(f"JUMP: simulated boat set to {step.jumps}")
    if step.faults:
        lines.append(f"fault: {step.faults}")
    if step.actions:
        lines.append(f"action: {step.actions}")
    return lines


def verdict_markdown(result: Result, procedure: Procedure, evidence: Mapping[str, Any]) -> str:
    """The verdict as a page with the plot and the table step by step."""
    lines = [f"# {result.title}", "", f"**{result.summary()}**", "", f"Boat: {result.boat}"]
    lines += [f"- {_cell(remark)}" for remark in evidence.get("remarks", ())]
    if procedure.requirements:
        lines.append(f"Safety requirements: {', '.join(procedure.requirements)}")
    if procedure.purpose:
        lines += ["", _cell(procedure.purpose)]
    if evidence.get("plot"):
        lines += ["", "![the run](run.png)"]
    lines += [
        "",
        "Times under *seen* count from the start of the step. A *JUMP* is a value the simulated boat was set to, not "
        "something that happened by itself.",
        "",
        "| step | at | what | expected | seen | verdict |",
        "| ---: | ---: | --- | --- | --- | --- |",
    ]
    for step in result.steps:
        what = "<br>".join([f"**{_cell(step.name)}**", *map(_cell, notes(step))])
        at = f"{step.start_s:.1f} s" if step.verdict != "not run" else ""
        for number, (expected, saw, verdict) in enumerate(rows(step)):
            head = f"| {step.number} | {at} | {what}" if number == 0 else "| | |"
            mark = f"**{verdict.upper()}**" if verdict == "fail" else verdict
            lines.append(f"{head} | {_cell(expected)} | {_cell(saw)} | {mark} |")
    lines += _requirements(result, procedure.requirements)
    lines += [] if result.energy is None else _energy(result.energy)
    lines += ["", "| file | SHA-256 |", "| --- | --- |"]
    lines += [f"| {name} | `{digest}` |" for name, digest in evidence.get("sha256", {}).items()]
    return "\n".join(lines) + "\n"


def broken(result: Result) -> list[str]:
    """A line for each safety requirement that was violated."""
    return [
        f"{called(one.id)}: violated for {one.duration_s:.2f} s, worst at {one.time_s:.2f} s: {one.words}"
        for one in result.violated
    ]


def _judged(one: Judgement) -> dict[str, Any]:
    """For JSON, which knows no NaN: a closest approach that is not a number is null."""
    closest = one.closest if one.closest is not None and math.isfinite(one.closest) else None
    return {**one._asdict(), "closest": closest}


def _requirements(result: Result, named: Collection[str]) -> list[str]:
    if not result.judged and not result.unjudged:
        return []
    lines = [
        "",
        f"{'Each safety requirement' if result.unjudged else 'Every safety requirement that can be judged on signals'} "
        f"{'listed here was judged on every tick that was heard' if result.unjudged else 'was judged on every tick'}; "
        "*closest approach* is the smallest margin that was left, below zero when violated; *not exercised*: "
        "nothing in this run called on it, which is no failure. "
        "In **bold** those that the procedure is for.",
        "",
        "| requirement | verdict | closest approach | at | seen there |",
        "| --- | --- | ---: | ---: | --- |",
    ]
    for one in result.judged:
        name = called(one.id)
        name = f"**{name}**" if one.id in named else name
        if one.held is None or one.closest is None or one.time_s is None:
            lines.append(f"| {name} | not exercised | | | |")
            continue
        word = "held" if one.held else f"**VIOLATED** for {one.duration_s:.2f} s"
        lines.append(f"| {name} | {word} | {one.closest:.4g} {one.unit} | {one.time_s:.2f} s | {_cell(one.words)} |")
    lines += [""] if result.unjudged else []
    lines += [f"- {called(name)}: **not judged**, {_cell(why)}" for name, why in result.unjudged.items()]
    by_test = [name for name in named if name not in {*(one.id for one in result.judged), *result.unjudged}]
    if by_test:
        lines += ["", f"Not judged on signals, shown by test: {', '.join(by_test)}."]
    return lines


def _cell(text: str) -> str:
    """Text that cannot break the table."""
    return text.replace("|", "\\|").replace("\n", " ")


def _energy_json(energy: Energy) -> dict[str, float]:
    return {**energy._asdict(), "left_over_wh": energy.left_over_wh, "left_over_pct": energy.left_over_pct}


def _energy(one: Energy) -> list[str]:
    """Where energy came from and went to."""
    rows = [
        ("in", "engines, at the flywheel", one.engines_wh),
        ("in", "sun", one.sun_wh),
        ("in", "shore charger", one.shore_wh),
        ("out", "hotel loads", one.hotel_wh),
        ("out", "propellers, to the water", one.propellers_wh),
        ("out", "heat of drives", one.drives_heat_wh),
        ("out", "heat of the bank", one.bank_heat_wh),
        ("out", "heat of slipping clutches", one.clutches_heat_wh),
        ("out", "heat of gearboxes, belts, bearings, locks", one.friction_heat_wh),
        ("out", "heat of cables and fuses", one.cables_heat_wh),
        ("out", "precharge resistors and DC links", one.links_wh),
        ("kept", "bank", one.bank_gain_wh),
        ("kept", "all that turns", one.turning_gain_wh),
        ("JUMP", "set by hand, not counted", one.set_by_hand_wh),
    ]
    lines = ["", "Energy of the simulated boat in this run, Wh:", "", "| | what | Wh |", "| --- | --- | ---: |"]
    lines += [f"| {way} | {what} | {value:.1f} |" for way, what, value in rows if abs(value) >= 0.05]
    share = f", {one.left_over_pct:.2f} % of the {one.moved_wh:.1f} Wh that were moved" if one.moved_wh >= 0.05 else ""
    fuel = f" Fuel: {one.fuel_l:.3f} l, {one.fuel_wh:.0f} Wh of heat." if one.fuel_l > 0.0 else ""
    lines += ["", f"Not accounted for: {one.left_over_wh:.2f} Wh{share} (steps of the simulation).{fuel}"]
    return lines
