"""Steady states of the boat, solved from the same functions as the step: free running, bollard pull, harvest.

For the energy budget, the figures and the checks; plain Python, not for the step.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from sim.plant.drive import loss
from sim.plant.hull import resistance_force
from sim.plant.params import PlantParams, ShaftParams
from sim.plant.propeller import propeller_load

RPM_PER_RAD_S = 30.0 / math.pi


class Running(NamedTuple):
    """A boat running steadily, all shafts alike."""

    speed_ms: float
    propeller_rpm: float
    propeller_torque_nm: float
    shaft_power_w: float
    """Power at each propeller, W."""
    thrust_n: float
    """Thrust of each propeller, N."""


class Harvest(NamedTuple):
    """One shaft turned by the water at a fixed boat speed."""

    propeller_rpm: float
    drive_torque_nm: float
    """Torque the drive holds, negative: it opposes ahead rotation."""
    drag_n: float
    """Drag of this propeller, N, positive."""
    dc_power_w: float
    """DC power into the bank, W, after all losses; negative when the drive takes more than it gives."""


def bisect(function: Callable[[float], float], low: float, high: float) -> float:
    """Zero of `function`, which must rise or fall through it between `low` and `high`, to about 1e-10 of the range."""
    rising = function(high) > function(low)
    for _ in range(60):
        middle = 0.5 * (low + high)
        if (function(middle) > 0.0) == rising:
            high = middle
        else:
            low = middle
    return 0.5 * (low + high)


def _advance(params: PlantParams, speed_ms: float) -> float:
    return speed_ms * (1.0 - params.hull.wake_frac)


def running_at_speed(params: PlantParams, speed_ms: float) -> Running:
    """What all propellers must do together to hold `speed_ms` (above 0) in calm water; all shafts are taken as the
    first.
    """
    propeller = params.shafts[0].propeller
    need = resistance_force(params.hull, speed_ms)[0] / (1.0 - params.hull.thrust_deduction) / len(params.shafts)
    va = _advance(params, speed_ms)
    # thrust rises with shaft speed from the zero-thrust speed up
    omega = bisect(lambda w: propeller_load(propeller, va, w)[0] - need, va / propeller.diameter_m, 400.0)
    thrust, torque = propeller_load(propeller, va, omega)
    return Running(speed_ms, omega * RPM_PER_RAD_S, torque, torque * omega, thrust)


def running_with_power(params: PlantParams, shaft_power_w: float) -> Running:
    """Free running with `shaft_power_w` at each propeller."""
    top = (len(params.hull.resistance_n) - 2) * params.hull.speed_step_ms
    speed = bisect(lambda v: running_at_speed(params, v).shaft_power_w - shaft_power_w, 0.05, top)
    return running_at_speed(params, speed)


def bollard(params: PlantParams, torque_nm: float) -> Running:
    """Bollard pull with `torque_nm` at each propeller, boat held still; thrust is before deduction."""
    propeller = params.shafts[0].propeller
    omega = bisect(lambda w: propeller_load(propeller, 0.0, w)[1] - torque_nm, 0.0, 600.0)
    thrust, torque = propeller_load(propeller, 0.0, omega)
    return Running(0.0, omega * RPM_PER_RAD_S, torque, torque * omega, thrust)


def harvest_at(params: PlantParams, shaft: ShaftParams, speed_ms: float, propeller_rpm: float) -> Harvest:
    """One shaft held at `propeller_rpm` by its drive while the boat sails at `speed_ms`; engine stopped, gear
    neutral.
    """
    omega = propeller_rpm / RPM_PER_RAD_S
    thrust, torque = propeller_load(shaft.propeller, _advance(params, speed_ms), omega)
    spare = -torque - shaft.line.friction_nm - shaft.gearbox.drag_nm
    drive = spare / (1.0 + shaft.drive.coupling_loss_frac)
    power = drive * omega - loss(shaft.drive, drive, omega)
    return Harvest(propeller_rpm, -drive, -thrust, power)


def free_wheel_rpm(params: PlantParams, shaft: ShaftParams, speed_ms: float) -> float:
    """Speed at which the propeller of a dragged, unloaded shaft settles, rpm; 0 if friction holds it."""
    va = _advance(params, speed_ms)
    drag = shaft.line.friction_nm + shaft.gearbox.drag_nm

    def spare(omega: float) -> float:
        return -propeller_load(shaft.propeller, va, omega)[1] - drag

    if spare(0.0) <= 0.0:
        return 0.0
    return bisect(spare, 0.0, 3.0 * va / shaft.propeller.diameter_m * 2.0 * math.pi) * RPM_PER_RAD_S


def best_harvest(params: PlantParams, shaft: ShaftParams, speed_ms: float) -> Harvest:
    """The harvest with the most DC power at `speed_ms`, within 0.5 percent of the free-wheeling speed."""
    top = free_wheel_rpm(params, shaft, speed_ms)
    candidates = [harvest_at(params, shaft, speed_ms, top * i / 200.0) for i in range(1, 201)]
    return max(candidates, key=lambda h: h.dc_power_w)


def harvest_with_law(params: PlantParams, shaft: ShaftParams, speed_ms: float, law_nm_s2: float) -> Harvest:
    """Harvest with the drive torque held at `law_nm_s2` (N m / (rad/s)^2, 0 or more) times the square of shaft
    speed.
    """
    top = free_wheel_rpm(params, shaft, speed_ms)

    def excess(rpm: float) -> float:
        omega = rpm / RPM_PER_RAD_S
        return -harvest_at(params, shaft, speed_ms, rpm).drive_torque_nm - law_nm_s2 * omega * omega

    return harvest_at(params, shaft, speed_ms, bisect(excess, 0.0, max(top, 1e-6)))
