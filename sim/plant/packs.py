"""A bank of several parallel packs, some of which drop out and come back.

The bank's own state is that of the packs that stay; those that drop out are a second bank of the same cells. Put back,
both share the current as two parallel sources do, `V = (E1/R1 + E2/R2 + I) / (1/R1 + 1/R2)` (Kirchhoff); what
flows between them while nothing else does is the equalising current.
"""

from __future__ import annotations

from sim.plant.bank import counted
from sim.plant.params import BankParams
from sim.plant.state import BankState, PacksState

ALIKE_PCT = 0.1
"""Packs this near in SOC, percent, are one bank again."""


def all_alike(bank: BankState) -> PacksState:
    """Packs that have always been together."""
    return PacksState(1.0, 1, 0.0, 0.0, bank)


def switched(p: BankParams, k: PacksState, bank: BankState, packs_out: int) -> PacksState:
    """The packs when `packs_out` of them are to be off the bus; `bank` is the state of those that stay.

    At least one pack stays. How many go is settled when they go: packs that are back but not yet at one SOC with the
    others are those that drop out again, whatever number is asked.
    """
    out = float(packs_out)
    if out > p.packs - 1.0:
        out = p.packs - 1.0
    if out <= 0.0:
        if k.joined == 1:
            return k
        return PacksState(k.share, 1, 0.0, k.peak_a, k.others)
    apart_pct = k.others.soc_pct - bank.soc_pct
    if k.share < 1.0 and (k.joined == 0 or apart_pct > ALIKE_PCT or apart_pct < -ALIKE_PCT):
        return PacksState(k.share, 0, 0.0, k.peak_a, k.others)
    return PacksState(1.0 - out / p.packs, 0, 0.0, k.peak_a, bank)


def into_others(k: PacksState, bank: BankState, current_a: float) -> float:
    """Current into the packs that had dropped out and are back, A, while `current_a` goes into the bank as a whole."""
    if k.joined == 0 or k.share >= 1.0:
        return 0.0
    stay_s = k.share / bank.resistance_ohm
    back_s = (1.0 - k.share) / k.others.resistance_ohm
    both_v = (bank.emf_v * stay_s + k.others.emf_v * back_s + current_a) / (stay_s + back_s)
    return (both_v - k.others.emf_v) * back_s


def connected(k: PacksState) -> float:
    """Share of the bank's capacity that is connected, 0 to 1."""
    if k.joined == 1:
        return 1.0
    return k.share


def count_step_pct(before: PacksState, after: PacksState, bank: BankState) -> float:
    """How far the mean SOC of the connected packs jumps where some come or go, percent."""
    if before.joined == after.joined:
        return 0.0
    apart_pct = (1.0 - after.share) * (after.others.soc_pct - bank.soc_pct)
    if after.joined == 1:
        return apart_pct
    return -apart_pct


def seen_whole(
    before: BankState, after: BankState, share: float, current_a: float, heat_wh: float, dt_s: float
) -> BankState:
    """The bank as the bus sees it: `after` is the step of its staying packs at the current that all of them together
    would carry; `current_a` is that of the whole bank, `heat_wh` what the others set free."""
    charged_ah, discharged_ah, charged_wh, discharged_wh = counted(before, current_a, after.terminal_v, dt_s / 3600.0)
    return BankState(
        after.soc_pct,
        after.weak_soc_pct,
        after.strong_soc_pct,
        after.terminal_v,
        current_a,
        after.emf_v,
        after.resistance_ohm,
        after.rc1_v,
        after.rc2_v,
        after.cell_max_v,
        after.cell_min_v,
        after.core_c,
        after.edge_c,
        after.contactor_closed,
        after.isolator_on,
        charged_ah,
        discharged_ah,
        charged_wh,
        discharged_wh,
        before.heat_wh + (after.heat_wh - before.heat_wh) * share + heat_wh,
    )
