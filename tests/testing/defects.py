"""Defects of the kind that people make, one monkeypatch each, and what is expected to find each of them.

They are put into the running rules and tables, never into files; each test undoes its own.
"""

from collections.abc import Callable
from typing import Any, NamedTuple

import pytest

from supervisor.controller import controller
from supervisor.modes import BOAT_TABLE, SHAFT_TABLE, BoatCondition, BoatMode, ShaftCondition, ShaftMode
from supervisor.modes.table import compile_all, compile_rows
from supervisor.rules import bank, tick, torque
from supervisor.rules.readings import Lever
from supervisor.rules.state import ShaftLatch
from supervisor.signals import BoatInput, ShaftInput

Patch = pytest.MonkeyPatch
Rows = list[Any]


class Defect(NamedTuple):
    """One defect. `situations` is where the search begins, `caught_by` the requirements of which one must be violated,
    or a shipped procedure that must fail."""

    name: str
    seed: Callable[[Patch], None]
    caught_by: tuple[str, ...]
    situations: tuple[str, ...] = ()
    procedure: str = ""
    soc_pct: float | None = None
    faults: tuple[str, ...] = ()


def boat_rows(patch: Patch, change: Callable[[Any], Any]) -> None:
    """Put a changed boat table into live and compiled executor; `change` gives a row or None for none."""
    rows = tuple(row for row in map(change, BOAT_TABLE) if row is not None)
    patch.setattr(controller, "BOAT_TABLE", rows)
    patch.setattr(tick, "BOAT_ROWS", compile_all(rows))
    patch.setattr(tick, "BOAT_COMPILED", compile_rows(rows, BoatMode))


def shaft_rows(patch: Patch, change: Callable[[Any], Any]) -> None:
    """The same for the shaft's table."""
    rows = tuple(row for row in map(change, SHAFT_TABLE) if row is not None)
    patch.setattr(controller, "SHAFT_TABLE", rows)
    patch.setattr(tick, "SHAFT_ROWS", compile_all(rows))
    patch.setattr(tick, "SHAFT_COMPILED", compile_rows(rows, ShaftMode))


def reset_into_ready(patch: Patch) -> None:
    boat_rows(patch, lambda row: row._replace(dest=BoatMode.READY) if row.source == BoatMode.TRIPPED else row)


def neutral_bit_dropped(patch: Patch) -> None:
    def change(row: Any) -> Any:
        if row.dest == BoatMode.READY:
            return row._replace(must=row.must & ~BoatCondition.LEVERS_NEUTRAL)
        return row

    boat_rows(patch, change)


def emergency_stop_forgotten(patch: Patch) -> None:
    boat_rows(patch, lambda row: None if row.must == BoatCondition.EMERGENCY_STOP else row)


def lock_interlock_missing(patch: Patch) -> None:
    lock = ShaftCondition.LOCK_RELEASED | ShaftCondition.LOCK_SETTLED

    def change(row: Any) -> Any:
        if row.dest == ShaftMode.PROPEL:
            return row._replace(must=row.must & ~lock)
        if row.source == ShaftMode.PROPEL and row.must_not & lock:
            return None
        return row

    shaft_rows(patch, change)


def taper_with_wrong_sign(patch: Patch) -> None:
    sound = bank.charge_limit_a

    def mirrored(lim: Any, inputs: Any, full: int) -> float:
        return sound(lim, inputs._replace(soc_pct=lim.taper_start_pct + lim.taper_end_pct - inputs.soc_pct), full)

    patch.setattr(bank, "charge_limit_a", mirrored)


def lost_lever_ramps_ten_times_too_long(patch: Patch) -> None:
    sound = tick.after_mode
    patch.setattr(
        tick, "after_mode",
        lambda lim, *rest: sound(lim._replace(lever_ramp_s=10.0 * lim.lever_ramp_s), *rest),
    )  # fmt: skip


def stale_lever_is_neutral(patch: Patch) -> None:
    sound = tick.read_lever

    def read(lim: Any, shaft: Any, *before: Any) -> Lever:
        return sound(lim, shaft, *before) if shaft.known & ShaftInput.LEVER else Lever(1, 0, 0)

    patch.setattr(tick, "read_lever", read)


def soft_start_ten_times_too_fast(patch: Patch) -> None:
    sound = torque.soft_start_a
    patch.setattr(torque, "soft_start_a", lambda lim, dt_s: 10.0 * sound(lim, dt_s))


def charge_permit_ignored_in_harvest(patch: Patch) -> None:
    sound_word = tick.shaft_word
    permitted = int(ShaftCondition.CHARGE_PERMIT | ShaftCondition.CHARGE_WANTED)

    def word(boat_lim: Any, lim: Any, view: Any, state: Any, *rest: Any) -> int:
        made = sound_word(boat_lim, lim, view, state, *rest)
        return made | permitted if state.mode == ShaftMode.HARVEST else made

    patch.setattr(tick, "shaft_word", word)
    sound = tick.order

    def order(lim: Any, state: Any, shaft: Any, view: Any, asked: Any, charge_share: float, *rest: Any) -> Any:
        if state.mode == ShaftMode.HARVEST:
            charge_share = 1.0
        return sound(lim, state, shaft, view, asked, charge_share, *rest)

    patch.setattr(tick, "order", order)


def generating_torque_sign_flipped(patch: Patch) -> None:
    sound = tick.order

    def order(lim: Any, state: Any, *rest: Any) -> Any:
        made = sound(lim, state, *rest)
        effort = made.effort._replace(torque_nm=-made.effort.torque_nm)
        return made._replace(effort=effort) if state.mode == ShaftMode.GENERATE else made

    patch.setattr(tick, "order", order)


