"""Part (d): how bits of the words are formed from contacts and numbers, every way each contact can be."""

from itertools import product

from sim.prove.flat import boat_state, shaft_state
from sim.prove.grid import ALL_SHAFT, Grid, Numbers, steps, three_ways
from sim.prove.result import Shown
from sim.requirements.facts import ShaftFacts, boat_facts, shaft_facts
from supervisor.modes import BoatCondition, BoatMode, ShaftCondition, ShaftMode
from supervisor.modes.permit_table import given_permits
from supervisor.rules import bank, readings, shaft_word
from supervisor.rules.boat_word import Summary, boat_word
from supervisor.rules.orders import Levers, Orders
from supervisor.rules.own import NO_OWN
from supervisor.rules.permits import permit_word
from supervisor.rules.shaft_timers import shaft_timers
from supervisor.rules.state import BoatState, ShaftLatch, ShaftState
from supervisor.signals import BoatInput, BoatInputs, Reaction, ShaftInput, ShaftInputs, ShaftPermit

_B = BoatInput
_S = ShaftInput
_C = ShaftCondition
_NO_ORDERS = Orders._make([0] * len(Orders._fields))
_NO_SHAFTS = Summary._make([0] * len(Summary._fields))
_NO_LEVERS = Levers._make([0] * len(Levers._fields))


def prove_contacts(n: Numbers, index: int) -> list[Shown]:
    """All claims on how one shaft's word and permits are formed."""
    return [*_machinery(n, index), *_speeds(n, index), *_permits(n, index), *_trips(n, index), *_selectors(n, index)]


def word_of(n: Numbers, index: int, bank_in: BoatInputs, shaft_in: ShaftInputs, state: ShaftState) -> int:
    """The shaft's word as the tick forms it, less what the boat's mode adds."""
    lim = n.boat.shafts[index]
    view = bank.bank_view(n.lim, boat_state(mode=2), bank_in, 0.0, True, n.tick_s)
    lever = readings.read_lever(lim, shaft_in)
    return shaft_word.shaft_word(n.lim, lim, view, state, bank_in, shaft_in, lever, NO_OWN, 0, False, False)


_FACTS: tuple[tuple[str, ShaftCondition, str], ...] = (
    ("SR-07", _C.LOCK_RELEASED, "lock_released"),
    ("SR-08", _C.CLUTCH_CLOSED, "clutch_closed"),
    ("SR-08", _C.CLUTCH_OPEN, "clutch_open"),
    ("SR-09", _C.GEAR_NEUTRAL, "gear_neutral"),
    ("SR-12", _C.GEAR_AHEAD, "gear_ahead"),
    ("SR-09", _C.ENGINE_STOPPED, "engine_stopped"),
    ("SR-23", _C.ENGINE_RUNNING, "engine_running"),
)


