"""A stand-in node: a box on the bus that sends its messages on time and hears what concerns it."""

from collections.abc import Iterable, Sequence

import can

from sim.nodes.hear import Hearing
from sim.nodes.panel import Panel
from sim.nodes.sender import Field, Sender
from sim.plant import PlantState

Frame = tuple[str, can.Message]
"""(bus name, frame)"""


class Node:
    """One box: `name` is its part, or part and shaft, as `monitor` or `drive.port`.

    `powered` 0 makes it silent and deaf, as does a pulled fuse.
    """

    def __init__(self, name: str, panel: Panel, senders: Sequence[Sender], hearing: Hearing | None = None) -> None:
        self.name = name
        self.panel = panel
        self.senders = tuple(senders)
        self.hearing = hearing
        self.powered = True

    def step(self, now_s: float, plant: PlantState) -> list[Frame]:
        """The frames due at `now_s`, of a boat in state `plant`."""
        found: list[Frame] = []
        if not self.powered:
            return found
        silent = self.panel.silent
        for sender in self.senders:
            if sender.due(now_s) and sender.place not in silent:
                for message in sender.frames(plant, self.panel, now_s):
                    found.append((sender.bus, message))
        return found

    def take(self, bus: str, message: can.Message, now_s: float) -> None:
        """Hear one frame of the supervisor."""
        if self.hearing is not None and self.powered:
            self.hearing.take(bus, message, now_s)

    @property
    def hears(self) -> Iterable[tuple[str, int]]:
        """(bus, identifier) of the frames that concern this node."""
        return () if self.hearing is None else self.hearing.identifiers

    def fields(self) -> Iterable[Field]:
        """Every signal that this node fills."""
        for sender in self.senders:
            yield from sender.fields
