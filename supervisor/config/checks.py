"""Limits against each other, and against ratings: what `thwart check` prints, and what refuses a boat file."""

from collections.abc import Iterator
from itertools import pairwise

from supervisor.config.finding import Finding
from supervisor.config.own_checks import check_interlocks
from supervisor.config.schema import BoatConfig, Shaft
from supervisor.config.wiring import check_wiring


def check_config(config: BoatConfig) -> list[Finding]:
    """All findings on a boat file, errors first. An empty list means that nothing was found, not that it is safe."""
    found = [
        *_charging(config), *_discharging(config), *_permits(config), *_shafts(config), *_staleness(config),
        *check_wiring(config), *check_interlocks(config),
    ]  # fmt: skip
    order = {"error": 0, "warning": 1, "note": 2}
    return sorted(found, key=lambda finding: order[finding.level])


def _order(low_key: str, low: float, high_key: str, high: float, unit: str) -> Iterator[Finding]:
    if not low < high:
        yield Finding(
            "error", f"limits.{low_key}", f"{low:g} {unit} must be below limits.{high_key} = {high:g} {unit}",
            "Change one of the two keys",
        )  # fmt: skip


def _charging(config: BoatConfig) -> Iterator[Finding]:
    lim, bank = config.limits, config.bank
    yield from _order("taper_start_pct", lim.taper_start_pct, "taper_end_pct", lim.taper_end_pct, "%")
    yield from _order("charge_restart_pct", lim.charge_restart_pct, "taper_end_pct", lim.taper_end_pct, "%")
    yield from _order("cell_taper_start_v", lim.cell_taper_start_v, "cell_taper_end_v", lim.cell_taper_end_v, "V")
    yield from _order("cold_zero_c", lim.cold_zero_c, "cold_full_c", lim.cold_full_c, "degC")
    yield from _order("cold_full_c", lim.cold_full_c, "hot_start_c", lim.hot_start_c, "degC")
    yield from _order("hot_start_c", lim.hot_start_c, "hot_zero_c", lim.hot_zero_c, "degC")
    yield from _order("derate_start_pct", lim.derate_start_pct, "taper_start_pct", lim.taper_start_pct, "%")
    yield from _order("charge_end_a", lim.charge_end_a, "full_charge_a", lim.full_charge_a, "A")
    yield from _order("derate_end_pct", lim.derate_end_pct, "charge_restart_pct", lim.charge_restart_pct, "%")
    if lim.full_charge_a < 1.5 * lim.charge_end_a:
        yield Finding(
            "error", "limits.charge_end_a", f"charging restarts at 1.5 times {lim.charge_end_a:g} A, which "
            f"limits.full_charge_a = {lim.full_charge_a:g} A never reaches", "Lower limits.charge_end_a",
        )  # fmt: skip
    if lim.cold_c_rate * bank.capacity_ah < 1.5 * lim.charge_end_a:
        yield Finding(
            "warning", "limits.cold_c_rate", f"{lim.cold_c_rate * bank.capacity_ah:g} A below {lim.cold_full_c:g} degC "
            "is too little to restart charging: a cold bank will not charge", "Lower limits.charge_end_a, or accept it",
        )  # fmt: skip
    if lim.full_charge_a > bank.max_charge_a:
        yield Finding(
            "error", "limits.full_charge_a", f"{lim.full_charge_a:g} A exceeds bank.max_charge_a = "
            f"{bank.max_charge_a:g} A", "Stay within the bank's rating",
        )  # fmt: skip
    if lim.cell_taper_end_v > bank.cell_max_v:
        yield Finding(
            "error", "limits.cell_taper_end_v", f"{lim.cell_taper_end_v:g} V exceeds bank.cell_max_v = "
            f"{bank.cell_max_v:g} V", "Stay within the cell's data sheet",
        )  # fmt: skip
    if lim.charge_restart_pct > lim.taper_end_pct - 1:
        yield Finding(
            "warning", "limits.charge_restart_pct", "restarts within 1 % of the end of the taper",
            "Leave room, or charging will start and stop",
        )  # fmt: skip


