"""Figures of engine, propeller and hull."""

from __future__ import annotations

import math
from typing import Any

from sim.plant.building import hull_form
from sim.plant.engine import engine_finish, engine_torque, friction_torque, full_load_torque
from sim.plant.four_quadrant_data import FOUR_QUADRANT_B4_70, Harmonic
from sim.plant.hull import HullForm, friction_resistance, residuary_resistance
from sim.plant.params import EngineParams, PlantParams
from sim.plant.propeller import open_water, propeller_load
from sim.plant.schema import PlantConfig
from sim.plant.starter import full_battery
from sim.plant.state import EngineState

RAD = math.pi / 30.0
KNOT = 1852.0 / 3600.0

# Sysser 01, measured: Froude number, residuary resistance per weight x 1000 (UCI yacht hydrodynamics data set)
_SYSSER_01 = HullForm(
    1.6, 0.5072, 0.12704, 0.0376136, 0.558566, 0.5644, 0.6464, 0.53664, 0.55328, 0.0, 0.0, 0.0, 1000.0
)
_SYSSER_01_MEASURED = (
    (0.125, 0.11),
    (0.15, 0.27),
    (0.175, 0.47),
    (0.20, 0.78),
    (0.225, 1.18),
    (0.25, 1.82),
    (0.30, 3.76),
    (0.35, 7.16),
    (0.40, 20.11),
    (0.45, 49.49),
)


def _held(p: EngineParams, throttle: float, load_nm: float) -> EngineState:
    """The warm engine on a brake, settled."""
    e = EngineState(
        p.idle_rpm + (p.rated_rpm - p.idle_rpm) * throttle,
        1,
        0,
        0,
        0.0,
        0.5,
        0.0,
        0.0,
        0.0,
        p.warm_c,
        full_battery(p.starter),
    )
    for _ in range(200):
        d = engine_torque(p, e, 0, 0, throttle, 0.02)
        w = e.speed_rpm * RAD
        e = engine_finish(p, e, d, w + 0.02 * (d.torque_nm - load_nm) / (p.inertia_kgm2 + 0.02 * d.damping), 20.0, 0.02)
    return e