def _machinery(n: Numbers, index: int) -> list[Shown]:
    lim = n.boat.shafts[index]
    grids = {
        name: Grid(
            sr, f"{bit.name} is proven", f"{bit.name} is set exactly when its contacts prove it: unknown never is"
        )
        for sr, bit, name in _FACTS
    }
    clear = Grid("SR-09", "ENGINE_CLEAR is proven", "ENGINE_CLEAR is set exactly when stopped or in neutral is proven")
    settled = Grid("SR-07", "LOCK_SETTLED is proven", "LOCK_SETTLED is set exactly when released or engaged is proven")
    groups: tuple[tuple[tuple[int, ...], tuple[float, ...], tuple[float | None, ...]], ...] = (
        ((_S.LOCK_RELEASED, _S.LOCK_ENGAGED, _S.CLUTCH_CLOSED, _S.CLUTCH_OPEN), (0.0,), (0.0,)),
        ((_S.GEAR_NEUTRAL, _S.GEAR_AHEAD), (-1.0, 0.0, 1.0, 9.0), (0.0,)),
        ((_S.ENGINE_RUN, _S.GEAR_NEUTRAL), (0.0,),
         (None, 0.0, 49.0, 50.0, 50.25, 51.0, lim.engine_idle_rpm / 2 - 0.25, lim.engine_idle_rpm / 2, 3000.0)),
    )  # fmt: skip
    for contacts, reports, speeds in groups:
        every = sum(int(bit) for bit in contacts)
        for (known, on), report, rpm in product(list(three_ways(contacts)), reports, speeds):
            unknown = (every & ~known) | (int(_S.GEAR_REPORT) if report == 9.0 else 0)
            unknown |= int(_S.ENGINE_SPEED) if rpm is None else 0
            one = n.shaft(unknown=unknown, on=on, off=every & ~on, gear_report=report if report != 9.0 else 0.0,
                          engine_speed_rpm=rpm or 0.0)  # fmt: skip
            word = word_of(n, index, n.bank(), one, ShaftState())
            facts = shaft_facts(lim, one)
            for _, bit, name in _FACTS:
                grids[name].check(bool(word & bit) == getattr(facts, name), _say(one, facts))
            clear.check(bool(word & _C.ENGINE_CLEAR) == (facts.engine_stopped or facts.gear_neutral), _say(one, facts))
            settled.check(bool(word & _C.LOCK_SETTLED) == (facts.lock_released or facts.lock_engaged), _say(one, facts))
    diver = Grid("SR-10", "NO_DIVER is proven", "NO_DIVER is set exactly when the lockout is known and off")
    shore = Grid("SR-11", "NO_SHORE is proven", "NO_SHORE is set exactly when the shore cable is proven out")
    contacts = (_B.DIVER_LOCKOUT, _B.SHORE_CONNECTED)
    for known, on in three_ways(contacts):
        every = sum(int(bit) for bit in contacts)
        bank_in = n.bank(unknown=every & ~known, on=on, off=every & ~on)
        word = word_of(n, index, bank_in, n.shaft(), ShaftState())
        seen = boat_facts(n.lim, bank_in)
        diver.check(bool(word & _C.NO_DIVER) == seen.no_diver, lambda k=known, o=on: f"known {k:#x}, on {o:#x}")  # type: ignore[misc]
        shore.check(
            bool(word & _C.NO_SHORE) == seen.no_shore,
            lambda k=known, o=on: f"{k:#x}, {o:#x}",  # type: ignore[misc]
        )
    return [one.shown() for one in (*grids.values(), clear, settled, diver, shore)]


def _say(one: ShaftInputs, facts: ShaftFacts):  # type: ignore[no-untyped-def]
    def say() -> str:
        on = ", ".join(str(bit.name) for bit in ShaftInput if one.known & one.on & bit) or "nothing"
        lost = ", ".join(str(bit.name) for bit in ShaftInput if not one.known & bit and ALL_SHAFT & bit) or "nothing"
        return f"on: {on}; unknown: {lost}; engine {one.engine_speed_rpm:g} rpm, gear report {one.gear_report:g}"

    del facts
    return say


