"""From a boat's mapping to its nodes: which box sends which message, with what in it, how often.

Which messages exist and their periods come from the DBC files; which signal carries which input comes from the boat
file. A message that carries inputs of one part is sent by that part's node; one that mixes parts by the node that
stands first in PRECEDENCE, as a contact box does for engine, gearbox, clutch and lock. A message that carries nothing
but signals of own interlocks is sent by a node of its own, `own.MESSAGE`.
"""

import random
from collections.abc import Iterable, Mapping, Sequence

from sim.nodes.hear import Hearing
from sim.nodes.machinery import ContactsNode, DriveNode, EngineNode, Nodes, SourcesNode
from sim.nodes.node import Node
from sim.nodes.own import OwnControl, name_of, own_reader, own_rows, place_of, put_good
from sim.nodes.panel import Panel, ShaftPanel
from sim.nodes.readers import BOAT_READERS, COMPANIONS, EXTRAS, SHAFT_READERS, Reader
from sim.nodes.sender import Field, Sender
from supervisor.bus import OWN, BoatMap, InputRow, MessageCodec
from supervisor.signals import BOAT

PRECEDENCE = ("monitor", "helm", "handset", "drive", "contacts", "lever", "engine")

# part of a node -> prefixes of the inputs that are its own
_PART_OF_INPUT = {
    "bank": "monitor",
    "helm": "helm",
    "handset": "handset",
    "drive": "drive",
    "clutch": "contacts",
    "lock": "contacts",
    "lever": "lever",
    "engine": "engine",
    "gearbox": "engine",
}
_PART_OF_SHAFT_INPUT = {"shaft.propeller_speed_rpm": "contacts"}  # all others are selectors, beside the lever

# source addresses, our own choice
_SOURCES = {"monitor": 70, "helm": 71, "handset": 72, "drive": 80, "contacts": 90, "lever": 100, "engine": 110,
            "own": 120}  # fmt: skip

# outputs that each part hears
_HEARS = {
    "drive": ("drive.torque_nm", "drive.enable", "drive.precharge", "drive.enable_output"),
    "engine": ("engine.start",),
    "contacts": ("clutch.close", "lock.engage"),
}

Variant = tuple[str, str, tuple[tuple[str, int], ...]]
"""(bus, message, fixed codes): what one sender sends."""


def part_of(name: str) -> str:
    """The node that an input belongs to, without its shaft: `drive.torque_nm` -> `drive`."""
    prefix = name.partition(".")[0]
    return _PART_OF_INPUT.get(prefix) or _PART_OF_SHAFT_INPUT.get(name, "lever")


def input_key(boat_map: BoatMap, level: int, name: str) -> str:
    """An input's name, led by the shaft's name for a shaft's: `port.drive.torque_nm`."""
    return name if level < 0 else f"{boat_map.shaft_names[level]}.{name}"


def new_panel(boat_map: BoatMap, handset_id: int = 0) -> Panel:
    """The controls of a boat at rest: levers in neutral, nothing pressed, isolator on."""
    return Panel([ShaftPanel() for _ in boat_map.shaft_names], handset_id)


