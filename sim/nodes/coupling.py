"""What nodes and crew together do to the plant: one PlantInputs for each step."""

from sim.nodes.machinery import Nodes
from sim.plant import PlantInputs, PlantState, ShaftOrders


def plant_inputs(nodes: Nodes, plant: PlantState, now_s: float) -> PlantInputs:
    """Orders and loads of the coming step: drives as ordered, starters in series with their permits, valves where the
    crew put them, the weather."""
    panel = nodes.panel
    shafts = []
    for level, shaft in enumerate(panel.shafts):
        order = nodes.drives[level].order(now_s)
        running = plant.shafts[level].engine.running
        if running and shaft.start_key:
            shaft.start_key = 0
        if not running and shaft.stop_key:
            shaft.stop_key = 0
        # neutral switch and diver key sit in the start circuit itself: permit or bridge, they have the last word
        permitted = nodes.engines[level].start_permitted(now_s) or shaft.start_bridge == 1
        circuit = plant.shafts[level].gearbox.engaged == 0 and panel.switches["diver_lockout"] == 0
        start = 1 if shaft.start_key and permitted and circuit else 0
        shafts.append(
            ShaftOrders(
                order.torque_nm,
                order.enable,
                order.precharge,
                order.hard_enable,
                start,
                shaft.stop_key,
                shaft.throttle_pct / 100.0,
                shaft.gear,
                shaft.clutch_close,
                shaft.lock_engage,
                shaft.load_shock_nm,
            )
        )
    return PlantInputs(
        tuple(shafts),
        panel.hotel_load_w,
        panel.irradiance_w_m2,
        panel.shore_charge_a,
        1 if nodes.sources.stopped(now_s) else 0,
        panel.isolator,
        panel.sail_force_n,
        panel.air_c,
        panel.water_c,
        0,
    )