def _discharging(config: BoatConfig) -> Iterator[Finding]:
    lim, bank = config.limits, config.bank
    yield from _order("derate_end_pct", lim.derate_end_pct, "derate_return_pct", lim.derate_return_pct, "%")
    yield from _order("derate_end_pct", lim.derate_end_pct, "derate_start_pct", lim.derate_start_pct, "%")
    yield from _order("derate_return_pct", lim.derate_return_pct, "derate_start_pct", lim.derate_start_pct, "%")
    yield from _order("cell_derate_end_v", lim.cell_derate_end_v, "cell_derate_start_v", lim.cell_derate_start_v, "V")
    yield from _order("cell_derate_start_v", lim.cell_derate_start_v, "cell_taper_start_v", lim.cell_taper_start_v, "V")
    if lim.cell_derate_end_v < bank.cell_min_v:
        yield Finding(
            "error", "limits.cell_derate_end_v", f"{lim.cell_derate_end_v:g} V is below bank.cell_min_v = "
            f"{bank.cell_min_v:g} V", "Stay within the cell's data sheet",
        )  # fmt: skip
    if bank.min_voltage_v >= bank.max_voltage_v:
        yield Finding(
            "error", "bank.min_voltage_v", f"{bank.min_voltage_v:g} V must be below bank.max_voltage_v = "
            f"{bank.max_voltage_v:g} V", "Correct one of the two keys",
        )  # fmt: skip
    if bank.min_voltage_v < bank.cell_min_v * bank.cells_in_series * 0.98:
        yield Finding(
            "error", "bank.min_voltage_v", f"{bank.min_voltage_v:g} V would take {bank.cells_in_series} cells below "
            f"{bank.cell_min_v:g} V each", "Raise bank.min_voltage_v, or correct bank.cells_in_series",
        )  # fmt: skip
    if bank.max_voltage_v > bank.cell_max_v * bank.cells_in_series * 1.02:
        yield Finding(
            "error", "bank.max_voltage_v", f"{bank.max_voltage_v:g} V would take {bank.cells_in_series} cells above "
            f"{bank.cell_max_v:g} V each", "Lower bank.max_voltage_v, or correct bank.cells_in_series",
        )  # fmt: skip


def _permits(config: BoatConfig) -> Iterator[Finding]:
    """A monitor that gives less warning than detection + tick + drive response cannot be followed in time."""
    if config.boat.listen_only:
        return
    for name in ("bank.charge_permit", "bank.discharge_permit", "bank.charge_limit_a", "bank.discharge_limit_a"):
        if name not in config.inputs:
            continue
        stale_s = config.inputs[name].stale_s
        slowest = max((shaft.drive.response_s for shaft in config.shaft), default=0.0)
        needed_s = stale_s + config.boat.tick_s + slowest
        if config.bank.opening_warning_s < needed_s:
            yield Finding(
                "error", "bank.opening_warning_s",
                f"{config.bank.opening_warning_s:g} s of warning is shorter than detection {stale_s:g} s + tick "
                f"{config.boat.tick_s:g} s + drive response {slowest:g} s = {needed_s:.3g} s ({name})",
                "Fit a bank monitor that warns earlier, or one that sends its permits more often",
            )  # fmt: skip
        if needed_s > config.limits.permit_zero_s:
            yield Finding(
                "error", f"inputs.{name}.stale_s",
                f"detection {stale_s:g} s + tick {config.boat.tick_s:g} s + drive response {slowest:g} s exceeds "
                f"limits.permit_zero_s = {config.limits.permit_zero_s:g} s",
                "Send the permit every 40 ms or faster, and set stale_s to three periods",
            )  # fmt: skip


