"""What nodes and crew together do to the plant: one PlantInputs for each step."""

from typing import Protocol

from sim.nodes.machinery import DriveOrder, Nodes
from sim.plant import PlantInputs, PlantState, ShaftOrders


class Side(Protocol):
    """The crew's hands on one shaft, as ShaftPanel has them."""

    @property
    def start_key(self) -> int: ...
    @property
    def stop_key(self) -> int: ...
    @property
    def start_bridge(self) -> int: ...
    @property
    def throttle_pct(self) -> float: ...
    @property
    def gear(self) -> int: ...
    @property
    def clutch_close(self) -> int: ...
    @property
    def lock_engage(self) -> int: ...
    @property
    def load_shock_nm(self) -> float: ...


def shaft_orders(side: Side, order: DriveOrder, permitted: bool, engaged: int, diver: int) -> ShaftOrders:
    """What acts on one shaft: the drive's order in force, and the crew's hands. `permitted`: the supervisor permits the
    engine's start; `engaged` is the gearbox (0 neutral), `diver` 1 a diver's key that is out."""
    # neutral switch and diver key sit in the start circuit itself: permit or bridge, they have the last word
    start = 0
    if side.start_key == 1 and (permitted or side.start_bridge == 1) and engaged == 0 and diver == 0:
        start = 1
    return ShaftOrders(
        order.torque_nm,
        order.enable,
        order.precharge,
        order.hard_enable,
        start,
        side.stop_key,
        side.throttle_pct / 100.0,
        side.gear,
        side.clutch_close,
        side.lock_engage,
        side.load_shock_nm,
    )


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
        permitted = nodes.engines[level].start_permitted(now_s)
        engaged = plant.shafts[level].gearbox.engaged
        shafts.append(shaft_orders(shaft, order, permitted, engaged, panel.switches["diver_lockout"]))
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
