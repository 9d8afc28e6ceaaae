"""What the rules decide, pinned: a digest over long random streams of ticks, of modes, orders, permits and alarms.

A refactoring of the tick must not change one bit of it. A change of behaviour that is meant changes the digests here,
in the same commit, and says why. The digests cover what a tick decides, not how it remembers it.
"""

import hashlib
import random
import struct
from typing import Any

import pytest
from boatyard.boats import frozen
from boatyard.rig import BOAT_AT_REST, SHAFT_AT_REST
from boatyard.wandering import Wandering

from supervisor.config import load_config
from supervisor.controller import freeze
from supervisor.rules import Boat, initial_memory, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, ShaftInputs

TICKS = 4000
FRESH = 400
"""Ticks after which the boat is made anew: most wanderings end in a trip."""

SCENES: tuple[tuple[dict[str, Any], dict[str, Any]], ...] = (
    ({}, {"lever.lever_pct": 70.0, "lever.neutral": False, "drive.machine_speed_rpm": 200.0,
          "shaft.propeller_speed_rpm": 200.0}),
    ({}, {"lever.lever_pct": -60.0, "lever.neutral": False, "drive.machine_speed_rpm": 300.0,
          "shaft.propeller_speed_rpm": 300.0}),
    ({}, {"shaft.charge_under_way": True, "engine.running": True, "engine.engine_speed_rpm": 1600.0,
          "gearbox.neutral": False, "gearbox.ahead": True, "gearbox.gear_report": 1.0,
          "drive.machine_speed_rpm": 640.0, "shaft.propeller_speed_rpm": 640.0}),
    ({}, {"shaft.harvest": True, "drive.machine_speed_rpm": 350.0, "shaft.propeller_speed_rpm": 350.0}),
    ({"handset.held": True}, {"handset.thrust_pct": 0.0}),
)  # fmt: skip
"""What boat and shafts are brought into once READY: thrust ahead and astern, charging, harvest, handset."""

PINNED: dict[str, tuple[str, set[int]]] = {
    "marsh_tern": ("843f4bc6c2e952a5e6f29582", {0, 1, 2, 4, 5}),
    "reed_warbler": ("8e50103b0ff76a01012c4fa6", {0, 1, 2, 4, 5}),
    "three_shafts": ("1d9d0051a066bb8b77e8bfea", {0, 1, 2, 3, 4, 5}),
    "four_shafts": ("6e0d931e9cfa947120aaec21", {0, 1, 2, 3, 4, 5}),
}
"""Digest and the shaft modes that the stream passes through (a shipped gearbox that may not trail does not harvest)."""


def decided(boat: Boat, seed: int, ticks: int) -> tuple[str, set[int]]:
    """The digest of `ticks` ticks of `boat`, and the shaft modes that were seen."""
    luck = random.Random(seed)
    digest = hashlib.sha256()
    seen: set[int] = set()
    for number in range(ticks):
        stage = number % FRESH
        if stage == 0:
            memory = initial_memory(boat)
            about = Wandering(BOAT_INPUTS, BOAT_AT_REST, luck)
            shafts = [Wandering(SHAFT_INPUTS, SHAFT_AT_REST, luck) for _ in boat.shafts]
            about.values["bank.voltage_v"] = boat.limits.min_voltage_v * 1.1
            for shaft in shafts:
                shaft.values["drive.link_v"] = boat.limits.min_voltage_v * 1.1
        about.values["helm.enable"] = stage == 40
        if stage % 110 == 80:
            changes, each = SCENES[luck.randrange(len(SCENES))]
            about.values.update(changes)
            for shaft in shafts:
                shaft.values.update(each)
        if stage % 110 == 60:
            for wandering in (about, *shafts):
                wandering.values.update({k: v for k, v in wandering.start.items() if not k.endswith("_v")})
        if stage > 70:
            about.move(luck.choice([0, 0, 0, 1]))
            for shaft in shafts:
                shaft.move(luck.choice([0, 0, 0, 1]))
        boat_in = about.inputs(BoatInputs)
        shaft_in = [shaft.inputs(ShaftInputs) for shaft in shafts]
        dt_s = luck.choice([0.02, 0.02, 0.02, 0.02, 0.0, 0.3])
        result = run_tick(boat, memory, boat_in, shaft_in, dt_s)
        memory = result.memory
        digest.update(struct.pack("<i", memory.boat.mode))
        command = result.boat_command
        digest.update(struct.pack("<iiqddi", command.stop_sources, command.sounder, command.alarms,
                                  command.charge_limit_a, command.derate_pct, command.handset_in_control))  # fmt: skip
        for state, order in zip(memory.shafts, result.shaft_commands, strict=True):
            seen.add(state.mode)
            digest.update(struct.pack("<iddi", state.mode, order.torque_nm, order.current_a, order.permits))
    return digest.hexdigest()[:24], seen


BOATS = {
    "marsh_tern": lambda: freeze(load_config("marsh_tern")),
    "reed_warbler": lambda: freeze(load_config("reed_warbler")),
    "three_shafts": lambda: frozen(shafts=3),
    "four_shafts": lambda: frozen(shafts=4),
}


@pytest.mark.parametrize("name", BOATS)
def test_the_decisions_are_those_that_were_pinned(name: str) -> None:
    assert decided(BOATS[name](), 9, TICKS) == PINNED[name]
