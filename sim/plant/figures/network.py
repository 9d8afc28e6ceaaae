"""Figures of cables, falling voltage, inrush, parallel packs, and the starter battery."""

from __future__ import annotations

import math
from typing import Any

from sim.plant.boat import idle_inputs, initial_state, run, step
from sim.plant.circuit import cable_ohm
from sim.plant.drive import torque_limit
from sim.plant.figures.electrical import OTHER, OURS, REFERENCE
from sim.plant.params import PlantParams
from sim.plant.schema import PlantConfig
from sim.plant.starter import rest_v
from sim.plant.state import PlantInputs, PlantState

# IEC 60228, class 5, largest resistance at 20 degC, ohm/km (from memory)
_IEC_60228 = ((16, 1.21), (25, 0.780), (35, 0.554), (50, 0.386), (70, 0.272), (95, 0.206), (120, 0.161))


def _all(params: PlantParams, **orders: Any) -> PlantInputs:
    idle = idle_inputs(params)
    return idle._replace(shafts=(idle.shafts[0]._replace(**orders),) * len(params.shafts))


def cables(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Resistance by section against published conductors, and the voltages between bank and drive."""
    left, right = figure.subplots(1, 2)
    sections = [10.0 + i for i in range(120)]
    left.loglog(sections, [cable_ohm(500.0, s, 20.0) for s in sections], color=OURS, label="model, 20 degC")
    left.loglog(
        [s for s, _ in _IEC_60228], [r for _, r in _IEC_60228], "o", color=REFERENCE, label="IEC 60228, class 5"
    )
    left.set(title="Copper cable, 1 km of conductor", xlabel="section, mm2", ylabel="ohm")
    torques, bank, bus, link = [], [], [], []
    for torque in range(0, 101, 10):
        state = run(params, initial_state(params), _all(params, precharge=1, hard_enable=1), 1.0)
        orders = {"precharge": 1, "hard_enable": 1, "drive_enable": 1, "torque_order_nm": float(torque)}
        state = run(params, state, _all(params, **orders), 20.0)
        torques.append(torque)
        bank.append(state.bank.terminal_v)
        bus.append(state.bus.bus_v)
        link.append(state.shafts[0].drive.link_v)
    right.plot(torques, bank, "o-", color=REFERENCE, ms=4, label="bank terminals")
    right.plot(torques, bus, "s-", color=OTHER, ms=4, label="bus bar")
    right.plot(torques, link, "^-", color=OURS, ms=4, label="drive")
    right.set(title="After 20 s of thrust on both shafts", xlabel="torque of each, N m", ylabel="V")
    for ax in (left, right):
        ax.legend()
        ax.grid(alpha=0.3, which="both")


def falling_voltage(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Torque limit over speed at several link voltages, and the most power over the voltage."""
    left, right = figure.subplots(1, 2)
    p = params.shafts[0].drive
    rpms = [10.0 * i for i in range(1, 161)]
    for volts, style in ((52.0, "-"), (46.0, "--"), (42.0, "-."), (38.0, ":")):
        limits = [torque_limit(p, r * math.pi / 30.0, 0, volts) for r in rpms]
        left.plot(rpms, limits, style, color=OURS, label=f"{volts:g} V")
    left.set(title="Torque limit, motoring", xlabel="shaft speed, rpm", ylabel="N m")
    grid = [36.0 + 0.25 * i for i in range(81)]

    def most_kw(volts: float) -> float:
        return max(torque_limit(p, r * math.pi / 30.0, 0, volts) * r * math.pi / 30.0 for r in rpms) / 1000.0

    right.plot(grid, [most_kw(v) for v in grid], color=OURS, label="model")
    right.plot(
        [40.0, 43.0], [8.5 * 40.0 / 46.0, 8.5 * 43.0 / 46.0], "o", color=REFERENCE, label="in proportion, by hand"
    )
    right.axvline(config.shaft[0].drive.full_power_v, color="0.6", lw=0.8, ls="--", label="full_power_v")
    right.set(title="Most power at the shaft", xlabel="link, V", ylabel="kW", ylim=(0, 10))
    for ax in (left, right):
        ax.legend()
        ax.grid(alpha=0.3)


def blackout(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """A contactor that opens under thrust and closes again, in ticks of 20 ms and in fine steps."""
    left, right = figure.subplots(1, 2)
    live = _all(params, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=60.0)
    state = run(params, initial_state(params), _all(params, precharge=1, hard_enable=1), 1.0)
    began = run(params, state, live, 3.0)
    peaks = []
    for tick, style, colour in ((0.00005, "-", REFERENCE), (0.02, "o", OURS)):
        state, times, volts = began, [], []
        for k in range(round(0.12 / tick)):
            state = step(params, state, live._replace(contactor_switch=0), tick)
            times.append((k + 1) * tick * 1000.0)
            volts.append(state.bus.bus_v)
        label = "steps of 50 us" if tick < 0.001 else "ticks of 20 ms"
        left.plot(times, volts, style, ms=5, lw=1.2, color=colour, label=label)
        state = run(params, state, live, 1.0, max(tick, 0.001))
        peaks.append(state.bus.inrush_a)
    left.axhline(
        config.shaft[0].drive.under_voltage_v, color="tab:red", lw=0.8, ls="--", label="drives trip themselves"
    )
    left.set(title="Bank gone at 0 ms, 60 N m on both shafts", xlabel="ms", ylabel="bus, V")
    sizes = [5.0 * i for i in range(1, 11)]
    ohm = began.bank.resistance_ohm + params.supply.bank_cable_ohm
    right.plot(sizes, [v / ohm / 1000.0 for v in sizes], color=OURS, label="dV over bank and its cable")
    right.plot(
        began.bank.emf_v - state_v(params, began, live), peaks[1] / 1000.0, "o", color=REFERENCE, label="this run"
    )
    right.set(title="Inrush when the contactor closes", xlabel="bus below the bank, V", ylabel="kA, at its beginning")
    for ax in (left, right):
        ax.legend()
        ax.grid(alpha=0.3)


def state_v(params: PlantParams, began: PlantState, live: PlantInputs) -> float:
    """Bus voltage 0.12 s after the bank went, V, as the contactor's own delay leaves it."""
    gone = run(params, began, live._replace(contactor_switch=0), 0.12)
    now = gone
    while now.bank.contactor_closed == 0:
        gone, now = now, step(params, now, live, 0.02)
    return gone.bus.bus_v


def packs(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Half the bank drops out for 20 minutes under a steady load and is put back."""
    left, right = figure.subplots(1, 2)
    state = initial_state(params, 30.0)
    minutes, stay, others, flow, rest = [], [], [], [], []
    for k in range(5400):
        out = 1 if 600 <= k < 1800 else 0
        inputs = idle_inputs(params)._replace(hotel_load_w=6000.0, packs_out=out)
        state = run(params, state, inputs, 1.0, 0.05)
        if k % 10 == 0:
            minutes.append(k / 60.0)
            stay.append(state.bank.soc_pct)
            others.append(state.packs.others.soc_pct if state.packs.share < 1.0 else state.bank.soc_pct)
            flow.append(state.packs.current_a if state.packs.share < 1.0 else 0.5 * state.bank.current_a)
            rest.append(state.bank.current_a - flow[-1])
    left.plot(minutes, stay, color=OURS, label="packs that stay")
    left.plot(minutes, others, "--", color=OTHER, label="packs that drop out")
    left.set(title="6 kW; half the bank out from 10 to 30 min", xlabel="min", ylabel="SOC, %")
    right.plot(minutes, flow, "--", color=OTHER, label="packs that drop out")
    right.plot(minutes, rest, color=OURS, label="packs that stay")
    right.set(title="Share of the current, into the packs", xlabel="min", ylabel="A")
    for ax in (left, right):
        ax.axvspan(10, 30, color="0.9")
        ax.legend()
        ax.grid(alpha=0.3)


def starter(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Cranking on batteries of several states of charge; rest voltages."""
    left, middle, right = figure.subplots(1, 3)
    p = params.shafts[0].engine.starter
    for soc, style in ((100.0, "-"), (40.0, "--"), (10.0, "-."), (2.0, ":")):
        state = initial_state(params)
        shafts = tuple(
            s._replace(engine=s.engine._replace(starter=s.engine.starter._replace(soc_pct=soc))) for s in state.shafts
        )
        state = state._replace(shafts=shafts)
        times, rpm, volts = [], [], []
        for k in range(150):
            state = step(params, state, _all(params, engine_start=1), 0.02)
            times.append(0.02 * (k + 1))
            rpm.append(state.shafts[0].engine.speed_rpm)
            volts.append(state.shafts[0].engine.starter.battery_v)
        left.plot(times, rpm, style, color=OURS, label=f"{soc:g} %")
        middle.plot(times, volts, style, color=OURS, label=f"{soc:g} %")
    left.axhline(params.shafts[0].engine.fire_rpm, color="tab:red", lw=0.8, ls="--", label="can fire")
    left.set(title="Engine, starting at 20 degC", xlabel="s", ylabel="rpm")
    middle.set(title="Starter battery", xlabel="s", ylabel="V")
    grid = [float(i) for i in range(101)]
    right.plot(grid, [rest_v(p, s) for s in grid], color=OURS, label="model")
    marks = ((0.0, 1.12), (50.0, 1.20), (100.0, 1.28))
    right.plot(
        [s for s, _ in marks], [6 * (d + 0.84) for _, d in marks], "o", color=REFERENCE, label="density + 0.84 V"
    )
    right.set(title="At rest", xlabel="state of charge, %", ylabel="V")
    for ax in (left, middle, right):
        ax.legend(fontsize=8)
        ax.grid(alpha=0.3)