def _speeds(n: Numbers, index: int) -> list[Shown]:
    own = n.config.shaft[index]
    lim = n.boat.shafts[index]
    still = Grid("SR-12", "propeller still", "PROPELLER_STILL is set exactly below the still speed, at each speed")
    both = Grid("SR-06", "shaft still", "SHAFT_STILL is set exactly when both sides are below the still speed")
    lever = Grid("SR-01", "lever neutral", "a lever is neutral only with its contact made and within its band, and "
        "asks only "
                 "with the contact open and beyond it, at each position")  # fmt: skip
    link = Grid("SR-33", "link precharged", "a link counts as precharged exactly within its tolerance, at each voltage")
    disobeys = Grid("SR-32", "disobeying", "a drive disobeys exactly beyond its tolerances, at each torque and current")
    for rpm in [*steps(-20.0, 20.0, 0.25), *steps(-8000.0, 8000.0, 100.0)]:
        one = n.shaft(propeller_speed_rpm=rpm)
        word = word_of(n, index, n.bank(), one, ShaftState())
        still.check(bool(word & _C.PROPELLER_STILL) == (abs(rpm) < own.rules.still_rpm), lambda r=rpm: f"{r:g} rpm")  # type: ignore[misc]
        for other in (0.0, own.rules.still_rpm - 0.25, own.rules.still_rpm, 300.0):
            word = word_of(n, index, n.bank(), one._replace(machine_speed_rpm=other), ShaftState())
            want = abs(rpm) < own.rules.still_rpm and other < own.rules.still_rpm
            both.check(bool(word & _C.SHAFT_STILL) == want, lambda r=rpm, o=other: f"{r:g} and {o:g} rpm")  # type: ignore[misc]
    for bit in (_S.PROPELLER_SPEED, _S.MACHINE_SPEED):
        word = word_of(n, index, n.bank(), n.shaft(unknown=bit), ShaftState())
        both.check(not word & _C.SHAFT_STILL, lambda b=bit: f"{b.name} unknown")  # type: ignore[misc]
    band = own.rules.neutral_band_pct
    for pct in steps(-100.0, 100.0, 0.01):
        for contact in (True, False):
            one = n.shaft(on=_S.LEVER_NEUTRAL if contact else 0, off=0 if contact else _S.LEVER_NEUTRAL, lever_pct=pct)
            got = readings.read_lever(lim, one)
            good = (got.neutral == 0 or (contact and abs(pct) <= band)) and (
                got.asks == 0 or (not contact and abs(pct) > band)
            )
            good = good and (got.neutral == 1 or not (contact and abs(pct) <= band))
            lever.check(good, lambda p=pct, c=contact: f"lever {p:g} %, neutral contact {c}")  # type: ignore[misc]
    for bit in (_S.LEVER, _S.LEVER_NEUTRAL):
        got = readings.read_lever(lim, n.shaft(unknown=bit))
        lever.check(got.neutral == 0 and got.asks == 0 and got.lost == 1, lambda b=bit: f"{b.name} unknown")  # type: ignore[misc]
    volts, tolerance = n.volts, own.drive.link_tolerance_pct / 100.0
    for v in steps(0.0, 200.0, 0.02):
        for was in (False, True):
            got_charged = readings.link_charged(lim, n.bank(voltage_v=volts), n.shaft(link_v=v), was)
            limit_v = volts * tolerance * (2.0 if was else 1.0)
            if abs(abs(v - volts) - limit_v) > 1e-9:
                link.check(got_charged == (abs(v - volts) < limit_v), lambda x=v, w=was: f"{x:g} V, before: {w}")  # type: ignore[misc]
    torque_limit = n.config.limits.disobey_torque_pct / 100.0 * own.drive.rated_torque_nm
    for value in steps(-3200.0, 3200.0, 0.1):
        by_torque = readings.disobeys(lim, n.shaft(torque_nm=value), 0.0)
        by_current = readings.disobeys(lim, n.shaft(current_a=value), 0.0)
        near = abs(abs(value) - torque_limit) < 1e-6 or abs(abs(value) - n.config.limits.disobey_current_a) < 1e-6
        good = near or (by_torque == (abs(value) > torque_limit)
                        and by_current == (abs(value) > n.config.limits.disobey_current_a))  # fmt: skip
        disobeys.check(good, lambda x=value: f"{x:g} N m or A")  # type: ignore[misc]
        for ordered_nm in (-30.0, 30.0):
            wrong = readings.disobeys(lim, n.shaft(torque_nm=value), ordered_nm)
            good = near or wrong == (value * ordered_nm < 0.0 and abs(value) > torque_limit)
            disobeys.check(good, lambda x=value, o=ordered_nm: f"{x:g} N m with {o:g} ordered")  # type: ignore[misc]
    return [one.shown() for one in (still, both, lever, link, disobeys)]


