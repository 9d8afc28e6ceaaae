"""Which channel of the recording is which bus of the boat, and which of its frames concern the supervisor."""

import re
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import NamedTuple

from sim.replay.commands import CommandRow
from sim.replay.errors import ReplayError
from sim.replay.opening import open_recording
from sim.replay.source import Place
from supervisor.bus import BoatMap
from supervisor.bus.codec import pgn_of

_LOOK_AHEAD_BATCHES = 4


class Role(Enum):
    """What a frame is to the supervisor."""

    HEARD = "heard"
    """It carries inputs and is fed."""
    COMMAND = "command"
    """It is one that the supervisor itself sends: never fed back, kept for comparison."""
    BOTH = "heard, command"
    """A foreign controller's order that also carries an input."""


class Wire(NamedTuple):
    """An identifier on a bus of the boat: the handle under which its frames are wanted. `message` is its name."""

    bus: str
    arbitration_id: int
    is_extended: bool
    role: Role
    message: str
    guarded: bool = False
    """Its frames carry a counter."""


class Wiring(NamedTuple):
    """Channel of the recording -> bus of the boat, and why, in words."""

    bus_of: Mapping[str, str]
    reasons: tuple[str, ...]


class Listening:
    """The identifiers that are heard, and those that are orders, on each bus of a boat."""

    def __init__(self, boat_map: BoatMap, commands: Sequence[CommandRow]) -> None:
        self._heard: dict[str, set[tuple[bool, int]]] = {name: set() for name in boat_map.kinds}
        self._pgns: dict[str, set[int]] = {name: set() for name in boat_map.kinds}
        self._sent: dict[str, set[tuple[bool, int]]] = {name: set() for name in boat_map.kinds}
        self._sent_pgns: dict[str, set[int]] = {name: set() for name in boat_map.kinds}
        self._names: dict[tuple[str, bool, int], str] = {}
        """Name of a message by bus and identifier, or minus its PGN."""
        mapped = [(row.bus, row.message) for row in boat_map.inputs]
        mapped += [(row.bus, row.message) for row in boat_map.outputs]
        mapped += [(row.bus, row.message) for row in commands]
        self._guarded = {
            (bus, message.is_extended, message.arbitration_id)
            for bus, message in mapped
            if message.data_id is not None and message.pgn is None
        }
        for bus, message in mapped:
            identity = message.arbitration_id if message.pgn is None else -message.pgn
            self._names.setdefault((bus, message.is_extended, identity), message.name)
        for heard in boat_map.inputs:
            if heard.message.pgn is None:
                self._heard[heard.bus].add((heard.message.is_extended, heard.message.arbitration_id))
            else:
                self._pgns[heard.bus].add(heard.message.pgn)
        for row in boat_map.outputs:  # never fed back, compared or not
            self._sent[row.bus].add((row.message.is_extended, row.message.arbitration_id))
        for command in commands:
            message = command.message
            if message.pgn is None:
                self._sent[command.bus].add((message.is_extended, message.arbitration_id))
            else:
                self._sent_pgns[command.bus].add(message.pgn)
        self.buses = tuple(boat_map.kinds)

    def wire(self, bus: str, arbitration_id: int, is_extended: bool) -> Wire | None:
        """The handle for an identifier, None where it concerns nobody."""
        key = (is_extended, arbitration_id)
        pgn = pgn_of(arbitration_id) if is_extended else -1
        sent = key in self._sent[bus] or pgn in self._sent_pgns[bus]
        heard = key in self._heard[bus] or pgn in self._pgns[bus]
        if not sent and not heard:
            return None
        role = Role.BOTH if sent and heard else Role.COMMAND if sent else Role.HEARD
        name = self._names.get((bus, is_extended, arbitration_id)) or self._names.get((bus, is_extended, -pgn), "")
        return Wire(bus, arbitration_id, is_extended, role, name, (bus, is_extended, arbitration_id) in self._guarded)


def parse_channels(texts: Iterable[str], buses: Sequence[str]) -> dict[str, str]:
    """`--channel can0=backbone` options. Raises ReplayError for one that names no bus of the boat."""
    found: dict[str, str] = {}
    for text in texts:
        channel, equals, bus = text.partition("=")
        if not equals or not bus:
            raise ReplayError(f"--channel {text}: is not CHANNEL=BUS, for example can0={buses[0]}")
        if bus not in buses:
            raise ReplayError(f"--channel {text}: {bus!r} is no bus of this boat; allowed: {', '.join(buses)}")
        found[channel] = bus
    return found


