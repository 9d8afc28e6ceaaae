"""The inputs, latches and timers of one tick as variables, and what may be taken for granted of them.

Contacts are on only where they are known, as the bus hands them over; a number that is unknown is 0.0, one that is
known within the plausible range of the register (the bus refuses others; a number of an own interlock may be any); the
time since the last tick is at least 0. What is remembered is taken for granted only as far as the invariants say
(`sim.prove.invariants`).
"""

from collections.abc import Iterator, Mapping, Sequence
from enum import IntFlag
from typing import Any, NamedTuple, get_type_hints

from sim.prove.solver.terms import Term, Terms, Truth
from sim.prove.solver.values import Bits, Cases, WalkError
from supervisor.modes import (
    BOAT_TABLE,
    NO_ROW,
    SHAFT_TABLE,
    BoatCondition,
    BoatMode,
    PermitCondition,
    ShaftCondition,
    ShaftMode,
)
from supervisor.rules import Boat, BoatLatch, BoatState, Memory, ShaftLatch, ShaftState, Tick
from supervisor.signals import (
    BOAT_INPUTS,
    SHAFT_INPUTS,
    Alarm,
    BoatInput,
    BoatInputs,
    InputSpec,
    ShaftInput,
    ShaftInputs,
    ShaftPermit,
)
from supervisor.signals.own import OWN_CHANNELS

Value = bool | float

WORDS: dict[tuple[str, str], type[IntFlag]] = {
    ("BoatInputs", "known"): BoatInput,
    ("ShaftInputs", "known"): ShaftInput,
    ("BoatState", "latches"): BoatLatch,
    ("BoatState", "acknowledged"): Alarm,
    ("ShaftState", "latches"): ShaftLatch,
    ("BoatCommand", "alarms"): Alarm,
    ("ShaftCommand", "permits"): ShaftPermit,
    ("BankView", "latches"): BoatLatch,
    ("Orders", "latches"): BoatLatch,
    ("Tick", "boat_word"): BoatCondition,
    ("Tick", "shaft_words"): ShaftCondition,
    ("Tick", "permit_words"): PermitCondition,
}
"""Words of bits, by (kind, field), with the bits that they can have."""

CHANNELS = {("OwnInputs", "known"), ("OwnInputs", "on"), ("OwnState", "bad")}
"""Words with a bit for each own interlock."""