def rearmed_never_cleared(patch: Patch) -> None:
    sound = tick.after_mode

    def after(lim: Any, state: Any, *rest: Any) -> Any:
        made = sound(lim, state, *rest)
        return made._replace(latches=made.latches | (state.latches & int(ShaftLatch.REARMED)))

    patch.setattr(tick, "after_mode", after)


def handset_link_loss_ignored(patch: Patch) -> None:
    sound = tick.read_orders
    handset = int(BoatInput.HANDSET_HELD) | int(BoatInput.HANDSET_OURS)

    def read(lim: Any, state: Any, boat: Any, levers: Any) -> Any:
        if boat.known & handset != handset:
            boat = boat._replace(known=boat.known | handset, on=boat.on | handset)
            levers = levers._replace(thrust_known=1)
        return sound(lim, state, boat, levers)

    patch.setattr(tick, "read_orders", read)


def share_not_applied(patch: Patch) -> None:
    patch.setattr(tick, "share", lambda budget_a, asked_a: 1.0 if budget_a > 0.0 else 0.0)


def derate_floor_forgotten(patch: Patch) -> None:
    sound = bank.derate_target_pct
    patch.setattr(bank, "derate_target_pct", lambda lim, inputs: sound(lim._replace(derate_floor_pct=0.0), inputs))


def disobey_timeout_ten_times_too_long(patch: Patch) -> None:
    sound = tick.shaft_word

    def word(boat_lim: Any, lim: Any, *rest: Any) -> int:
        return sound(boat_lim, lim._replace(disobey_s=10.0 * lim.disobey_s), *rest)

    patch.setattr(tick, "shaft_word", word)


def diver_lockout_forgotten(patch: Patch) -> None:
    sound = tick.shaft_word
    safe = int(ShaftCondition.NO_DIVER | ShaftCondition.NO_SHORE)
    patch.setattr(tick, "shaft_word", lambda *given: sound(*given) | safe)


def reversal_without_dwell(patch: Patch) -> None:
    sound = tick.order
    patch.setattr(tick, "order", lambda lim, *rest: sound(lim._replace(reversal_dwell_s=0.0), *rest))


def torque_slew_too_steep(patch: Patch) -> None:
    sound = tick.order

    def order(lim: Any, *rest: Any) -> Any:
        return sound(lim._replace(torque_slew_nm_per_s=50.0 * lim.torque_slew_nm_per_s), *rest)

    patch.setattr(tick, "order", order)


def hotel_load_counted_twice(patch: Patch) -> None:
    sound = bank.hotel_current_a
    patch.setattr(bank, "hotel_current_a", lambda *given: 2.0 * abs(sound(*given)) + 40.0)


DEFECTS = (
    Defect("reset into READY", reset_into_ready, ("SR-04", "SR-01"), ("tripped",)),
    Defect("neutral bit dropped", neutral_bit_dropped, ("SR-01",), ("lever_ahead",)),
    Defect("emergency stop forgotten", emergency_stop_forgotten, ("SR-03",), ("ready", "propel")),
    Defect(
        "lock interlock missing", lock_interlock_missing, ("SR-07", "SR-05"), ("propel",), faults=("lock_unproven",)
    ),
    Defect("taper with the wrong sign", taper_with_wrong_sign, ("SR-15", "SR-17"), ("generate",), soc_pct=93.4),
    Defect("lost lever ramps ten times too long", lost_lever_ramps_ten_times_too_long, (), procedure="lost_lever"),
    Defect(
        "stale lever is neutral",
        stale_lever_is_neutral,
        ("SR-01", "SR-26", "SR-38"),
        ("propel",),
        faults=("lever_lost",),
    ),
    Defect("soft start ten times too fast", soft_start_ten_times_too_fast, ("SR-20",), ("generate",)),
    Defect(
        "charge permit ignored in HARVEST",
        charge_permit_ignored_in_harvest,
        ("SR-13", "SR-15"),
        ("harvest",),
        faults=("permit_withdrawn",),
    ),
    Defect("generating torque sign flipped", generating_torque_sign_flipped, ("SR-23",), ("generate", "at_rest")),
    Defect("REARMED never cleared", rearmed_never_cleared, ("SR-05",), ("propel",)),
    Defect(
        "handset link loss ignored",
        handset_link_loss_ignored,
        ("SR-27", "SR-29"),
        ("handset",),
        faults=("handset_lost",),
    ),
    Defect("share not applied", share_not_applied, ("SR-15",), ("generate",), soc_pct=93.4),
    Defect("derate floor forgotten", derate_floor_forgotten, (), procedure="derate"),
    Defect(
        "disobey timeout ten times too long",
        disobey_timeout_ten_times_too_long,
        ("SR-32",),
        ("ready",),
        faults=("drive_disobeys",),
    ),
    Defect("diver lockout forgotten", diver_lockout_forgotten, ("SR-10", "SR-37"), ("propel", "generate")),
    Defect("reversal without dwell", reversal_without_dwell, ("SR-25", "SR-24"), ("propel",)),
    Defect("torque slew too steep", torque_slew_too_steep, ("SR-24",), ("ready",)),
    Defect("hotel load counted twice", hotel_load_counted_twice, ("SR-15",), ("generate",), soc_pct=93.4),
)
"""More than the dozen asked for; each was seen to be missed by a sound boat."""
