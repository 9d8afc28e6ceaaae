"""What each input of the supervisor measures on the simulated boat: one small function for each input name.

A reader takes the plant, the panel and the shaft's number and returns the value in the input's own unit and sign, a
contact as 0.0 or 1.0, or None where the sender itself does not know. No reader knows anything of frames.
"""

from collections.abc import Callable, Mapping

from sim.nodes.panel import Panel
from sim.plant import POSITION_OFF, POSITION_ON, PlantState

Reader = Callable[[PlantState, Panel, int], float | None]

LEVER_DETENT_PCT = 5.0
"""A lever's neutral contact is made while the lever stands this near to the middle, percent of its travel."""


def _button(name: str) -> Reader:
    return lambda plant, panel, shaft: panel.contact(name)


def _switch(name: str) -> Reader:
    return lambda plant, panel, shaft: panel.switches[name]


def _held(plant: PlantState, panel: Panel, shaft: int) -> float | None:
    return panel.handset_held if panel.handset_link else None


def _paired(plant: PlantState, panel: Panel, shaft: int) -> float | None:
    return float(panel.handset_id) if panel.handset_link else None


def _minutes(plant: PlantState, panel: Panel, shaft: int) -> float | None:
    return panel.handset_minutes if panel.handset_link else None


def _thrust(plant: PlantState, panel: Panel, shaft: int) -> float | None:
    return panel.shafts[shaft].handset_pct if panel.handset_link else None


def _monitor_fault(plant: PlantState, panel: Panel, shaft: int) -> float:
    return 1 if plant.monitor.flags or plant.monitor.tripped else 0


def _lever_neutral(plant: PlantState, panel: Panel, shaft: int) -> float:
    return 1 if abs(panel.shafts[shaft].lever_pct) < LEVER_DETENT_PCT else 0


def _gear_neutral(plant: PlantState, panel: Panel, shaft: int) -> float:
    box = plant.shafts[shaft].gearbox
    return 1 if box.engaged == 0 and not box.in_transit else 0


def _gear_ahead(plant: PlantState, panel: Panel, shaft: int) -> float:
    box = plant.shafts[shaft].gearbox
    return 1 if box.engaged == 1 and not box.in_transit else 0


def _gear_report(plant: PlantState, panel: Panel, shaft: int) -> float | None:
    box = plant.shafts[shaft].gearbox
    return None if box.in_transit else float(box.engaged)


def _engine_rpm(plant: PlantState, panel: Panel, shaft: int) -> float:
    return abs(plant.shafts[shaft].engine.speed_rpm)


BOAT_READERS: Mapping[str, Reader] = {
    "bank.soc_pct": lambda plant, panel, shaft: plant.monitor.soc_pct,
    "bank.voltage_v": lambda plant, panel, shaft: plant.monitor.terminal_v,
    "bank.current_a": lambda plant, panel, shaft: plant.monitor.current_a,
    "bank.cell_max_v": lambda plant, panel, shaft: plant.monitor.cell_max_v,
    "bank.cell_min_v": lambda plant, panel, shaft: plant.monitor.cell_min_v,
    "bank.cell_hot_c": lambda plant, panel, shaft: plant.monitor.hot_c,
    "bank.cell_cold_c": lambda plant, panel, shaft: plant.monitor.cold_c,
    "bank.charge_limit_a": lambda plant, panel, shaft: plant.monitor.charge_limit_a,
    "bank.discharge_limit_a": lambda plant, panel, shaft: plant.monitor.discharge_limit_a,
    "bank.charge_permit": lambda plant, panel, shaft: plant.monitor.charge_permit,
    "bank.discharge_permit": lambda plant, panel, shaft: plant.monitor.discharge_permit,
    "bank.contactor_closed": lambda plant, panel, shaft: plant.bank.contactor_closed,
    "bank.fault": _monitor_fault,
    "bank.opening": lambda plant, panel, shaft: plant.monitor.warning,
    "helm.enable": _button("enable"),
    "helm.disable": _button("disable"),
    "helm.reset": _button("reset"),
    "helm.acknowledge": _button("acknowledge"),
    "helm.emergency_stop": _switch("emergency_stop"),
    "helm.get_home": _switch("get_home"),
    "helm.full_charge": _switch("full_charge"),
    "helm.shore_connected": _switch("shore_connected"),
    "helm.diver_lockout": _switch("diver_lockout"),
    "handset.held": _held,
    "handset.ours": _paired,
    "handset.minutes": _minutes,
}
"""`handset.ours` reads the pairing code that the handset sends; the supervisor compares it."""

