"""Part (d): times, edges and histories: each dwell measured against the boat's own file, tick by tick."""

from collections.abc import Callable
from itertools import product

from sim.prove.flat import boat_state, shaft_state
from sim.prove.grid import Grid, Numbers, steps, three_ways
from sim.prove.numeric_contacts import word_of
from sim.prove.numeric_torque import _tick, _view
from sim.prove.result import Shown
from supervisor.modes import BoatCondition, BoatMode, ShaftCondition, ShaftMode
from supervisor.rules import initial_memory, readings, run_tick
from supervisor.rules.boat_timers import boat_timers
from supervisor.rules.boat_word import Summary, boat_word
from supervisor.rules.orders import Levers, Orders, read_orders
from supervisor.rules.own import NO_OWN
from supervisor.rules.shaft_latches import after_mode
from supervisor.rules.shaft_timers import shaft_timers
from supervisor.rules.state import BoatLatch, BoatState, ShaftLatch, ShaftState
from supervisor.signals import Alarm, BoatInput, ShaftInput

_B = BoatInput
_S = ShaftInput
_C = ShaftCondition
_NO_ORDERS = Orders._make([0] * len(Orders._fields))


def prove_times(n: Numbers) -> list[Shown]:
    """All claims on times and histories of the boat and of each shaft."""
    shown = [*_boat_dwells(n), *_edges(n), _restart(n), _one_alone(n)]
    for index in range(len(n.boat.shafts)):
        shown += [*_shaft_dwells(n, index), _lever_ramp(n, index), _trailing(n, index)]
    return shown


def _first_tick(step: Callable[[], bool], dt_s: float, most_s: float) -> float | None:
    """Time (s) from the first tick of a condition to the first in which `step` says yes, None within `most_s`."""
    elapsed_s = 0.0
    while elapsed_s <= most_s:
        if step():
            return elapsed_s
        elapsed_s += dt_s
    return None


def _close(got_s: float | None, want_s: float, dt_s: float) -> bool:
    return got_s is not None and want_s - 1e-6 <= got_s <= want_s + 2 * dt_s + 1e-6


def _boat_dwells(n: Numbers) -> list[Shown]:
    own = n.config.limits
    view = _view(n)
    shown = []
    rest = Summary(0, 0, 1, 0)
    off = _NO_ORDERS._replace(off_order=1)
    levers = Levers._make([0] * len(Levers._fields))
    for sr, name, mode, orders, bit, want_s in (
        ("SR-44", "NEUTRAL_WAIT gives up", 1, _NO_ORDERS, BoatCondition.WAIT_EXPIRED, own.neutral_wait_s),
        ("SR-45", "off is overdue", 2, off, BoatCondition.OFF_OVERDUE, own.disable_s),
        ("SR-35", "idle ends", 2, _NO_ORDERS, BoatCondition.IDLE_EXPIRED, own.idle_reminder_s + own.idle_off_s),
    ):
        grid = Grid(sr, f"{name} in its time", f"{name} after the time of the boat's file")
        for dt_s in (n.tick_s, 0.1, 1.0):
            state = boat_state(mode=mode)

            def step(dt=dt_s, o=orders, b=bit) -> bool:  # type: ignore[no-untyped-def]
                nonlocal state
                state = boat_timers(n.lim, state, view, o, rest, state.own, dt)
                return bool(boat_word(n.lim, state, n.bank(), o, levers, rest) & b)

            got_s = _first_tick(step, dt_s, want_s * 3 + 10)
            grid.check(
                _close(got_s, want_s, dt_s),
                lambda g=got_s, w=want_s, d=dt_s: f"{g} s instead of {w:g} s, ticks {d:g} s",  # type: ignore[misc]
            )
        shown.append(grid.shown())
    reminder = Grid("SR-35", "reminder sounds", "the idle reminder is raised at its time, and sounds")
    state = boat_state(mode=2)
    from supervisor.rules import outputs

    def reminded() -> bool:
        nonlocal state
        state = boat_timers(n.lim, state, view, _NO_ORDERS, rest, state.own, 0.1)
        return bool(outputs.boat_alarms(n.lim, state, n.bank(), view, _NO_ORDERS, 2) & Alarm.IDLE_REMINDER)

    got_s = _first_tick(reminded, 0.1, own.idle_reminder_s * 3)
    reminder.check(
        _close(got_s, own.idle_reminder_s, 0.1) and bool(outputs.SOUNDED & Alarm.IDLE_REMINDER), lambda: f"{got_s} s"
    )
    return [*shown, reminder.shown()]


