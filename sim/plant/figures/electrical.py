"""Figures of bank, drive and sun."""

from __future__ import annotations

import math
import random
from typing import Any

from sim.plant.bank import bank_step, ocv, resistance_factor, rested_bank
from sim.plant.boat import idle_inputs, initial_state, run, step
from sim.plant.drive import drive_step, loss, torque_limit
from sim.plant.monitor import charge_limit
from sim.plant.params import BankParams, PlantParams
from sim.plant.schema import PlantConfig
from sim.plant.weather import clear_sky_irradiance, clearness_days, cos_zenith

OURS = "tab:blue"
OTHER = "tab:orange"
REFERENCE = "black"

# BPX example cell LFP (PyPI bpx)
_BPX = ((5, 3.1365), (10, 3.1882), (20, 3.2296), (50, 3.2781), (80, 3.3181), (95, 3.3227), (100, 3.6486))


def _reference_module(name: str) -> Any:
    """A reference library, or None where it is not installed: the figure then shows the model alone."""
    import importlib
    import importlib.util

    if importlib.util.find_spec(name) is None:
        return None
    return importlib.import_module(name)


def bank_ocv(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Open-circuit voltage against the data set it is taken from, another cell, and a set PyBaMM ships."""
    p = params.bank
    axes = figure.subplots(1, 2, width_ratios=(2, 1))
    grid = [0.1 * i for i in range(1011)]
    for ax in axes:
        ax.plot(grid, [ocv(p, s) for s in grid], color=OURS, label="model")
        ax.plot([100 * s for s in p.ocv_soc], p.ocv_v, "o", color=REFERENCE, label="Piecewise-Battery-OCV, C/32")
        ax.plot([s for s, _ in _BPX], [v for _, v in _BPX], "s", mfc="none", color=OTHER, label="BPX example cell")
    pybamm = _reference_module("pybamm")
    if pybamm is not None:
        values = pybamm.ParameterValues("Prada2013")
        x0, x100, y100, y0 = pybamm.lithium_ion.get_min_max_stoichiometries(values)
        socs, volts = [], []
        for soc in range(2, 100):
            x, y = x0 + soc / 100 * (x100 - x0), y0 + soc / 100 * (y100 - y0)
            u = values["Positive electrode OCP [V]"](pybamm.Scalar(y)) - values["Negative electrode OCP [V]"](
                pybamm.Scalar(x)
            )
            socs.append(soc)
            volts.append(float(values.evaluate(u)))
        for ax in axes:
            ax.plot(socs, volts, "--", color="tab:green", label="Prada2013 (PyBaMM)")
    axes[0].set(title="Open-circuit voltage of one LFP cell", xlabel="SOC, %", ylabel="V", ylim=(1.9, 3.8))
    axes[1].set(title="Plateau", xlabel="SOC, %", xlim=(10, 100), ylim=(3.1, 3.45))
    axes[0].legend(loc="lower right")
    for ax in axes:
        ax.grid(alpha=0.3)


def _ideal(p: BankParams) -> BankParams:
    return p._replace(
        weak_capacity_frac=1.0,
        weak_resistance_factor=1.0,
        strong_soc_offset_pct=0.0,
        coulombic_efficiency=1.0,
        balance_a=0.0,
        core_heat_j_k=1e15,
        edge_heat_j_k=1e15,
    )


def _profile(capacity_as: float) -> list[float]:
    """24 h of random current, a node each minute, A into the bank."""
    source = random.Random(7)  # noqa: S311
    current = [0.0]
    soc = 60.0
    for i in range(1, 1441):
        target = current[-1] if i % 8 else source.uniform(-250.0, 250.0)
        if soc > 85.0:
            target = -abs(target)
        if soc < 25.0:
            target = abs(target)
        soc += 50.0 * (target + current[-1]) * 60.0 / capacity_as
        current.append(target)
    return current


def _pybamm_voltage(pybamm: Any, p: BankParams, current: list[float]) -> tuple[Any, Any]:
    import numpy as np

    nodes = np.arange(0.0, 86401.0, 60.0)
    grid = np.linspace(0.0, 1.0, len(p.soc_factor))
    at_25 = resistance_factor(p, 25.0, 50.0)

    def factor(soc: Any) -> Any:
        return at_25 * pybamm.Interpolant(grid, np.array(p.soc_factor), soc, interpolator="linear")

    model = pybamm.equivalent_circuit.Thevenin(options={"number of rc elements": 2})
    values = model.default_parameter_values
    values.update(
        {
            "Initial SoC": 0.60,
            "Cell capacity [A.h]": p.capacity_as / 3600.0,
            "Nominal cell capacity [A.h]": p.capacity_as / 3600.0,
            "Current function [A]": pybamm.Interpolant(nodes, -np.array(current), pybamm.t, interpolator="linear"),
            "Upper voltage cut-off [V]": 5.0,
            "Lower voltage cut-off [V]": 1.0,
            "Open-circuit voltage [V]": lambda soc: pybamm.Interpolant(
                np.array(p.ocv_soc), np.array(p.ocv_v), soc, interpolator="linear"
            ),
            "R0 [Ohm]": lambda t, i, soc: p.r0_ohm * factor(soc),
            "R1 [Ohm]": lambda t, i, soc: p.r1_ohm * factor(soc),
            "C1 [F]": lambda t, i, soc: pybamm.Scalar(p.c1_f),
            "R2 [Ohm]": lambda t, i, soc: p.r2_ohm * factor(soc),
            "C2 [F]": lambda t, i, soc: pybamm.Scalar(p.c2_f),
            "Element-2 initial overpotential [V]": 0.0,
            "Entropic change [V/K]": lambda o, t: pybamm.Scalar(0),
            "RCR lookup limit [A]": 1e9,
            "Cell thermal mass [J/K]": 1e12,
        },
        check_already_exists=False,
    )
    times = np.arange(0.0, 86400.0, 10.0)
    solver = pybamm.IDAKLUSolver(rtol=1e-7, atol=1e-9)
    solution = pybamm.Simulation(model, parameter_values=values, solver=solver).solve(times, t_interp=times)
    return times, solution["Voltage [V]"](times)


def bank_equivalent_circuit(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Cell voltage over 24 h of random current against PyBaMM's two-RC circuit with the same parameters."""
    p = _ideal(params.bank)
    current = _profile(p.capacity_as)
    b = rested_bank(p, 60.0, 25.0)
    hours, volts = [0.0], [b.terminal_v / p.cells]
    for k in range(86390):
        minute, second = divmod(k + 1, 60)
        amps = current[minute] + (current[minute + 1] - current[minute]) * second / 60.0
        b = bank_step(p, b, amps, 1, 1, 25.0, 1.0)
        if (k + 1) % 10 == 0:
            hours.append((k + 1) / 3600.0)
            volts.append(b.terminal_v / p.cells)
    axes = figure.subplots(3, 1, sharex=True, height_ratios=(1, 2, 1))
    axes[0].plot([i / 60.0 for i in range(1441)], current, color="0.4", lw=0.8)
    axes[0].set(ylabel="A into bank", title="Two-RC bank model against PyBaMM, 24 h of random current")
    axes[1].plot(hours, volts, color=OURS, lw=1.2, label="model")
    pybamm = _reference_module("pybamm")
    if pybamm is not None:
        times, reference = _pybamm_voltage(pybamm, p, current)
        axes[1].plot(times / 3600.0, reference, ":", color=REFERENCE, lw=1.2, label="PyBaMM Thevenin, 2 RC")
        error = [1000.0 * (a - float(c)) for a, c in zip(volts, reference, strict=True)]
        rmse = math.sqrt(sum(e * e for e in error) / len(error))
        axes[2].plot(hours, error, color="tab:red", lw=0.6)
        axes[2].set_title(f"difference: {rmse:.3f} mV a cell RMSE (allowed 2 mV)", fontsize=10)
    axes[1].set(ylabel="V a cell")
    axes[1].legend(loc="lower right", fontsize=8)
    axes[2].set(ylabel="mV", xlabel="h", xlim=(0, 24))
    for ax in axes:
        ax.grid(alpha=0.3)


def bank_temperature(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Resistance and charge limit over temperature."""
    left, right = figure.subplots(1, 2)
    temps = [-40.0 + 0.5 * i for i in range(201)]
    left.plot(temps, [resistance_factor(params.bank, t, 50.0) for t in temps], color=OURS, label="model, 50 % SOC")
    left.plot(temps, [resistance_factor(params.bank, t, 5.0) for t in temps], color=OTHER, label="model, 5 % SOC")
    arrhenius = config.bank.activation_k
    points = list(range(-40, 61, 10))
    exact = [math.exp(arrhenius * (1 / (t + 273.15) - 1 / 298.15)) for t in points]
    left.plot(points, exact, "o", color=REFERENCE, label="Arrhenius, E/R 2600 K")
    left.set(title="Resistance, 1 at 25 degC and 50 %", xlabel="cell temperature, degC", ylabel="factor", ylim=(0, 18))
    left.legend()
    right.plot(temps, [charge_limit(params.monitor, 70.0, 3.3, t, t) for t in temps], color=OURS, label="monitor")
    c_rate = config.bank.capacity_ah
    right.axhline(0.2 * c_rate, color=REFERENCE, ls=":", lw=1, label="0.2C, the most below 10 degC")
    right.axvspan(-40, 0, color="tab:red", alpha=0.12, label="no charging (cell data sheets)")
    right.axvspan(45, 60, color="tab:red", alpha=0.12)
    right.set(title="Charge limit of the monitor", xlabel="cell temperature, degC", ylabel="A")
    right.legend(fontsize=8, loc="lower center")
    for ax in (left, right):
        ax.grid(alpha=0.3)


def drive_efficiency(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Efficiency islands of drive with inverter, motoring and generating."""
    p = params.shafts[0].drive
    axes = figure.subplots(1, 2, sharey=True)
    rpms = [20.0 + 15.0 * i for i in range(100)]
    torques = [1.0 + 1.0 * i for i in range(120)]
    for ax, generating in zip(axes, (0, 1), strict=True):
        surface = []
        for t in torques:
            row = []
            for r in rpms:
                w = r * math.pi / 30.0
                lost = loss(p, t, w)
                value = (t * w - lost) / (t * w) if generating else t * w / (t * w + lost)
                row.append(100.0 * value if t <= torque_limit(p, w, generating) else float("nan"))
            surface.append(row)
        levels = [50, 70, 80, 85, 88, 90, 91, 92, 93, 94]
        filled = ax.contourf(rpms, torques, surface, levels=levels, cmap="viridis", extend="both")
        lines = ax.contour(rpms, torques, surface, levels=levels, colors="white", linewidths=0.6)
        ax.clabel(lines, fmt="%d", fontsize=8)
        ax.plot(rpms, [torque_limit(p, r * math.pi / 30.0, generating) for r in rpms], color=REFERENCE, label="limit")
        ax.set(xlabel="shaft speed, rpm", title=("motoring, %", "generating, %")[generating], ylim=(0, 130))
        ax.legend(loc="upper right")
        figure.colorbar(filled, ax=ax)
    axes[0].set_ylabel("torque at the shaft, N m")


def drive_link(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Precharge against the exponential, and a load dump."""
    left, right = figure.subplots(1, 2)
    p = params.shafts[0].drive
    d = initial_state(params).shafts[0].drive
    times, volts = [0.0], [0.0]
    for k in range(1000):
        d = drive_step(p, d, 0.0, 0, 1, 0, 0.0, 51.2, 15.0, 0.001)
        times.append((k + 1) * 0.001)
        volts.append(d.link_v)
    left.plot(times, volts, color=OURS, label="model")
    marks = [0.05 * i for i in range(13)]
    exact = [51.2 * (1 - math.exp(-t / 0.2)) for t in marks]
    left.plot(marks, exact, "o", color=REFERENCE, ms=4, label="exact, tau 0.2 s")
    left.axhline(0.95 * 51.2, color="0.6", lw=0.8, ls="--", label="relay closes")
    left.set(title="Precharge, 10 mF through 20 ohm", xlabel="s", ylabel="link, V")
    left.legend(loc="lower right")
    idle = idle_inputs(params)
    start = idle.shafts[0]._replace(engine_start=1)
    ready = idle.shafts[0]._replace(precharge=1, hard_enable=1, gear_order=1, throttle_frac=0.4)
    load = ready._replace(drive_enable=1, torque_order_nm=-60.0)
    n = len(params.shafts)
    for tick, style in ((0.001, "-"), (0.02, "o-")):
        state = run(params, initial_state(params), idle._replace(shafts=(start,) * n), 2.5)
        state = run(params, state, idle._replace(shafts=(ready,) * n), 15.0)
        state = run(params, state, idle._replace(shafts=(load,) * n), 3.0)
        times, volts = [], []
        for k in range(round(0.4 / tick)):
            switch = 1 if k * tick < 0.1 else 0
            state = step(params, state, idle._replace(shafts=(load,) * n, contactor_switch=switch), tick)
            times.append((k + 1) * tick)
            volts.append(state.shafts[0].drive.link_v)
        right.plot(times, volts, style, ms=4, lw=1.2, label=f"tick {1000 * tick:.0f} ms")
    right.axhline(config.shaft[0].drive.over_voltage_v, color="tab:red", ls="--", lw=0.8, label="drive trips itself")
    right.set(title="Load dump: contactor opens at 0.1 s", xlabel="s", ylabel="link, V")
    right.legend(fontsize=8)
    for ax in (left, right):
        ax.grid(alpha=0.3)


def solar_clear_day(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Clear days at two latitudes against pvlib, and a month of clearness."""
    axes = figure.subplots(1, 3)
    pvlib = _reference_module("pvlib")
    hours = [0.25 * i for i in range(96)]
    places = (("58.5 N", 58.5, 11.0), ("36.8 N", 36.8, -5.3))
    days = ((172, "2025-06-21", "tab:red"), (79, "2025-03-20", "tab:green"), (344, "2025-12-10", OURS))
    for ax, (name, latitude, longitude) in zip(axes, places, strict=False):
        for day, date, colour in days:
            ours = [clear_sky_irradiance(cos_zenith(latitude, longitude, day, h), day) for h in hours]
            ax.plot(hours, ours, color=colour, label=date)
            if pvlib is not None:
                times = _times(date)
                place = pvlib.location.Location(latitude, longitude, altitude=0.0)
                sky = place.get_clearsky(times, model="ineichen", linke_turbidity=3.0)["ghi"]
                ax.plot(hours[::4], list(sky)[::4], "o", ms=3, color=REFERENCE)
        ax.set(title=f"clear day at {name}", xlabel="UTC, h", ylabel="W/m2, horizontal", ylim=(0, 1100))
        ax.plot([], [], "o", ms=3, color=REFERENCE, label="pvlib, Ineichen")
        ax.grid(alpha=0.3)
    axes[0].legend(fontsize=8, loc="upper left")
    axes[2].bar(range(1, 31), clearness_days(3, 30), color="goldenrod")
    axes[2].set(title="clearness, seed 3", xlabel="day", ylabel="share of clear sky", ylim=(0, 1.05))


def _times(date: str) -> Any:
    pd = _reference_module("pandas")  # comes with pvlib

    return pd.date_range(date, periods=96, freq="15min", tz="UTC")
