"""What is not known has no influence: whatever stands in its field, and whatever its contact seems to say."""

import pytest
from boatyard.rig import Kept, Rig

from supervisor.rules import Memory, Tick, run_tick
from supervisor.signals import BOAT_INPUTS, SHAFT_INPUTS, BoatInputs, InputSpec, ShaftInputs


def _unloading() -> Rig:
    rig = Rig().generate(2.0)
    rig["port.shaft.charge_under_way"] = False
    rig.tick()
    rig.expect("a way into UNLOAD", "port", "UNLOAD")
    return rig


def _isolated() -> Rig:
    rig = Rig().ready()
    rig["port.drive.fault"] = True
    rig.tick()
    rig["port.drive.fault"] = False
    rig.run(1.0)
    rig.expect("a way into ISOLATED", "port", "ISOLATED")
    return rig


def _braking() -> Rig:
    rig = Rig().propel(60.0, 1.0, 600.0)
    rig.levers(-60.0)
    rig.run(1.5)
    return rig


def _hot_and_low() -> Rig:
    """Everything in the middle of its band."""
    rig = Rig().propel(80.0, 1.0, 600.0)
    rig["bank.soc_pct"], rig["bank.cell_min_v"] = 22.0, 2.9
    for name, value in (("motor_c", 125.0), ("inverter_c", 78.0), ("coolant_c", 63.0)):
        rig[f"port.drive.{name}"] = value
    rig.run(2.0)
    return rig


# Two are left to the contract of ShaftInputs, which fills an unknown field with 0.0 and clears its contact: the sum of
# the drives' currents takes the 0.0, and an ahead contact without its `known` bit counts against neutral.
BY_CONTRACT = {"drive.current_a", "gearbox.ahead"}

STATES = {
    "standby": Kept(Rig),
    "ready": Kept(lambda: Rig().ready()),
    "propel": Kept(lambda: Rig(hotel_a=30.0).propel(60.0, 2.0, 600.0)),
    "hot and low": Kept(_hot_and_low),
    "braking": Kept(_braking),
    "generate": Kept(lambda: Rig(hotel_a=30.0).generate(4.0)),
    "generate at rest": Kept(lambda: Rig().generate_at_rest(4.0)),
    "harvest": Kept(lambda: Rig().harvest(2.0)),
    "handset": Kept(lambda: Rig().handset(60.0, 1.0)),
    "unloading": Kept(_unloading),
    "isolated": Kept(_isolated),
}


def _garbage(spec: InputSpec, level: BoatInputs | ShaftInputs) -> list[dict[str, float]]:
    if spec.is_contact:
        return [{"on": level.on | int(spec.bit)}]
    middle = (spec.low + spec.high) / 2
    return [{spec.field: value} for value in (spec.low, spec.high, middle, 1.0, -1.0, getattr(level, spec.field))]


def _ticks(rig: Rig, memory: Memory, boat_in: BoatInputs, shaft_in: list[ShaftInputs]) -> list[Tick]:
    found = []
    for _ in range(2):
        found.append(run_tick(rig.controller.boat, memory, boat_in, shaft_in, 0.02))
        memory = found[-1].memory
    return found


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("spec", BOAT_INPUTS, ids=lambda spec: spec.name)
def test_an_unknown_input_of_the_boat(state: str, spec: InputSpec) -> None:
    rig = STATES[state]()
    memory, boat_in, shaft_in = rig.controller.memory, rig.boat_in(), rig.shaft_in()
    bit = int(spec.bit)
    blank: dict[str, float] = {} if spec.is_contact else {spec.field: 0.0}
    plain = boat_in._replace(known=boat_in.known & ~bit, on=boat_in.on & ~bit, **blank)
    expected = _ticks(rig, memory, plain, shaft_in)
    for odd in _garbage(
        spec, plain._replace(**({} if spec.is_contact else {spec.field: getattr(boat_in, spec.field)}))
    ):
        assert _ticks(rig, memory, plain._replace(**odd), shaft_in) == expected, odd


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("spec", [s for s in SHAFT_INPUTS if s.name not in BY_CONTRACT], ids=lambda spec: spec.name)
def test_an_unknown_input_of_a_shaft(state: str, spec: InputSpec) -> None:
    rig = STATES[state]()
    memory, boat_in, shaft_in = rig.controller.memory, rig.boat_in(), rig.shaft_in()
    bit = int(spec.bit)
    blank: dict[str, float] = {} if spec.is_contact else {spec.field: 0.0}
    plain = shaft_in[0]._replace(known=shaft_in[0].known & ~bit, on=shaft_in[0].on & ~bit, **blank)
    expected = _ticks(rig, memory, boat_in, [plain, shaft_in[1]])
    kept = {} if spec.is_contact else {spec.field: getattr(shaft_in[0], spec.field)}
    for odd in _garbage(spec, plain._replace(**kept)):
        assert _ticks(rig, memory, boat_in, [plain._replace(**odd), shaft_in[1]]) == expected, odd
