"""Simulated parts of a boat on real buses, in real time, beside whatever else is there."""

from sim.rig.live.rig import LiveRig
from sim.rig.live.stand_in import StandIn, choose

__all__ = ["LiveRig", "StandIn", "choose"]
