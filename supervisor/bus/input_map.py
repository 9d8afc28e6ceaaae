"""The `inputs` and `not_fitted` of a boat file against its DBC files."""

import math
from collections.abc import Iterable, Mapping
from functools import partial

from supervisor.bus.codec import MessageCodec, SignalCodec
from supervisor.bus.lookup import Lookup, hint
from supervisor.bus.own_map import AGREEING_FRAMES, NO_CONTACT, NO_NUMBER, own_sides, own_spec
from supervisor.bus.register import OWN
from supervisor.bus.rows import InputRow, ReportSides
from supervisor.config.interlocks import key_of
from supervisor.config.schema import InputMap, Interlock, SignalMap
from supervisor.rules.readings import STILL_TURNING_RPM
from supervisor.signals import BOAT, BOAT_INPUT_BY_NAME, SHAFT_INPUT_BY_NAME, InputSpec

_CONTACT_BITS = 2
_CODED_BITS = 8
_NO_CONTACT = (
    "{signal} carries a number, and {text} is a contact",
    'Map the signal of a contact, or say which codes mean on: values = { "0" = 0, "1" = 1 }',
)
_NO_NUMBER = (
    "{signal} has {bits} bits, and {text} is a number",
    "Map a signal that carries it, or say what its codes mean with values",
)


REPORTS: Mapping[str, ReportSides] = {
    "gearbox.gear_report": ReportSides(AGREEING_FRAMES, (-0.5, 0.5)),
    "engine.engine_speed_rpm": ReportSides(AGREEING_FRAMES, (STILL_TURNING_RPM,), falls_freely=1),
    "bank.voltage_v": ReportSides(AGREEING_FRAMES, (), first_at_once=1),
}
"""What can end thrust and may come without a guard. Gear and engine speed contradict contacts; an engine that slows is
believed at once: its generator must let go of it. The bank's voltage contradicts every drive's link: it is followed
from frame to frame, taken from the source heard first, and from another only after three of its frames running."""


