"""Which limit binds what the bank gives and takes, with the settings that a what-if would change.

The rules' own functions are asked again with every reading but one made harmless: what still binds, binds.
"""

from collections.abc import Collection

from supervisor.config.limits import BoatLimits
from supervisor.rules.bank import charge_inputs_known, charge_limit_a, derate_target_pct, voltage_believed
from supervisor.signals import BOAT_INPUTS, Alarm, BoatCommand, BoatInput, BoatInputs

_I = BoatInput
_CHARGE_NEEDS = int(_I.SOC | _I.VOLTAGE | _I.CELL_MAX | _I.CELL_HOT | _I.CELL_COLD | _I.CHARGE_LIMIT)


def charge_bounds(
    lim: BoatLimits, bank: BoatInputs, limit_a: float, mapped: Collection[int] | None = None
) -> list[str]:
    """What keeps the charge limit at `limit_a`, below the full one (A). `mapped` are the bits of the inputs that the
    boat file has; None: all."""
    if not charge_inputs_known(lim, bank):
        return [_unknown(lim, bank, mapped)]
    full = lim.full_charge_a
    harmless = bank._replace(
        soc_pct=lim.taper_start_pct, cell_max_v=lim.cell_taper_start_v, cell_hot_c=lim.hot_start_c,
        cell_cold_c=lim.cold_full_c + 1.0, charge_limit_a=full,
    )  # fmt: skip
    lifted = 1 if bank.known & bank.on & int(_I.FULL_CHARGE) and charge_limit_a(lim, bank, 0) < limit_a else 0
    ruled_a = charge_limit_a(lim, bank, lifted)
    if limit_a < ruled_a:
        return ["charge permit or closed contactor not confirmed"]
    alone = (
        (harmless._replace(soc_pct=bank.soc_pct),
         f"state of charge above {lim.taper_start_pct:g} % (limits.taper_start_pct, taper_end_pct)"),
        (harmless._replace(cell_max_v=bank.cell_max_v),
         f"highest cell above {lim.cell_taper_start_v:g} V (limits.cell_taper_start_v, cell_taper_end_v)"),
        (harmless._replace(cell_hot_c=bank.cell_hot_c),
         f"hottest cell above {lim.hot_start_c:g} degC (limits.hot_start_c, hot_zero_c)"),
        (harmless._replace(cell_cold_c=bank.cell_cold_c),
         f"coldest cell not above {lim.cold_full_c:g} degC (limits.cold_full_c, cold_zero_c, cold_c_rate)"),
        (harmless._replace(charge_limit_a=bank.charge_limit_a), "the bank monitor's charge limit"),
    )  # fmt: skip
    least_a = min(ruled_a, full * (1 - 1e-9))
    return [why for one, why in alone if charge_limit_a(lim, one, lifted) <= least_a]


def _unknown(lim: BoatLimits, bank: BoatInputs, mapped: Collection[int] | None) -> str:
    needs = _CHARGE_NEEDS | lim.react.inhibit_charge
    missing = [spec for spec in BOAT_INPUTS if needs & int(spec.bit) and not bank.known & int(spec.bit)]
    absent = [spec.text for spec in missing if mapped is not None and int(spec.bit) not in mapped]
    lost = [spec.text for spec in missing if spec.text not in absent]
    parts = [f"unknown: {', '.join(lost)}"] if lost else []
    if absent:
        parts.append(f"not in the boat file: {', '.join(absent)}")
    if not missing and not voltage_believed(lim, bank):
        parts.append(f"a voltage that this bank cannot have: {bank.voltage_v:g} V")
    return "; ".join(parts)


def derate_bounds(lim: BoatLimits, bank: BoatInputs, command: BoatCommand) -> list[str]:
    """What keeps propulsion below its full power."""
    low = bank.known & int(_I.SOC) != 0 and bank.soc_pct <= lim.derate_end_pct
    if low or command.alarms & int(Alarm.DERATE_ENDED):
        back = f"{lim.derate_return_pct:g} % (limits.derate_end_pct, derate_return_pct)"
        return [f"the bank came to its lower limit; thrust returns above {back}"]
    if command.derate_pct == 0.0:
        return ["discharge permit or closed contactor not confirmed, or the hotel load takes all that may be drawn"]
    target_pct = derate_target_pct(lim, bank)
    cell = f"lowest cell below {lim.cell_derate_start_v:g} V (limits.cell_derate_start_v, cell_derate_end_v)"
    if command.derate_pct < target_pct:
        if bank.known & int(_I.CELL_MIN) and bank.cell_min_v < lim.cell_derate_start_v:
            return [cell]
        if command.alarms & int(Alarm.CELL_DERATE):
            return [f"the lowest cell has sagged; given back by {lim.bank_rise_pct_per_s:g} %/s (bank_rise_pct_per_s)"]
    if command.derate_pct < min(target_pct, 100.0 - 1e-9):
        return [f"coming back by {lim.derate_rate_pct_per_s:g} %/s (limits.derate_rate_pct_per_s)"]
    if not bank.known & int(_I.SOC):
        return ["state of charge unknown (limits.unknown_soc_pct)"]
    lost = bank._replace(soc_pct=100.0)
    harmless = lost._replace(known=bank.known | lim.react.derate)
    alone = (
        (harmless._replace(soc_pct=bank.soc_pct),
         f"state of charge below {lim.derate_start_pct:g} % (limits.derate_start_pct, derate_end_pct)"),
        (lost, "an input is lost whose reaction is to derate (limits.unknown_soc_pct)"),
    )  # fmt: skip
    return [why for one, why in alone if derate_target_pct(lim, one) <= target_pct]