SHAFT_READERS: Mapping[str, Reader] = {
    "lever.lever_pct": lambda plant, panel, shaft: panel.shafts[shaft].lever_pct,
    "lever.neutral": _lever_neutral,
    "handset.thrust_pct": _thrust,
    "shaft.out_of_service": lambda plant, panel, shaft: panel.shafts[shaft].out_of_service,
    "shaft.charge_under_way": lambda plant, panel, shaft: panel.shafts[shaft].charge == "under_way",
    "shaft.charge_at_rest": lambda plant, panel, shaft: panel.shafts[shaft].charge == "at_rest",
    "shaft.harvest": lambda plant, panel, shaft: panel.shafts[shaft].harvest,
    "shaft.stop_and_lock": lambda plant, panel, shaft: panel.shafts[shaft].stop_and_lock,
    "engine.engine_speed_rpm": _engine_rpm,
    "engine.running": lambda plant, panel, shaft: plant.shafts[shaft].engine.running,
    "gearbox.neutral": _gear_neutral,
    "gearbox.ahead": _gear_ahead,
    "gearbox.gear_report": _gear_report,
    "drive.torque_nm": lambda plant, panel, shaft: plant.shafts[shaft].drive.torque_nm,
    "drive.machine_speed_rpm": lambda plant, panel, shaft: plant.shafts[shaft].line.drive_rpm,
    "drive.current_a": lambda plant, panel, shaft: plant.shafts[shaft].drive.current_a,
    "drive.fault": lambda plant, panel, shaft: 1 if plant.shafts[shaft].drive.fault else 0,
    "drive.link_v": lambda plant, panel, shaft: plant.shafts[shaft].drive.link_v,
    "drive.motor_c": lambda plant, panel, shaft: plant.shafts[shaft].drive.motor_c,
    "drive.inverter_c": lambda plant, panel, shaft: plant.shafts[shaft].drive.inverter_c,
    "drive.coolant_c": lambda plant, panel, shaft: plant.shafts[shaft].drive.coolant_c,
    "shaft.propeller_speed_rpm": lambda plant, panel, shaft: plant.shafts[shaft].line.propeller_rpm,
    "clutch.closed": lambda plant, panel, shaft: plant.shafts[shaft].line.clutch_position == POSITION_ON,
    "clutch.open": lambda plant, panel, shaft: plant.shafts[shaft].line.clutch_position == POSITION_OFF,
    "lock.released": lambda plant, panel, shaft: plant.shafts[shaft].line.lock_position == POSITION_OFF,
    "lock.engaged": lambda plant, panel, shaft: plant.shafts[shaft].line.lock_position == POSITION_ON,
}


def _temperature_k(plant: PlantState, panel: Panel, shaft: int) -> float:
    return plant.shafts[shaft].engine.temperature_c + 273.15


EXTRAS: Mapping[tuple[str, str], Reader] = {
    ("DRIVE_A", "Enabled"): lambda plant, panel, shaft: plant.shafts[shaft].drive.enabled,
    ("DRIVE_B", "Precharged"): lambda plant, panel, shaft: plant.shafts[shaft].drive.relay_closed,
    ("HANDSET_STATE", "PairingId"): _paired,
    ("HANDSET_STATE", "Link"): lambda plant, panel, shaft: 100.0 * panel.handset_link,
    ("DC_SOURCE_STATUS_1", "Priority"): lambda plant, panel, shaft: 120.0,
    ("DC_SOURCE_STATUS_1", "Voltage"): lambda plant, panel, shaft: plant.monitor.terminal_v,
    ("DC_SOURCE_STATUS_1", "Current"): lambda plant, panel, shaft: -plant.monitor.current_a,
    ("DC_SOURCE_STATUS_2", "Priority"): lambda plant, panel, shaft: 120.0,
    ("DC_SOURCE_STATUS_2", "Temperature"): lambda plant, panel, shaft: plant.monitor.hot_c,
    ("DC_SOURCE_STATUS_2", "StateOfCharge"): lambda plant, panel, shaft: plant.monitor.soc_pct,
    ("DC_SOURCE_STATUS_4", "Priority"): lambda plant, panel, shaft: 120.0,
    ("DC_SOURCE_STATUS_4", "DesiredCurrent"): lambda plant, panel, shaft: plant.monitor.charge_limit_a,
    ("DC_SOURCE_STATUS_6", "Priority"): lambda plant, panel, shaft: 120.0,
    ("DC_SOURCE_STATUS_6", "HighVoltageLimit"): lambda plant, panel, shaft: 1 - plant.monitor.charge_permit,
    ("DC_SOURCE_STATUS_6", "LowVoltageLimit"): lambda plant, panel, shaft: 1 - plant.monitor.discharge_permit,
    ("ENGINE_DYNAMIC", "CoolantTemperature"): _temperature_k,
    ("ENGINE_DYNAMIC", "FuelRate"): lambda plant, panel, shaft: plant.shafts[shaft].engine.fuel_l_h,
    ("BATTERY_STATUS", "Voltage"): lambda plant, panel, shaft: plant.monitor.terminal_v,
    ("BATTERY_STATUS", "Current"): lambda plant, panel, shaft: plant.monitor.current_a,
    ("BATTERY_STATUS", "Temperature"): lambda plant, panel, shaft: plant.monitor.hot_c + 273.15,
    ("DC_DETAILED_STATUS", "StateOfCharge"): lambda plant, panel, shaft: plant.monitor.soc_pct,
}
"""Signals of the shipped DBC files that feed no input, or that a boat may leave unmapped, and that a real node fills
all the same: (message without its shaft number, signal) -> value in the signal's own unit and sign. A boat with other
DBC files sends "not available" there."""

COMPANIONS: Mapping[str, tuple[str, ...]] = {
    "DC_SOURCE_STATUS_1": ("DC_SOURCE_STATUS_2", "DC_SOURCE_STATUS_4", "DC_SOURCE_STATUS_6"),
    "DC_SOURCE_STATUS_2": ("DC_SOURCE_STATUS_1", "DC_SOURCE_STATUS_4", "DC_SOURCE_STATUS_6"),
}
"""Messages that a node of this kind sends besides the one that a boat listens to."""