def _shaft_dwells(n: Numbers, index: int) -> list[Shown]:
    own, lim = n.config.shaft[index], n.boat.shafts[index]
    shown = []
    turning = n.shaft(torque_nm=own.drive.rated_torque_nm)
    dead_link = n.shaft(link_v=0.0)
    charged = int(ShaftLatch.LINK_WAS_CHARGED)
    for sr, name, start, inputs, bit, want_s in (
        ("SR-32", "disobeying", ShaftState(), turning, _C.DISOBEYED, n.config.limits.disobey_s),
        ("SR-33", "precharge fails", ShaftState(), dead_link, _C.PRECHARGE_FAILED, own.drive.precharge_s),
        ("SR-33", "link lost", shaft_state(latches=charged), dead_link, _C.LINK_LOST, 0.2),
        ("SR-24", "unloading is overdue", shaft_state(mode=int(ShaftMode.UNLOAD), torque_nm=1.0), n.shaft(),
         _C.UNLOAD_OVERDUE, 10.0 + n.config.limits.lever_ramp_s),
    ):  # fmt: skip
        grid = Grid(sr, f"{name} in its time", f"{name} after its time, not sooner and not later")
        for dt_s in (n.tick_s, 0.05):
            state = start
            lever = readings.read_lever(lim, inputs)

            def step(dt=dt_s, one=inputs, lev=lever, b=bit) -> bool:  # type: ignore[no-untyped-def]
                nonlocal state
                state = shaft_timers(n.lim, lim, state, n.bank(), one, lev, NO_OWN, 2, 0, True, dt)
                return bool(word_of(n, index, n.bank(), one, state) & b)

            got_s = _first_tick(step, dt_s, want_s * 3 + 1)
            grid.check(
                got_s is not None and want_s - dt_s - 1e-6 <= got_s <= want_s + 2 * dt_s + 1e-6,
                lambda g=got_s, w=want_s: f"{g} s instead of {w:g} s",  # type: ignore[misc]
            )  # fmt: skip
        shown.append(grid.shown())
    neutral = Grid("SR-05", "fresh neutral takes its dwell", "REARMED is set by neutral held for the dwell, not "
        "sooner, and "
                   "neutral counts for the position in control")  # fmt: skip
    for handset, thrust in ((False, 0.0), (True, 0.0), (True, 50.0), (False, 50.0)):
        state = ShaftState()
        boat_latches = int(BoatLatch.HANDSET_IN_CONTROL) if handset else 0
        one = n.shaft(handset_thrust_pct=thrust)
        lever = readings.read_lever(lim, one)

        def armed(o=one, lev=lever, latches=boat_latches) -> bool:  # type: ignore[no-untyped-def]
            nonlocal state
            state = shaft_timers(n.lim, lim, state, n.bank(), o, lev, NO_OWN, 2, latches, True, n.tick_s)
            word = int(_C.BOAT_READY | _C.BOAT_LIVE)
            state = after_mode(lim, state, word, 0, False, False, n.lim.neutral_s, int(BoatMode.READY))
            return bool(state.latches & ShaftLatch.REARMED)

        got_s = _first_tick(armed, n.tick_s, 5.0 * n.config.limits.neutral_s + 1.0)
        want = not (handset and thrust)
        good = _close(got_s, n.config.limits.neutral_s, n.tick_s) if want else got_s is None
        neutral.check(good, lambda g=got_s, h=handset, t=thrust: f"{g} s, handset in control {h}, thrust {t:g} %")  # type: ignore[misc]
    ready = Grid("SR-01", "READY after the dwell", "the levers count as neutral only after the dwell, each of them")
    memory = initial_memory(n.boat)
    sides = [n.shaft() for _ in n.boat.shafts]

    def counted() -> bool:
        nonlocal memory
        result = run_tick(n.boat, memory, n.bank(), sides, n.tick_s)
        memory = result.memory
        return bool(result.boat_word & BoatCondition.LEVERS_NEUTRAL)

    got_s = _first_tick(counted, n.tick_s, 5.0 * n.config.limits.neutral_s + 1.0)
    ready.check(_close(got_s, n.config.limits.neutral_s, n.tick_s), lambda: f"{got_s} s")
    away = n.shaft(off=_S.LEVER_NEUTRAL, lever_pct=50.0)
    for odd in range(len(sides)):
        mixed = [away if i == odd else one for i, one in enumerate(sides)]
        result = run_tick(n.boat, memory, n.bank(), mixed, n.tick_s)
        ready.check(
            not result.boat_word & BoatCondition.LEVERS_NEUTRAL,
            lambda o=odd: f"lever {o + 1} ahead does not count",  # type: ignore[misc]
        )
    return [*shown, neutral.shown(), ready.shown()]


