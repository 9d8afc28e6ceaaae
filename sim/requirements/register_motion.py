"""The register, part 2: what could turn a propeller unasked, and what could take thrust away."""

from sim.requirements.model import Requirement

MOTION_REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        "SR-05", "No path into motion", ("H-01", "H-16", "H-19", "H-27", "H-34"),
        "Whatever ends thrust other than the lever itself asks for {b.neutral_s:g} s of fresh neutral of the "
        "position in "
        "control before thrust comes back; a pause (SR-62) has ended nothing.",
        "neutral seen beyond the dwell when thrust began", "s",
        "Show the crew at hand-over: after any stop, lever to neutral first.",
        rows=("shaft REST>PROPEL +REARMED", "shaft UNLOAD>PROPEL +REARMED"),
        rules=("rules.shaft_latches.after_mode",),
        sources="33 CFR 183.710, of outboards (V)",
    ),
    Requirement(
        "SR-07", "No torque against the shaft lock", ("H-09",),
        "No torque is ordered while the lock is not confirmed released, unless the clutch is confirmed open and the "
        "lock confirmed at rest.",
        "torque ordered against the lock (0 is right)", "N m", "Adjust the lock's contacts at both ends of its travel.",
        rows=("shaft PROPEL>REST -LOCK_RELEASED", "shaft HARVEST>REST -LOCK_RELEASED",
              "shaft GENERATE>REST -LOCK_RELEASED",
              "shaft UNLOAD>REST -LOCK_RELEASED", "shaft PROPEL>REST -LOCK_SETTLED"),
        rules=("rules.shaft_word.shaft_word",),
        sources="lock in transit or unknown means zero torque: ours, no outside source",
    ),
    Requirement(
        "SR-08", "No torque through a moving clutch", ("H-08", "H-18", "H-10"),
        "A clutch in transit or unknown means zero torque; thrust and harvest need it confirmed closed.",
        "torque ordered (0 is right)", "N m", "Fit both contacts, open and closed, never one for both.",
        rows=("shaft PROPEL>REST -CLUTCH_CLOSED", "shaft GENERATE>REST -CLUTCH_OPEN", "shaft UNLOAD>REST -CLUTCH_OPEN"),
        rules=("rules.shaft_word.shaft_word",),
        sources="ours, no outside source",
    ),
    Requirement(
        "SR-09", "One prime mover at a time", ("H-08", "H-24"),
        "Electric thrust begins and lasts only while the gearbox is confirmed in neutral, or, where it is declared "
        "open "
        "when "
        "stopped, the engine confirmed stopped: a drive must not turn a dead engine.",
        "torque ordered (or its growth while unloading) (0 is right)", "N m",
        "The neutral contact of the gearbox is the authority; a frame only contradicts it. Declare "
        "`open_when_stopped` only "
        "by the gearbox maker's word.",
        rows=("shaft PROPEL>UNLOAD -ENGINE_CLEAR", "shaft REST>PROPEL +ENGINE_CLEAR"),
        rules=("rules.readings.gear_neutral", "rules.readings.engine_stopped", "rules.readings.engine_clear"),
    ),
    Requirement(
        "SR-10", "Diver in the water", ("H-01", "H-10", "H-27", "H-39"),
        "With the diver lockout set, or its contact unknown, every torque order is zero.",
        "torque ordered (0 is right)", "N m",
        "Fit the lockout at the bathing ladder, key held by the diver; it must also cut the drives' enable by "
        "wire.",
        rows=("shaft PROPEL>REST -NO_DIVER", "shaft GENERATE>REST -NO_DIVER", "shaft HARVEST>REST -NO_DIVER",
              "shaft UNLOAD>REST -NO_DIVER"),
        rules=("rules.shaft_word.shaft_word",),
    ),
    Requirement(
        "SR-11", "Shore cable in", ("H-15",),
        "With a shore cable connected, or its contact unknown, no thrust and no harvest begin until a shaft has "
        "propelled "
        "or harvested since READY. From then on the contact raises an alarm and stops nothing; it blocks again once "
        "each "
        "shaft in service has been still in neutral for {b.shore_still_s:g} s.",
        "torque ordered (0 is right)", "N m", "Take the signal from the inlet's own pilot contact.",
        rows=("shaft REST>PROPEL +NO_SHORE", "shaft REST>HARVEST +NO_SHORE"),
        rules=("rules.shaft_word.shaft_word", "rules.boat_timers.remember_shafts"),
    ),
    Requirement(
        "SR-12", "Charging at rest stands still", ("H-10", "H-01"),
        "Charging at rest works only with the clutch confirmed open and the propeller side below {s.still_rpm:g} rpm.",
        "still speed less propeller speed", "rpm", "Fit the speed sensor on the propeller side of the clutch.",
        rows=("shaft REST>GENERATE +CLUTCH_OPEN", "shaft GENERATE>REST -PROPELLER_STILL"),
        rules=("rules.readings.propeller_still",),
    ),
    Requirement(
        "SR-26", "Lever lost", ("H-11", "H-02"),
        "A lost lever gives an alarm, and its thrust is ramped to zero in {s.lever_ramp_s:g} s (after "
        "{s.lever_hold_s:g} s "
        "of holding the last order). One whose contact says neutral while its position does not gives no more thrust "
        "at once, "
        "by the slew, and is lost when that lasts 0.2 s.",
        "time left when thrust was zero", "s",
        "Choose lever_hold_s by the boat's waters; see the policy above.",
        rows=("shaft PROPEL>UNLOAD +CONTROL_LOST",),
        rules=("rules.torque.order", "rules.shaft_latches.after_mode", "rules.readings.read_lever"),
        sources="ship rules hold the last order; radio practice begins to stop within about 0.5 s (IEC 60204-32, EN "
        "13557, M)",
    ),
    Requirement(
        "SR-27", "Handset lost", ("H-11", "H-17"),
        "When the link of the handset in control is lost, thrust is zero in the tick in which that is seen.",
        "torque ordered (0 is right)", "N m", "Walk the deck with the handset: no corner without link.",
        rows=("shaft PROPEL>REST +HANDSET_LOST", "shaft UNLOAD>REST +HANDSET_LOST"),
        rules=("rules.orders.read_orders",),
        sources="wireless control: ISO 25197:2012, 7.4 to 7.7 (V)",
    ),
    Requirement(
        "SR-28", "Handset limited", ("H-01", "H-11", "H-41"),
        "By handset no more than {b.handset_thrust_pct:g} % of rated torque is ordered.",
        "that part less the torque ordered", "N m", "None.",
        rules=("rules.torque.wanted_nm",),
    ),
    Requirement(
        "SR-29", "One control position", ("H-17", "H-38", "H-41"),
        "The handset is in control only while held, ours, and with every lever in neutral; a lever that moves "
        "ends it, and "
        "the position in control is shown.",
        "neutral band less the largest lever position", "%", "Pair one handset with one boat only.",
        rows=("shaft PROPEL>REST +HANDSET_LOST",),
        rules=("rules.orders.read_orders",),
        sources="SOLAS II-1/31.2.5: one control position at a time, shown (V)",
    ),
    Requirement(
        "SR-24", "Torque grows by the slew", ("H-08",),
        "Ordered torque grows no faster than {s.torque_slew_nm_per_s:g} N m/s and never changes sign without "
        "zero between.",
        "slew less the fastest growth", "N m/s", "Tension the belt for the slew that is configured.",
        rows=("shaft PROPEL>UNLOAD -THRUST_ORDER",),
        rules=("rules.torque.order", "rules.bank.slewed"),
    ),
    Requirement(
        "SR-25", "Reversal dwells at zero", ("H-08",),
        "Thrust reverses only after the order has been zero for {s.reversal_dwell_s:g} s.",
        "time at zero beyond the dwell", "s", "None.",
        rules=("rules.torque.order",),
    ),
    Requirement(
        "SR-42", "Not driven into overspeed", ("H-13", "H-40"),
        "No torque in the direction of rotation is ordered at or above {s.max_speed_rpm:g} rpm, and a boat file "
        "whose shaft "
        "can be turned "
        "beyond the lowest bank voltage is refused unless the drive is declared protected.",
        "highest speed less the speed while driving", "rpm",
        "Take the back-EMF constant from the data sheet; a machine turned fast rectifies with everything "
        "switched off.",
        rules=("rules.torque.wanted_nm", "config.checks.check_config"),
    ),
)  # fmt: skip
