"""Loops over many ticks, as plain functions that also compile."""

from collections.abc import Callable
from typing import Any, NamedTuple

from sim.fast.hands import Hands, SideHands
from sim.fast.senses import Seen, boat_senses, shaft_senses
from sim.nodes.coupling import shaft_orders
from sim.nodes.machinery import DriveOrder
from sim.plant import PlantInputs, PlantParams, PlantState
from sim.plant.boat import Step
from supervisor.rules.tick import Boat, Memory, run_tick
from supervisor.signals import BoatInputs, ShaftCommand, ShaftInputs, ShaftPermit


class Sight(NamedTuple):
    """How the boat and its shafts see: see `sim.fast.senses`."""

    boat: Seen
    senses: tuple[Seen, ...]


class Keys(NamedTuple):
    """The engine keys that are held, 1 or 0: each is let go once the engine obeys."""

    start: int
    stop: int


class Moment(NamedTuple):
    """Everything that a tick hands on to the next one. `ticks` since power-up; `stop` is the order that stops the other
    sources; `commands` and `keys` have one entry a shaft."""

    ticks: int
    plant: PlantState
    memory: Memory
    stop: int
    commands: tuple[ShaftCommand, ...]
    keys: tuple[Keys, ...]


def entries(step: Step) -> dict[str, Callable[..., Any]]:
    """Name -> loop, each around the plant's step given."""

    def coast(params: PlantParams, state: PlantState, inputs: PlantInputs, dt_s: float, ticks: int) -> PlantState:
        """The plant alone, `ticks` steps of `dt_s` under the same inputs."""
        for _ in range(ticks):
            state = step(params, state, inputs, dt_s)
        return state

    def one_tick(boat: Boat, params: PlantParams, sight: Sight, hands: Hands, moment: Moment, tick_s: float) -> Moment:
        """One tick of the whole boat, as `sim.rig.direct.DirectRig` does it."""
        orders = []
        keys = []
        # numba knows no zip(strict=): all four are of one boat
        for side, held, command, shaft in zip(hands.shafts, moment.keys, moment.commands, moment.plant.shafts):  # noqa: B905
            running = shaft.engine.running == 1
            key = Keys(0 if running else held.start, held.stop if running else 0)
            keys.append(key)
            order = ordered(command)
            permitted = command.permits & ShaftPermit.ENGINE_START.value != 0
            engaged = shaft.gearbox.engaged
            orders.append(shaft_orders(with_keys(side, key), order, permitted, engaged, hands.diver_lockout))
        inputs = PlantInputs(
            tuple(orders), hands.hotel_load_w, hands.irradiance_w_m2, hands.shore_charge_a, moment.stop,
            hands.isolator, hands.sail_force_n, hands.air_c, hands.water_c, 0,
        )  # fmt: skip
        plant = step(params, moment.plant, inputs, tick_s)
        boat_in = boat_senses(sight.boat, plant, hands)
        shaft_in = []
        for index, seen in enumerate(sight.senses):
            shaft_in.append(shaft_senses(seen, plant, hands, index))
        ticks = moment.ticks + 1
        dt_s = ticks * tick_s - moment.ticks * tick_s  # as the controller reckons it, rounding included
        tick = run_tick(boat, moment.memory, boat_in, tuple(shaft_in), dt_s)
        return Moment(ticks, plant, tick.memory, tick.boat_command.stop_sources, tick.shaft_commands, tuple(keys))

    def sail(
        boat: Boat, params: PlantParams, sight: Sight, hands: Hands, moment: Moment, tick_s: float, ticks: int
    ) -> Moment:
        """The whole boat, `ticks` ticks with the crew's hands still."""
        for _ in range(ticks):
            moment = one_tick(boat, params, sight, hands, moment, tick_s)
        return moment

    return {"coast": coast, "decide": decide, "sail": sail}


def ordered(command: ShaftCommand) -> DriveOrder:
    """What the drive does of a command that it hears at once."""
    enable = 1 if command.permits & ShaftPermit.DRIVE_ENABLE.value else 0
    precharge = 1 if command.permits & ShaftPermit.PRECHARGE.value else 0
    return DriveOrder(command.torque_nm if enable == 1 else 0.0, enable, precharge, enable)


def with_keys(side: SideHands, keys: Keys) -> SideHands:
    """The same hands with other engine keys."""
    return SideHands(
        side.lever_pct, side.out_of_service, side.charge, side.harvest, side.stop_and_lock, side.throttle_pct,
        side.gear, keys.start, keys.stop, side.start_bridge, side.clutch_close, side.lock_engage, side.handset_pct,
        side.load_shock_nm,
    )  # fmt: skip


def decide(
    boat: Boat, memory: Memory, boat_in: BoatInputs, shaft_in: tuple[ShaftInputs, ...], dt_s: float, ticks: int
) -> Memory:
    """The rules alone, `ticks` ticks of `dt_s` with the same inputs."""
    for _ in range(ticks):
        memory = run_tick(boat, memory, boat_in, shaft_in, dt_s).memory
    return memory