def _lever_ramp(n: Numbers, index: int) -> Shown:
    lim = n.boat.shafts[index]
    own = n.config.limits
    grid = Grid("SR-26", "lost lever ramps in its time", "from each thrust the order of a lost lever is zero within "
        "its ramp, "
                "and never grows")  # fmt: skip
    view = _view(n)
    for was_nm in steps(-lim.rated_torque_nm, lim.rated_torque_nm, 1.0):
        if was_nm == 0.0:
            continue
        state = shaft_state(mode=int(ShaftMode.PROPEL), torque_nm=was_nm, last_sign=1 if was_nm > 0 else -1)
        word = int(_C.CONTROL_LOST | _C.BOAT_READY | _C.BOAT_LIVE | _C.OWN_THRUST_STAYS)
        state = after_mode(lim, state, word, int(ShaftMode.UNLOAD), True, False, n.lim.neutral_s, int(BoatMode.READY))
        one = n.shaft(unknown=_S.LEVER, machine_speed_rpm=0.0)
        took_s = 0.0
        sound = True
        while state.effort.torque_nm != 0.0 and took_s <= own.lever_ramp_s * 2:
            after = _tick(n, lim, state, one, view)
            sound = sound and abs(after.effort.torque_nm) <= abs(state.effort.torque_nm)
            state = after
            took_s += n.tick_s
        sound = sound and took_s >= own.lever_ramp_s - 2 * n.tick_s  # no sooner: a fairway is no place for a jerk
        grid.check(
            sound and took_s <= own.lever_ramp_s + 2 * n.tick_s,
            lambda w=was_nm, t=took_s: f"from {w:g} N m in {t:.2f} s",  # type: ignore[misc]
        )
    return grid.shown()


