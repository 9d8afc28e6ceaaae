"""Inputs that wander at random, for long streams of ticks."""

import random
from typing import Any

from supervisor.signals import InputSpec


class Wandering:
    """Inputs that begin sound and wander: contacts flip and vanish, numbers drift, each comes back in time."""

    def __init__(self, specs: tuple[InputSpec, ...], start: dict[str, Any], luck: random.Random) -> None:
        self.specs, self.luck = specs, luck
        self.start = {spec.name: start.get(spec.name, 0.0) for spec in specs}
        self.values = dict(self.start)

    def move(self, changes: int) -> None:
        """Change that many inputs."""
        luck = self.luck
        for spec in luck.sample(self.specs, changes):
            sound = self.start[spec.name]
            if luck.random() < 0.4:
                self.values[spec.name] = sound
            elif luck.random() < 0.15:
                self.values[spec.name] = None
            elif spec.is_contact:
                self.values[spec.name] = luck.random() < 0.5
            else:
                near = (self.values[spec.name] or 0.0) + luck.gauss(0.0, 0.12) * min(spec.high - spec.low, 150.0)
                self.values[spec.name] = min(spec.high, max(spec.low, near))

    def inputs(self, kind: type) -> Any:
        """As `kind`, BoatInputs or ShaftInputs."""
        known = on = 0
        numbers = {}
        for spec in self.specs:
            value = self.values[spec.name]
            if value is None:
                continue
            known |= int(spec.bit)
            if spec.is_contact:
                on |= int(spec.bit) if value else 0
            else:
                numbers[spec.field] = float(value)
        return kind(known=known, on=on, **numbers)
