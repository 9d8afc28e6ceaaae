"""Cables and fuses of the simulated boat under the currents that the boat file allows, for `thwart check`.

What is said is arithmetic, not a design: section and fuse of a cable are a matter of the local code, of how it is laid
and of who is licensed to do so.
"""

from collections.abc import Iterator
from typing import NamedTuple

from sim.plant.building import build_params
from sim.plant.drive import loss, torque_limit
from sim.plant.params import DriveParams
from sim.plant.schema import PlantConfig
from sim.plant.schema_cable import CableConfig
from supervisor.config import Finding
from supervisor.config.schema import BoatConfig
from supervisor.rules.readings import LINK_HOLD_FACTOR

LOCAL_CODE = "Section and fuse are a matter of the local code and of licensed practice"


class Loaded(NamedTuple):
    """One cable at its greatest current: `key` in the plant file, what it leads to, A, where the current comes from,
    ohm, and the voltage of the bank then."""

    key: str
    name: str
    cable: CableConfig
    most_a: float
    why: str
    ohm: float
    bank_v: float

    @property
    def lost_v(self) -> float:
        """Voltage lost along it, out and back, V."""
        return self.most_a * self.ohm

    @property
    def fuse_part(self) -> float:
        """Its greatest current in parts of the fuse's rated current."""
        return self.most_a / self.cable.fuse_a


def carried_a(drive: DriveParams, bank_v: float) -> float:
    """The greatest DC current, A, that a drive draws from `bank_v`, or feeds into it, looked for over its speeds."""
    most_a = 0.0
    for step in range(1, 101):
        speed = drive.over_speed_rad_s * step / 100.0
        motoring = torque_limit(drive, speed, 0, bank_v)
        braking = torque_limit(drive, speed, 1, bank_v)
        drawn_w = motoring * speed + loss(drive, motoring, speed)
        fed_w = braking * speed - loss(drive, braking, speed)
        most_a = max(most_a, drawn_w / bank_v, fed_w / bank_v)
    return most_a


def loaded_cables(config: BoatConfig, plant: PlantConfig) -> list[Loaded]:
    """The cables that the plant file gives, that of the bank first, at the lowest voltage of the bank."""
    params = build_params(plant)
    low_v = config.bank.min_voltage_v
    found = []
    if plant.supply.bank_cable is not None:
        most_a = max(config.bank.max_discharge_a, config.bank.max_charge_a)
        why = "the most that bank.max_discharge_a and bank.max_charge_a allow"
        found.append(
            Loaded(
                "supply.bank_cable",
                "the bank (supply.bank_cable)",
                plant.supply.bank_cable,
                most_a,
                why,
                params.supply.bank_cable_ohm,
                low_v,
            )
        )
    for number, (shaft, own) in enumerate(zip(plant.shaft, params.shafts, strict=True)):
        if shaft.drive.cable is not None:
            why = f"the most that the simulated drive {shaft.name} draws or feeds"
            key = f"shaft.{number}.drive.cable"
            most_a = carried_a(own.drive, low_v)
            name = f"drive {shaft.name} ({key})"
            found.append(Loaded(key, name, shaft.drive.cable, most_a, why, own.drive.cable_ohm, low_v))
    return found


def cable_lines(config: BoatConfig, plant: PlantConfig) -> Iterator[str]:
    """A sentence for each cable: voltage and power lost, and how far its fuse is loaded; then who decides on them."""
    cables = loaded_cables(config, plant)
    for one in cables:
        cable = one.cable
        yield (
            f"cable of {one.name}: {cable.length_m:g} m one way, {cable.section_mm2:g} mm2, at {one.most_a:.0f} A "
            f"({one.why}, at {one.bank_v:g} V): {one.lost_v:.2f} V lost ({100.0 * one.lost_v / one.bank_v:.1f} %), "
            f"{one.lost_v * one.most_a:.0f} W; its fuse of {cable.fuse_a:g} A is loaded to "
            f"{100.0 * one.fuse_part:.0f} %"
        )
    if cables:
        yield f"cables: calculated only, not a design. {LOCAL_CODE}"


def cable_findings(config: BoatConfig, plant: PlantConfig) -> Iterator[Finding]:
    """Fuses that this boat can blow, and drops that the supervisor would take for a DC link that fell away."""
    cables = loaded_cables(config, plant)
    for one in cables:
        if one.fuse_part > 1.0:
            yield Finding(
                "warning", "simulation.plant",
                f"the fuse of {one.name} is rated {one.cable.fuse_a:g} A, and {one.most_a:.0f} A may flow: {one.why}",
                f"Lower the limit or take another fuse with its cable. {LOCAL_CODE}",
            )  # fmt: skip
    shared_v = sum(one.lost_v for one in cables if one.key == "supply.bank_cable")
    drives = [one for one in cables if one.key != "supply.bank_cable"]
    shafts = [shaft for shaft, model in zip(config.shaft, plant.shaft, strict=True) if model.drive.cable is not None]
    for shaft, one in zip(shafts, drives, strict=True):
        lost_pct = 100.0 * (one.lost_v + shared_v) / one.bank_v
        most_pct = LINK_HOLD_FACTOR * shaft.drive.link_tolerance_pct
        if lost_pct > most_pct:
            yield Finding(
                "warning", f"shaft.{shaft.name}.drive.link_tolerance_pct",
                f"between bank and drive {lost_pct:.1f} % of the voltage may be lost ({one.key} and supply.bank_cable "
                f"of the plant file), and a link more than {most_pct:.1f} % off counts as fallen away, which isolates "
                "the shaft",
                f"Shorter or thicker cables, or a wider tolerance. {LOCAL_CODE}",
            )  # fmt: skip
