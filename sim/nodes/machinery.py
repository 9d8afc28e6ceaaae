"""The nodes that act on the boat: drives, engines with gearbox, clutch and lock, stop relay of other sources.

Each obeys only good frames of the supervisor, and each falls to its safe side by itself when they stop: a drive to zero
torque with its enable off, permits to "barred", other sources to "stop".
"""

from typing import NamedTuple

from sim.nodes.hear import EPS_S
from sim.nodes.node import Node
from sim.nodes.own import OwnControl
from sim.nodes.panel import Panel
from supervisor.signals import BOAT

LET_GO_S = 0.15
"""A drive lets go of its torque this long after the last good order, to be at zero, and to have said so on the bus,
when good orders have stopped for the 200 ms that a drive may take."""


class DriveOrder(NamedTuple):
    """What a drive does: torque (N m at the shaft, positive ahead), its enable and precharge orders, and the
    hard-wired enable line, 1 or 0."""

    torque_nm: float
    enable: int
    precharge: int
    hard_enable: int


class DriveNode(Node):
    """An electric machine with its inverter. Its order and its hard-wired enable line are heard apart from each other:
    the line comes from the output module that carries the permits."""

    level = 0

    def order(self, now_s: float) -> DriveOrder:
        """The order in force. No good order for LET_GO_S, or no power: zero torque, enable and precharge off."""
        hearing = self.hearing
        if hearing is None or not self.powered:
            return DriveOrder(0.0, 0, 0, 0)
        level = self.level
        line = 1 if hearing.value(level, "drive.enable_output", now_s, unwired=1.0) else 0
        if hearing.age_s(level, "drive.torque_nm", now_s) >= LET_GO_S - EPS_S:
            return DriveOrder(0.0, 0, 0, line)
        enable = 1 if hearing.value(level, "drive.enable", now_s) else 0
        # a drive without a precharge order of its own charges its link when it is enabled
        precharge = 1 if hearing.value(level, "drive.precharge", now_s, unwired=float(enable)) else 0
        torque_nm = hearing.value(level, "drive.torque_nm", now_s) if enable else 0.0
        return DriveOrder(torque_nm, enable, precharge, line)


class EngineNode(Node):
    """A diesel with its gearbox: gateway frames, and a starter in series with the supervisor's start permit."""

    level = 0

    def start_permitted(self, now_s: float) -> bool:
        """The starter's circuit is closed; on a boat without that output it is bridged."""
        return self.hearing is None or self.hearing.value(self.level, "engine.start", now_s, unwired=1.0) != 0.0


class ContactsNode(Node):
    """The contact box of a shaft: gearbox, engine run, clutch and lock contacts, propeller speed; and the valves of
    clutch and lock, in series with the supervisor's permits."""

    level = 0

    def clutch_permitted(self, now_s: float) -> bool:
        """The clutch may be closed."""
        return self.hearing is None or self.hearing.value(self.level, "clutch.close", now_s, unwired=1.0) != 0.0

    def lock_permitted(self, now_s: float) -> bool:
        """The lock may be engaged."""
        return self.hearing is None or self.hearing.value(self.level, "lock.engage", now_s, unwired=1.0) != 0.0


class SourcesNode(Node):
    """The stop relay of shore charger, alternators and solar: listens only. It stops them when frames stop."""

    def stopped(self, now_s: float) -> bool:
        """The other sources are held off."""
        hearing = self.hearing
        if hearing is None or not hearing.wired(BOAT, "sources.stop"):
            return False
        return hearing.silent(BOAT, "sources.stop", now_s) or hearing.value(BOAT, "sources.stop", now_s) != 0.0


class Nodes(NamedTuple):
    """All nodes of a boat. The machinery's are in the order of the shafts; `all` has every one, by name; `own` the hand
    on each own interlock's signal, by the interlock's name."""

    panel: Panel
    drives: tuple[DriveNode, ...]
    engines: tuple[EngineNode, ...]
    contacts: tuple[ContactsNode, ...]
    sources: SourcesNode
    all: dict[str, Node]
    own: dict[str, OwnControl]
