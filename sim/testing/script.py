"""What was done to a boat, tick by tick, as the steps of a procedure."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sim.bench.toml_text import key, toml
from sim.faults.base import Value
from supervisor.config import BoatConfig

Fault = tuple[str, str, tuple[tuple[str, Value], ...]]
"""(fault, target, parameters)"""


@dataclass
class ScriptStep:
    """One step: what is done at its start, in the bench's order (set, clear, inject, do), then `ticks` of time."""

    set: dict[str, float] = field(default_factory=dict)
    clear: list[tuple[str, str]] = field(default_factory=list)
    inject: list[Fault] = field(default_factory=list)
    do: dict[str, Value] = field(default_factory=dict)
    ticks: int = 0

    @property
    def acts(self) -> bool:
        """Something is done in this step."""
        return bool(self.set or self.clear or self.inject or self.do)

    def takes(self, kind: str, key: Any) -> bool:
        """Whether one more action fits: no time has passed, its turn has not gone by, and nothing else says it."""
        if self.ticks:
            return False
        order = ("set", "clear", "inject", "do")
        if any(getattr(self, later) for later in order[order.index(kind) + 1 :]):
            return False
        return key not in getattr(self, kind)

    def words(self) -> str:
        """The step in a few words, for its name in a procedure and for a report."""
        parts = [f"{target} = {shown(value)}" for target, value in self.set.items()]
        parts += [f"{fault} on {target} ends" for fault, target in self.clear]
        parts += [f"{fault} on {target}" for fault, target, _ in self.inject]
        parts += [f"{target} = {shown(value)}" for target, value in self.do.items()]
        return ", ".join(parts) or "time passes"


def shown(value: Value) -> str:
    """A value as people write it."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return value if isinstance(value, str) else f"{value:g}"


def tidy(steps: Iterable[ScriptStep]) -> list[ScriptStep]:
    """The same script with waits run together."""
    found: list[ScriptStep] = []
    for step in steps:
        if found and not step.acts:
            found[-1].ticks += step.ticks
        elif step.acts or step.ticks:
            found.append(ScriptStep(dict(step.set), list(step.clear), list(step.inject), dict(step.do), step.ticks))
    return found


def procedure_text(
    title: str,
    boat: str,
    purpose: str,
    requirements: Sequence[str],
    steps: Sequence[ScriptStep],
    tick_s: float,
    expect: Sequence[Mapping[str, Any]],
) -> str:
    """A procedure file that does the same again and then expects, on its last tick, all of `expect`."""
    lines = [
        f"title = {toml(title[:200])}",
        f"boat = {toml(boat)}",
        f"purpose = {toml(purpose[:2000])}",
        f"requirements = {toml(list(requirements))}",
    ]
    steps = tidy(steps)
    for number, step in enumerate(steps, 1):
        last = number == len(steps)
        lines += ["", "[[step]]", f"name = {toml(step.words()[:200])}"]
        if step.set:
            lines.append(f"set = {toml({key: float(value) for key, value in step.set.items()})}")
        if step.clear:
            lines.append(f"clear = {toml([{'fault': fault, 'target': target} for fault, target in step.clear])}")
        if step.inject:
            calls = [{"fault": fault, "target": target, **dict(params)} for fault, target, params in step.inject]
            lines.append(f"inject = {toml(calls)}")
        if step.do:
            lines.append(f"do = {toml(step.do)}")
        lines.append(f"wait_s = {toml(round(max(step.ticks, 1) * tick_s, 6))}")
        if last and expect:
            lines.append("expect = [")
            lines += [f"    {toml(one)}," for one in expect]
            lines.append("]")
    return "\n".join(lines) + "\n"


def boat_text(config: BoatConfig, folder: Path) -> str:
    """A varied configuration as a boat file; the DBC and plant files it names are looked for in `folder`."""
    data = config.model_dump(exclude_none=True)
    for bus in data["buses"].values():
        bus["dbc"] = [str((folder / name).resolve()) for name in bus["dbc"]]
    if "simulation" in data:
        data["simulation"]["plant"] = str((folder / data["simulation"]["plant"]).resolve())
    lines = [f"{key(name)} = {toml(value)}" for name, value in data.items() if value != {}]
    return "\n".join(["# limits drawn by a property test", *lines]) + "\n"
