"""Simulated parts of a boat on real buses, in real time, beside whatever else is there."""

from sim.nodes.live.rig import LiveRig
from sim.nodes.live.stand_in import StandIn, choose

__all__ = ["LiveRig", "StandIn", "choose"]
