"""Where the energy of a run came from and where it went, added up step by step beside the simulated boat.

The border is drawn around bank, bus, drives and shaft lines: engines, sun, shore and water bring in; hotel loads and
propellers take out. What is left over is told, and no item is made to fit: it is the error of the time step, and the
charge of the bus's own capacitors while no bank holds them.
"""

from typing import NamedTuple

from sim.plant import PlantParams, PlantState
from sim.plant.bank import stored_wh
from sim.plant.engine import RAD_S_PER_RPM

_J_PER_WH = 3600.0


class Energy(NamedTuple):
    """Energy balance of a run, Wh, and the fuel (litres).

    In: engines' work at the flywheel (less what dragging them takes), sun and shore. Out: hotel and propellers (below
    zero where the water drives them), what became heat, and what went through precharge and closing relays into DC
    links. Kept: gain of the bank, and of all that turns; `set_by_hand_wh` is what jumps of the simulated boat put into
    them besides.
    """

    engines_wh: float
    sun_wh: float
    shore_wh: float
    set_by_hand_wh: float
    hotel_wh: float
    propellers_wh: float
    drives_heat_wh: float
    bank_heat_wh: float
    clutches_heat_wh: float
    friction_heat_wh: float
    cables_heat_wh: float
    links_wh: float
    bank_gain_wh: float
    turning_gain_wh: float
    moved_wh: float
    """Everything that was moved: what came in, and what the bank gave."""
    fuel_l: float
    fuel_wh: float

    @property
    def left_over_wh(self) -> float:
        """What came in, less what went out and what is kept: 0 in a plant without error."""
        came = self.engines_wh + self.sun_wh + self.shore_wh
        went = self.hotel_wh + self.propellers_wh
        went += self.drives_heat_wh + self.bank_heat_wh + self.clutches_heat_wh + self.friction_heat_wh + self.links_wh
        went += self.cables_heat_wh
        return came - went - self.bank_gain_wh - self.turning_gain_wh

    @property
    def left_over_pct(self) -> float:
        """The same in percent of all that was moved; 0 where next to nothing was."""
        return 100.0 * self.left_over_wh / self.moved_wh if self.moved_wh > 0.01 else 0.0


class EnergyAudit:
    """Watches the steps of one plant from now on."""

    def __init__(self, params: PlantParams, plant: PlantState) -> None:
        self._params = params
        self._began = plant
        self._now = plant
        self._set_wh = 0.0
        self._sun_j = self._shore_j = self._hotel_j = self._loss_j = self._cables_j = 0.0

    def stepped(self, plant: PlantState, dt_s: float) -> None:
        """One step was made."""
        bus = plant.bus
        volts = bus.bus_v * dt_s
        self._sun_j += bus.solar_current_a * volts
        self._shore_j += bus.shore_current_a * volts
        self._hotel_j += bus.hotel_current_a * volts
        for shaft, p in zip(plant.shafts, self._params.shafts, strict=True):
            self._loss_j += shaft.drive.loss_w * dt_s
            if shaft.drive.relay_closed:
                self._cables_j += shaft.drive.current_a**2 * p.drive.cable_ohm * dt_s
        self._cables_j += plant.bank.current_a**2 * self._params.supply.bank_cable_ohm * dt_s
        self._now = plant

    def jumped(self, plant: PlantState) -> None:
        """The boat was set to something by hand."""
        self._set_wh += self._stored_wh(plant) - self._stored_wh(self._now)
        self._now = plant

    def energy(self) -> Energy:
        """The balance so far."""
        began, now = self._began, self._now
        lines = [(a.line, b.line) for a, b in zip(began.shafts, now.shafts, strict=True)]
        engines_j = sum(after.engine_j - before.engine_j for before, after in lines)
        propellers_j = sum(after.propeller_j - before.propeller_j for before, after in lines)
        slip_j = sum(after.slip_j - before.slip_j for before, after in lines)
        drag_j = sum(after.drag_j - before.drag_j for before, after in lines)
        links_j = sum(b.drive.link_j - a.drive.link_j for a, b in zip(began.shafts, now.shafts, strict=True))
        fuel_l = sum(b.engine.fuel_l - a.engine.fuel_l for a, b in zip(began.shafts, now.shafts, strict=True))
        fuel_wh = sum(
            (b.engine.fuel_l - a.engine.fuel_l) * p.engine.fuel_kg_l * p.engine.fuel_j_kg / _J_PER_WH
            for a, b, p in zip(began.shafts, now.shafts, self._params.shafts, strict=True)
        )
        gave_wh = now.bank.discharged_wh - began.bank.discharged_wh
        came_j = max(0.0, engines_j) + self._sun_j + self._shore_j + max(0.0, -propellers_j)
        bank_wh = self._in_bank_wh(now) - self._in_bank_wh(began)
        return Energy(
            engines_wh=engines_j / _J_PER_WH,
            sun_wh=self._sun_j / _J_PER_WH,
            shore_wh=self._shore_j / _J_PER_WH,
            set_by_hand_wh=self._set_wh,
            hotel_wh=self._hotel_j / _J_PER_WH,
            propellers_wh=propellers_j / _J_PER_WH,
            drives_heat_wh=self._loss_j / _J_PER_WH,
            bank_heat_wh=now.bank.heat_wh - began.bank.heat_wh,
            clutches_heat_wh=slip_j / _J_PER_WH,
            friction_heat_wh=drag_j / _J_PER_WH,
            cables_heat_wh=self._cables_j / _J_PER_WH,
            links_wh=links_j / _J_PER_WH,
            bank_gain_wh=bank_wh - self._set_wh,
            turning_gain_wh=(self._turning_j(now) - self._turning_j(began)) / _J_PER_WH,
            moved_wh=came_j / _J_PER_WH + gave_wh,
            fuel_l=fuel_l,
            fuel_wh=fuel_wh,
        )

    def _stored_wh(self, plant: PlantState) -> float:
        return self._in_bank_wh(plant) + self._turning_j(plant) / _J_PER_WH

    def _in_bank_wh(self, plant: PlantState) -> float:
        p, packs = self._params.bank, plant.packs
        if packs.share >= 1.0:
            return stored_wh(p, plant.bank)
        return packs.share * stored_wh(p, plant.bank) + (1.0 - packs.share) * stored_wh(p, packs.others)

    def _turning_j(self, plant: PlantState) -> float:
        total = 0.0
        for p, shaft in zip(self._params.shafts, plant.shafts, strict=True):
            rotor = p.drive.rotor_inertia_kgm2 * p.drive.belt_ratio * p.drive.belt_ratio
            for inertia, rpm in (
                (p.engine.inertia_kgm2, shaft.engine.speed_rpm),
                (p.line.machine_inertia_kgm2 - rotor, shaft.line.machine_rpm),
                (rotor, shaft.line.drive_rpm),
                (p.line.propeller_inertia_kgm2, shaft.line.propeller_rpm),
            ):
                total += 0.5 * inertia * (rpm * RAD_S_PER_RPM) ** 2
        return total