def _trailing(n: Numbers, index: int) -> Shown:
    own, lim = n.config.shaft[index], n.boat.shafts[index]
    grid = Grid("SR-41", "trailing only as allowed", "TRAILING_OK is set only where the gearbox may trail, and falls "
        "after its "
                "limit")  # fmt: skip
    one = n.shaft(machine_speed_rpm=200.0, propeller_speed_rpm=200.0)
    lever = readings.read_lever(lim, one)
    limit_s = own.gearbox.trailing_limit_s
    state = shaft_state(mode=int(ShaftMode.HARVEST))
    elapsed_s = 0.0
    for _ in range(400):
        step_s = max(1.0, limit_s / 200.0)
        state = shaft_timers(n.lim, lim, state, n.bank(), one, lever, NO_OWN, 2, 0, True, step_s)
        elapsed_s += step_s
        got = bool(word_of(n, index, n.bank(), one, state) & _C.TRAILING_OK)
        want = own.gearbox.trailing_allowed and (limit_s <= 0.0 or elapsed_s < limit_s)
        near = limit_s > 0.0 and abs(elapsed_s - limit_s) <= step_s
        grid.check(near or got == want, lambda e=elapsed_s, g=got: f"after {e:g} s: {g}")  # type: ignore[misc]
    return grid.shown()


def _edges(n: Numbers) -> list[Shown]:
    press = Grid("SR-46", "edges only", "enable and reset act only when seen off in the tick before: a maintained or "
        "returning "
                 "switch passes nothing")  # fmt: skip
    off = Grid("SR-45", "off is remembered", "off stays ordered until the boat has left READY, once pressed")
    position = Grid("SR-29", "handset in control", "the handset is in control only in READY, held, ours, with a "
        "fresh link, all "
                    "levers in neutral; it is taken by a fresh press with thrust at zero and enough charge; a lost "
                        "one lets "
                    "go")  # fmt: skip
    lost = Grid("SR-27", "handset lost", "a handset in control whose link or levers fail is reported lost in the tick")
    for bit, latch in ((_B.ENABLE, BoatLatch.ENABLE_WAS_OFF), (_B.RESET, BoatLatch.RESET_WAS_OFF)):
        ways = (None, False, True)
        for a, b in product(ways, ways):
            state = BoatState()
            edges = []
            for way in (a, b):
                bank_in = n.bank(on=bit if way else 0, unknown=bit if way is None else 0)
                orders = read_orders(n.lim, state, bank_in, Levers._make([0] * len(Levers._fields)))
                state = state._replace(latches=orders.latches)
                edges.append(bool(orders.enable_edge if bit == _B.ENABLE else orders.reset_edge))
            good = not edges[0] and edges[1] == (a is False and b is True)
            press.check(good, lambda x=a, y=b, z=bit: f"{z.name}: {x} then {y}")  # type: ignore[misc]
        del latch
    for mode, pressed, was in product(BoatMode, (False, True), (False, True)):
        state = boat_state(mode=int(mode), latches=int(BoatLatch.OFF_WANTED) if was else 0)
        orders = read_orders(
            n.lim, state, n.bank(on=_B.DISABLE if pressed else 0), Levers._make([0] * len(Levers._fields))
        )
        want = pressed or (was and mode in (BoatMode.READY, BoatMode.NEUTRAL_WAIT))
        off.check(bool(orders.off_order) == want, lambda m=mode, p=pressed, w=was: f"{m.name}, pressed {p}, before {w}")  # type: ignore[misc]
    contacts = (_B.HANDSET_HELD, _B.HANDSET_OURS, _B.DISABLE)
    every = sum(int(bit) for bit in contacts)
    low = n.config.limits.handset_low_minutes
    flags = list(product((0, 1), repeat=4))
    for (known, on), minutes, mode, was, held_off in product(
        list(three_ways(contacts)), (None, low - 1.0, low), BoatMode, (False, True), (False, True)
    ):
        unknown = (every & ~known) | (int(_B.HANDSET_MINUTES) if minutes is None else 0)
        bank_in = n.bank(unknown=unknown, on=on, off=every & ~on, handset_minutes=minutes or 0.0)
        latches = (int(BoatLatch.HANDSET_IN_CONTROL) if was else 0) | (int(BoatLatch.HELD_WAS_OFF) if held_off else 0)
        state = boat_state(mode=int(mode), latches=latches)
        for neutral, now, thrust_known, thrust_zero in flags:
            if (neutral and not now) or (thrust_zero and not thrust_known):
                continue
            levers = Levers(neutral, now, thrust_known, thrust_zero, 0)
            orders = read_orders(n.lim, state, bank_in, levers)
            control = bool(orders.latches & BoatLatch.HANDSET_IN_CONTROL)
            held = bool(on & _B.HANDSET_HELD)
            linked = bool(on & _B.HANDSET_OURS) and bool(known & _B.HANDSET_HELD) and thrust_known == 1

            def say(m=mode, w=was, k=known, o=on, lev=levers, mins=minutes):  # type: ignore[no-untyped-def]
                return f"{m.name}, in control {w}, known {k:#x}, on {o:#x}, {mins} min, {lev}"

            good = not control or (mode == BoatMode.READY and held and linked and now == 1)
            if control and not was:
                good = good and held_off and neutral == 1 and thrust_zero == 1 and minutes == low
                good = good and not on & _B.DISABLE
            position.check(good, say)
            failed = was and mode == BoatMode.READY and not (linked and now == 1)
            lost.check(bool(orders.handset_lost) == failed and not (failed and control and not _fresh(held_off)), say)
    return [press.shown(), off.shown(), position.shown(), lost.shown()]


