"""What is left of a boat whose nodes fall silent one at a time, under way; its page docs/silence.md.

    python -m sim.bench.silence docs/silence.md

Electric thrust ahead on every shaft, engines stopped and in neutral; one node is heard no more; then the levers go to
neutral and an engine is asked for.
"""

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from sim.bench.written import write_page
from sim.rig.simulated import SimRig

BOATS = ("marsh_tern", "reed_warbler")
UNDER_WAY_S, SILENT_S, NEUTRAL_S, START_S = 4.0, 4.0, 12.0, 5.0
RUNS_RPM = 500.0


SUPERVISOR = "supervisor"


class Left(NamedTuple):
    """What is left after `node` fell silent: the boat's mode, shafts that still give electric thrust, and shafts whose
    engine starts once the levers are in neutral: by the supervisor's permit, and of the others with the guarded switch
    across it."""

    node: str
    boat_mode: str
    thrust: tuple[str, ...]
    engines: tuple[str, ...]
    bridged: tuple[str, ...]


def silent_nodes(boat: str | Path) -> tuple[str, ...]:
    """What of a boat can fall silent, the supervisor last. Raises ConfigError where it cannot be simulated."""
    rig = SimRig(boat)
    try:
        return (*(name for name, node in rig.nodes.all.items() if node.senders), SUPERVISOR)
    finally:
        rig.close()


def silence(boat: str | Path, node: str) -> Left:
    """One node of the boat file `boat` falls silent under way."""
    rig = SimRig(boat)
    try:
        rig.run(2.0)
        rig.act("helm.enable", "press")
        rig.run(2.5)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 50.0)
        rig.run(1.0)
        rig.set_plant("boat.speed_kn", 4.0)
        rig.run(UNDER_WAY_S)
        if node == SUPERVISOR:
            rig.supervisor_dead = True
        else:
            rig.inject("node_silent", node)
        rig.run(SILENT_S)
        seen = rig.signals()
        mode = "-" if rig.supervisor_dead else str(seen["boat.mode"])
        thrust = tuple(name for name in rig.shafts if float(seen[f"{name}.torque_nm"]) > 1.0)
        for name in rig.shafts:
            rig.act(f"{name}.lever_pct", 0.0)
        rig.run(NEUTRAL_S)
        engines = _started(rig)
        for name in rig.shafts:
            rig.act(f"{name}.start_bridge", True)
        bridged = tuple(name for name in _started(rig) if name not in engines)
    finally:
        rig.close()
    return Left(node, mode, thrust, engines, bridged)


def _started(rig: SimRig) -> tuple[str, ...]:
    """The shafts whose engine runs once it has been asked to start."""
    for name in rig.shafts:
        rig.act(f"{name}.engine", "start")
    rig.run(START_S)
    seen = rig.signals()
    return tuple(name for name in rig.shafts if float(seen[f"{name}.engine_rpm"]) > RUNS_RPM)


# --- the page

HEAD = """# One node silent

What is left when the nodes of the simulated boats fall silent one at a time, under way at half ahead on electric
thrust, engines stopped in neutral. Written by `python -m sim.bench.silence docs/silence.md`. *thrust* are the shafts
that still give electric thrust after {silent:g} s; *engine* those whose engine then starts in neutral by the
supervisor's permit, *bridged* those of the others that start with the guarded switch across it. The gearbox's own
neutral switch and the diver key sit in the start circuit itself, in series with both, and are never bridged.

With the supervisor dead the drives drop their torque, since its orders stop, and its start permits fall with it: the
guarded switch leaves the boat its engines. See SR-37 in [safety.md](safety.md), and try it at the jetty: these boats
are simulated.
"""


def _names(names: Sequence[str]) -> str:
    return ", ".join(names) or "none"


def page(left_by: Callable[[str, str], Left] = silence) -> str:
    """The page, freshly tried."""
    lines = [HEAD.format(silent=SILENT_S)]
    for boat in BOATS:
        lines += [f"## {boat}", "", "| silent | boat | thrust | engine | bridged |", "| --- | --- | --- | --- | --- |"]
        for node in silent_nodes(boat):
            left = left_by(boat, node)
            lines.append(
                f"| {left.node} | {left.boat_mode} | {_names(left.thrust)} | {_names(left.engines)} | "
                f"{_names(left.bridged)} |"
            )
        lines.append("")
    return "\n".join(lines)


def main(arguments: Sequence[str]) -> int:
    """The command."""
    return write_page(arguments, "sim.bench.silence", page)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
