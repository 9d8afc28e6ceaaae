"""The inputs, latches and timers of one tick as variables, and what may be taken for granted of them.

Contacts are on only where they are known, as the bus hands them over; a number that is unknown is 0.0, one that is
known within the plausible range of the register (the bus refuses others); the time since the last tick is at least 0.
What is remembered is taken for granted only as far as the invariants say (`sim.prove.invariants`).
"""

from collections.abc import Mapping, Sequence
from enum import IntFlag
from typing import Any, NamedTuple

from sim.prove.solver.terms import Term, Terms, Truth
from sim.prove.solver.values import Bits, CannotWalk, Cases
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat, BoatLatch, BoatState, Memory, ShaftLatch, ShaftState
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, Alarm, BoatInput, BoatInputs, InputSpec, ShaftInput, ShaftInputs

WORDS: dict[tuple[str, str], type[IntFlag]] = {
    ("BoatInputs", "known"): BoatInput,
    ("ShaftInputs", "known"): ShaftInput,
    ("BoatState", "latches"): BoatLatch,
    ("BoatState", "acknowledged"): Alarm,
    ("ShaftState", "latches"): ShaftLatch,
}
"""Words of bits, by (kind, field), with the bits that they can have."""

NUMBERS: dict[tuple[str, str], tuple[int, ...]] = {
    ("BoatState", "mode"): tuple(int(mode) for mode in BoatMode),
    ("ShaftState", "mode"): tuple(int(mode) for mode in ShaftMode),
    ("ShaftState", "last_sign"): (-1, 0, 1),
}
"""Small whole numbers, by (kind, field), with the values that they can have."""


CONTACTS: dict[str, tuple[InputSpec, ...]] = {"BoatInputs": BOAT_INPUTS, "ShaftInputs": SHAFT_INPUTS}


class Assumption(NamedTuple):
    """Something taken for granted, in words."""

    truth: Truth
    text: str


class Symbols(NamedTuple):
    """One tick's arguments as variables, and what is taken for granted of the inputs."""

    was: Memory
    boat_in: BoatInputs
    shaft_in: tuple[ShaftInputs, ...]
    dt_s: Term
    assumed: tuple[Assumption, ...]


