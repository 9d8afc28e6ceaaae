"""The register, part 3: the bank, its permits, its limits."""

from sim.requirements.model import Requirement

CHARGE_REQUIREMENTS: tuple[Requirement, ...] = (
    Requirement(
        "SR-13", "Charge permit", ("H-04", "H-05", "H-28", "H-30"),
        "With the charge permit withdrawn or unknown, or the bank monitor's limit 0, no charging torque is ordered "
        "from that tick on, whatever the hotel load; drives that answer in the time their boat file states are "
        "without charging current within 0.2 s.",
        "time left when the last source's current was zero", "s",
        "The bank monitor opens its own contactor in the end: its protection is the last line, not ours. Wire the "
        "stop of "
        "every other source (shore charger, alternators, solar) to the stop output, and see each one stop.",
        rows=("shaft GENERATE>REST -CHARGE_PERMIT", "shaft HARVEST>REST -CHARGE_PERMIT"),
        rules=("rules.bank.bank_view", "rules.torque.order", "rules.sources.sources_state"),
        sources="reduce the source, then disconnect: small-craft lithium text (S); ISO 23625 by topic (M)",
    ),
    Requirement(
        "SR-14", "Discharge permit", ("H-04", "H-06", "H-30"),
        "With the discharge permit withdrawn or unknown, or the bank monitor's limit 0, no driving torque is ordered "
        "from that "
        "tick on.",
        "time left when the last drive's current was zero", "s", "As for the charge permit.",
        rows=("shaft PROPEL>REST -DISCHARGE_PERMIT",),
        rules=("rules.bank.bank_view", "rules.torque.order"),
    ),
    Requirement(
        "SR-15", "One charge budget", ("H-05", "H-07", "H-28"),
        "All sources together (GENERATE, HARVEST, and unloading from them) stay within the limit on charging "
        "current (full {b.full_charge_a:g} A; "
        "falling from "
        "{b.taper_start_pct:g} to {b.taper_end_pct:g} % SOC and from {b.cell_taper_start_v:g} to "
        "{b.cell_taper_end_v:g} V "
        "of the highest cell; at most {b.cold_limit_a:g} A up to {b.cold_full_c:g} degC; never above the "
        "bank monitor's), plus "
        "the hotel load of the last 2 s, to 0.5 A.",
        "limit plus hotel load less the current ordered", "A",
        "Enter the cell maker's figures; fuse each source for its own rating.",
        rows=("shaft GENERATE>UNLOAD -CHARGE_WANTED", "shaft HARVEST>UNLOAD -CHARGE_WANTED"),
        rules=("rules.bank.charge_limit_a", "rules.torque.share", "rules.torque.order"),
        sources="cell 2.5 to 3.65 V, 0.2C below 10 degC: cell data sheets (V); window: no source",
    ),
    Requirement(
        "SR-16", "Cold or hot bank", ("H-07", "H-28"),
        "No source charges with the coldest cell at or below {b.cold_zero_c:g} degC, the hottest at or above "
        "{b.hot_zero_c:g} degC, or either unknown.",
        "distance of the cells from either limit while charging", "degC",
        "Place the bank monitor's sensors on the coldest and the hottest cell.",
        rules=("rules.bank.charge_limit_a",),
        sources="charge 0 to 45 degC: cell data sheets (V)",
    ),
    Requirement(
        "SR-17", "Charging ends, latched", ("H-05",),
        "Charging that ended because the limit fell below {b.charge_end_a:g} A restarts only below "
        "{b.charge_restart_pct:g} % SOC, or for a requested full charge. That charging at rest has ended while its "
        "engine "
        "runs on is shown by a notice.",
        "restart SOC less the SOC at restart", "%", "None.",
        rules=("rules.bank.charge_ended", "rules.tick.run_tick"),
    ),
    Requirement(
        "SR-56", "Other sources within the limit", ("H-05", "H-04", "H-07"),
        "Other sources (the bank's current less the drives', while the drives' current is steady) that feed "
        "{b.source_over_a:g} A more than the limit in force for {b.source_over_s:g} s are stopped by the stop output, "
        "with an "
        "alarm, for {b.source_stop_s:g} s at least and until the limit exceeds what they gave; RESET lets them try "
        "again. A stop lasts {b.source_return_s:g} s at least.",
        "0 while they are stopped, else minus what they feed beyond the limit", "A",
        "Set each charger within the bank's smallest limit; a source without a stop input only causes the alarm: "
        "switch it off by hand.",
        rules=("rules.sources.sources_state", "rules.bank.bank_view"),
    ),
    Requirement(
        "SR-57", "A hotel load that takes thrust gives an alarm", ("H-02", "H-06"),
        "Thrust that asks for more than the bank may give beside the hotel load is reduced to what is left, with an "
        "alarm "
        "until the budget exceeds it by a tenth; it ends nothing, and thrust comes back by itself.",
        "minus the ticks without alarm while a load takes all", "ticks",
        "Tell the crew which loads (thruster, galley, windlass) leave no thrust beside them.",
        rules=("rules.bank.bank_view", "rules.torque.cut_short", "rules.boat_timers.remember_shafts"),
    ),
    Requirement(
        "SR-18", "Derate", ("H-06", "H-02"),
        "The power of electric thrust falls from full at {b.derate_start_pct:g} % SOC to {b.derate_floor_pct:g} % at "
        "{b.derate_end_pct:g} %, no faster than {b.derate_rate_pct_per_s:g} %/s, then ends, once "
        "the SOC or a cell has read so low for {b.derate_dip_s:g} s; likewise on the lowest cell "
        "from {b.cell_derate_start_v:g} to {b.cell_derate_end_v:g} V, falling at up to "
        "{b.cell_derate_fall_pct_per_s:g} %/s and rising at {b.bank_rise_pct_per_s:g}, "
        "at the floor at once where the discharge permit is lost meanwhile; "
        "{b.unknown_soc_pct:g} % while the SOC is unknown.",
        "power allowed less power ordered", "W", "Tell the crew what is left at the floor: try it in safe water.",
        rows=("shaft PROPEL>UNLOAD -DERATE_OPEN",),
        rules=("rules.bank.derate_target_pct", "rules.bank.low_dwell_s", "rules.torque.wanted_nm"),
        sources="derate and warn before shutdown: IMO machinery safety-system text (V)",
    ),
    Requirement(
        "SR-19", "Derate returns with a distance", ("H-06", "H-16"),
        "Thrust that ended at the lower limit returns only above {b.derate_return_pct:g} % SOC (or by the "
        "guarded get-home "
        "override, down to the bank monitor's permit), after fresh neutral; while the SOC reads at the limit none "
        "begins.",
        "SOC beyond the return limit when thrust returned", "%", "Guard the get-home switch.",
        rules=("rules.bank.derate_ended",),
    ),
    Requirement(
        "SR-20", "Soft start", ("H-03", "H-08"),
        "Charging current of a source rises no faster than {s.charge_rise_a_per_s:g} A/s.",
        "soft start less the fastest rise", "A/s", "None.",
        rules=("rules.torque.order", "rules.torque._source"),
    ),
    Requirement(
        "SR-40", "SOC unknown", ("H-05", "H-06", "H-02"),
        "With the SOC unknown no source charges, the power of electric thrust stays at {b.unknown_soc_pct:g} %, and "
        "there is "
        "an alarm.",
        "minus the charging current ordered", "A", "None.",
        rules=("rules.bank.charge_limit_a", "rules.bank.derate_target_pct", "rules.outputs.boat_alarms"),
    ),
    Requirement(
        "SR-43", "Warned before", ("H-25", "H-02", "H-06"),
        "The crew is warned on entering the derate band at {b.derate_start_pct:g} % and {b.time_to_limit_s:g} s "
        "ahead of "
        "the lower limit at the present load.",
        "SOC passed without the alarm", "%", "Place the screen where the helm sees it.",
        rules=("rules.outputs.boat_alarms", "rules.outputs.time_to_limit_s"),
        sources="alarm before a battery shuts itself off: ABYC E-13, required or advised by summary (S); "
        "impending shutdown "
        "announced: naval ship rules V2 Pt 9 Ch 7, 2.1.7 (V)",
    ),
)  # fmt: skip
