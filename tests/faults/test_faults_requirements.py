"""Every fault of the catalogue, in every mode, with every safety requirement judged on every tick.

What the reaction must be is in test_faults_reactions.py; here is what must never be, whatever is hit. Targets are drawn
from a fixed seed, for a boat has some eighty inputs.
"""

import random
from pathlib import Path

import pytest

from sim.faults import CATALOGUE
from sim.rig.simulated import SimRig
from sim.testing.bench import Bench

SITUATIONS = ("ready", "propel", "generate", "harvest", "at_rest", "handset", "tripped", "isolated")
DRAWN = 1
"""Targets of each fault in each situation; other situations draw others."""


def targets(rig: SimRig, name: str, draw: random.Random) -> list[str]:
    """Some of the targets that a fault may have on this boat."""
    kind = CATALOGUE[name].targets
    if kind in ("monitor", "handset"):
        return [kind]
    nodes = [node for node in rig.nodes.all if rig.nodes.all[node].senders]
    mapped = [field for node in nodes for field in rig.nodes.all[node].fields() if field.row is not None]
    only = {"value_drift": False, "contact_bounces": True}  # numbers only, contacts only
    keys = [field.key for field in mapped if name not in only or field.row.spec.is_contact is only[name]]  # type: ignore[union-attr]
    every = {"bus": list(rig.buses), "shaft": list(rig.shafts), "node": nodes, "input": keys}[kind]
    return draw.sample(every, min(DRAWN, len(every)))


ALL = [(fault, situation) for fault in sorted(CATALOGUE) for situation in SITUATIONS]
TRIED = [
    pytest.param(*one, id="-".join(one), marks=[pytest.mark.campaign] if (number + number // 8) % 2 else [])
    for number, one in enumerate(ALL)
]
"""Half of them in each run, each fault in four situations and each situation with half of the faults; the other half
with `-m campaign`."""


@pytest.mark.parametrize(("fault", "situation"), TRIED)
def test_no_fault_breaks_a_requirement(fault: str, situation: str, tmp_path: Path) -> None:
    draw = random.Random(f"{fault} {situation}")
    rig = SimRig("marsh_tern", seed=draw.randrange(1000))
    try:
        bench = Bench(rig, failures=tmp_path)
        bench.situation(situation)
        for target in targets(rig, fault, draw):
            bench.inject(fault, target).run(1.0)
            bench.clear(fault, target).run(0.5)
    finally:
        rig.close()