def build_nodes(boat_map: BoatMap, panel: Panel, seed: int | None = None) -> Nodes:
    """All nodes of a boat, on one panel.

    With a `seed` each message starts at a moment of its own within its first period, as on a boat where nothing is
    synchronised; without one all start at 0 s.
    """
    phases = None if seed is None else random.Random(seed)  # noqa: S311 - a simulation, no secret
    senders: dict[str, list[Sender]] = {}
    for variant, rows in _variants(boat_map).items():
        name = _owner(boat_map, rows)
        senders.setdefault(name, []).append(_sender(boat_map, variant, rows, name, phases))
    for name, extra in _companions(boat_map, senders, phases):
        senders[name].append(extra)
    everything: dict[str, Node] = {}
    for name in ("monitor", "helm", "handset"):
        if name in senders:
            everything[name] = Node(name, panel, senders[name])
    drives, engines, contacts = [], [], []
    for level, shaft in enumerate(boat_map.shaft_names):
        lever = Node(f"lever.{shaft}", panel, senders.get(f"lever.{shaft}", ()))
        drive = DriveNode(
            f"drive.{shaft}", panel, senders.get(f"drive.{shaft}", ()), _hearing(boat_map, level, "drive")
        )
        engine = EngineNode(
            f"engine.{shaft}", panel, senders.get(f"engine.{shaft}", ()), _hearing(boat_map, level, "engine")
        )
        box = ContactsNode(
            f"contacts.{shaft}", panel, senders.get(f"contacts.{shaft}", ()), _hearing(boat_map, level, "contacts")
        )
        drive.level = engine.level = box.level = level
        drives.append(drive)
        engines.append(engine)
        contacts.append(box)
        everything.update({node.name: node for node in (lever, drive, engine, box)})
    for name, group in senders.items():
        if name.startswith("own."):
            everything[name] = Node(name, panel, group)
    stop_rows = [row for row in boat_map.outputs if row.spec.name == "sources.stop"]
    sources = SourcesNode("sources", panel, (), Hearing(stop_rows))
    everything["sources"] = sources
    own = {name_of(row): OwnControl(row, panel) for row in own_rows(boat_map)}
    _all_good(boat_map, everything.values(), panel)
    return Nodes(panel, tuple(drives), tuple(engines), tuple(contacts), sources, everything, own)


def _all_good(boat_map: BoatMap, nodes: Iterable[Node], panel: Panel) -> None:
    """Own interlocks that no part of the simulated boat measures are good at power-up."""
    unmeasured = {field.place for node in nodes for field in node.fields() if field.row is not None and field.row.own}
    by_place: dict[str, list[InputRow]] = {}
    for row in own_rows(boat_map):
        by_place.setdefault(place_of(row), []).append(row)
    for place, rows in by_place.items():
        if place in unmeasured and _truth(rows[0]) is None:
            put_good(rows, panel)


def _hearing(boat_map: BoatMap, level: int, part: str) -> Hearing:
    return Hearing(row for row in boat_map.outputs if row.level == level and row.spec.name in _HEARS[part])


def _variants(boat_map: BoatMap) -> dict[Variant, list[InputRow]]:
    """The messages to send, each with the inputs it carries. Inputs without a condition ride in every variant."""
    found: dict[Variant, list[InputRow]] = {}
    for row in boat_map.inputs:
        fixed = tuple(sorted((signal.name, min(codes)) for signal, codes in row.where))
        found.setdefault((row.bus, row.message.name, fixed), []).append(row)
    for (bus, message, fixed), rows in list(found.items()):
        special = [key for key in found if key[:2] == (bus, message) and key[2]]
        if not fixed and special:
            del found[bus, message, fixed]
            for key in special:
                found[key] += rows
    return found


def _owner(boat_map: BoatMap, rows: Sequence[InputRow]) -> str:
    parts = {(part_of(row.spec.name), row.level) for row in rows if row.level != OWN}
    if not parts:
        return f"own.{next(iter(rows)).message.name.lower()}"
    part, level = min(parts, key=lambda place: (PRECEDENCE.index(place[0]), place[1]))
    if part in ("monitor", "helm", "handset"):
        return part
    return f"{part}.{boat_map.shaft_names[level]}"