def _permits(n: Numbers, index: int) -> list[Shown]:
    lim = n.boat.shafts[index]
    own = n.config.shaft[index]
    start = Grid("SR-37", "start permit", "engine start is permitted only with gear neutral, drive at rest, no diver")
    close = Grid("SR-38", "clutch permit", "closing is permitted only with gear and lever neutral, no torque, and "
        "both sides "
                 "within the limit")  # fmt: skip
    lock = Grid("SR-39", "lock permit", "the lock may engage only after its time on a still shaft without torque")
    enable = Grid("SR-02", "drive enable", "a drive is enabled only while READY, in service, not isolated, its link "
        "charged, "
                  "its contactor closed")  # fmt: skip
    bits = (_C.BOAT_READY, _C.IN_SERVICE, _C.GEAR_NEUTRAL, _C.NO_DIVER, _C.TORQUE_ZERO, _C.SHAFT_STILL)
    for choice, mode, ordered, apart, still_s, contactor, neutral, latched in product(
        range(1 << len(bits)), ShaftMode, (0.0, 20.0), (0.0, own.clutch.close_within_rpm, 200.0),
        (-1.0, own.lock.still_s - 0.01, own.lock.still_s), (True, False), (0, 1), (0, int(ShaftLatch.LINK_WAS_CHARGED)),
    ):  # fmt: skip
        word = sum(int(bit) for place, bit in enumerate(bits) if choice >> place & 1)
        ready = bool(word & _C.BOAT_READY)
        word |= int(_C.BOAT_LIVE) if ready else 0
        state = shaft_state(mode=int(mode), torque_nm=ordered, still_s=still_s, latches=latched)
        one = n.shaft(machine_speed_rpm=apart, torque_nm=0.0)
        permits = given_permits(permit_word(lim, state, one, word, readings.Lever(neutral, 0, 0), NO_OWN, contactor))
        zero = bool(word & _C.TORQUE_ZERO) and ordered == 0.0 and mode in (ShaftMode.REST, ShaftMode.ISOLATED)
        gear, diver = bool(word & _C.GEAR_NEUTRAL), bool(word & _C.NO_DIVER)

        def say(m=mode, o=ordered, a=apart, s=still_s, w=word):  # type: ignore[no-untyped-def]
            return f"{m.name}, {o:g} N m ordered, {a:g} rpm apart, still for {s:g} s, word {w:#x}"

        start.check(bool(permits & ShaftPermit.ENGINE_START) == (zero and gear and diver), say)
        may_close = zero and gear and diver and neutral == 1 and apart <= own.clutch.close_within_rpm
        close.check(bool(permits & ShaftPermit.CLUTCH_CLOSE) == may_close, say)
        may_lock = zero and bool(word & _C.SHAFT_STILL) and still_s >= own.lock.still_s
        lock.check(bool(permits & ShaftPermit.LOCK_ENGAGE) == may_lock, say)
        working = ready and bool(word & _C.IN_SERVICE) and mode != ShaftMode.ISOLATED and contactor and latched != 0
        enable.check(bool(permits & ShaftPermit.DRIVE_ENABLE) == working, say)
    out = n.shaft(on=_S.OUT_OF_SERVICE)
    for measured_nm, known, ordered in product((0.0, own.drive.rated_torque_nm), (True, False), (0.0, 20.0)):
        one = n.shaft(on=_S.OUT_OF_SERVICE, unknown=0 if known else _S.TORQUE, torque_nm=measured_nm if known else 0.0)
        state = shaft_state(mode=int(ShaftMode.REST), torque_nm=ordered)
        word = int(_C.GEAR_NEUTRAL | _C.NO_DIVER)
        permits = given_permits(permit_word(lim, state, one, word, readings.read_lever(lim, out), NO_OWN, True))
        may = ordered == 0.0 and not (known and measured_nm > 0.0)
        start.check(
            bool(permits & ShaftPermit.ENGINE_START) == may,
            lambda m=measured_nm, k=known: f"out of service, {m:g} N m measured, known: {k}",  # type: ignore[misc]
        )
    return [one.shown() for one in (start, close, lock, enable)]


def _trips(n: Numbers, index: int) -> list[Shown]:
    from supervisor.signals import SHAFT_INPUTS

    own = n.config.shaft[index]
    lost = Grid("SR-30", "each indispensable input", "each input whose reaction is to trip the shaft, lost alone, sets "
                "INPUT_LOST; a good set does not")  # fmt: skip
    fault = Grid("SR-30", "drive's fault flag", "the drive's fault flag sets DRIVE_FAULT")
    for spec in SHAFT_INPUTS:
        mapped = own.inputs.get(spec.name)
        named = mapped.reaction if mapped is not None and mapped.reaction is not None else spec.default.name.lower()
        word = word_of(n, index, n.bank(), n.shaft(unknown=spec.bit), ShaftState())
        trips = Reaction[named.upper()] == Reaction.TRIP_SHAFT
        lost.check(bool(word & _C.INPUT_LOST) == trips, lambda s=spec: f"{s.name} lost")  # type: ignore[misc]
    for spec_on in (True, False):
        word = word_of(n, index, n.bank(), n.shaft(on=_S.DRIVE_FAULT if spec_on else 0), ShaftState())
        fault.check(bool(word & _C.DRIVE_FAULT) == spec_on, lambda o=spec_on: f"flag {o}")  # type: ignore[misc]
    return [lost.shown(), fault.shown()]