_YES_NO = (0, 1)
NUMBERS: dict[tuple[str, str], tuple[int, ...]] = {
    ("BoatState", "mode"): tuple(int(mode) for mode in BoatMode),
    ("ShaftState", "mode"): tuple(int(mode) for mode in ShaftMode),
    ("Effort", "last_sign"): (-1, 0, 1),
    ("SourcesState", "faulted"): _YES_NO,
    ("SourcesState", "stop"): _YES_NO,
    ("BankView", "others"): (-1, 0, 1),
    ("Lever", "contradicts"): _YES_NO,
    ("Tick", "boat_row"): (NO_ROW, *range(len(BOAT_TABLE))),
    ("Tick", "shaft_rows"): (NO_ROW, *range(len(SHAFT_TABLE))),
    **{("BoatCommand", field): _YES_NO for field in ("stop_sources", "sounder", "handset_in_control")},
    **{
        ("BankView", field): _YES_NO
        for field in (
            "charge_permit", "discharge_permit", "charge_wanted", "derate_open", "derate_start", "full_active",
            "full_reached",
        )
    },
    **{
        ("Orders", field): _YES_NO
        for field in ("enable_edge", "reset_edge", "off_order", "handset_lost", "handset_conflict", "acknowledge")
    },
}  # fmt: skip
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
    """Makes the variables for one boat. Channels of own interlocks that it does not have stay as after power-up."""

    def __init__(self, terms: Terms, boat: Boat) -> None:
        self.terms = terms
        self.boat = boat
        self.assumed: list[Assumption] = []

    def truth(self, name: str) -> Term:
        """A condition that is free."""
        return self.terms.variable(name, truth=True)

    def number(self, name: str) -> Term:
        """A real number that is free."""
        return self.terms.variable(name, truth=False)

    def word(self, name: str, places: Mapping[str, int]) -> Bits:
        """A word whose bits are free."""
        return Bits({place: self.truth(f"{name}.{bit}") for bit, place in places.items()})

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
        """A NamedTuple with a variable in each field. WalkError for a whole number of which it is not known which
        values it can have."""
        hints = get_type_hints(kind)
        return kind(**{f: self._field(kind, f"{prefix}.{f}", f, hints[f]) for f in kind._fields})

    def _field(self, kind: Any, name: str, field: str, hint: Any) -> Any:
        key = (kind.__name__, field)
        places = _places(key, self.boat.limits.own_count)
        if places is not None:
            return self.word(name, places)
        if key in NUMBERS:
            return self.cases(name, NUMBERS[key])
        if field == "on" and kind.__name__ in CONTACTS:
            return Bits({})  # follows, from what is known
        default = kind._field_defaults.get(field)
        if isinstance(default, tuple) and not hasattr(default, "_fields"):
            # a channel for each own interlock
            count = self.boat.limits.own_count
            free = [self.number(f"{name}[{place}]") if place < count else one for place, one in enumerate(default)]
            return tuple(free)
        if isinstance(hint, type) and hasattr(hint, "_fields"):
            return self.record(hint, name)
        if hint is float:
            return self.number(name)
        raise WalkError(f"{'.'.join(key)}: which values this whole number can have is not known")

    def inputs(self, kind: Any, prefix: str) -> Any:
        """Inputs as the bus hands them over."""
        made = self.record(kind, prefix)
        on: dict[int, Truth] = {}
        for spec in CONTACTS[kind.__name__]:
            place = _place(spec)
            if spec.is_contact:
                shown = self.truth(f"{prefix}.on.{_short(spec)}")
                on[place] = self.terms.both(made.known.bit(place), shown)
            else:
                self._range(getattr(made, spec.field), made.known.bit(place), spec)
        if "own" in kind._fields:
            made = made._replace(own=self._own(made.own))
        return made._replace(on=Bits(on))

    def _own(self, own: Any) -> Any:
        """Channels of own interlocks: a contact is on only where known, a number has a value only where known."""
        on: dict[int, Truth] = {}
        values = list(own.values)
        for k in range(self.boat.limits.own_count):
            known = own.known.bit(k)
            if self.boat.limits.own[k].number:
                nothing = self.terms.equal(own.values[k], 0.0)
                self.assume(self.terms.either(known, nothing), f"own interlock {k + 1} is 0.0 while unknown")
            else:
                on[k] = self.terms.both(known, own.on.bit(k))
                values[k] = 0.0
        return own._replace(on=Bits(on), values=tuple(values))

    def _range(self, value: Term, known: Truth, spec: InputSpec) -> None:
        within = self.terms.all((self.terms.at_most(spec.low, value), self.terms.at_most(value, spec.high)))
        nothing = self.terms.equal(value, 0.0)
        self.assume(self.terms.if_truth(known, within, nothing), f"{spec.name} from {spec.low:g} to {spec.high:g}")

    def assume(self, truth: Truth, text: str) -> None:
        """Take `truth` for granted."""
        self.assumed.append(Assumption(truth, text))

    def tick(self, prefix: str) -> Tick:
        """The outcome of a tick, all of it free: what a claim could be told if no rule were kept."""
        hints = get_type_hints(Tick)
        count = len(self.boat.shafts)
        fields: dict[str, Any] = {
            "memory": Memory(
                self.record(BoatState, f"{prefix}.boat"),
                tuple(self.record(ShaftState, f"{prefix}.shafts[{i}]") for i in range(count)),
            )
        }
        for field, hint in hints.items():
            name = f"{prefix}.{field}"
            if field not in fields and getattr(hint, "__origin__", None) is tuple:
                inner = hint.__args__[0]
                fields[field] = tuple(
                    self.record(inner, f"{name}[{i}]")
                    if hasattr(inner, "_fields")
                    else self._field(Tick, f"{name}[{i}]", field, inner)
                    for i in range(count)
                )
            elif field not in fields:
                fields[field] = self._field(Tick, name, field, hint)
        return Tick(**fields)


def symbols(terms: Terms, boat: Boat) -> Symbols:
    """Variables for one tick of this boat."""
    maker = Maker(terms, boat)
    shafts = range(len(boat.shafts))
    was = Memory(maker.record(BoatState, "was"), tuple(maker.record(ShaftState, f"was.shafts[{i}]") for i in shafts))
    boat_in = maker.inputs(BoatInputs, "boat")
    shaft_in = tuple(maker.inputs(ShaftInputs, f"shafts[{i}]") for i in shafts)
    dt_s = maker.number("dt_s")
    maker.assume(terms.at_most(0.0, dt_s), "the time since the last tick is at least 0")
    return Symbols(was, boat_in, shaft_in, dt_s, tuple(maker.assumed))


# --- from one real tick to values of the variables, and back


def spread(was: Memory, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs], dt_s: float) -> dict[str, Value]:
    """The values of the variables for one real tick. ValueError for a whole number outside what is declared."""
    values: dict[str, Value] = {"dt_s": float(dt_s)}
    for name, record in _records(was, boat_in, shaft_in):
        _spread(record, name, values)
    return values


def _records(was: Memory, boat_in: BoatInputs, shaft_in: Sequence[ShaftInputs]) -> Iterator[tuple[str, Any]]:
    yield "was", was.boat
    yield "boat", boat_in
    for i, state in enumerate(was.shafts):
        yield f"was.shafts[{i}]", state
    for i, shaft in enumerate(shaft_in):
        yield f"shafts[{i}]", shaft