class Maker:
    """Makes the variables."""

    def __init__(self, terms: Terms) -> None:
        self.terms = terms
        self.assumed: list[Assumption] = []

    def truth(self, name: str) -> Term:
        """A condition that is free."""
        return self.terms.variable(name, truth=True)

    def number(self, name: str) -> Term:
        """A real number that is free."""
        return self.terms.variable(name, truth=False)

    def word(self, name: str, kind: type[IntFlag]) -> Bits:
        """A word whose bits are free."""
        return Bits({int(bit).bit_length() - 1: self.truth(f"{name}.{bit.name}") for bit in kind})

    def cases(self, name: str, values: tuple[int, ...]) -> Cases:
        """A whole number that has one of `values`: coded in as few free conditions as will do, the last value taking
        the codes that are left over, so that exactly one always holds."""
        bits = [self.truth(f"{name}.{place}") for place in range(_width(values))]
        ways: dict[int, list[Truth]] = {}
        for code in range(1 << len(bits)):
            literals = [bit if code >> p & 1 else self.terms.negation(bit) for p, bit in enumerate(bits)]
            ways.setdefault(values[min(code, len(values) - 1)], []).append(self.terms.all(literals))
        return Cases({value: self.terms.any(codes) for value, codes in ways.items()})

    def record(self, kind: Any, prefix: str) -> Any:
        """A NamedTuple with a variable in each field, of the form that its default has. CannotWalk for a whole number
        that neither WORDS nor NUMBERS knows."""
        return kind(**{f: self._field(kind, prefix, f, kind._field_defaults[f]) for f in kind._fields})

    def _field(self, kind: Any, prefix: str, field: str, default: Any) -> Any:
        name, key = f"{prefix}.{field}", (kind.__name__, field)
        if key in WORDS:
            return self.word(name, WORDS[key])
        if key in NUMBERS:
            return self.cases(name, NUMBERS[key])
        return self._like(name, key, default)

    def _like(self, name: str, key: tuple[str, str], default: Any) -> Any:
        if isinstance(default, float):
            return self.number(name)
        if isinstance(default, tuple) and hasattr(default, "_fields"):
            return self.record(type(default), name)
        if isinstance(default, tuple):
            return tuple(self._like(f"{name}[{place}]", key, one) for place, one in enumerate(default))
        raise CannotWalk(f"{'.'.join(key)}: which values this whole number can have is not known")

    def inputs(self, kind: Any, prefix: str, specs: tuple[InputSpec, ...]) -> Any:
        """Inputs as the bus hands them over."""
        made = self.record(_Contacts(kind), prefix)
        known: Bits = made.known
        on: dict[int, Truth] = {}
        for spec in specs:
            place = int(spec.bit).bit_length() - 1
            if spec.is_contact:
                shown = self.truth(f"{prefix}.on.{_short(spec)}")
                on[place] = self.terms.both(known.bit(place), shown)
            else:
                self._range(getattr(made, spec.field), known.bit(place), spec)
        return made._replace(on=Bits(on))

    def _range(self, value: Term, known: Truth, spec: InputSpec) -> None:
        within = self.terms.all((self.terms.at_most(spec.low, value), self.terms.at_most(value, spec.high)))
        nothing = self.terms.equal(value, 0.0)
        self.assume(self.terms.if_truth(known, within, nothing), f"{spec.name} from {spec.low:g} to {spec.high:g}")

    def assume(self, truth: Truth, text: str) -> None:
        """Take `truth` for granted."""
        self.assumed.append(Assumption(truth, text))


Value = bool | float


def spread(was: Memory, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs], dt_s: float) -> dict[str, Value]:
    """The values of the variables for one real tick. ValueError for a whole number outside what is declared."""
    values: dict[str, Value] = {"dt_s": float(dt_s)}
    _spread(was.boat, "was", values)
    for i, state in enumerate(was.shafts):
        _spread(state, f"was.shafts[{i}]", values)
    _spread(boat_in, "boat", values)
    for i, shaft in enumerate(shaft_in):
        _spread(shaft, f"shafts[{i}]", values)
    return values


def _spread(record: Any, prefix: str, values: dict[str, Value]) -> None:
    for field, value in zip(record._fields, record, strict=True):
        _spread_field(type(record).__name__, f"{prefix}.{field}", field, value, values)


def _spread_field(kind: str, name: str, field: str, value: Any, values: dict[str, Value]) -> None:
    key = (kind, field)
    if key in WORDS:
        left = int(value)
        for bit in WORDS[key]:
            values[f"{name}.{bit.name}"] = bool(left & int(bit))
            left &= ~int(bit)
        if left:
            raise ValueError(f"{kind}.{field} has a bit that is not declared: {left:#x}")
    elif key in NUMBERS:
        code = NUMBERS[key].index(int(value))
        for place in range(_width(NUMBERS[key])):
            values[f"{name}.{place}"] = bool(code >> place & 1)
    elif field == "on" and kind in CONTACTS:
        for spec in CONTACTS[kind]:
            if spec.is_contact:
                values[f"{name}.{_short(spec)}"] = bool(int(value) & int(spec.bit))
    else:
        _spread_like(value, name, values)


def _spread_like(value: Any, name: str, values: dict[str, Value]) -> None:
    if isinstance(value, tuple) and hasattr(value, "_fields"):
        _spread(value, name, values)
    elif isinstance(value, tuple):
        for place, one in enumerate(value):
            _spread_like(one, f"{name}[{place}]", values)
    else:
        values[name] = float(value)