def _sender(
    boat_map: BoatMap, variant: Variant, rows: list[InputRow], node: str, phases: random.Random | None
) -> Sender:
    bus, _, fixed = variant
    codec = rows[0].message
    fields: dict[str, Field] = {}
    level = max(row.level for row in rows)
    for row in rows:
        key = input_key(boat_map, row.level, row.spec.name)
        there = fields.get(row.signal.name)
        if there is not None:
            there.also += (key,)
            if row.own is not None:
                _take_hand(there, row)
            continue
        if row.own is not None:
            field = Field(key, row.signal, own_reader(row, _truth(row)), _shaft_of(boat_map, fixed, level), row)
            field.place = place_of(row)
        else:
            readers = BOAT_READERS if row.level == BOAT else SHAFT_READERS
            field = Field(key, row.signal, readers[row.spec.name], max(row.level, 0), row)
        fields[row.signal.name] = field
    _fill_extras(fields, codec, dict(fixed), level)
    sources = [row.source for row in rows if row.source >= 0]
    source = sources[0] if sources else _source(node, level)
    period_s = codec.period_s or min(row.stale_s for row in rows) / 4.0
    return Sender(bus, codec, list(fields.values()), _fixed(codec, fixed, level), source, period_s,
                  _phase(phases, period_s))  # fmt: skip


def _truth(row: InputRow) -> Reader | None:
    """What the simulated boat measures at an own interlock's signal; None where nothing does."""
    read = _extra(row.message, row.signal.name)
    if read is None:
        return None
    return lambda plant, panel, shaft: _scaled(row, read(plant, panel, shaft))


def _scaled(row: InputRow, value: float | None) -> float | None:
    """A value in the signal's unit as the interlock has it."""
    return None if value is None else value * row.factor + row.offset


def _take_hand(field: Field, row: InputRow) -> None:
    """A signal that some part sends anyway may be put by hand too, for the own interlock that listens to it."""
    if field.place or field.row is None:
        return
    field.place = place_of(row)
    field.read = own_reader(field.row._replace(where=row.where), field.read)


def _shaft_of(boat_map: BoatMap, fixed: Iterable[tuple[str, int]], level: int) -> int:
    """The shaft that an own interlock's message is of, by its instance."""
    instance = dict(fixed).get("Instance", max(level, 0))
    return instance if instance < len(boat_map.shaft_names) else 0


def _extra(codec: MessageCodec, name: str) -> Reader | None:
    stem = codec.name.rstrip("0123456789").rstrip("_")
    return EXTRAS.get((codec.name, name)) or EXTRAS.get((stem, name))


def _fill_extras(fields: dict[str, Field], codec: MessageCodec, fixed: Mapping[str, int], level: int) -> None:
    for name, signal in codec.signals.items():
        read = _extra(codec, name)
        if read is not None and name not in fields and name not in fixed:
            fields[name] = Field(f"{codec.name}.{name}", signal, read, max(level, 0), None)


def _fixed(codec: MessageCodec, fixed: Iterable[tuple[str, int]], level: int) -> dict[str, int]:
    codes = dict(fixed)
    if "Instance" in codec.signals and "Instance" not in codes:
        codes["Instance"] = max(level, 0)
    return codes


def _source(node: str, level: int) -> int:
    return _SOURCES[node.partition(".")[0]] + max(level, 0)


def _phase(phases: random.Random | None, period_s: float) -> float:
    return 0.0 if phases is None else round(phases.random() * period_s, 3)


def _companions(
    boat_map: BoatMap, senders: Mapping[str, list[Sender]], phases: random.Random | None
) -> list[tuple[str, Sender]]:
    """What a node of that kind sends besides, though this boat does not listen to it."""
    found: dict[tuple[str, str, str], Sender] = {}
    taken = {(sender.bus, sender.codec.name) for group in senders.values() for sender in group}
    for node, group in senders.items():
        for sender in group:
            for name in COMPANIONS.get(sender.codec.name, ()):
                codec = boat_map.messages[sender.bus].get(name)
                place = (node, sender.bus, name)
                if codec is None or (sender.bus, name) in taken or place in found:
                    continue
                fields: dict[str, Field] = {}
                _fill_extras(fields, codec, sender.fixed, BOAT)
                period_s = codec.period_s or 0.5
                found[place] = Sender(
                    sender.bus, codec, list(fields.values()), sender.fixed, sender.arbitration_id & 0xFF, period_s,
                    _phase(phases, period_s),
                )  # fmt: skip
    return [(node, sender) for (node, _, _), sender in found.items()]
