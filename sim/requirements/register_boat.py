"""The register, part 1: enabling, tripping, resetting, idling, restarting, the bus."""

from sim.requirements.model import Requirement

BOAT_REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        "SR-01", "Neutral before enable", ("H-01", "H-16", "H-19", "H-38", "H-41"),
        "READY is entered only when every lever that is not deliberately out of service has been in neutral, by "
        "contact and position, for {b.neutral_s:g} s.",
        "time in neutral beyond the dwell when READY was entered", "s",
        "Adjust each lever's neutral contact so that it opens before the lever leaves its detent.",
        rows=("boat NEUTRAL_WAIT>READY +LEVERS_NEUTRAL",),
        rules=("rules.boat_word.boat_word", "rules.readings.read_lever"),
        sources="no start with thrust selected: 33 CFR 183.710, of outboards (V); ISO 11547 same topic (M)",
    ),
    Requirement(
        "SR-02", "Off means off", ("H-01", "H-12", "H-22", "H-39"),
        "Unless the boat is READY, every torque order is zero and no drive is enabled; nor is torque ordered of a "
        "shaft at REST or ISOLATED.",
        "torque ordered outside READY (0 is right)", "N m",
        "Wire each drive's enable output to its hard-wired enable input, not to a bus.",
        rows=("shaft PROPEL>REST -BOAT_READY", "shaft GENERATE>REST -BOAT_READY", "shaft HARVEST>REST -BOAT_READY",
              "shaft UNLOAD>REST -BOAT_READY"),
        rules=("rules.torque.order", "rules.permits.permit_word"),
    ),
    Requirement(
        "SR-03", "A trip stops torque in its tick", ("H-01", "H-04", "H-11", "H-20", "H-28", "H-33", "H-34"),
        "Emergency stop, a fault flag of the bank monitor, a dead receive path, another supervisor heard on the "
        "bus, missed deadlines or a lost required input trips a boat in NEUTRAL_WAIT or READY and makes every "
        "torque order zero in "
        "the tick ({b.tick_s:g} s) in which it is seen.",
        "torque ordered while a cause is there (0 is right)", "N m",
        "Fit an emergency stop that also cuts each drive's enable circuit without any software (IEC 60204-1 stop "
        "category 0 or 1 by the drive's own means, M).",
        rows=("boat NEUTRAL_WAIT>TRIPPED", "boat READY>TRIPPED", "boat STANDBY>TRIPPED"),
        rules=("rules.boat_word.boat_word", "rules.tick.run_tick"),
        sources="emergency stop independent of the bridge control: SOLAS II-1/31.2.3 (V); ISA-18.2 alarm terms (M)",
    ),
    Requirement(
        "SR-04", "A trip is latched", ("H-16",),
        "TRIPPED ends only by a press of RESET seen after the trip, with every cause gone, and in STANDBY; "
        "READY is "
        "entered only from NEUTRAL_WAIT, and that only from STANDBY by a press of ENABLE.",
        "minus the number of forbidden changes at once", "changes",
        "Place RESET where the crew sees shafts and bathing platform.",
        rows=("boat TRIPPED>STANDBY +RESET_EDGE", "boat STANDBY>NEUTRAL_WAIT +ENABLE_EDGE"),
        rules=("rules.orders.read_orders",),
    ),
    Requirement(
        "SR-06", "ISOLATED until reset", ("H-16", "H-22"),
        "A shaft that is ISOLATED gives no torque and leaves that mode only by a press of RESET, with its cause "
        "gone, its lever "
        "in neutral and its torque zero; a drive that sent it there by disobeying must have been seen to obey for 2 s "
        "with its enable dropped, and when it does so again within 10 min, both sides of the shaft must be still "
        "(below {s.still_rpm:g} rpm).",
        "disobey tolerance less the torque when ISOLATED ended", "N m",
        "Find the cause before RESET; the journal names the first-out.",
        rows=("shaft *>ISOLATED", "shaft ISOLATED>REST +RESET_EDGE"),
        rules=("rules.shaft_word.shaft_word", "rules.shaft_timers.shaft_timers", "rules.shaft_latches.after_mode"),
    ),
    Requirement(
        "SR-30", "A lost shaft input stops that shaft", ("H-11", "H-20", "H-22", "H-27", "H-33", "H-34"),
        "The loss of a required input of a shaft, or its drive's fault flag, makes that shaft's torque "
        "order zero in "
        "the tick in which it is seen, and in NEUTRAL_WAIT and READY the shaft goes to ISOLATED.",
        "torque ordered while the input is lost (0 is right)", "N m",
        "Map every input; check the ageing times against the real frame periods.",
        rows=("shaft PROPEL>ISOLATED +INPUT_LOST", "shaft GENERATE>ISOLATED +INPUT_LOST",
              "shaft PROPEL>ISOLATED +DRIVE_FAULT"),
        rules=("rules.shaft_word.shaft_word", "rules.torque.order"),
    ),
    Requirement(
        "SR-31", "One shaft's cause stops one shaft", ("H-26", "H-02"),
        "For a cause of one shaft that shaft goes to ISOLATED; the boat trips only for a cause of the boat.",
        "minus the number of other shafts stopped with it", "shafts",
        "Do not wire the shafts' contacts through one common fuse.",
        rows=("shaft PROPEL>ISOLATED +DRIVE_FAULT",),
        rules=("rules.tick.run_tick",),
    ),
    Requirement(
        "SR-35", "Idle does not stay enabled", ("H-01", "H-12", "H-41"),
        "READY with every shaft at rest and no order is ended {b.idle_off_s:g} s after a reminder at "
        "{b.idle_reminder_s:g} s, by screen and sounder.",
        "time left when READY ended or an order came", "s",
        "Fit the sounder where it wakes somebody.",
        rows=("boat READY>STANDBY +IDLE_EXPIRED",),
        rules=("rules.boat_timers.boat_timers", "rules.outputs.boat_alarms"),
    ),
    Requirement(
        "SR-36", "Restart is STANDBY", ("H-16", "H-19", "H-34", "H-36"),
        "After any power-up or crash the first tick is STANDBY with zero commands, whatever levers and switches "
        "say; a "
        "switch that is already on passes nothing.",
        "torque ordered in the first tick (0 is right)", "N m",
        "Supply the supervisor from a source that survives the crank of the engine.",
        rules=("rules.tick.initial_memory", "rules.orders.read_orders"),
        sources="recovery after loss of supply is safe: naval ship rules V2 Pt 9 Ch 7, 2.1.3 (V)",
    ),
    Requirement(
        "SR-44", "Enabling gives up", ("H-12", "H-16"),
        "NEUTRAL_WAIT ends in STANDBY after {b.neutral_wait_s:g} s.",
        "time left when NEUTRAL_WAIT ended", "s", "None.",
        rows=("boat NEUTRAL_WAIT>STANDBY +WAIT_EXPIRED",),
        rules=("rules.boat_timers.boat_timers",),
    ),
    Requirement(
        "SR-45", "OFF in time", ("H-01", "H-12"),
        "OFF brings the boat to STANDBY once its shafts are at rest, and at the latest after {b.disable_s:g} s.",
        "time left when STANDBY was reached", "s", "Wire OFF so that a broken wire reads as unknown, which trips.",
        rows=("boat READY>STANDBY +OFF_ORDER", "boat NEUTRAL_WAIT>STANDBY +OFF_ORDER"),
        rules=("rules.orders.read_orders",),
    ),
    Requirement(
        "SR-46", "A switch left on does nothing", ("H-16", "H-12"),
        "A charge or harvest selector acts only when it has been seen off since the boat became READY.",
        "minus the number of starts by a maintained selector", "starts", "None.",
        rules=("rules.shaft_timers.shaft_timers",),
    ),
    Requirement(
        "SR-47", "Only valid frames count", ("H-11", "H-20", "H-33", "H-42"),
        "A guarded frame that is corrupt, repeated or out of sequence, any frame that is short or not from the source "
        "that its mapping names, and any value out of range is counted and not used; a value that is too old is "
        "unknown. A gear "
        "report, an engine speed that says a stopped engine turns, or a bank voltage from another source than before "
        "acts without a guard only when three frames in a row from one source say so.",
        "minus the number of bad frames used", "frames",
        "Terminate both ends of each bus; keep the two buses apart; name the source of each open message. Two "
        "senders of one guarded message: see H-42.",
        rules=("bus.inputs.InputTable",),
        instead="shown by test: the codec is not a table. Published vectors of the guard, an independent "
        "implementation, "
        "and each kind of damage injected on the bus.",
        sources="AUTOSAR E2E profile 1, vectors of PyPI autosar-e2e (C)",
    ),
    Requirement(
        "SR-50", "Own interlocks", ("H-01", "H-05", "H-16"),
        "While an own interlock of the boat file is bad, or its signal unknown (unless the file lets that count as "
        "good), its effect acts: nothing that it inhibits begins, what it stops ends in its tick, what it ramps or "
        "unloads goes to zero, what it limits stays within its limit. None of them permits anything.",
        "torque ordered against an own interlock (0 is right)", "N m",
        "Wire its contact so that a broken wire reads as bad, and test each one at hand-over.",
        rows=("shaft PROPEL>REST -OWN_THRUST", "shaft PROPEL>UNLOAD -OWN_THRUST_STAYS",
              "shaft REST>PROPEL +OWN_THRUST_START",
              "shaft GENERATE>REST -OWN_CHARGE", "shaft GENERATE>UNLOAD -OWN_CHARGE_STAYS",
              "shaft UNLOAD>REST -OWN_THRUST", "shaft *>ISOLATED -OWN_SHAFT", "boat READY>TRIPPED -OWN_BOAT"),
        rules=("rules.own.own_state", "rules.own.own_on_shaft", "rules.own.own_boat_bit", "rules.torque.wanted_nm"),
        instead="judged for each own interlock by its name.",
    ),
    Requirement(
        "SR-49", "No stop without a cause", ("H-02", "H-25"),
        "Thrust, charging and harvest that are asked for with every permissive are given and kept, every mode can be "
        "reached and left, and no constant input drives modes round and round.",
        "minus the number of stops without a cause", "stops", "None.",
        rows=("shaft REST>PROPEL", "shaft REST>GENERATE", "shaft REST>HARVEST", "shaft UNLOAD>PROPEL"),
        rules=("rules.torque.order", "rules.bank.charge_ended"),
        sources="automatic shutdown only for immediate danger: IMO machinery safety-system text (V)",
    ),
)  # fmt: skip