def look_ahead(path: str, form: str | None, gap_s: float) -> dict[Place, int]:
    """Frames by identifier in the first part of a recording; nothing for standard input, which can be read only once.
    Raises ReplayError as `open_recording`."""
    if path == "-":
        return {}
    source = open_recording(path, lambda *_: None, gap_s=gap_s, form=form)
    try:
        for number, _ in enumerate(source.batches(), start=1):
            if number >= _LOOK_AHEAD_BATCHES:
                break
        return source.counts()
    finally:
        source.close()


def wire_up(listening: Listening, given: Mapping[str, str], seen: Mapping[Place, int]) -> Wiring:
    """Assign channels to buses: as given; else by the same name; else by what is heard; else by number."""
    channels = sorted({place.channel for place in seen}, key=_order)
    bus_of = dict(given)
    reasons = [f"{_name(channel)} is bus {bus}, as given or as the run folder says" for channel, bus in given.items()]
    for channel in channels:
        if channel not in bus_of and channel in listening.buses:
            bus_of[channel] = channel
            reasons.append(f"{_name(channel)} is bus {channel}, by its name")
    for channel in channels:
        if channel in bus_of:
            continue
        scores = _scores(listening, channel, seen)
        best = max(scores.values(), default=0)
        leaders = [bus for bus, score in scores.items() if score == best]
        if best > 0 and len(leaders) == 1:
            bus_of[channel] = leaders[0]
            reasons.append(f"{_name(channel)} is bus {leaders[0]}, by the {best} identifiers known there")
    free = [bus for bus in listening.buses if bus not in bus_of.values()]
    for channel in channels:
        if channel not in bus_of and free:
            bus_of[channel] = free.pop(0)
            reasons.append(f"{_name(channel)} is taken for bus {bus_of[channel]}, the next one left")
        elif channel not in bus_of:
            reasons.append(f"{_name(channel)} is no bus of this boat; give it with --channel CHANNEL=BUS")
    return Wiring(bus_of, tuple(reasons))


def wire_unseen(listening: Listening, wiring: Wiring, channel: str) -> Wiring:
    """The same with a channel of a recording that cannot be looked at beforehand: the bus of the same name, or can0 the
    first bus, can1 the second."""
    if channel in wiring.bus_of:
        return wiring
    number = _number(channel)
    if channel in listening.buses:
        bus, how = channel, "by its name"
    elif len(listening.buses) == 1:
        bus, how = listening.buses[0], "the only one"
    elif number is not None and number < len(listening.buses):
        bus, how = listening.buses[number], "by its number"
    else:
        stranger = f"{_name(channel)} is no bus of this boat; give it with --channel CHANNEL=BUS"
        return wiring if stranger in wiring.reasons else wiring._replace(reasons=(*wiring.reasons, stranger))
    return Wiring({**wiring.bus_of, channel: bus}, (*wiring.reasons, f"{_name(channel)} is bus {bus}, {how}"))


_SURE = 3
"""So many identifiers of one bus, and three times as many as of the other, are no chance."""


def refuse_swapped(listening: Listening, wiring: Wiring, given: Mapping[str, str], seen: Mapping[Place, int]) -> None:
    """Standard input cannot be looked at beforehand, so that a channel is first taken by its number. Raises ReplayError
    once what it carries belongs to another bus: what was decided on it so far is worth nothing."""
    for channel in {place.channel for place in seen} - given.keys():
        bus = wiring.bus_of.get(channel)
        if bus is None or bus == channel:
            continue
        scores = _scores(listening, channel, seen)
        other = max(scores, key=lambda name: scores[name])
        if scores[other] >= _SURE and scores[other] > 3 * scores[bus]:
            raise ReplayError(
                f"standard input: {_name(channel)} was taken for bus {bus}, but {scores[other]} of its identifiers are "
                f"known on bus {other} and {scores[bus]} on {bus}. Give: --channel {channel}={other}"
            )


def _scores(listening: Listening, channel: str, seen: Mapping[Place, int]) -> dict[str, int]:
    scores = dict.fromkeys(listening.buses, 0)
    for place in seen:
        if place.channel == channel:
            for bus in listening.buses:
                if listening.wire(bus, place.arbitration_id, place.is_extended) is not None:
                    scores[bus] += 1
    return scores


def _number(channel: str) -> int | None:
    match = re.search(r"(\d{1,3})$", channel)
    return int(match.group(1)) if match else None


def _order(channel: str) -> tuple[int, str]:
    number = _number(channel)
    return (1000 if number is None else number, channel)


def _name(channel: str) -> str:
    return f"channel {channel}" if channel else "the recording (which names no channel)"
