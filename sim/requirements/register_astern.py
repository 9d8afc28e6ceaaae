"""The register, part 5: a boat that cannot stop is in danger too."""

from sim.requirements.model import Requirement

ASTERN_REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        "SR-51", "Braking budget", ("H-05", "H-07", "H-28"),
        "While a shaft brakes, all currents into the bank together stay within the bank monitor's limit, the bank's "
        "{b.max_charge_a:g} A, the taper on the highest cell from {b.cell_taper_start_v:g} to {b.cell_taper_end_v:g} V "
        "and, from {b.cold_zero_c:g} to {b.cold_full_c:g} degC, {b.cold_limit_a:g} A, less what other sources feed; "
        "with cells colder, hotter than {b.hot_zero_c:g} degC or unknown, within {b.brake_cold_a:g} A for "
        "{b.brake_cold_s:g} s, available again after ten times that. A hotel load adds nothing to it, the SOC takes "
        "nothing off.",
        "budget less the current ordered", "A",
        "Ask the cell maker for what the bank takes for some seconds, cold, and set the bank monitor's limit to that.",
        rules=("rules.bank.brake_limit_a", "rules.bank.brake_spent_s", "rules.torque.shares_of"),
    ),
    Requirement(
        "SR-52", "Astern in time, or an alarm before", ("H-43", "H-25"),
        "Torque against rotation that the lever asks for reaches half of rated torque within 2 s (or as soon as slew "
        "and dwell allow), or the alarm that electric astern is short is active before.",
        "time left when half of rated torque was ordered", "s",
        "Try a crash stop in open water with the bank as full as it gets, and write down how far it carries.",
        rules=("rules.torque.wanted_nm", "rules.torque.astern_needed_a", "rules.torque.astern_short",
               "rules.outputs.boat_alarms"),
    ),
    Requirement(
        "SR-53", "A stop is announced", ("H-02", "H-25", "H-43"),
        "Thrust, charging or harvest that ends in READY although it is still asked for, by lever, handset or selector, "
        "with OFF not pressed, raises an alarm of its own shaft, which sounds and stays until "
        "it is acknowledged; charging that has done what it was to do is no stop, nor is a pause of thrust for a "
        "contact (SR-62) until it has failed.",
        "minus the ticks without the alarm", "ticks",
        "Place the sounder where the helm hears it over the engines.",
        rules=("rules.stops.stopped_unasked", "rules.stops.remember_stop"),
    ),
    Requirement(
        "SR-62", "A bounce is a pause", ("H-02", "H-43", "H-09"),
        "A contact of lock, clutch, gearbox or engine that thrust needs and that changes stops torque at once; good "
        "again "
        "within {b.pause_s:g} s, with the lever not moved further out by more than 2 %, it lets thrust come back, or "
        "the stop is announced. The third time within {b.pause_window_s:g} s, or longer, or with the handset in "
        "control, it ends thrust, and only fresh neutral brings it back.",
        "minus the ticks with thrust that should have ended, or without thrust and alarm", "ticks",
        "Find out why a contact bounces before the boat sails: too many in a row end thrust.",
        rules=("rules.pause.with_pause", "rules.pause.after_pause"),
    ),
)  # fmt: skip
