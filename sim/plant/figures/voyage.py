"""Figures of the whole boat: free running, harvest, manoeuvres, tick size."""

from __future__ import annotations

import math
from typing import Any

from sim.plant.boat import KNOTS_PER_MS, idle_inputs, initial_state, run, step
from sim.plant.params import PlantParams
from sim.plant.schema import PlantConfig
from sim.plant.state import PlantInputs, PlantState
from sim.plant.steady import best_harvest, bisect, free_wheel_rpm, harvest_at, harvest_with_law, running_at_speed


def _orders(params: PlantParams, **command: Any) -> PlantInputs:
    idle = idle_inputs(params)
    return idle._replace(shafts=(idle.shafts[0]._replace(**command),) * len(params.shafts))


def free_running(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Power and propeller speed over boat speed, and the exponent of the propeller law."""
    left, right = figure.subplots(1, 2)
    knots = [2.0 + 0.1 * i for i in range(81)]
    runs = [running_at_speed(params, k / KNOTS_PER_MS) for k in knots]
    left.plot(knots, [r.shaft_power_w / 1000.0 for r in runs], label="each propeller")
    machine, engine = config.shaft[0].drive, config.shaft[0].engine
    points = zip(engine.torque_rpm, engine.torque_nm, strict=True)
    engine_kw = max(rpm * nm for rpm, nm in points if rpm <= engine.rated_rpm) * math.pi / 30.0 / 1000.0
    left_kw = engine_kw * (1.0 - config.shaft[0].gearbox.loss_pct / 100.0)
    for power, word in (
        (machine.motor_power_kw, f"{machine.motor_power_kw:g} kW drive"),
        (left_kw, "diesel, less gearbox losses"),
    ):
        left.axhline(power, color="black", lw=0.8, ls=":")
        left.text(2.1, power + 0.6, word, fontsize=8)
    left.set(title="Shaft power, both shafts running", xlabel="kn", ylabel="kW a shaft", ylim=(0, 50), xlim=(2, 10))
    left.legend()
    exponents = []
    for a, b in zip(runs, runs[5:], strict=False):
        exponents.append(math.log(b.shaft_power_w / a.shaft_power_w) / math.log(b.propeller_rpm / a.propeller_rpm))
    right.plot([k + 0.25 for k in knots[: len(exponents)]], exponents, label="model")
    right.axhline(3.0, color="black", ls=":", label="propeller law, cube")
    right.set(title="Exponent of power over shaft speed", xlabel="kn", ylim=(2.5, 5.0))
    right.legend()
    for ax in (left, right):
        ax.grid(alpha=0.3)


HALF = 0.5
"""The gentle law of harvest gives this part of the most at 7 kn."""


def harvest(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """DC power over shaft speed at several boat speeds, and over boat speed by the best torque and by one law."""
    shaft = params.shafts[0]
    left, right = figure.subplots(1, 2)
    for knots in (5.0, 6.0, 7.0, 8.0):
        top = free_wheel_rpm(params, shaft, knots / KNOTS_PER_MS)
        points = [harvest_at(params, shaft, knots / KNOTS_PER_MS, top * i / 60.0) for i in range(6, 61)]
        left.plot([h.propeller_rpm for h in points], [h.dc_power_w for h in points], label=f"{knots:.0f} kn")
    left.set(title="Harvest of one shaft, into the bank", xlabel="propeller rpm", ylabel="W", ylim=(-100, 1100))
    left.legend()
    speeds = [3.0 + 0.1 * i for i in range(61)]
    best = [best_harvest(params, shaft, k / KNOTS_PER_MS) for k in speeds]
    at_seven = best_harvest(params, shaft, 7.0 / KNOTS_PER_MS)
    most = -at_seven.drive_torque_nm / (at_seven.propeller_rpm * math.pi / 30.0) ** 2
    law = bisect(
        lambda k: harvest_with_law(params, shaft, 7.0 / KNOTS_PER_MS, k).dc_power_w - HALF * at_seven.dc_power_w,
        0.0,
        most,
    )
    gentle = [harvest_with_law(params, shaft, k / KNOTS_PER_MS, law) for k in speeds]
    right.plot(speeds, [h.dc_power_w for h in best], color="tab:orange", label="most the propeller gives")
    right.plot(speeds, [h.dc_power_w for h in gentle], color="tab:blue", label="one torque law, half of that at 7 kn")
    diameter = config.shaft[0].propeller.diameter_m
    ceiling = 16.0 / 27.0 * 0.5 * config.hull.water_density_kg_m3 * math.pi / 4.0 * diameter**2
    right.plot(speeds, [ceiling * (k / KNOTS_PER_MS) ** 3 for k in speeds], "--", color="0.5", label="16/27 ceiling")
    right.set(title="Harvest over boat speed", xlabel="kn", ylabel="W a shaft", ylim=(0, None))
    right.legend(fontsize=8)
    for ax in (left, right):
        ax.grid(alpha=0.3)


def _trace(params: PlantParams, state: PlantState, inputs: PlantInputs, seconds: float) -> list[PlantState]:
    states = [state]
    for _ in range(round(seconds / 0.02)):
        state = step(params, state, inputs, 0.02)
        states.append(state)
    return states


def manoeuvres(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Start, idle, ahead; crash stop; the fitted drive loaded onto a weak engine at idle until it stalls."""
    upper, lower = figure.subplots(2, 3, sharex="col")
    states = _trace(params, initial_state(params), _orders(params, engine_start=1), 1.6)
    states += _trace(params, states[-1], _orders(params), 2.0)
    states += _trace(params, states[-1], _orders(params, gear_order=1), 4.0)
    times = [s.time_s for s in states]
    upper[0].plot(times, [s.shafts[0].engine.speed_rpm for s in states], label="engine")
    upper[0].plot(times, [s.shafts[0].line.propeller_rpm for s in states], label="propeller")
    upper[0].set(title="crank, fire, idle, gear ahead", ylabel="rpm")
    lower[0].plot(times, [s.shafts[0].engine.torque_nm for s in states], label="engine")
    lower[0].set(xlabel="s", ylabel="N m")
    running = run(params, states[-1], _orders(params, gear_order=1, throttle_frac=0.5), 120.0, 0.05)
    stop = _trace(params, running, _orders(params, gear_order=-1, throttle_frac=0.6), 25.0)
    times = [s.time_s - stop[0].time_s for s in stop]
    upper[1].plot(times, [s.boat_speed_kn for s in stop], label="boat")
    upper[1].set(title="crash stop", ylabel="kn")
    lower[1].plot(times, [s.shafts[0].line.propeller_thrust_n / 1000.0 for s in stop], label="thrust of a shaft")
    lower[1].set(xlabel="s", ylabel="kN")
    idle = run(params, states[-1], _orders(params, gear_order=1, precharge=1, hard_enable=1), 5.0)
    most_nm = params.shafts[0].drive.max_torque_nm
    over = _orders(
        params, gear_order=1, precharge=1, hard_enable=1, drive_enable=1, torque_order_nm=-most_nm, engine_frac=0.4
    )
    stall = _trace(params, idle, over, 2.0)
    start = stall[0].time_s
    times = [s.time_s - start for s in stall]
    upper[2].plot(times, [s.shafts[0].engine.speed_rpm for s in stall], label="engine")
    upper[2].set(title="drive on a 40 % engine", ylabel="rpm")
    lower[2].plot(times, [-s.shafts[0].drive.torque_nm for s in stall], label="charging torque")
    lower[2].set(xlabel="s", ylabel="N m")
    dead = [s.time_s - start for s in stall if s.shafts[0].engine.stalled == 1]
    for ax in (upper[2], lower[2]):
        if dead:
            ax.axvline(dead[0], color="tab:red", lw=0.8, label="stalled")
    for ax in (*upper, *lower):
        ax.axhline(0.0, color="0.5", lw=0.6)
        ax.grid(alpha=0.3)
        ax.legend(fontsize=8)


def tick_size(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """The same start and charge with ticks of 1, 20 and 50 ms."""
    left, right = figure.subplots(1, 2)
    for tick, style in ((0.001, "-"), (0.02, "--"), (0.05, ":")):
        state = initial_state(params)
        times, rpm, amps = [], [], []
        for inputs, seconds in (
            (_orders(params, engine_start=1, precharge=1, hard_enable=1), 1.6),
            (_orders(params, precharge=1, hard_enable=1), 1.4),
            (_orders(params, gear_order=1, throttle_frac=0.3, precharge=1, hard_enable=1), 5.0),
            (
                _orders(
                    params,
                    gear_order=1,
                    throttle_frac=0.3,
                    precharge=1,
                    hard_enable=1,
                    drive_enable=1,
                    torque_order_nm=-50.0,
                ),
                2.0,
            ),
        ):
            for _ in range(round(seconds / tick)):
                state = step(params, state, inputs, tick)
                times.append(state.time_s)
                rpm.append(state.shafts[0].engine.speed_rpm)
                amps.append(state.bank.current_a)
        left.plot(times, rpm, style, label=f"{1000 * tick:.0f} ms")
        right.plot(times, amps, style, label=f"{1000 * tick:.0f} ms")
    left.set(title="engine speed", xlabel="s", ylabel="rpm")
    right.set(title="bank current", xlabel="s", ylabel="A into the bank", xlim=(7, 10))
    for ax in (left, right):
        ax.grid(alpha=0.3)
        ax.legend(title="tick")