def _shafts(config: BoatConfig) -> Iterator[Finding]:
    for shaft in config.shaft:
        yield from _drive(config, shaft)
        yield from _engine(shaft)
        yield from _coupling(config, shaft)
    drawn_a = sum(shaft.drive.max_current_a for shaft in config.shaft)
    if drawn_a > config.bank.max_discharge_a:
        yield Finding(
            "warning", "bank.max_discharge_a", f"{config.bank.max_discharge_a:g} A is less than the drives can draw "
            f"together ({drawn_a:g} A): they will share it", "Nothing to do, or fit a larger bank",
        )  # fmt: skip
    generated_a = sum(s.drive.generate_power_kw for s in config.shaft) * 1000 / config.bank.min_voltage_v
    if config.shaft and generated_a < config.limits.full_charge_a * 0.5:
        yield Finding(
            "note", "limits.full_charge_a", f"the drives together give at most {generated_a:.0f} A", "Nothing to do"
        )


def _drive(config: BoatConfig, shaft: Shaft) -> Iterator[Finding]:
    drive, key, bank = shaft.drive, f"shaft.{shaft.name}.drive", config.bank
    if drive.back_emf_v_per_krpm is None and not drive.rectification_protected:
        yield Finding(
            "error", f"{key}.back_emf_v_per_krpm", "is missing, and the drive is not declared protected: a "
            "permanent-magnet machine turned fast rectifies into the bank at zero torque",
            "Give the back-EMF constant from the data sheet, or rectification_protected = true if the maker says so",
        )  # fmt: skip
    elif drive.back_emf_v_per_krpm is not None and not drive.rectification_protected:
        emf_v = drive.back_emf_v_per_krpm * drive.max_speed_rpm / 1000
        if emf_v >= bank.min_voltage_v:
            limit_rpm = bank.min_voltage_v / drive.back_emf_v_per_krpm * 1000
            yield Finding(
                "error", f"{key}.max_speed_rpm", f"{drive.max_speed_rpm:g} rpm gives {emf_v:.1f} V of back-EMF, not "
                f"below bank.min_voltage_v = {bank.min_voltage_v:g} V", f"Stay below {limit_rpm:.0f} rpm, or fit a "
                "protected drive",
            )  # fmt: skip
    if shaft.engine.max_rpm / shaft.gearbox.ratio > drive.max_speed_rpm:
        yield Finding(
            "error", f"{key}.max_speed_rpm", f"the engine at {shaft.engine.max_rpm:g} rpm turns the shaft at "
            f"{shaft.engine.max_rpm / shaft.gearbox.ratio:.0f} rpm, beyond {drive.max_speed_rpm:g} rpm",
            "Correct gearbox.ratio or drive.max_speed_rpm, or limit the engine",
        )  # fmt: skip
    if drive.motor_efficiency > drive.efficiency:
        yield Finding(
            "error", f"{key}.motor_efficiency", f"{drive.motor_efficiency:g} exceeds efficiency = {drive.efficiency:g}",
            "Correct one of the two: efficiency is the best, motor_efficiency the lowest in normal driving",
        )  # fmt: skip
    if drive.generate_torque_nm > drive.rated_torque_nm * 1.5:
        yield Finding(
            "warning", f"{key}.generate_torque_nm", "is far above rated_torque_nm", "Compare with the data sheet"
        )
    for what in ("motor", "inverter", "coolant"):
        start, end = getattr(drive, f"{what}_derate_start_c"), getattr(drive, f"{what}_derate_end_c")
        if not start < end:
            yield Finding(
                "error", f"{key}.{what}_derate_start_c", f"{start:g} degC must be below {what}_derate_end_c = "
                f"{end:g} degC", "Change one of the two keys",
            )  # fmt: skip
    if shaft.rules.still_rpm >= shaft.rules.generate_min_rpm:
        yield Finding(
            "error", f"shaft.{shaft.name}.rules.still_rpm", f"{shaft.rules.still_rpm:g} rpm must be below "
            f"generate_min_rpm = {shaft.rules.generate_min_rpm:g} rpm", "Change one of the two keys",
        )  # fmt: skip
    if drive.response_s > config.limits.disobey_s:
        yield Finding(
            "error", f"{key}.response_s", f"{drive.response_s:g} s is longer than limits.disobey_s = "
            f"{config.limits.disobey_s:g} s: every stop would trip", "Lengthen limits.disobey_s, or fit a quicker "
                "drive",
        )  # fmt: skip


