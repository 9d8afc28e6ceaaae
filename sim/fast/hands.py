"""The crew's hands and the weather as tuples of numbers, for compiled loops: what `sim.nodes.Panel` holds, by the same
names where it has an attribute for it."""

from typing import NamedTuple

from sim.nodes import Panel
from sim.nodes.panel import BUTTONS, SWITCHES

CHARGES = ("off", "under_way", "at_rest")
"""The charge selector's positions, by number."""


class SideHands(NamedTuple):
    """The controls of one shaft, as in `sim.nodes.panel.ShaftPanel`; `charge` is a place in CHARGES."""

    lever_pct: float
    out_of_service: int
    charge: int
    harvest: int
    stop_and_lock: int
    throttle_pct: float
    gear: int
    start_key: int
    stop_key: int
    start_bridge: int
    clutch_close: int
    lock_engage: int
    handset_pct: float
    load_shock_nm: float


class Hands(NamedTuple):
    """The controls of the boat and of its shafts, as in `sim.nodes.Panel`; a button is 1 while it is down."""

    shafts: tuple[SideHands, ...]
    enable: int
    disable: int
    reset: int
    acknowledge: int
    emergency_stop: int
    get_home: int
    full_charge: int
    shore_connected: int
    diver_lockout: int
    handset_id: int
    handset_held: int
    handset_link: int
    handset_minutes: float
    isolator: int
    hotel_load_w: float
    sail_force_n: float
    irradiance_w_m2: float
    shore_charge_a: float
    air_c: float
    water_c: float


def hands_of(panel: Panel) -> Hands:
    """The controls of the boat as they are now."""
    contacts = {name: panel.contact(name) for name in BUTTONS} | {name: panel.switches[name] for name in SWITCHES}
    return Hands(
        shafts=_sides_of(panel),
        **contacts,
        handset_id=panel.handset_id,
        handset_held=panel.handset_held,
        handset_link=panel.handset_link,
        handset_minutes=float(panel.handset_minutes),
        isolator=panel.isolator,
        hotel_load_w=float(panel.hotel_load_w),
        sail_force_n=float(panel.sail_force_n),
        irradiance_w_m2=float(panel.irradiance_w_m2),
        shore_charge_a=float(panel.shore_charge_a),
        air_c=float(panel.air_c),
        water_c=float(panel.water_c),
    )


def _sides_of(panel: Panel) -> tuple[SideHands, ...]:
    """The controls of each shaft as they are now."""
    return tuple(
        SideHands(
            lever_pct=float(shaft.lever_pct),
            out_of_service=shaft.out_of_service,
            charge=CHARGES.index(shaft.charge),
            harvest=shaft.harvest,
            stop_and_lock=shaft.stop_and_lock,
            throttle_pct=float(shaft.throttle_pct),
            gear=shaft.gear,
            start_key=shaft.start_key,
            stop_key=shaft.stop_key,
            start_bridge=shaft.start_bridge,
            clutch_close=shaft.clutch_close,
            lock_engage=shaft.lock_engage,
            handset_pct=float(shaft.handset_pct),
            load_shock_nm=float(shaft.load_shock_nm),
        )
        for shaft in panel.shafts
    )