def gather(values: Mapping[str, Value], shafts: int) -> tuple[Memory, BoatInputs, tuple[ShaftInputs, ...], float]:
    """One real tick from values of the variables; what is not given is as after power-up, unknown, or zero."""
    was = Memory(
        _gather(BoatState, "was", values),
        tuple(_gather(ShaftState, f"was.shafts[{i}]", values) for i in range(shafts)),
    )
    boat_in = _gather(BoatInputs, "boat", values)
    shaft_in = tuple(_gather(ShaftInputs, f"shafts[{i}]", values) for i in range(shafts))
    return was, boat_in, shaft_in, float(values.get("dt_s", 0.0))


def _gather(kind: Any, prefix: str, values: Mapping[str, Value]) -> Any:
    fields: dict[str, Any] = {}
    for field in kind._fields:
        name, key, default = f"{prefix}.{field}", (kind.__name__, field), kind._field_defaults[field]
        if key in WORDS:
            fields[field] = sum(int(bit) for bit in WORDS[key] if values.get(f"{name}.{bit.name}", int(default) & bit))
        elif key in NUMBERS:
            allowed = NUMBERS[key]
            was = allowed.index(int(default))
            code = sum(
                1 << place
                for place in range(_width(allowed))
                if values.get(f"{name}.{place}", bool(was >> place & 1))
            )
            fields[field] = allowed[min(code, len(allowed) - 1)]
        elif field == "on" and kind.__name__ in CONTACTS:
            fields[field] = fields["known"] & sum(
                int(spec.bit)
                for spec in CONTACTS[kind.__name__]
                if spec.is_contact and values.get(f"{name}.{_short(spec)}", False)
            )
        else:
            fields[field] = _gather_like(default, name, values)
    return kind(**fields)


def _gather_like(default: Any, name: str, values: Mapping[str, Value]) -> Any:
    if isinstance(default, tuple) and hasattr(default, "_fields"):
        return _gather(type(default), name, values)
    if isinstance(default, tuple):
        return tuple(_gather_like(one, f"{name}[{place}]", values) for place, one in enumerate(default))
    return float(values.get(name, default))


def _short(spec: InputSpec) -> str:
    return str(spec.bit.name) if isinstance(spec.bit, IntFlag) else str(spec.bit)


def _width(values: tuple[int, ...]) -> int:
    return max(1, (len(values) - 1).bit_length())


class _Contacts:
    """A kind of inputs, less the word of contacts, which hangs on what is known."""

    def __init__(self, kind: Any) -> None:
        self.__name__ = kind.__name__
        self._fields = tuple(field for field in kind._fields if field != "on")
        self._field_defaults = kind._field_defaults
        self._kind = kind

    def __call__(self, **fields: Any) -> Any:
        return self._kind(**fields)


def symbols(terms: Terms, boat: Boat) -> Symbols:
    """Variables for one tick of this boat."""
    maker = Maker(terms)
    was = Memory(
        maker.record(BoatState, "was"),
        tuple(maker.record(ShaftState, f"was.shafts[{i}]") for i in range(len(boat.shafts))),
    )
    boat_in = maker.inputs(BoatInputs, "boat", BOAT_INPUTS)
    shaft_in = tuple(maker.inputs(ShaftInputs, f"shafts[{i}]", SHAFT_INPUTS) for i in range(len(boat.shafts)))
    dt_s = maker.number("dt_s")
    maker.assume(terms.at_most(0.0, dt_s), "the time since the last tick is at least 0")
    return Symbols(was, boat_in, shaft_in, dt_s, tuple(maker.assumed))


def field_names(kind: Any, prefix: str) -> list[tuple[str, str, str]]:
    """The variables of a record: (name, "truth" or "number", field)."""
    values: dict[str, Value] = {}
    found: list[tuple[str, str, str]] = []
    for field in kind._fields:
        values.clear()
        one = kind()
        _spread_field(kind.__name__, f"{prefix}.{field}", field, getattr(one, field), values)
        found += [(name, "truth" if isinstance(value, bool) else "number", field) for name, value in values.items()]
    return found