def engine_map(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Torque curve with governor lines, and specific consumption."""
    p = params.shafts[0].engine
    left, right = figure.subplots(1, 2)
    rpms = [20.0 * i for i in range(163)]
    left.plot(rpms, [full_load_torque(p, r) for r in rpms], label="full load")
    left.plot(rpms, [friction_torque(p, r, p.warm_c) for r in rpms], color="0.6", label="friction, warm")
    for throttle in (0.0, 0.25, 0.5, 0.75, 1.0):
        points = [_held(p, throttle, load) for load in (0.0, 20.0, 40.0, 60.0, 80.0, 100.0)]
        alive = [e for e in points if e.running == 1]
        left.plot([e.speed_rpm for e in alive], [e.torque_nm for e in alive], ".-", color="tab:orange", lw=0.8)
    left.plot([], [], ".-", color="tab:orange", label="governor, throttle 0 to 1")
    file = config.shaft[0].engine
    left.plot(file.torque_rpm, file.torque_nm, "o", color="black", ms=4, label="plant file")
    left.set(title="Torque", xlabel="engine rpm", ylabel="N m", xlim=(0, 3300), ylim=(0, 200))
    left.legend(fontsize=8, loc="upper left", ncols=2)
    for rpm, colour in ((1200.0, "tab:green"), (2000.0, "tab:blue"), (3000.0, "tab:red")):
        loads = [0.05 * i for i in range(4, 21)]
        grams = []
        for share in loads:
            torque = share * full_load_torque(p, rpm)
            gross = torque + friction_torque(p, rpm, p.warm_c)
            grams.append(3.6e9 * gross / torque / p.indicated_efficiency / p.fuel_j_kg)
        right.plot([100 * x for x in loads], grams, color=colour, label=f"{rpm:.0f} rpm")
    right.axhspan(198, 274, color="0.85", label="trade guide, 198 to 274 g/kWh")
    right.set(title="Specific consumption", xlabel="load, % of full torque", ylabel="g/kWh")
    right.legend(fontsize=8)
    for ax in (left, right):
        ax.grid(alpha=0.3)


def _fourier_k(rows: tuple[Harmonic, ...], j: float) -> tuple[float, float]:
    beta = math.atan(j / (0.7 * math.pi))
    ct = sum(a * math.cos(k * beta) + b * math.sin(k * beta) for k, (a, b, _, _) in enumerate(rows)) / 100.0
    cq = sum(a * math.cos(k * beta) + b * math.sin(k * beta) for k, (_, _, a, b) in enumerate(rows)) / -1000.0
    to_k = math.pi / 8.0 * ((0.7 * math.pi) ** 2 + j * j)
    return ct * to_k, cq * to_k


def propeller_open_water(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """B-series polynomials against the measured propellers of the four-quadrant report."""
    axes = figure.subplots(1, 3, sharey=True)
    for ax, pitch in zip(axes, (0.8, 1.0, 1.2), strict=True):
        js = [0.01 * i for i in range(141)]
        ours = [open_water(j, pitch, 0.70, 4) for j in js]
        ax.plot(js, [k for k, _ in ours], color="tab:blue", label="KT polynomial")
        ax.plot(js, [10 * k for _, k in ours], color="tab:red", label="10 KQ polynomial")
        eta = [(j, j / (2 * math.pi) * kt / kq) for j, (kt, kq) in zip(js, ours, strict=True) if kt > 0.0 and kq > 0.0]
        ax.plot([j for j, _ in eta], [e for _, e in eta], color="tab:green", label="efficiency")
        marks = [0.1 * i for i in range(int(pitch * 11))]
        measured = [_fourier_k(FOUR_QUADRANT_B4_70[pitch], j) for j in marks]
        ax.plot(marks, [k for k, _ in measured], "o", ms=4, color="black", label="measured (Roddy 2006)")
        ax.plot(marks, [10 * k for _, k in measured], "o", ms=4, mfc="none", color="black")
        ax.set(title=f"B4-70, P/D {pitch}", xlabel="J", ylim=(-0.1, 1.05))
        ax.grid(alpha=0.3)
    axes[0].legend(fontsize=8)


def propeller_four_quadrant(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """The boat's lookup all round, with the measured propellers next to it in pitch."""
    p = params.shafts[0].propeller
    left, right = figure.subplots(1, 2)
    angles = [0.5 * i for i in range(721)]
    ct, cq = [], []
    for a in angles:
        va, ur = math.sin(math.radians(a)), math.cos(math.radians(a))
        thrust, torque = propeller_load(p, va, ur / (0.35 * p.diameter_m))
        ct.append(thrust / p.half_rho_area)
        cq.append(10.0 * torque / p.half_rho_area / p.diameter_m)
    for ax, values, first, scale, name in ((left, ct, 0, 0.01, "C_T*"), (right, cq, 2, -0.01, "10 C_Q*")):
        ax.plot(angles, values, color="tab:blue", label=f"marsh_tern, P/D {config.shaft[0].propeller.pitch_ratio}")
        for pitch, style in ((0.8, "-"), (1.0, "--")):
            rows = FOUR_QUADRANT_B4_70[pitch]
            curve = []
            for a in angles[::4]:
                b = math.radians(a)
                total = sum(r[first] * math.cos(k * b) + r[first + 1] * math.sin(k * b) for k, r in enumerate(rows))
                curve.append(scale * total)
            ax.plot(angles[::4], curve, style, color="black", lw=0.8, label=f"B4-70 measured, P/D {pitch}")
        ax.set(title=name, xlabel="advance angle beta, degrees", xticks=range(0, 361, 45))
        ax.grid(alpha=0.3)
        ax.axhline(0.0, color="0.5", lw=0.6)
    for x, word in ((45, "ahead"), (135, "crash stop"), (225, "astern"), (315, "reversing")):
        left.text(x, 1.05, word, ha="center", fontsize=8, color="0.3")
    left.set_ylim(-1.4, 1.2)
    right.set_ylim(-1.5, 2.2)
    right.legend(fontsize=8, loc="upper right")


def hull_resistance(figure: Any, params: PlantParams, config: PlantConfig) -> None:
    """Resistance of the boat by parts, and the regression against its parent model."""
    form = hull_form(config.hull)
    left, right = figure.subplots(1, 2)
    knots = [0.1 * i for i in range(1, 111)]
    friction = [friction_resistance(form, k * KNOT) for k in knots]
    wave = [residuary_resistance(form, k * KNOT) for k in knots]
    left.stackplot(knots, friction, wave, labels=("friction (ITTC-1957)", "residuary (Delft 2008)"), alpha=0.6)
    left.axvline(2.43 * math.sqrt(config.hull.waterline_length_m), color="black", ls=":", label="hull speed, Fn 0.40")
    left.set(title="Calm-water resistance of marsh_tern", xlabel="kn", ylabel="N", xlim=(0, 11))
    left.legend(fontsize=8)
    froudes = [0.01 * i for i in range(5, 47)]
    weight = _SYSSER_01.volume_m3 * 1000.0 * 9.80665
    right.semilogy(
        froudes,
        [max(1000.0 * residuary_resistance(_SYSSER_01, f * math.sqrt(9.80665 * 1.6)) / weight, 1e-3) for f in froudes],
        label="regression (Keuning and Katgert 2008)",
    )
    right.semilogy(*zip(*_SYSSER_01_MEASURED, strict=True), "o", color="black", label="Sysser 01 measured (1981)")
    right.set(title="Residuary resistance / weight x 1000", xlabel="Froude number", ylim=(0.03, 80))
    right.legend(fontsize=8)
    for ax in (left, right):
        ax.grid(alpha=0.3)