def _fresh(held_off: bool) -> bool:
    return held_off


def _restart(n: Numbers) -> Shown:
    grid = Grid("SR-36", "first tick", "the first tick after power-up is STANDBY (or TRIPPED on a cause) with zero "
        "torque and no "
                "drive enabled, whatever levers and switches say")  # fmt: skip
    ahead = n.shaft(off=_S.LEVER_NEUTRAL, lever_pct=100.0, machine_speed_rpm=300.0, propeller_speed_rpm=300.0)
    for bank_bit, shaft_bit in product([0, *BoatInput], [0, *ShaftInput]):
        one = ahead._replace(on=ahead.on | int(shaft_bit))
        bank_in = n.bank(on=bank_bit)
        result = run_tick(n.boat, initial_memory(n.boat), bank_in, [one for _ in n.boat.shafts], n.tick_s)
        mode = BoatMode(result.memory.boat.mode)
        good = mode in (BoatMode.STANDBY, BoatMode.TRIPPED)
        good = good and all(c.torque_nm == 0.0 and not c.permits & 1 for c in result.shaft_commands)
        grid.check(good, lambda b=bank_bit, s=shaft_bit, m=mode: f"{b!r} and {s!r} on: {m.name}")  # type: ignore[misc]
    return grid.shown()


def _one_alone(n: Numbers) -> Shown:
    grid = Grid(
        "SR-31", "one shaft alone", "a cause of one shaft, each of them, leaves boat and other shafts as they are"
    )
    memory = initial_memory(n.boat)
    ready = memory.boat._replace(mode=int(BoatMode.READY))
    states = tuple(state._replace(latches=int(ShaftLatch.LINK_WAS_CHARGED)) for state in memory.shafts)
    memory = memory._replace(boat=ready, shafts=states)
    from supervisor.signals import SHAFT_INPUTS, Reaction

    for odd in range(len(n.boat.shafts)):
        causes = [n.shaft(on=_S.DRIVE_FAULT)]
        causes += [n.shaft(unknown=s.bit) for s in SHAFT_INPUTS if s.default == Reaction.TRIP_SHAFT]
        for cause in causes:
            sides = [cause if i == odd else n.shaft() for i in range(len(n.boat.shafts))]
            result = run_tick(n.boat, memory, n.bank(), sides, n.tick_s)
            modes = [state.mode for state in result.memory.shafts]
            good = result.memory.boat.mode == BoatMode.READY and modes[odd] == ShaftMode.ISOLATED
            good = good and all(mode == ShaftMode.REST for i, mode in enumerate(modes) if i != odd)
            grid.check(good, lambda m=modes, o=odd: f"cause at shaft {o + 1}: modes {m}")  # type: ignore[misc]
    return grid.shown()
