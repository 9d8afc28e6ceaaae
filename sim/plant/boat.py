"""The whole boat: one step over bank, monitor, bus, shafts and hull."""

from __future__ import annotations

from collections.abc import Callable

from sim.plant.bank import bank_step, rested_bank
from sim.plant.circuit import peak_a
from sim.plant.drive import rectified_v
from sim.plant.engine import RAD_S_PER_RPM
from sim.plant.hull import hull_step
from sim.plant.monitor import monitor_step, rested_monitor
from sim.plant.packs import all_alike, connected, count_step_pct, into_others, seen_whole, switched
from sim.plant.params import BankParams, EngineParams, PlantParams, ShaftParams
from sim.plant.shaftline import shaft_step
from sim.plant.starter import full_battery
from sim.plant.state import (
    BankState,
    BusState,
    DriveState,
    EngineState,
    GearboxState,
    LineState,
    PacksState,
    PlantInputs,
    PlantShaft,
    PlantState,
    ShaftOrders,
)
from sim.plant.supply import open_bus_voltage, sources_step

KNOTS_PER_MS = 1.9438444924406046
MAX_SHAFTS = 4

BANK_GONE_STEP_S = 0.0001
"""Longest step while the contactor is open and a drive still works on the bus: its capacitors last some milliseconds,
and where the drives trip on their way decides what is left."""

Step = Callable[[PlantParams, PlantState, PlantInputs, float], PlantState]
BankStep = Callable[[BankParams, BankState, float, int, int, float, float], BankState]
ShaftStep = Callable[[ShaftParams, PlantShaft, ShaftOrders, float, float, float, float, float], PlantShaft]


def driven(state: PlantState) -> bool:
    """Whether a drive has its gates on, or torque left."""
    for shaft in state.shafts:  # noqa: SIM110 - numba compiles no generator
        if shaft.drive.enabled == 1 or shaft.drive.active_torque_nm != 0.0:
            return True
    return False