def _coupling(config: BoatConfig, shaft: Shaft) -> Iterator[Finding]:
    """What the watch on belt or coupling asks of its sensors, and the way round one that gives a wrong speed."""
    key, lim = f"shaft.{shaft.name}.inputs", config.limits
    for name in ("shaft.propeller_speed_rpm", "engine.engine_speed_rpm"):
        entry = shaft.inputs.get(name)
        if entry is not None and not 0.5 * entry.stale_s < lim.coupling_s:
            yield Finding(
                "warning", f"{key}.{name}.stale_s",
                f"{entry.stale_s:g} s is too long: keep it below 2 x limits.coupling_s = {2 * lim.coupling_s:g} s, "
                f"or a "
                "late frame can be taken for a lost belt or coupling, and the shaft goes to ISOLATED",
                "Send the speed more often and shorten stale_s, or lengthen limits.coupling_s",
            )  # fmt: skip
    if "helm.get_home" in config.not_fitted and "shaft.propeller_speed_rpm" in shaft.inputs:
        yield Finding(
            "warning", f"{key}.shaft.propeller_speed_rpm",
            "if the speed sensor gives a wrong speed, the supervisor takes it for a lost belt or coupling, and the "
            "shaft "
            "goes to ISOLATED. No get-home switch is fitted, so the shaft stays ISOLATED until the sensor is "
            "repaired or "
            "unplugged", "Fit the get-home switch",
        )  # fmt: skip


def _engine(shaft: Shaft) -> Iterator[Finding]:
    engine, key = shaft.engine, f"shaft.{shaft.name}.engine"
    rpms = [rpm for rpm, _ in engine.torque_curve]
    if any(a >= b for a, b in pairwise(rpms)) or any(nm < 0 for _, nm in engine.torque_curve):
        yield Finding(
            "error", f"{key}.torque_curve", "speeds must rise and torque be at least 0", "Correct or sort the points"
        )
    elif not rpms[0] <= engine.idle_rpm < engine.max_rpm:
        yield Finding(
            "error", f"{key}.torque_curve", f"must begin at or below idle_rpm = {engine.idle_rpm:g}, and idle_rpm be "
            "below max_rpm", "Add the curve's lower points",
        )  # fmt: skip
    peak_kw = max((rpm * nm * 0.000104719755 for rpm, nm in engine.torque_curve), default=0.0)
    if peak_kw > engine.rated_power_kw * 1.1:
        yield Finding(
            "warning", f"{key}.torque_curve", f"reaches {peak_kw:.1f} kW, above rated_power_kw = "
            f"{engine.rated_power_kw:g}", "Compare with the data sheet",
        )  # fmt: skip


def _staleness(config: BoatConfig) -> Iterator[Finding]:
    maps = [("inputs", config.inputs), *((f"shaft.{s.name}.inputs", s.inputs) for s in config.shaft)]
    for prefix, inputs in maps:
        for name, mapping in inputs.items():
            if mapping.stale_s < config.boat.tick_s:
                yield Finding(
                    "error", f"{prefix}.{name}.stale_s", f"{mapping.stale_s:g} s is shorter than one tick of "
                    f"{config.boat.tick_s:g} s", "Set stale_s to 3 to 5 periods of this message",
                )  # fmt: skip
    for name in config.not_fitted:
        if name in ("helm.shore_connected", "helm.diver_lockout"):
            yield Finding(
                "warning", "not_fitted", f"the supervisor does not read {name}: it is not fitted",
                "Fit it, or write in the hand-over document that there is none",
            )  # fmt: skip
