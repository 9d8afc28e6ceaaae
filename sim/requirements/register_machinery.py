"""The register, part 4: engine, gearbox, clutch, lock, drive."""

from sim.requirements.model import Requirement

MACHINERY_REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        "SR-21", "Engine headroom", ("H-03",),
        "Charging torque stays below {s.headroom:g} of what the engine has to spare: its full-throttle torque "
        "at this speed "
        "through the gearbox, less the propeller's.",
        "spare torque less charging torque", "N m", "Enter the maker's torque curve, not a brochure's.",
        rules=("rules.torque.spare_engine_nm", "rules.torque.curve_nm", "rules.torque.ask"),
        sources="overload of propulsion machinery prevented: SOLAS II-1/31.2.2 (V); near idle limit torque, not "
        "power (C)",
    ),
    Requirement(
        "SR-22", "A sagging engine is relieved", ("H-03",),
        "With the throttle steady, charging current stops rising when the engine has lost {s.sag_rpm:g} rpm "
        "since the start "
        "of the ramp, and backs off when it has lost twice that; whatever the throttle does, it backs off "
        "{s.sag_rpm:g} rpm "
        "below idle speed, and does not begin there.",
        "minus the rise of current while the engine sags", "A", "None.",
        rules=("rules.torque.sag", "rules.torque._source"),
    ),
    Requirement(
        "SR-23", "A source only opposes", ("H-14", "H-03", "H-10"),
        "In GENERATE and HARVEST, and while unloading from them, torque only opposes measured rotation and is "
        "zero below "
        "{s.generate_min_rpm:g} rpm; GENERATE needs the engine confirmed running.",
        "minus the offending torque", "N m", "Check the sign of speed and torque on the bench, before the belt is on.",
        rows=("shaft GENERATE>REST -ENGINE_RUNNING",),
        rules=("rules.torque.order", "rules.torque._source"),
    ),
    Requirement(
        "SR-32", "A drive that disobeys is dropped", ("H-22", "H-11"),
        "Zero ordered, yet more than {s.disobey_torque_nm:g} N m, or {s.disobey_current_a:g} A (drawn: "
        "besides the declared no-load loss), for {s.disobey_s:g} s: the "
        "shaft is ISOLATED and the drive's hard-wired enable dropped.",
        "time left when the enable dropped", "s",
        "Test on the bench that the drive stops when its enable input falls, with the bus unplugged. Declare the "
        "power that it "
        "draws at zero torque and highest speed.",
        rows=("shaft PROPEL>ISOLATED +DISOBEYED", "shaft REST>ISOLATED +DISOBEYED"),
        rules=("rules.readings.disobeys", "rules.permits.permit_word"),
    ),
    Requirement(
        "SR-54", "Belt and coupling are watched", ("H-44", "H-02"),
        "A shaft at work that turns outside what its drive turned with of late, by {b.coupling_rpm:g} rpm, "
        "{b.coupling_pct:g} % and half of what the drive's speed changed by, goes to ISOLATED after "
        "{b.coupling_s:g} s, "
        "with an alarm, and RESET is refused while the two are known to turn apart, unless get-home is on; half as far "
        "apart for {b.slip_s:g} s in all gives the alarm of a slip. \"Of late\" is half of the time after which the "
        "shaft's "
        "speed is unknown, twice that at most. The propeller's speed is compared with the clutch confirmed closed, the "
        "engine's with it open and the gear ahead; an unknown speed ends nothing.",
        "time left when the shaft went to ISOLATED, or was together again", "s",
        "Guard belt and pulleys. A speed sensor that gives a wrong speed sends its shaft to ISOLATED: get-home "
        "takes the watch off. Try the "
        "sensor at "
        "the jetty.",
        rows=("shaft PROPEL>ISOLATED +COUPLING_LOST", "shaft GENERATE>ISOLATED +COUPLING_LOST"),
        rules=("rules.coupling.coupling_timers", "rules.coupling.speed_beside", "rules.shaft_word.shaft_word"),
    ),
    Requirement(
        "SR-55", "A jammed propeller is not forced", ("H-45", "H-27", "H-01"),
        "Torque of {b.jam_from_pct:g} % of its rating or more that turns nothing for {b.jam_s:g} s is cut to "
        "{b.jam_pct:g} %, with an alarm; after as long again the shaft goes to ISOLATED, and only RESET and neutral "
        "bring it back.",
        "time left when torque had been cut", "s",
        "Diver lockout before anybody goes to the propeller; a shaft in ISOLATED is not locked.",
        rows=("shaft PROPEL>ISOLATED +JAMMED",),
        rules=("rules.coupling.coupling_timers", "rules.coupling.jam_limit_nm", "rules.shaft_word.shaft_word"),
    ),
    Requirement(
        "SR-33", "Precharged before enabled", ("H-21", "H-30"),
        "READY, and a drive's enable, need its DC link precharged to the bank voltage; a precharge longer than "
        "{s.precharge_s:g} s sends the shaft to ISOLATED, with one retry by hand.",
        "link tolerance less the difference when enabled", "V",
        "Size the precharge resistor for its energy at each try.",
        rows=("boat NEUTRAL_WAIT>READY +LINKS_CHARGED", "shaft REST>ISOLATED +PRECHARGE_FAILED",
              "shaft REST>PROPEL +LINK_CHARGED"),
        rules=("rules.readings.link_charged", "rules.shaft_timers.shaft_timers"),
        sources="precharge timeout is a fault, never retried without end: ours, no outside source",
    ),
    Requirement(
        "SR-34", "Contactor closed", ("H-04", "H-21"),
        "There is no torque while the bank's contactor is not confirmed closed; READY is left when it opens.",
        "torque ordered (0 is right)", "N m", "Take the signal from an auxiliary contact, not from the coil.",
        rows=("boat READY>TRIPPED -CONTACTOR_CLOSED", "boat NEUTRAL_WAIT>READY +CONTACTOR_CLOSED"),
        rules=("rules.bank.bank_view",),
    ),
    Requirement(
        "SR-37", "Engine start permit", ("H-24", "H-01"),
        "Engine start is permitted unless a contact or report says that the gearbox is in gear or the diver lockout is "
        "set, and only with drive torque zero: measured so, out of service, or silent for 1 s with its enable dropped. "
        "An unknown signal blocks no start: a boat whose contacts are silent must be left its engine.",
        "torque tolerance less the torque measured", "N m",
        "Wire, in series in the start circuit: the gearbox's own neutral switch, the diver key, and this permit. "
        "Neither switch nor key is ever bypassed. Across the permit alone goes a guarded switch, labelled, for a "
        "supervisor that is dead; try it at the jetty.",
        rules=("rules.permits.permit_word",),
    ),
    Requirement(
        "SR-38", "Clutch closes at one speed", ("H-18", "H-08"),
        "Closing the clutch is permitted only with gear and lever in neutral, no torque ordered, and both sides "
        "within "
        "{s.close_within_rpm:g} rpm.",
        "limit less the difference of speeds", "rpm", "Wire the permit into the clutch's closing circuit.",
        rules=("rules.permits.permit_word",),
    ),
    Requirement(
        "SR-39", "Lock engages on a still shaft", ("H-09", "H-40"),
        "The lock may engage only after the shaft has been still for {s.lock_still_s:g} s, with no torque ordered or "
        "held by its drive for that (SR-60).",
        "time still beyond the limit when permitted", "s", "Wire the permit into the lock's circuit.",
        rules=("rules.permits.permit_word",),
    ),
    Requirement(
        "SR-60", "A shaft held for its lock is not turned", ("H-46", "H-40", "H-01"),
        "On request (a selector seen off since READY), with the lever in neutral and in control and the lock confirmed "
        "released, a drive brakes its shaft to still and holds it, with everything that thrust needs; torque in the "
        "direction of a rotation above {s.still_rpm:g} rpm is zero. As soon as the lock moves the drive lets go.",
        "torque against the rotation of a held shaft", "N m",
        "Set the lock's released contact so that it opens as late as it can; stop and lock at the lowest speed first, "
        "with nobody near the shaft. A held shaft is not locked.",
        rules=("rules.hold.hold_wanted", "rules.hold.hold_nm", "rules.torque.order"),
    ),
    Requirement(
        "SR-61", "A hold ends in its time, with an alarm", ("H-46",),
        "A shaft that is held and whose lock has not moved in {b.hold_s:g} s is let go, with an alarm until the "
        "selector is off or the lock engaged; the selector must be seen off before the next.",
        "time left when let go", "s", "Learn beforehand at which speeds this boat's drive holds its shaft.",
        rules=("rules.hold.hold_latches", "rules.hold.hold_timers", "rules.outputs.shaft_alarms"),
    ),
    Requirement(
        "SR-41", "Harvest only if the gearbox may turn with its engine stopped", ("H-23", "H-40"),
        "HARVEST needs the engine stopped, the gearbox in neutral, the clutch closed, the lock released, and a "
        "gearbox whose maker allows it to turn with its engine stopped (in the boat file {s.trailing_allowed}: 1 is "
        "yes; its limit "
        "{s.trailing_limit_s:g} s: 0 is none).",
        "torque ordered without (0 is right)", "N m", "Ask the gearbox maker in writing; the default is no.",
        rows=("shaft REST>HARVEST +TRAILING_OK", "shaft HARVEST>UNLOAD -TRAILING_OK",
              "shaft HARVEST>UNLOAD -ENGINE_STOPPED"),
        rules=("rules.shaft_word.shaft_word",),
    ),
    Requirement(
        "SR-48", "A drive without orders stops", ("H-11", "H-20", "H-34"),
        "A drive drops to zero torque when good commands stop for 0.2 s.",
        "time left when torque was zero", "s",
        "Set the drive's own command timeout and test it by unplugging the bus under thrust, moored.",
        rules=("bus.outputs.OutputTable",),
        instead="shown by test on the stand-in drive, which lets go after 0.15 s to be at zero within 0.2 s: it is "
        "the drive's own duty, not the supervisor's.",
    ),
)  # fmt: skip