def make_step(shafts: int, bank_model: BankStep = bank_step, shaft_model: ShaftStep = shaft_step) -> Step:
    """A step function for a boat with `shafts` shafts (1 to 4), with models of your own if you pass them.

    `bank_model` needs the signature of :func:`sim.plant.bank.bank_step`, `shaft_model` that of
    :func:`sim.plant.shaftline.shaft_step`. Raises ValueError for another number of shafts.
    """

    def advance(params: PlantParams, state: PlantState, inputs: PlantInputs, index: int, dt_s: float) -> PlantShaft:
        speed = state.boat_speed_ms
        if speed > 0.0:
            speed = speed * (1.0 - params.hull.wake_frac)
        return shaft_model(
            params.shafts[index],
            state.shafts[index],
            inputs.shafts[index],
            state.bus.bus_v,
            speed,
            inputs.external_ambient_c,
            inputs.water_c,
            dt_s,
        )

    def finish(
        params: PlantParams, state: PlantState, inputs: PlantInputs, moved: tuple[PlantShaft, ...], dt_s: float
    ) -> PlantState:
        bank = state.bank
        packs = state.packs
        on_bus = 1.0
        jump_pct = 0.0
        if inputs.packs_out > 0 or packs.share < 1.0:
            packs = switched(params.bank, state.packs, bank, inputs.packs_out)
            on_bus = connected(packs)
            jump_pct = count_step_pct(state.packs, packs, bank)
        monitor = monitor_step(params.monitor, state.monitor, bank, dt_s, inputs.monitor_fault, on_bus, jump_pct)
        closed = 0
        if monitor.contactor_order == 1 and inputs.contactor_switch == 1:
            closed = 1
        bus = sources_step(
            params.supply,
            state.bus,
            inputs.hotel_load_w,
            inputs.irradiance_w_m2,
            inputs.shore_charge_a,
            inputs.other_charge_stop,
            closed,
            inputs.external_ambient_c,
            dt_s,
        )
        thrust = 0.0
        current = bus.solar_current_a + bus.shore_current_a - bus.hotel_current_a
        for shaft in moved:
            thrust = thrust + shaft.line.propeller_thrust_n
            current = current + shaft.drive.current_a
        bank_a = 0.0
        inrush = bus.inrush_a
        if closed == 1:
            bank_a = current
            if bank.contactor_closed == 0:
                # the contactor closes: capacitors of the bus, and links that still hang on it, come to its voltage
                bus_f = params.supply.bus_capacitance_f
                for i in range(len(moved)):
                    if moved[i].drive.relay_closed == 1:
                        bus_f = bus_f + params.shafts[i].drive.link_f
                step_v = bank.emf_v - bus.bus_v
                bank_a = bank_a - bus_f * step_v / dt_s
                rush = peak_a(step_v, bank.resistance_ohm / on_bus + params.supply.bank_cable_ohm)
                if rush > inrush:
                    inrush = rush
        ambient_c = inputs.external_ambient_c
        others_a = 0.0
        if packs.share < 1.0:
            if closed == 1:
                others_a = into_others(packs, bank, bank_a)
            share = packs.share
            before = packs.others
            others = bank_model(
                params.bank, before, others_a / (1.0 - share), closed, inputs.contactor_switch, ambient_c, dt_s
            )
            heat_wh = (others.heat_wh - before.heat_wh) * (1.0 - share)
            most_a = packs.peak_a
            if abs(others_a) > most_a:
                most_a = abs(others_a)
            packs = PacksState(share, packs.joined, others_a, most_a, others)
            main = bank_model(
                params.bank, bank, (bank_a - others_a) / share, closed, inputs.contactor_switch, ambient_c, dt_s
            )
            bank = seen_whole(bank, main, share, bank_a, heat_wh, dt_s)
        else:
            bank = bank_model(params.bank, bank, bank_a, closed, inputs.contactor_switch, ambient_c, dt_s)
        if closed == 1:
            bus_v = bank.terminal_v + bank_a * params.supply.bank_cable_ohm
        else:
            link_f = 0.0
            trip_v = 1.0e9
            diodes_s = 0.0
            diodes_a = 0.0
            for i in range(len(moved)):
                drive = params.shafts[i].drive
                if moved[i].drive.relay_closed == 1:
                    link_f = link_f + drive.link_f
                    # what the diodes feed goes by the voltage at the end of the step, not by that of its start
                    emf_v = rectified_v(drive, moved[i].line.drive_rpm * RAD_S_PER_RPM)
                    if moved[i].drive.rectifying == 1 and emf_v > 0.0:
                        diodes_s = diodes_s + 1.0 / (drive.rectifier_ohm + drive.cable_ohm)
                        diodes_a = diodes_a + emf_v / (drive.rectifier_ohm + drive.cable_ohm)
                        current = current - moved[i].drive.rectified_a
                if drive.over_voltage_v < trip_v:
                    trip_v = drive.over_voltage_v
            diodes_v = 0.0
            if diodes_s > 0.0:
                diodes_v = diodes_a / diodes_s
            bus_v = open_bus_voltage(params.supply, bus.bus_v, current, link_f, trip_v, diodes_s, diodes_v, dt_s)
        peak = bus.peak_v
        if bus_v > peak:
            peak = bus_v
        speed = hull_step(params.hull, state.boat_speed_ms, thrust, inputs.sail_force_n, dt_s)
        return PlantState(
            state.time_s + dt_s,
            speed,
            speed * KNOTS_PER_MS,
            state.distance_m + speed * dt_s,
            bank,
            monitor,
            BusState(
                bus_v,
                peak,
                bus.hotel_current_a,
                bus.solar_current_a,
                bus.shore_current_a,
                bus.solar_available_w,
                inrush,
            ),
            moved,
            packs,
        )

    # one function for each number of shafts: a compiled step needs the length of the tuple spelled out
    def once_1(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
        return finish(params, state, inputs, (advance(params, state, inputs, 0, dt_s),), dt_s)

    def once_2(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
        moved = (advance(params, state, inputs, 0, dt_s), advance(params, state, inputs, 1, dt_s))
        return finish(params, state, inputs, moved, dt_s)

    def once_3(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
        moved = (
            advance(params, state, inputs, 0, dt_s),
            advance(params, state, inputs, 1, dt_s),
            advance(params, state, inputs, 2, dt_s),
        )
        return finish(params, state, inputs, moved, dt_s)

    def once_4(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
        moved = (
            advance(params, state, inputs, 0, dt_s),
            advance(params, state, inputs, 1, dt_s),
            advance(params, state, inputs, 2, dt_s),
            advance(params, state, inputs, 3, dt_s),
        )
        return finish(params, state, inputs, moved, dt_s)

    if shafts == 1:
        once = once_1
    elif shafts == 2:
        once = once_2
    elif shafts == 3:
        once = once_3
    elif shafts == MAX_SHAFTS:
        once = once_4
    else:
        raise ValueError(f"a boat has 1 to {MAX_SHAFTS} shafts, not {shafts}")

    def whole(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
        after = once(params, state, inputs, dt_s)
        if dt_s > BANK_GONE_STEP_S and after.bank.contactor_closed == 0 and driven(state):
            parts = int(dt_s / BANK_GONE_STEP_S + 0.5)
            h = dt_s / parts
            after = once(params, state, inputs, h)
            for _ in range(parts - 1):
                after = once(params, after, inputs, h)
        return after

    return whole


_STEPS = (make_step(1), make_step(2), make_step(3), make_step(4))


def step(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float) -> PlantState:
    """State of the plant `dt_s` seconds (0.001 to 0.05) later; pure, and never raises for inputs in range.

    Within the step: shafts (each drive, engine, gearbox, clutch, lock, propeller) at the bus voltage and boat speed of
    its start, then monitor and contactor, sources, bank, bus, hull.
    """
    return _STEPS[len(params.shafts) - 1](params, state, inputs, dt_s)


def idle_inputs(params: PlantParams) -> PlantInputs:
    """Inputs that ask for nothing: contactor switch on, everything else off, still water at 15 degC, air at 20 degC."""
    return PlantInputs(tuple(ShaftOrders() for _ in params.shafts))


def _still_shaft(engine: EngineParams, temperature_c: float) -> PlantShaft:
    return PlantShaft(
        EngineState(0.0, 0, 0, 0, 0.0, 0.0, 0.0, 0.0, 0.0, temperature_c, full_battery(engine.starter)),
        GearboxState(0, 0, 0, 0.0, 0.0),
        DriveState(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0, 0, 0, 0, temperature_c, temperature_c, temperature_c),
        LineState(0.0, 0.0, 1, 1.0, 0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0),
    )


def initial_state(params: PlantParams, soc_pct: float = 70.0, temperature_c: float = 20.0) -> PlantState:
    """A boat at rest: contactor closed, links empty, engines stopped, gear neutral, clutches closed, locks released."""
    bank = rested_bank(params.bank, soc_pct, temperature_c)
    return PlantState(
        0.0,
        0.0,
        0.0,
        0.0,
        bank,
        rested_monitor(params.monitor, bank),
        BusState(bank.terminal_v, bank.terminal_v, 0.0, 0.0, 0.0, 0.0, 0.0),
        tuple(_still_shaft(shaft.engine, temperature_c) for shaft in params.shafts),
        all_alike(bank),
    )


def with_soc(params: PlantParams, state: PlantState, soc_pct: float) -> PlantState:
    """The same state with the bank, rested, at another SOC (percent) and the monitor counting right."""
    old = state.bank
    bank = rested_bank(params.bank, soc_pct, old.core_c)._replace(
        core_c=old.core_c, edge_c=old.edge_c, contactor_closed=old.contactor_closed, isolator_on=old.isolator_on,
        charged_ah=old.charged_ah, discharged_ah=old.discharged_ah,
        charged_wh=old.charged_wh, discharged_wh=old.discharged_wh, heat_wh=old.heat_wh,
    )  # fmt: skip
    bus = state.bus
    if bank.contactor_closed == 1:
        bus = bus._replace(bus_v=bank.terminal_v)
    packs = state.packs._replace(others=bank)
    return state._replace(bank=bank, monitor=rested_monitor(params.monitor, bank), bus=bus, packs=packs)


def with_temperature(params: PlantParams, state: PlantState, temperature_c: float) -> PlantState:
    """The same state with every cell at another temperature (degC); the rest of the boat keeps its own."""
    old = state.bank
    warm = rested_bank(params.bank, old.soc_pct, temperature_c)
    bank = old._replace(core_c=temperature_c, edge_c=temperature_c, resistance_ohm=warm.resistance_ohm)
    others = state.packs.others
    cold = rested_bank(params.bank, others.soc_pct, temperature_c)
    others = others._replace(core_c=temperature_c, edge_c=temperature_c, resistance_ohm=cold.resistance_ohm)
    return state._replace(bank=bank, packs=state.packs._replace(others=others))


def run(
    params: PlantParams, state: PlantState, inputs: PlantInputs, duration_s: float, tick_s: float = 0.02
) -> PlantState:
    """State after `duration_s` seconds of constant inputs, in ticks of `tick_s` (0.001 to 0.05)."""
    for _ in range(round(duration_s / tick_s)):
        state = step(params, state, inputs, tick_s)
    return state