def _selectors(n: Numbers, index: int) -> list[Shown]:
    lim = n.boat.shafts[index]
    grid = Grid("SR-46", "selectors act after they were seen off", "a selector on from before READY orders nothing; "
        "one that was "
                "seen off in READY does")  # fmt: skip
    orders = {
        _S.CHARGE_UNDER_WAY: _C.UNDER_WAY_ORDER,
        _S.CHARGE_AT_REST: _C.AT_REST_ORDER,
        _S.HARVEST: _C.HARVEST_ORDER,
    }
    for selector, order in orders.items():
        for before, seen_off in product((BoatMode.STANDBY, BoatMode.NEUTRAL_WAIT, BoatMode.TRIPPED), (False, True)):
            state = ShaftState()
            sequence = [(int(before), True)] * 3 + ([(2, False)] if seen_off else []) + [(2, True)] * 3
            for mode, on in sequence:
                one = n.shaft(on=selector if on else 0)
                lever = readings.read_lever(lim, one)
                state = shaft_timers(n.lim, lim, state, n.bank(), one, lever, NO_OWN, mode, 0, True, n.tick_s)
            word = word_of(n, index, n.bank(), n.shaft(on=selector), state)
            grid.check(
                bool(word & order) == seen_off,
                lambda s=selector, b=before, o=seen_off: f"{s.name}, from {b.name}, seen off: {o}",  # type: ignore[misc]
            )  # fmt: skip
    return [grid.shown()]


def prove_boat_contacts(n: Numbers) -> list[Shown]:
    """How the boat's word is formed."""
    from supervisor.signals import BOAT_INPUTS

    lost = Grid("SR-03", "each indispensable input", "each input whose reaction is to trip the boat, lost alone, sets "
                "INPUT_LOST; a good set does not")  # fmt: skip
    trips = Grid("SR-03", "trip contacts", "emergency stop, fault flag, receive path and deadlines set their bits")
    contactor = Grid("SR-34", "contactor is proven", "CONTACTOR_CLOSED is set exactly when the contact is known and on")

    def word(bank_in: BoatInputs) -> int:
        return boat_word(n.lim, BoatState(), bank_in, _NO_ORDERS, _NO_LEVERS, _NO_SHAFTS)

    for spec in BOAT_INPUTS:
        mapped = n.config.inputs.get(spec.name)
        named = mapped.reaction if mapped is not None and mapped.reaction is not None else spec.default.name.lower()
        got = word(n.bank(unknown=spec.bit))
        trip = Reaction[named.upper()] == Reaction.TRIP_BOAT
        lost.check(bool(got & BoatCondition.INPUT_LOST) == trip, lambda s=spec: f"{s.name} lost")  # type: ignore[misc]
    contacts = (_B.EMERGENCY_STOP, _B.MONITOR_FAULT, _B.RECEIVE_OK, _B.DEADLINE_OK, _B.CONTACTOR_CLOSED)
    every = sum(int(bit) for bit in contacts)
    for known, on in three_ways(contacts):
        bank_in = n.bank(unknown=every & ~known, on=on, off=every & ~on)
        got = word(bank_in)
        good = bool(got & BoatCondition.EMERGENCY_STOP) == bool(on & _B.EMERGENCY_STOP)
        good = good and bool(got & BoatCondition.MONITOR_FAULT) == bool(on & _B.MONITOR_FAULT)
        sound = bool(on & _B.RECEIVE_OK) and bool(on & _B.DEADLINE_OK)
        good = good and bool(got & BoatCondition.RUNTIME_FAULT) != sound
        trips.check(good, lambda k=known, o=on: f"known {k:#x}, on {o:#x}")  # type: ignore[misc]
        contactor.check(
            bool(got & BoatCondition.CONTACTOR_CLOSED) == bool(on & _B.CONTACTOR_CLOSED),
            lambda o=on: f"on {o:#x}",  # type: ignore[misc]
        )
    return [lost.shown(), trips.shown(), contactor.shown()]
