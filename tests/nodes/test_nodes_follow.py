"""What the simulated boat takes over from real boxes on the bus, and what it leaves alone."""

import pytest

from sim.nodes import new_panel
from sim.plant import PlantInputs, PlantState, ShaftOrders, initial_state, load_plant
from sim.rig.live.follow import Follower
from supervisor.bus import compile_boat
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.signals import BoatInput, BoatInputs, ShaftInput, ShaftInputs

NODES = ("monitor", "helm", "drive.port", "drive.starboard", "engine.port", "engine.starboard", "contacts.port",
         "contacts.starboard")  # fmt: skip
NOTHING = (ShaftInputs(), ShaftInputs())


class Boat:
    """A boat in which the nodes of NODES but `without` are simulated."""

    def __init__(self, *without: str) -> None:
        config = load_config("marsh_tern")
        params = load_plant(resolve_boat("marsh_tern").parent / "plants" / "marsh_tern.toml")
        self.panel = new_panel(compile_boat(config, "marsh_tern"))
        self.plant = initial_state(params, 70.0)
        self.follower = Follower(config, params, self.panel, [name for name in NODES if name not in without])

    def hears(self, boat: BoatInputs = BoatInputs(), port: ShaftInputs = ShaftInputs()) -> PlantState:  # noqa: B008 - tuples
        self.plant = self.follower.look(self.plant, boat, (port, ShaftInputs()), 3.0)
        return self.plant


def soc(pct: float, known: int = BoatInput.SOC) -> BoatInputs:
    return BoatInputs(known=int(known), soc_pct=pct)


@pytest.mark.parametrize(("heard_pct", "then_pct"), [(70.9, 70.0), (71.1, 71.1), (12.0, 12.0), (130.0, 100.0)])
def test_state_of_charge_of_a_real_monitor(heard_pct: float, then_pct: float) -> None:
    assert Boat("monitor").hears(soc(heard_pct)).bank.soc_pct == pytest.approx(then_pct, abs=0.01)


def test_an_own_monitor_is_not_followed() -> None:
    assert Boat().hears(soc(12.0)).bank.soc_pct == pytest.approx(70.0, abs=0.01)


def test_unknown_state_of_charge_is_not_followed() -> None:
    assert Boat("monitor").hears(soc(12.0, known=0)).bank.soc_pct == pytest.approx(70.0, abs=0.01)


def test_torque_of_a_real_drive_stands_for_its_order() -> None:
    boat = Boat("drive.port")
    ordered = PlantInputs((ShaftOrders(50.0, 1, 1, 1), ShaftOrders(40.0, 1, 1, 1)))
    assert boat.follower.drives(ordered) is ordered  # nothing heard yet
    boat.hears(port=ShaftInputs(known=int(ShaftInput.TORQUE), torque_nm=31.5))
    done = boat.follower.drives(ordered)
    assert [shaft.torque_order_nm for shaft in done.shafts] == [31.5, 40.0]
    assert done.shafts[0].drive_enable == 1
    boat.hears(port=ShaftInputs(torque_nm=99.0))  # stale: the order counts again
    assert [shaft.torque_order_nm for shaft in boat.follower.drives(ordered).shafts] == [50.0, 40.0]


@pytest.mark.parametrize(
    ("bit", "control", "value"),
    [
        (ShaftInput.GEAR_AHEAD, "gear", 1),
        (ShaftInput.CLUTCH_OPEN, "clutch_close", 0),
        (ShaftInput.LOCK_ENGAGED, "lock_engage", 1),
        (ShaftInput.ENGINE_RUN, "start_key", 1),
    ],
)
def test_contacts_of_a_real_box(bit: ShaftInput, control: str, value: int) -> None:
    inputs = ShaftInputs(known=int(bit), on=int(bit))
    followed, own = Boat("contacts.port"), Boat()
    before = getattr(own.panel.shafts[0], control)
    followed.hears(port=inputs)
    own.hears(port=inputs)
    assert getattr(followed.panel.shafts[0], control) == value != before
    assert getattr(own.panel.shafts[0], control) == before


def test_speed_of_a_real_engine_sets_the_throttle() -> None:
    """Idle 800, highest 3000 rpm: 1900 is half way."""
    boat = Boat("engine.port")
    boat.hears(port=ShaftInputs(known=int(ShaftInput.ENGINE_SPEED), engine_speed_rpm=1900.0))
    assert boat.panel.shafts[0].throttle_pct == pytest.approx(50.0)


def test_a_real_contactor() -> None:
    boat = Boat("monitor")
    boat.hears(BoatInputs(known=int(BoatInput.CONTACTOR_CLOSED)))
    assert boat.panel.isolator == 0
    boat.hears(BoatInputs(known=int(BoatInput.CONTACTOR_CLOSED), on=int(BoatInput.CONTACTOR_CLOSED)))
    assert boat.panel.isolator == 1
