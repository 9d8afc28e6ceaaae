"""Part (d): torque orders, over the whole range of speed and over what stands and is asked."""

from itertools import pairwise, product

from sim.prove.flat import boat_state, shaft_state
from sim.prove.grid import ROUNDING, Grid, Numbers, steps
from sim.prove.result import Shown
from supervisor.config.limits import ShaftLimits
from supervisor.modes import ShaftMode
from supervisor.rules import bank, torque
from supervisor.rules.bank import BankView
from supervisor.rules.state import ShaftLatch, ShaftState
from supervisor.signals import BoatInput, ShaftInput, ShaftInputs

_S = ShaftInput
_M = ShaftMode
SPEED_STEP = 0.25
"""Resolution of the speeds in the shipped DBC files (rpm)."""
RAD_S = 0.10471975511965977


def prove_torque(n: Numbers, index: int) -> list[Shown]:
    """All numeric claims on one shaft's torque."""
    lim = n.boat.shafts[index]
    return [*_signs(n, lim), *_headroom(n, lim), *_ramps(n, lim), *_thrust(n, lim), *_speeds(n, lim), *_sag(n, lim)]


def _view(n: Numbers, *, charge: bool = True, discharge: bool = True) -> BankView:
    off = (0 if charge else int(BoatInput.CHARGE_PERMIT)) | (0 if discharge else int(BoatInput.DISCHARGE_PERMIT))
    return bank.bank_view(n.lim, boat_state(mode=2), n.bank(off=off), 0.0, True, n.tick_s)


def _tick(
    n: Numbers, lim: ShaftLimits, state: ShaftState, shaft: ShaftInputs, view: BankView, handset: bool = False,
    dt_s: float | None = None,
) -> ShaftState:  # fmt: skip
    """Ask, share and order of one shaft alone, as the tick does it."""
    step_s = n.tick_s if dt_s is None else dt_s
    asked = torque.ask(n.lim, lim, state, shaft, view, handset, step_s)
    charge_share = torque.share(view.source_budget_a, asked.charge_a)
    motor_share = torque.share(view.motor_budget_a, asked.motor_a)
    return torque.order(lim, state, shaft, view, asked, charge_share, motor_share, step_s)


