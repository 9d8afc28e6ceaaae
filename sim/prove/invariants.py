"""What always holds of what is remembered between two ticks.

Each is taken for granted of the state before a tick, shown of the state after it, and shown at power-up: so it holds at
every time, by induction over the ticks. Where one is not shown, nothing that was shown with it counts.
"""

from collections.abc import Callable, Iterable
from typing import NamedTuple

from sim.prove.step import Step, StepClaim
from supervisor.config import BoatConfig
from supervisor.modes import BoatMode, ShaftMode
from supervisor.rules import Boat, Memory, ShaftLatch

LONGEST_S = 1e9
ROUNDING = 1e-9


class Invariant(NamedTuple):
    """One of them. `holds` is told the boat file, the frozen limits (of which it reads only shapes), what is
    remembered, and a shaft's index (0 for one of the boat alone)."""

    name: str
    text: str
    holds: Callable[[BoatConfig, Boat, Memory, int], bool]
    per_shaft: bool = True

    def indices(self, boat: Boat) -> Iterable[int]:
        """The shafts that it is shown of."""
        return range(len(boat.shafts)) if self.per_shaft else range(1)


def _dwell(timer_s: float) -> bool:
    """Not running, or a time."""
    return timer_s == -1.0 or 0.0 <= timer_s <= LONGEST_S


