"""The reaction required of the supervisor to each fault: situation -> reaction.

A situation is what is hit, or the mode that a shaft is in, or both. The reactions are the specification's, not the
program's; tests/faults holds the supervisor to them. "At once" is the first tick after the frame; a time counts from
the last good frame, to the order on the wire. A drive then needs its own response time.
"""

from collections.abc import Mapping

Required = Mapping[str, str]

SILENCE: Required = {
    "monitor": "boat trips once the permit frame is stale, 0.12 s; every torque order zero",
    "helm": "boat trips once the contacts are stale, 0.16 s: an emergency stop would not be seen",
    "drive": "that shaft ISOLATED after 0.08 s, its enable dropped; the other shafts keep working",
    "lever, PROPEL": "after 0.16 s alarm, torque ramped to zero in 3 s, REARMED cleared; the other shafts keep working",
    "lever, GENERATE or HARVEST": "alarm; the selectors sit in the same box, so that charging ends",
    "contacts": "after 0.16 s no torque on that shaft: nothing of it is confirmed; the other shafts keep working",
    "engine, GENERATE": "after 0.5 s charging of that shaft ends: its engine speed is unknown",
    "engine, any other mode": "nothing, with the engine stopped by its run contact: gateways fall silent",
    "handset, in control": "torque to zero once its frame is stale, 0.12 s; alarm; nothing moves by itself afterwards",
    "handset, not in control": "nothing moves",
}
FROZEN: Required = {"any": "repeated frames are counted and not used: as silence of the guarded frames", **SILENCE}
CORRUPT: Required = {"any": "corrupt frames are counted and not used: as silence of the guarded frames", **SILENCE}
DELAYED: Required = {
    "any": "the gap is silence and is treated as such, and nothing that tripped comes back by itself; a steady delay "
    "afterwards cannot be told by counter and checksum",
    **SILENCE,
}
DUPLICATED: Required = {"any": "the second frame is counted and not used; nothing else happens"}
REORDERED: Required = {
    "any": "frames that run backwards are counted and not used; while the others come within their time nothing else "
    "happens, else as silence"
}
WRONG_SOURCE: Required = {
    "guarded frame": "refused by its checksum: as silence",
    "29-bit frame, source given in the boat file": "refused and counted: as silence",
    "29-bit frame, no source given": "used; the source is reported",
}
BABBLING: Required = {
    "bus full": "every guarded input grows stale: shafts ISOLATED after 0.08 s, boat trips after 0.12 s; drives hear "
    "no orders and are at zero by themselves within 0.2 s",
    "bus half full": "foreign frames are counted; nothing else happens",
}
ADAPTER: Required = {
    "private bus": "boat trips in the next tick, every torque order zero; drives that hear nothing are at zero by "
    "themselves within 0.2 s",
    "private bus, back": "still TRIPPED until reset, then STANDBY; with a lever ahead nothing moves",
    "backbone": "its inputs grow stale: charging on an engine ends after 0.5 s; PROPEL, HARVEST and REST go on",
}
OVERFLOW: Required = {
    "private bus": "boat trips in the next tick: what was lost may have been a trip",
    "backbone": "counted; its inputs may grow stale",
}
STUCK: Required = {
    "any": "not to be told from a steady truth; what another proof contradicts is not believed, and the monitor's own "
    "limits and permits still hold"
}
DRIFT: Required = {
    "plausible": "followed",
    "out of range": "counted and not used; once stale the input's configured reaction",
}
OUT_OF_RANGE: Required = {
    "number": "counted and not used; the last value serves until it is stale, then the input's configured reaction",
    "contact": "unknown at once: the input's configured reaction",
}
BOUNCES: Required = {
    "lock, clutch, gearbox or engine, PROPEL": "torque order zero at once; back within 0.2 s, thrust comes back by its "
    "slew; the third time within 10 s it stays away, with an alarm, until fresh neutral",
    "shore cable, PROPEL or HARVEST": "alarm; nothing stops under way",
    "diver, PROPEL": "torque order zero at once, with an alarm that stays; nothing moves until fresh neutral",
    "REST": "nothing moves",
}
PERMIT: Required = {
    "charge, GENERATE or HARVEST": "own current of every source zero within 0.2 s, hotel load or not; boat stays READY",
    "charge, PROPEL": "braking is barred; thrust goes on",
    "charge, any": "other sources are ordered to stop",
    "discharge, PROPEL": "torque order zero at once; nothing moves until fresh neutral",
    "discharge, GENERATE or HARVEST": "charging goes on",
    "REST": "nothing moves",
}
MONITOR_FAULT: Required = {
    "any": "boat trips at once, every torque order zero, before the contactor opens; reset is refused while it stands, "
    "leads to STANDBY afterwards, and with a lever ahead nothing moves"
}
WARNING: Required = {
    "any": "no torque order from the first tick after the frame; own current zero within 0.2 s",
    "contactor open": "boat trips",
}
DRIVE_FAULT: Required = {
    "any": "that shaft ISOLATED at once, its enable dropped; the other shafts keep working; it leaves by reset, cause "
    "gone, lever in neutral, torque zero, and then needs fresh neutral"
}
DISOBEYS: Required = {
    "zero ordered": "0.1 s after torque or current shows, hard-wired enable dropped and that shaft ISOLATED; the other "
    "shafts keep working",
    "torque ordered": "found out as soon as zero is ordered",
}
PRECHARGE: Required = {
    "NEUTRAL_WAIT": "that shaft ISOLATED after its precharge time; one retry by reset, the second failure stays",
    "PROPEL or GENERATE or HARVEST or REST": "once the link is off the bank voltage for 0.2 s that shaft ISOLATED",
}
STALL: Required = {
    "GENERATE": "torque order zero at once, before the engine stands: it is never turned backwards",
    "PROPEL or HARVEST or REST": "nothing happens",
}
WEAK: Required = {
    "GENERATE": "charging current backs off while the engine is below its idle speed by more than its sag: it does not "
    "stall; where it stalls all the same, as when an engine stops",
    "PROPEL or HARVEST or REST": "nothing happens",
}
LEVER_LOST: Required = {
    "PROPEL": "alarm at once, torque ramped to zero in 3 s; nothing moves until fresh neutral",
    "GENERATE or HARVEST": "alarm; charging goes on",
    "REST": "alarm; PROPEL is barred",
}
HANDSET_LOST: Required = {
    "in control": "torque order zero at once, alarm; nothing moves when the link comes back",
    "not in control": "nothing moves",
}
CLUTCH: Required = {
    "PROPEL or GENERATE or HARVEST": "torque order zero at once; the other shafts keep working",
    "REST": "no mode with torque is entered",
}
LOCK: Required = CLUTCH
BELT: Required = {
    "PROPEL or GENERATE or HARVEST": "that shaft goes to ISOLATED within half a second of torque, with the cause; "
    "the other keeps "
    "working",
    "REST": "no torque, nothing to be seen",
}
SLIP: Required = {
    "PROPEL or GENERATE or HARVEST": "alarm; that shaft goes to ISOLATED once the speeds are apart for the time of "
    "the boat "
    "file",
    "REST": "no torque, nothing to be seen",
}
PACKS: Required = {
    "PROPEL, limit below what is drawn": "torque follows the lowered discharge limit; no trip, thrust goes on",
    "GENERATE": "charging follows the lowered charging limit",
    "any other": "nothing: voltage and SOC stay in their bands",
}
JAM: Required = {
    "PROPEL": "torque reduced, then that shaft goes to ISOLATED, with the cause; nothing moves before reset and "
    "neutral",
    "HARVEST": "no torque on a shaft that does not turn",
    "REST": "no torque, nothing to be seen",
}
