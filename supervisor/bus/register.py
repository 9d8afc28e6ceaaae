"""The outputs a boat file may map: names, where their numbers come from, and what they mean."""

from typing import NamedTuple

OWN = -2
"""Level of the owner's own interlocks: bit k is channel k, the k-th `[[interlock]]` of the boat file."""


class OutputSpec(NamedTuple):
    """One row of the register of outputs. `guarded` outputs may only be mapped to a message with counter and checksum;
    `required` ones must be mapped for every shaft of a boat that is not listen-only; `shown` ones are for displays
    only and order nothing."""

    name: str
    text: str
    guarded: bool
    required: bool = False
    shown: bool = False


BOAT_OUTPUTS: dict[str, OutputSpec] = {
    spec.name: spec
    for spec in (
        OutputSpec("sources.stop", "stop output to shore charger, alternators and solar", True),
        OutputSpec("sounder.on", "sounder output", False),
        OutputSpec("boat.mode", "boat mode, 0 STANDBY, 1 NEUTRAL_WAIT, 2 READY, 3 TRIPPED", False),
        OutputSpec("boat.alarms", "alarm word, bits 0 to 31", False),
        OutputSpec("boat.more_alarms", "alarm word, from bit 32 on", False),
        OutputSpec("boat.charge_limit_a", "limit on charging current now in force, A", False),
        OutputSpec("boat.derate_pct", "power of electric thrust allowed, % of rated power", False),
        OutputSpec("boat.charge_rule", "rule that sets the limit on charging current", False, shown=True),
        OutputSpec("boat.brake_a", "current that braking may feed, all shafts together, A", False, shown=True),
        OutputSpec("boat.brake_rule", "rule that sets the limit on braking current", False, shown=True),
        OutputSpec("boat.discharge_a", "current that thrust may draw, all shafts together, A", False, shown=True),
        OutputSpec("boat.discharge_rule", "rule that sets the limit on the current of thrust", False, shown=True),
        OutputSpec("boat.returned_alarms", "alarms that sounded, went, and were not acknowledged", False, shown=True),
        OutputSpec("handset.in_control", "1 while the handset is the control position", False),
    )
}

SHAFT_OUTPUTS: dict[str, OutputSpec] = {
    spec.name: spec
    for spec in (
        OutputSpec("drive.torque_nm", "torque order at the propeller shaft, N m, positive ahead", True, required=True),
        OutputSpec("drive.enable", "drive may work", True, required=True),
        OutputSpec("drive.enable_output", "hard-wired enable output of the drive", True),
        OutputSpec("drive.precharge", "order to precharge the DC link", True),
        OutputSpec("drive.current_a", "DC current the order aims at, A, positive into the bank", False),
        OutputSpec("engine.start", "engine start permit", True),
        OutputSpec("clutch.close", "permit to close the shaft clutch", True),
        OutputSpec("lock.engage", "permit to engage the shaft lock", True),
        OutputSpec("shaft.mode", "shaft mode, 0 REST, 1 PROPEL, 2 GENERATE, 3 HARVEST, 4 UNLOAD, 5 ISOLATED", False),
        OutputSpec("shaft.cause", "what stopped the shaft, 0 nothing: docs/alarms.md", False, shown=True),
        OutputSpec(
            "shaft.answer",
            "what the crew must do: 0 nothing, 1 lever to neutral, 2 RESET, 3 look and ACKNOWLEDGE",
            False,
            shown=True,
        ),
        OutputSpec("shaft.limit_pct", "electric thrust allowed now, % of rated power", False, shown=True),
        OutputSpec("shaft.limit_rule", "rule that sets the limit on electric thrust", False, shown=True),
        OutputSpec(
            "shaft.brake_nm",
            "braking torque (against rotation) that this shaft alone could have now, N m",
            False,
            shown=True,
        ),
    )
}

SHOWN: frozenset[str] = frozenset(spec.name for spec in (*BOAT_OUTPUTS.values(), *SHAFT_OUTPUTS.values()) if spec.shown)
"""The outputs that are for displays only."""