class InputCompiler:
    """Compiles the inputs of the boat and of its shafts. What cannot be used is kept among the lookup's complaints."""

    def __init__(self, lookup: Lookup) -> None:
        self._lookup = lookup
        self._config = lookup.config
        self._error = lookup.error

    def rows(self) -> tuple[InputRow, ...]:
        """One row for each mapped input."""
        config = self._config
        rows = list(self._inputs(BOAT, "inputs", config.inputs, BOAT_INPUT_BY_NAME))
        self._complete("inputs", config.inputs, config.not_fitted, BOAT_INPUT_BY_NAME)
        has_handset = config.boat.handset_id != 0
        self._fitted("boat.handset_id", has_handset, "handset.", config.inputs, config.not_fitted)
        for level, shaft in enumerate(config.shaft):
            key = f"shaft.{shaft.name}"
            rows += self._inputs(level, f"{key}.inputs", shaft.inputs, SHAFT_INPUT_BY_NAME)
            self._complete(f"{key}.inputs", shaft.inputs, shaft.not_fitted, SHAFT_INPUT_BY_NAME)
            self._fitted(f"{key}.clutch.fitted", shaft.clutch.fitted, "clutch.", shaft.inputs, shaft.not_fitted)
            self._fitted(f"{key}.lock.fitted", shaft.lock.fitted, "lock.", shaft.inputs, shaft.not_fitted)
            self._fitted("boat.handset_id", has_handset, "handset.", shaft.inputs, shaft.not_fitted)
        own = [self._lookup.attempt(partial(self._own, *each)) for each in enumerate(config.interlock)]
        return (*rows, *(row for row in own if row is not None))

    def _complain(self, key: str, problem: str, remedy: str) -> None:
        self._lookup.complaints.append(self._error(key, problem, remedy))

    def _own(self, channel: int, entry: Interlock) -> InputRow:
        """The row of an own interlock, the k-th of the boat file."""
        key = key_of(entry)
        message = self._lookup.message(key, entry.bus, entry.message)
        spec = own_spec(channel, entry, self._lookup.signal(key, message, entry.signal))
        return self._input(OWN, key, spec, entry)._replace(own=own_sides(entry, message))

    def absent(self) -> tuple[tuple[int, InputSpec], ...]:
        """The inputs declared not fitted, by level."""
        config = self._config
        found = [(BOAT, self._spec("not_fitted", name, BOAT_INPUT_BY_NAME)) for name in config.not_fitted]
        for level, shaft in enumerate(config.shaft):
            key = f"shaft.{shaft.name}.not_fitted"
            found += [(level, self._spec(key, name, SHAFT_INPUT_BY_NAME)) for name in shaft.not_fitted]
        return tuple(found)

    def _spec(self, key: str, name: str, register: Mapping[str, InputSpec]) -> InputSpec:
        spec = register.get(name)
        if spec is None:
            raise self._error(f"{key}.{name}", "no such input", hint(name, register))
        return spec

    def _inputs(
        self, level: int, prefix: str, maps: Mapping[str, InputMap], register: Mapping[str, InputSpec]
    ) -> Iterable[InputRow]:
        for name, entry in maps.items():
            row = self._lookup.attempt(partial(self._one, level, prefix, name, entry, register))
            if row is not None:
                yield row

    def _one(self, level: int, prefix: str, name: str, entry: SignalMap, register: Mapping[str, InputSpec]) -> InputRow:
        key = f"{prefix}.{name}"
        spec = self._spec(prefix, name, register)
        if name.startswith("runtime."):
            raise self._error(key, "is measured by the supervisor itself", "Remove it")
        return self._input(level, key, spec, entry)

    def _input(self, level: int, key: str, spec: InputSpec, entry: SignalMap) -> InputRow:
        message = self._lookup.message(key, entry.bus, entry.message)
        signal = self._lookup.signal(key, message, entry.signal)
        if spec.guarded and message.data_id is None and not self._config.boat.listen_only:
            guarded = [name for name, codec in self._lookup.messages[entry.bus].items() if codec.data_id is not None]
            raise self._error(
                f"{key}.message",
                f"{message.name} has no counter and checksum, and {spec.text} can cause or permit torque",
                f"Map it to a guarded message (GuardDataId in the DBC), e.g. {', '.join(guarded[:6]) or 'none here'}",
            )  # fmt: skip
        if message.length > 8 and self._config.buses[entry.bus].kind != "nmea2000":
            raise self._error(
                f"{key}.message", f"{message.name} has {message.length} bytes and bus {entry.bus} has no fast packets",
                'Set kind = "nmea2000" for that bus, or choose another message',
            )  # fmt: skip
        if entry.source is not None and not message.is_extended:
            raise self._error(f"{key}.source", "11-bit identifiers carry no source address", "Remove it")
        if message.period_s > 0 and entry.stale_s <= message.period_s:
            raise self._error(
                f"{key}.stale_s", f"{entry.stale_s:g} s is no longer than the period of {message.name}, "
                f"{message.period_s:g} s", f"Set stale_s to 3 to 5 periods of this message: "
                                           f"{3 * message.period_s:g} to "
                f"{5 * message.period_s:g} s",
            )  # fmt: skip
        if entry.invert and not spec.is_contact:
            raise self._error(f"{key}.invert", "is for contacts only", "Use factor = -1 to turn a sign")
        scaled = entry.factor != 1.0 or entry.offset != 0.0
        if spec.is_contact and scaled:
            raise self._error(f"{key}.factor", "is for numbers only", "Use invert or values")
        if entry.factor == 0.0:
            raise self._error(f"{key}.factor", "0 would hide the input", "Give another factor")
        self._fits(key, spec, signal, entry)
        values = self._values(key, spec, signal, entry)
        low, high = self._range(key, spec, signal, entry, values is not None)
        return InputRow(
            level=level,
            key=key,
            spec=spec,
            bus=entry.bus,
            message=message,
            signal=signal,
            where=self._where(key, message, signal, entry),
            source=-1 if entry.source is None else entry.source,
            stale_s=entry.stale_s,
            low=low,
            high=high,
            factor=entry.factor,
            offset=entry.offset,
            values=values,
            invert=entry.invert,
            paired=self._paired(key, spec, entry),
            report=REPORTS.get(spec.name) if level != OWN and message.data_id is None else None,
        )

    def _fits(self, key: str, spec: InputSpec, signal: SignalCodec, entry: SignalMap) -> None:
        """A contact is a field of a few codes, a number is not: mixed up, an input would never be known."""
        if entry.values is not None or spec.name == "handset.ours":
            return
        if spec.is_contact and (signal.bits > _CODED_BITS or signal.scale != 1.0 or signal.offset != 0.0):
            problem, remedy = NO_CONTACT if isinstance(entry, Interlock) else _NO_CONTACT
        elif not spec.is_contact and signal.bits <= _CONTACT_BITS:
            problem, remedy = NO_NUMBER if isinstance(entry, Interlock) else _NO_NUMBER
        else:
            return
        words = {"signal": signal.name, "bits": signal.bits, "text": spec.text}
        raise self._error(f"{key}.signal", problem.format(**words), remedy)

    def _paired(self, key: str, spec: InputSpec, entry: SignalMap) -> int:
        if spec.name != "handset.ours":
            return -1
        if entry.values is not None or entry.invert:
            raise self._error(key, "compares the pairing code with boat.handset_id", "Remove values and invert")
        if self._config.boat.handset_id == 0:
            raise self._error("boat.handset_id", "is 0, and handset.ours is mapped", "Give the boat's pairing code")
        return self._config.boat.handset_id

    def _where(
        self, key: str, message: MessageCodec, signal: SignalCodec, entry: SignalMap
    ) -> tuple[tuple[SignalCodec, frozenset[int]], ...]:
        found = []
        for name, code in entry.where.items():
            found.append((self._lookup.signal(f"{key}.where", message, name), frozenset((code,))))
        # A multiplexed signal is there only while its multiplexer says so.
        switched = message.multiplexed.get(signal.name)
        while switched is not None and switched.multiplexer_signal is not None:
            switch = message.signals[switched.multiplexer_signal]
            found.append((switch, frozenset(switched.multiplexer_ids or ())))
            switched = message.multiplexed.get(switch.name)
        return tuple(found)

    def _values(self, key: str, spec: InputSpec, signal: SignalCodec, entry: SignalMap) -> dict[int, float] | None:
        if entry.values is None:
            return None
        result: dict[int, float] = {}
        for text, value in entry.values.items():
            try:
                code = int(text, 0)
            except ValueError:
                raise self._error(f"{key}.values", f"{text!r} is not a raw code", "Give whole numbers") from None
            lowest = -(1 << (signal.bits - 1)) if signal.signed else 0
            if not lowest <= code < lowest + (1 << signal.bits):
                raise self._error(f"{key}.values", f"{code} does not fit {signal.bits} bits", "Correct the code")
            if not spec.low <= value <= spec.high or (spec.is_contact and value not in (0.0, 1.0)):
                allowed = "0 or 1" if spec.is_contact else f"{spec.low:g} to {spec.high:g}"
                raise self._error(f"{key}.values", f"{value:g} is not allowed for {spec.text}", f"Allowed: {allowed}")
            result[code] = float(value)
        return result

    def _range(
        self, key: str, spec: InputSpec, signal: SignalCodec, entry: SignalMap, coded: bool
    ) -> tuple[float, float]:
        low, high = float(spec.low), float(spec.high)
        if entry.low is not None:
            low = max(low, entry.low)
        if entry.high is not None:
            high = min(high, entry.high)
        if not coded and not spec.is_contact:
            ends = [-math.inf if signal.low is None else signal.low, math.inf if signal.high is None else signal.high]
            ends = sorted(end * entry.factor + entry.offset for end in ends)
            low, high = max(low, ends[0]), min(high, ends[1])
        if low >= high:
            raise self._error(
                f"{key}.low", f"no value is between {low:g} and {high:g} {spec.unit}", "Correct low or high"
            )
        return low, high

    def _complete(
        self, prefix: str, maps: Mapping[str, InputMap], not_fitted: list[str], register: Mapping[str, InputSpec]
    ) -> None:
        if self._config.boat.listen_only:
            return
        for name, spec in register.items():
            if name in not_fitted and spec.if_not_fitted is None:
                self._complain(f"{prefix}.{name}", f"{spec.text} is required", "Fit it and map it to a signal")
            if name not in maps and name not in not_fitted and not name.startswith("runtime."):
                remedy = f"Map {name} to a signal" + (
                    "" if spec.if_not_fitted is None else ", or list it under not_fitted"
                )
                self._complain(f"{prefix}.{name}", f"{spec.text} is not mapped to any signal", remedy)

    def _fitted(self, key: str, fitted: bool, part: str, maps: Mapping[str, InputMap], not_fitted: list[str]) -> None:
        """A part is either there, with its inputs, or declared away, without: never half. All its inputs in one "
        "line."""
        handset = key == "boat.handset_id"
        absent = "boat.handset_id = 0" if handset else "fitted = false"
        there = "boat.handset_id above 0" if handset else "fitted = true"
        listed = ", ".join(name for name in not_fitted if name.startswith(part))
        mapped = ", ".join(name for name in maps if name.startswith(part))
        if fitted and listed:
            self._complain(
                key, f"{there}, but not_fitted lists: {listed}",
                f"Set {absent}, or remove them from not_fitted and map them",
            )  # fmt: skip
        if not fitted and mapped:
            self._complain(
                key, f"{absent}, but these inputs are mapped: {mapped}",
                f"Set {there}, or remove the mappings and list them under not_fitted",
            )  # fmt: skip