def _spread(record: Any, prefix: str, values: dict[str, Value]) -> None:
    kind = type(record).__name__
    for field, value in zip(record._fields, record, strict=True):
        name, key = f"{prefix}.{field}", (kind, field)
        places = _places(key, None)
        if places is not None:
            for bit, place in places.items():
                values[f"{name}.{bit}"] = bool(int(value) >> place & 1)
            if int(value) & ~sum(1 << place for place in places.values()):
                raise ValueError(f"{kind}.{field} has a bit that is not declared: {int(value):#x}")
        elif key in NUMBERS:
            code = NUMBERS[key].index(int(value))
            for place in range(_width(NUMBERS[key])):
                values[f"{name}.{place}"] = bool(code >> place & 1)
        elif field == "on" and kind in CONTACTS:
            for spec in CONTACTS[kind]:
                if spec.is_contact:
                    values[f"{name}.{_short(spec)}"] = bool(int(value) & int(spec.bit))
        elif isinstance(value, tuple) and hasattr(value, "_fields"):
            _spread(value, name, values)
        elif isinstance(value, tuple):
            values.update({f"{name}[{place}]": float(one) for place, one in enumerate(value)})
        else:
            values[name] = float(value)


def gather(values: Mapping[str, Value], boat: Boat) -> tuple[Memory, BoatInputs, tuple[ShaftInputs, ...], float]:
    """One real tick from values of the variables; what is not given is as after power-up, unknown, or zero."""
    shafts = range(len(boat.shafts))
    count = boat.limits.own_count
    was = Memory(
        _gather(BoatState, "was", values, count),
        tuple(_gather(ShaftState, f"was.shafts[{i}]", values, count) for i in shafts),
    )
    boat_in = _gather(BoatInputs, "boat", values, count)
    shaft_in = tuple(_gather(ShaftInputs, f"shafts[{i}]", values, count) for i in shafts)
    return was, boat_in, shaft_in, float(values.get("dt_s", 0.0))


def _gather(kind: Any, prefix: str, values: Mapping[str, Value], count: int) -> Any:
    fields: dict[str, Any] = {}
    for field in kind._fields:
        name, key, default = f"{prefix}.{field}", (kind.__name__, field), kind._field_defaults[field]
        places = _places(key, count)
        if places is not None:
            found = sum(1 << p for bit, p in places.items() if values.get(f"{name}.{bit}", int(default) >> p & 1))
            fields[field] = found & fields["known"] if field == "on" else found
        elif key in NUMBERS:
            fields[field] = _decoded(NUMBERS[key], name, values, int(default))
        elif field == "on" and kind.__name__ in CONTACTS:
            fields[field] = fields["known"] & sum(
                int(spec.bit)
                for spec in CONTACTS[kind.__name__]
                if spec.is_contact and values.get(f"{name}.{_short(spec)}", False)
            )
        elif isinstance(default, tuple) and hasattr(default, "_fields"):
            fields[field] = _gather(type(default), name, values, count)
        elif isinstance(default, tuple):
            fields[field] = tuple(float(values.get(f"{name}[{place}]", one)) for place, one in enumerate(default))
        else:
            fields[field] = float(values.get(name, default))
    return kind(**fields)


def _decoded(allowed: tuple[int, ...], name: str, values: Mapping[str, Value], default: int) -> int:
    was = allowed.index(default)
    bits = range(_width(allowed))
    code = sum(1 << place for place in bits if values.get(f"{name}.{place}", bool(was >> place & 1)))
    return allowed[min(code, len(allowed) - 1)]


def field_names(kind: Any, prefix: str, boat: Boat) -> list[tuple[str, str, str]]:
    """The variables of a record: (name, "truth" or "number", field). Channels that the boat does not have are left
    out."""
    values: dict[str, Value] = {}
    _spread(kind(), prefix, values)
    found = []
    for name, value in values.items():
        last = name.removeprefix(f"{prefix}.")
        field = last.split("[", maxsplit=1)[0].rpartition(".")[0] if isinstance(value, bool) else last.split("[")[0]
        channel = name.rpartition("[")[2].rstrip("]") if name.endswith("]") else name.rpartition(".")[2]
        if "own." in name and channel.isdigit() and int(channel) >= boat.limits.own_count:
            continue
        found.append((name, "truth" if isinstance(value, bool) else "number", field))
    return found


def _places(key: tuple[str, str], count: int | None) -> dict[str, int] | None:
    """Names and places of the bits of a word, None for what is none."""
    if key in WORDS:
        return {str(bit.name): int(bit).bit_length() - 1 for bit in WORDS[key]}
    if key in CHANNELS:
        return {str(k): k for k in range(OWN_CHANNELS if count is None else count)}
    return None


def _place(spec: InputSpec) -> int:
    return int(spec.bit).bit_length() - 1


def _short(spec: InputSpec) -> str:
    return spec.name.replace(".", "_")


def _width(values: tuple[int, ...]) -> int:
    return max(1, (len(values) - 1).bit_length())