def _signs(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    own = n.config.shaft[n.boat.shafts.index(lim)].rules
    grid = Grid("SR-23", "a source only opposes", "at each speed that the signal can carry, and with it unknown, the "
        "order of "
                "a source (or of what unloads from one) opposes rotation or is zero, and is zero below the lowest "
                "speed")  # fmt: skip
    view = _view(n)
    cases = (
        (_M.GENERATE, 0, 0.0, 0.0), (_M.GENERATE, 0, -lim.generate_torque_nm, 60.0),
        (_M.GENERATE, 0, lim.generate_torque_nm, 60.0), (_M.HARVEST, 0, -lim.generate_torque_nm, 60.0),
        (_M.UNLOAD, int(ShaftLatch.UNLOADS_SOURCE), -lim.generate_torque_nm, 60.0),
        (_M.UNLOAD, int(ShaftLatch.UNLOADS_SOURCE), lim.generate_torque_nm, 60.0),
    )  # fmt: skip
    for mode, latches, was_nm, charge_a in cases:
        state = shaft_state(mode=int(mode), latches=latches, torque_nm=was_nm, charge_a=charge_a, sag_ref_rpm=1500.0,
                           last_sign=-1 if was_nm < 0 else 1, steady_s=10.0)  # fmt: skip
        fine = 2.0 * own.generate_min_rpm
        speeds = [*steps(-8000.0, -fine, 8 * SPEED_STEP), *steps(-fine, fine, SPEED_STEP), *steps(fine, 8000.0, 8 *
                                                                                             SPEED_STEP)]  # fmt: skip
        for rpm in speeds:
            shaft = n.shaft(machine_speed_rpm=rpm, propeller_speed_rpm=abs(rpm), engine_speed_rpm=1500.0)
            got = _tick(n, lim, state, shaft, view).effort.torque_nm
            grid.check(
                got * rpm <= 0.0 and (abs(rpm) >= own.generate_min_rpm or got == 0.0) and
                abs(got) <= lim.generate_torque_nm * (1 + ROUNDING) + abs(was_nm) * (mode == _M.UNLOAD),
                lambda m=mode, r=rpm, g=got, w=was_nm: f"{m.name} at {r:g} rpm, {w:g} -> {g:g} N m",  # type: ignore[misc]
            )  # fmt: skip
        lost = n.shaft(unknown=_S.MACHINE_SPEED)
        grid.check(
            _tick(n, lim, state, lost, view).effort.torque_nm == 0.0,
            lambda m=mode: f"{m.name}, speed unknown",  # type: ignore[misc]
        )
    rest = Grid("SR-02", "REST and ISOLATED are zero", "in REST and ISOLATED the order is zero whatever stood before")
    for mode, was_nm, rpm in product((_M.REST, _M.ISOLATED), steps(-200.0, 200.0, 5.0), (-400.0, 0.0, 400.0)):
        state = shaft_state(mode=int(mode), torque_nm=was_nm, order_pct=100.0)
        got = _tick(n, lim, state, n.shaft(machine_speed_rpm=rpm), view).effort.torque_nm
        rest.check(got == 0.0, lambda m=mode, w=was_nm: f"{m.name} after {w:g} N m")  # type: ignore[misc]
    return [grid.shown("beyond twice the lowest speed every 2 rpm instead of every 0.25 rpm"), rest.shown()]


def _curve(n: Numbers, index: int, rpm: float) -> float:
    points = n.config.shaft[index].engine.torque_curve
    if rpm < points[0][0]:  # below the curve: to nothing at half its first speed
        return points[0][1] * max(0.0, (rpm - points[0][0] / 2) / (points[0][0] / 2))
    for (low, low_nm), (high, high_nm) in pairwise(points):
        if low <= rpm <= high:
            return low_nm + (high_nm - low_nm) * (rpm - low) / (high - low)
    return 0.0


def _headroom(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    index = n.boat.shafts.index(lim)
    own = n.config.shaft[index]
    grid = Grid("SR-21", "engine headroom", "at each engine speed that the signal can carry, charging may take at "
        "most the "
                "headroom of what the engine has to spare")  # fmt: skip
    order = Grid("SR-21", "order within headroom", "the order of GENERATE stays within it")
    view = _view(n)
    k = own.rules.propeller_nm_per_krpm2 / 1e6
    for prop in (0.0, 150.0, 400.0, 900.0):
        for rpm in steps(0.0, 8000.0, SPEED_STEP):
            shaft = n.shaft(engine_speed_rpm=rpm, propeller_speed_rpm=prop, machine_speed_rpm=400.0)
            most = max(0.0, own.engine.headroom * (_curve(n, index, rpm) * own.gearbox.ratio - k * prop * prop))
            got = torque.spare_engine_nm(lim, shaft)
            grid.check(
                0.0 <= got <= most * (1 + ROUNDING) + 1e-9,
                lambda r=rpm, p=prop, g=got, m=most: f"engine {r:g} rpm, propeller {p:g} rpm: {g:.2f} of {m:.2f} N m",  # type: ignore[misc]
            )  # fmt: skip
            if rpm % 4.0 == 0.0:
                state = shaft_state(
                    mode=int(_M.GENERATE), charge_a=500.0, torque_nm=-lim.generate_torque_nm, last_sign=-1
                )
                got = abs(_tick(n, lim, state, shaft, view).effort.torque_nm)
                order.check(
                    got <= most * (1 + ROUNDING) + 1e-9,
                    lambda r=rpm, p=prop, g=got, m=most: f"engine {r:g} rpm, propeller {p:g} rpm: {g:.2f} of {m:.2f}",  # type: ignore[misc]
                )  # fmt: skip
    for bit in (_S.ENGINE_SPEED, _S.PROPELLER_SPEED):
        shaft = n.shaft(unknown=bit, engine_speed_rpm=0.0, machine_speed_rpm=400.0)
        grid.check(torque.spare_engine_nm(lim, shaft) == 0.0, lambda b=bit: f"{b.name} unknown")  # type: ignore[misc]
    return [grid.shown(), order.shown("engine speed every 4 rpm")]


def _ramps(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    own = n.config.limits
    grid = Grid("SR-20", "soft start", "charging current rises no faster than the soft start, also when a tick comes "
        "late, in "
                "GENERATE, HARVEST and braking")  # fmt: skip
    view = _view(n)
    for charge_a, rpm, dt_s, mode in product(
        steps(0.0, 300.0, 2.0),
        (100.0, 250.0, 400.0, 1000.0),
        (0.005, 0.02, 0.1, 5.0),
        (_M.GENERATE, _M.HARVEST, _M.PROPEL),
    ):
        was_nm = -min(charge_a * n.volts / (lim.efficiency * rpm * RAD_S), lim.generate_torque_nm)
        state = shaft_state(mode=int(mode), charge_a=charge_a, torque_nm=was_nm, last_sign=-1, order_pct=-100.0,
                           steady_s=10.0)  # fmt: skip
        shaft = n.shaft(machine_speed_rpm=rpm, propeller_speed_rpm=0.0, engine_speed_rpm=1500.0)
        got = _tick(n, lim, state, shaft, view, dt_s=dt_s).effort.charge_a
        grid.check(
            got - charge_a <= own.charge_rise_a_per_s * min(dt_s, 0.1) * (1 + ROUNDING) + 1e-9,
            lambda c=charge_a, r=rpm, g=got, m=mode, d=dt_s: f"{m.name}: {c:g} -> {g:g} A in {d:g} s at {r:g} rpm",  # type: ignore[misc]
        )  # fmt: skip
    return [grid.shown()]


def _thrust(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    drive = n.config.shaft[n.boat.shafts.index(lim)].drive
    slew = Grid("SR-24", "thrust grows by the slew", "in PROPEL and UNLOAD torque grows no faster than the slew and "
        "never "
                "changes sign in one tick")  # fmt: skip
    dwell = Grid("SR-25", "reversal dwells", "in PROPEL the sign changes only after the dwell at zero")
    barred = Grid(
        "SR-13", "no braking without permit", "without the charge permit no order opposes rotation, in any mode"
    )
    dead = Grid("SR-14", "no driving without permit", "without the discharge permit no order drives, in any mode")
    hand = Grid("SR-28", "handset limited", "by handset at most its part of rated torque is reached")
    rated = Grid("SR-24", "rated torque", "no order exceeds the drive's rated torque")
    part = n.config.limits.handset_thrust_pct / 100.0
    views = {(c, d): _view(n, charge=c, discharge=d) for c in (True, False) for d in (True, False)}
    full = drive.rated_torque_nm
    standing = [*steps(-full, full, full / 8), 1e-6, -1e-6]
    asked = (-100.0, -60.0, -6.0, 0.0, 6.0, 60.0, 100.0)
    speeds = (-1000.0, -100.0, -5.25, -5.0, 0.0, 5.0, 5.25, 100.0, 400.0, 1000.0)
    for mode, was_nm, order_pct, rpm in product((_M.PROPEL, _M.UNLOAD), standing, asked, speeds):
        for (zero_s, handset), (permits, view) in product(
            ((0.0, False), (drive.reversal_dwell_s - 1e-6, False), (drive.reversal_dwell_s, True)), views.items()
        ):
            sign = 1 if was_nm > 0 else -1
            state = shaft_state(mode=int(mode), torque_nm=was_nm, order_pct=order_pct, zero_s=zero_s, last_sign=sign,
                               charge_a=50.0)  # fmt: skip
            shaft = n.shaft(machine_speed_rpm=rpm, propeller_speed_rpm=rpm)
            got = _tick(n, lim, state, shaft, view, handset).effort.torque_nm

            def say(m=mode, w=was_nm, o=order_pct, r=rpm, g=got, z=zero_s, p=permits):  # type: ignore[no-untyped-def]
                return (
                    f"{m.name} at {r:g} rpm, asked {o:g} %, {w:g} -> {g:g} N m, zero for {z:g} s, permits "
                    f"charge/discharge "
                    f"{p[0]}/{p[1]}"
                )

            grown = abs(got) - abs(was_nm)
            slew.check(
                got * was_nm >= 0.0 and grown <= drive.torque_slew_nm_per_s * n.tick_s * (1 + ROUNDING) + 1e-9, say
            )
            dwell.check(got * sign >= 0.0 or (was_nm == 0.0 and zero_s >= drive.reversal_dwell_s), say)
            opposes = got * rpm < 0.0 and abs(rpm) > lim.still_rpm
            barred.check(permits[0] or not opposes, say)
            dead.check(permits[1] or got == 0.0 or opposes, say)
            rated.check(abs(got) <= full * (1 + ROUNDING), say)
            if handset and mode == _M.PROPEL and abs(got) > abs(was_nm):
                hand.check(abs(got) <= part * full * (1 + ROUNDING), say)
    given = Grid("SR-49", "thrust reaches its order", "with every permit the order is reached at a speed where power "
        "does not "
                 "limit, and is zero for a lever in its neutral band")  # fmt: skip
    view = views[(True, True)]
    band = n.config.shaft[n.boat.shafts.index(lim)].rules.neutral_band_pct
    for order_pct in steps(-100.0, 100.0, 1.0):
        state = shaft_state(mode=int(_M.PROPEL), order_pct=order_pct, last_sign=0)
        want = max(0.0, abs(order_pct) - band) / (100.0 - band) * full
        for _ in range(int(full / (drive.torque_slew_nm_per_s * n.tick_s)) + 3):
            state = _tick(n, lim, state, n.shaft(machine_speed_rpm=0.0), view)
        given.check(
            abs(abs(state.effort.torque_nm) - want) <= 1e-6 and state.effort.torque_nm * order_pct >= 0.0,
            lambda o=order_pct, s=state, w=want: f"asked {o:g} %: {s.effort.torque_nm:g} of {w:g} N m",  # type: ignore[misc]
        )  # fmt: skip
    return [one.shown() for one in (slew, dwell, barred, dead, hand, rated, given)]


def _speeds(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    drive = n.config.shaft[n.boat.shafts.index(lim)].drive
    over = Grid("SR-42", "not driven into overspeed", "at each speed that the signal can carry, at or above the "
        "highest "
                "speed no order drives with rotation")  # fmt: skip
    power = Grid("SR-18", "power within the derate", "at each speed the order's power stays within rated power times "
        "the "
                 "derate")  # fmt: skip
    for pct in (100.0, 50.0, 15.0):
        view = _view(n)._replace(derate_pct=pct)
        for sign in (1.0, -1.0):
            for rpm in steps(0.0, 8000.0, SPEED_STEP if pct == 100.0 else 16 * SPEED_STEP):
                state = shaft_state(mode=int(_M.PROPEL), order_pct=100.0 * sign, last_sign=int(sign))
                shaft = n.shaft(machine_speed_rpm=rpm * sign, propeller_speed_rpm=rpm * sign)
                asked = torque.ask(n.lim, lim, state, shaft, view, False, n.tick_s)
                watts = abs(asked.target_nm) * rpm * RAD_S
                most = drive.rated_power_kw * 1000.0 * pct / 100.0
                power.check(
                    watts <= most * (1 + ROUNDING),
                    lambda r=rpm, w=watts, m=most: f"{r:g} rpm: {w:.0f} of {m:.0f} W",  # type: ignore[misc]
                )
                if rpm >= drive.max_speed_rpm:
                    stands = state._replace(effort=state.effort._replace(torque_nm=50.0 * sign))
                    got = _tick(n, lim, stands, shaft, view).effort.torque_nm
                    over.check(got == 0.0, lambda r=rpm, g=got: f"{g:g} N m at {r:g} rpm")  # type: ignore[misc]
    return [over.shown(), power.shown("derates of 50 and 15 % every 4 rpm")]


def _sag(n: Numbers, lim: ShaftLimits) -> list[Shown]:
    engine = n.config.shaft[n.boat.shafts.index(lim)].engine
    grid = Grid("SR-22", "sag", "current does not rise while the engine has lost its sag speed, and falls while it "
        "has lost "
                "twice that, at each engine speed")  # fmt: skip
    view = _view(n)
    reference = 2000.0
    fall_a = n.config.limits.charge_fall_a_per_s * n.tick_s
    for rpm in steps(0.0, 3000.0, SPEED_STEP):
        for charge_a in (1.0, 20.0):
            state = shaft_state(mode=int(_M.GENERATE), charge_a=charge_a, torque_nm=-5.0, last_sign=-1,
                               sag_ref_rpm=reference, steady_s=10.0)  # fmt: skip
            shaft = n.shaft(machine_speed_rpm=400.0, propeller_speed_rpm=0.0, engine_speed_rpm=rpm)
            got = _tick(n, lim, state, shaft, view).effort.charge_a
            lost = reference - rpm
            good = lost <= engine.sag_rpm or got <= charge_a
            good = good and (lost <= 2 * engine.sag_rpm or got <= max(0.0, charge_a - fall_a) + 1e-9)
            grid.check(good, lambda r=rpm, c=charge_a, g=got: f"engine {r:g} of {reference:g} rpm: {c:g} -> {g:g} A")  # type: ignore[misc]
    return [grid.shown()]
