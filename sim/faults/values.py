"""Faults of values: the node's program or its sensor is wrong, its frames are perfectly good."""

from collections.abc import Sequence

from sim.faults.base import Bench, Fault, distort, fields_of, mend, node_of, shaft_of
from sim.nodes.sender import Field


class _OnFields(Fault):
    """A fault on the signals that carry some inputs."""

    fields: Sequence[Field] = ()

    def stop(self, bench: Bench, now_s: float) -> None:
        mend(self.fields)


class ValueStuck(_OnFields):
    """The input keeps the value it had when the fault began."""

    def start(self, bench: Bench, now_s: float) -> None:
        fields = fields_of(bench, self.target)
        first = fields[0]
        held = first.read(bench.plant, bench.nodes.panel, first.shaft)
        distort(fields, lambda value, time_s: held)
        self.fields = fields


class ValueDrift(_OnFields):
    """The input runs away from the truth at a steady rate, in its own unit for each second."""

    def start(self, bench: Bench, now_s: float) -> None:
        fields = fields_of(bench, self.target)
        rate = self.number("rate_per_s")
        if any(field.row is not None and field.row.spec.is_contact for field in fields):
            raise ValueError(f"{self.target} is a contact and cannot drift")
        distort(fields, lambda value, time_s: None if value is None else value + rate * (time_s - now_s))
        self.fields = fields


class ValueOutOfRange(_OnFields):
    """The input's signal holds a code that is no possible value; for a contact, the code that is neither on nor off."""

    def start(self, bench: Bench, now_s: float) -> None:
        fields = fields_of(bench, self.target)
        distort(fields, lambda value, time_s: value)
        for field in fields:
            code = impossible_code(field)
            if code is None:
                mend(fields)
                raise ValueError(f"every code of the signal that carries {self.target} is a possible value")
            field.forced_code = code
        self.fields = fields


def impossible_code(field: Field) -> int | None:
    """A raw code of the signal that the supervisor must refuse: out of range if there is one, else "error"."""
    signal, row = field.signal, field.row
    if row is None:
        return None
    lowest = -(1 << (signal.bits - 1)) if signal.signed else 0
    highest = lowest + (1 << signal.bits) - 1
    if row.spec.is_contact:
        return 2 if signal.bits > 1 and row.values is None else None
    if row.values is not None:
        return next((code for code in range(lowest, highest + 1) if code not in row.values), None)
    for code in (highest, highest - 1, highest - 2, highest - 3, lowest, lowest + 1):
        if code not in signal.absent:
            value = signal.physical(code) * row.factor + row.offset
            if not row.low <= value <= row.high:
                return code
    return None


class ContactBounces(_OnFields):
    """A contact says the other thing for `away_s`, and again after every `every_s`."""

    def start(self, bench: Bench, now_s: float) -> None:
        fields = fields_of(bench, self.target)
        if not all(field.row is not None and field.row.spec.is_contact for field in fields):
            raise ValueError(f"{self.target} is a number and cannot bounce")
        away_s, every_s = self.number("away_s"), self.number("every_s")

        def bounced(value: float | None, time_s: float) -> float | None:
            away = (time_s - now_s) % every_s < away_s
            return value if value is None or not away else 1.0 - value

        distort(fields, bounced)
        self.fields = fields


class PermitWithdrawn(_OnFields):
    """The monitor withdraws a permit and sets its limit to zero; its contactor stays closed."""

    def start(self, bench: Bench, now_s: float) -> None:
        which = self.text("permit")
        kinds = ("charge", "discharge") if which == "both" else (which,)
        fields = []
        for kind in kinds:
            fields += fields_of(bench, f"bank.{kind}_permit") + fields_of(bench, f"bank.{kind}_limit_a")
        distort(fields, lambda value, time_s: 0.0)
        self.fields = fields


class LeverLost(_OnFields):
    """The lever's wire breaks: position and neutral contact read "not available". Selectors beside it still work."""

    def start(self, bench: Bench, now_s: float) -> None:
        name = bench.boat_map.shaft_names[shaft_of(bench, self.target)]
        fields = fields_of(bench, f"{name}.lever.lever_pct") + fields_of(bench, f"{name}.lever.neutral")
        distort(fields, lambda value, time_s: None)
        self.fields = fields


class LockUnproven(_OnFields):
    """The lock's contacts fail open: it reads neither released nor engaged."""

    def start(self, bench: Bench, now_s: float) -> None:
        name = bench.boat_map.shaft_names[shaft_of(bench, self.target)]
        fields = fields_of(bench, f"{name}.lock.released") + fields_of(bench, f"{name}.lock.engaged")
        distort(fields, lambda value, time_s: 0.0)
        self.fields = fields


class HandsetLost(Fault):
    """The radio link to the handset breaks: its base station still sends, and says that it hears nothing."""

    def start(self, bench: Bench, now_s: float) -> None:
        node_of(bench, "handset")
        bench.nodes.panel.handset_link = 0

    def stop(self, bench: Bench, now_s: float) -> None:
        bench.nodes.panel.handset_link = 1