def _boat_dwells(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    dwells = memory.boat.dwells
    return _dwell(dwells.wait_s) and _dwell(dwells.off_s) and _dwell(dwells.idle_s)


def _boat_ages(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    dwells = memory.boat.dwells
    return _dwell(dwells.since_full_s) and _dwell(dwells.lying_s) and 0.0 <= dwells.age_s <= LONGEST_S


def _derate(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    bank, most_a = memory.boat.bank, config.bank.max_discharge_a
    low_s = bank.low_s
    given = config.limits.derate_floor_pct <= bank.cell_pct <= 100.0 and 0.0 <= bank.given_a <= most_a
    return given and 0.0 <= bank.derate_pct <= 100.0 and (low_s == -1.0 or 0.0 <= low_s <= config.limits.derate_dip_s)


def _sources(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    sources, c = memory.boat.sources, config.limits
    over = sources.over_s == -1.0 or 0.0 <= sources.over_s <= c.source_over_s
    stopped = sources.stopped_s == -1.0 or 0.0 <= sources.stopped_s <= c.source_stop_s
    return over and stopped and sources.held_s >= 0.0 and sources.stop in (0, 1) and sources.faulted in (0, 1)


def _shaft_dwells(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    dwells = memory.shafts[i].dwells
    return (
        _dwell(dwells.neutral_s)
        and _dwell(dwells.lever_lost_s)
        and _dwell(dwells.unload_s)
        and _dwell(dwells.disobey_s)
        and _dwell(dwells.link_off_s)
        and _dwell(dwells.still_s)
        and _dwell(dwells.zero_s)
        and _dwell(dwells.gear_contradicts_s)
        and _dwell(dwells.engine_contradicts_s)
    )


def _shaft_times(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    dwells = memory.shafts[i].dwells
    times = dwells.precharge_s >= 0.0 and dwells.trail_s >= 0.0 and dwells.steady_s >= 0.0
    return times and memory.shafts[i].effort.ramp_nm_per_s >= 0.0


def _pauses(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    state, pause = memory.shafts[i], memory.shafts[i].pause
    ages = pause.last_s >= 0.0 and pause.before_last_s >= 0.0 and -100.0 <= pause.began_pct <= 100.0
    lasts = (pause.lasts_s == -1.0 or pause.lasts_s >= 0.0) and _dwell(pause.contradicts_s)
    return ages and lasts and (pause.lasts_s >= 0.0) == (state.latches & ShaftLatch.PAUSED != 0)


def _coupling(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    coupling = memory.shafts[i].coupling
    turned = memory.shafts[i].turned
    runs = (
        _dwell(turned.runs_s) and turned.low_rpm <= turned.high_rpm and turned.before_low_rpm <= turned.before_high_rpm
    )
    slip = 0.0 <= coupling.slip_s <= 2.0 * config.limits.slip_s
    return runs and slip and _dwell(coupling.off_s) and _dwell(coupling.jam_s)


def _hold(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    hold, rated_nm = memory.shafts[i].hold, config.shaft[i].drive.rated_torque_nm
    return _dwell(hold.held_s) and -rated_nm <= hold.load_nm <= rated_nm


def _torque_range(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    drive, torque_nm = config.shaft[i].drive, memory.shafts[i].effort.torque_nm
    most_nm = max(drive.rated_torque_nm, drive.generate_torque_nm)
    return -most_nm <= torque_nm <= most_nm


def _torque_sign(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    effort = memory.shafts[i].effort
    if effort.torque_nm > 0.0:
        return effort.last_sign == 1
    if effort.torque_nm < 0.0:
        return effort.last_sign == -1
    return True


def _torque_works(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    state = memory.shafts[i]
    resting = state.mode in (ShaftMode.REST, ShaftMode.ISOLATED)
    return not resting or (state.effort.torque_nm == 0.0 and state.effort.charge_a == 0.0)


def _works_when_ready(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    return memory.boat.mode == BoatMode.READY or memory.shafts[i].mode in (ShaftMode.REST, ShaftMode.ISOLATED)


def _armed_when_ready(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    return memory.boat.mode == BoatMode.READY or memory.shafts[i].latches & ShaftLatch.REARMED == 0


def _charge_range(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    return memory.shafts[i].effort.charge_a >= 0.0


def _order_range(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    state = memory.shafts[i]
    return -100.0 <= state.order_pct <= 100.0 and -100.0 <= state.lever_ref_pct <= 100.0


def _sag_reference(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    return memory.shafts[i].effort.sag_ref_rpm >= 0.0


def _unload_latches(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    state = memory.shafts[i]
    only_then = ShaftLatch.UNLOAD_TO_PROPEL | ShaftLatch.SLOW_RAMP | ShaftLatch.UNLOADS_SOURCE
    return state.mode == ShaftMode.UNLOAD or state.latches & only_then == 0


def _own_limits(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    state = memory.shafts[i]
    return 0.0 <= state.own_ahead_pct <= 100.0 and 0.0 <= state.own_astern_pct <= 100.0


def _own_bad(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    own = memory.boat.own
    for k in range(len(own.bad_s)):
        if k >= len(config.interlock) and own.bad & (1 << k) != 0:
            return False
        if not _dwell(own.bad_s[k]):
            return False
    return True


def _service_latches(config: BoatConfig, boat: Boat, memory: Memory, i: int) -> bool:
    both = ShaftLatch.IN_SERVICE | ShaftLatch.OUT_OF_SERVICE
    return memory.shafts[i].latches & both != both


INVARIANTS: tuple[Invariant, ...] = (
    Invariant("boat's dwells", "the boat's dwell timers do not run, or show a time", _boat_dwells, False),
    Invariant("boat's ages", "the times since power-up and since the last full charge are times", _boat_ages, False),
    Invariant(
        "derate", "the propulsion derate lies between 0 and 100 %, the time of a low SOC within its own", _derate, False
    ),
    Invariant(
        "sources", "the times of the other sources are times, within what they are compared with", _sources, False
    ),
    Invariant("shaft's dwells", "a shaft's dwell timers do not run, or show a time", _shaft_dwells),
    Invariant(
        "shaft's times", "times on precharge, trailing and steady, and the slow ramp, are at least 0", _shaft_times
    ),
    Invariant("pauses", "times and order of pauses are in range, and one lasts exactly while it is latched", _pauses),
    Invariant("coupling", "the times of belt and propeller are times", _coupling),
    Invariant("hold", "the time of a hold is one, and what was learnt of the flow within rated torque", _hold),
    Invariant("torque in range", "no order stands above the drive's rating", _torque_range),
    Invariant("torque's sign", "the last sign is that of the order that stands", _torque_sign),
    Invariant("torque only at work", "at REST and ISOLATED no torque and no charging current stands", _torque_works),
    Invariant("work only when READY", "a shaft is at REST or ISOLATED unless the boat is READY", _works_when_ready),
    Invariant("armed only when READY", "no shaft is rearmed unless the boat is READY", _armed_when_ready),
    Invariant("charging current", "the soft-started charging current is at least 0", _charge_range),
    Invariant("order in range", "the order and the lever's reference lie within the lever's travel", _order_range),
    Invariant("sag reference", "the engine speed at ramp start is at least 0", _sag_reference),
    Invariant("own limits", "what own interlocks leave of thrust lies between 0 and 100 %", _own_limits),
    Invariant("own interlocks", "only own interlocks that the boat has are bad, each for a time", _own_bad, False),
    Invariant("latches of UNLOAD", "latches that belong to UNLOAD are set in UNLOAD only", _unload_latches),
    Invariant("latches of service", "a shaft is not in and out of service at once", _service_latches),
)


def as_claims(invariants: Iterable[Invariant] = INVARIANTS) -> list[StepClaim]:
    """Each as a claim on a step: what was so before is so after."""
    return [_as_claim(one) for one in invariants]


def _as_claim(invariant: Invariant) -> StepClaim:
    def given(step: Step, index: int) -> bool:
        return invariant.holds(step.config, step.boat, step.was, index)

    def then(step: Step, index: int) -> bool:
        return invariant.holds(step.config, step.boat, step.now.memory, index)

    return StepClaim(
        "", f"invariant: {invariant.name}", invariant.text, given, then, per_shaft=invariant.per_shaft, parity=False
    )
