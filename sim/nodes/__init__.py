"""Stand-in nodes: the boxes of a boat, speaking real frames of its own DBC files. `sim.rig` has a whole boat."""

from sim.nodes.build import build_nodes, new_panel
from sim.nodes.coupling import plant_inputs
from sim.nodes.machinery import ContactsNode, DriveNode, DriveOrder, EngineNode, Nodes, SourcesNode
from sim.nodes.node import Frame, Node
from sim.nodes.panel import Panel, ShaftPanel
from sim.nodes.sender import Field, Sender

__all__ = [
    "ContactsNode",
    "DriveNode",
    "DriveOrder",
    "EngineNode",
    "Field",
    "Frame",
    "Node",
    "Nodes",
    "Panel",
    "Sender",
    "ShaftPanel",
    "SourcesNode",
    "build_nodes",
    "new_panel",
    "plant_inputs",
]
