"""Faults of the boat itself: monitor, drives, engines, clutch."""

from sim.faults.base import Bench, Fault, distort, fields_of, mend, shaft_of
from sim.plant import (
    DRIVE_OK,
    FLAG_CELL_OVER_VOLTAGE,
    FLAG_CELL_UNDER_VOLTAGE,
    FLAG_INTERNAL,
    FLAG_OVER_CURRENT_CHARGE,
    FLAG_OVER_CURRENT_DISCHARGE,
    FLAG_OVER_TEMPERATURE,
    FLAG_UNDER_TEMPERATURE,
    POSITION_IN_TRANSIT,
    PlantInputs,
    PlantShaft,
    PlantState,
    ShaftOrders,
)

MONITOR_FLAGS = {
    "internal": FLAG_INTERNAL,
    "cell_over_voltage": FLAG_CELL_OVER_VOLTAGE,
    "cell_under_voltage": FLAG_CELL_UNDER_VOLTAGE,
    "over_temperature": FLAG_OVER_TEMPERATURE,
    "under_temperature": FLAG_UNDER_TEMPERATURE,
    "over_current_charge": FLAG_OVER_CURRENT_CHARGE,
    "over_current_discharge": FLAG_OVER_CURRENT_DISCHARGE,
}


class MonitorFault(Fault):
    """The monitor shows a fault flag: it withdraws its permits, announces, and opens its contactor after its warning
    time. Afterwards it stays latched until the isolator was off."""

    def inputs(self, now_s: float, inputs: PlantInputs) -> PlantInputs:
        return inputs._replace(monitor_fault=inputs.monitor_fault | MONITOR_FLAGS[self.text("flag")])


class ContactorWarning(Fault):
    """The monitor announces that it will open its contactor, without a fault flag, and opens it after `after_s`."""

    _began_s = 0.0

    def start(self, bench: Bench, now_s: float) -> None:
        self._began_s = now_s
        self._fields = fields_of(bench, "bank.opening")
        distort(self._fields, lambda value, time_s: 1.0)

    def stop(self, bench: Bench, now_s: float) -> None:
        mend(self._fields)

    def inputs(self, now_s: float, inputs: PlantInputs) -> PlantInputs:
        if now_s - self._began_s >= self.number("after_s"):
            return inputs._replace(contactor_switch=0)
        return inputs


class PacksOut(Fault):
    """Some of the parallel packs are off the bus, opened by their own protection; when it ends they are
    put back as they are, whatever their voltage."""

    def start(self, bench: Bench, now_s: float) -> None:
        if bench.params.bank.packs < 2.0:
            raise ValueError("the simulated bank is one pack; give its plant file bank.packs for several in parallel")

    def inputs(self, now_s: float, inputs: PlantInputs) -> PlantInputs:
        return inputs._replace(packs_out=int(self.number("packs")))


class _OnShaft(Fault):
    """A fault of one shaft."""

    level = 0

    def start(self, bench: Bench, now_s: float) -> None:
        self.level = shaft_of(bench, self.target)

    def inputs(self, now_s: float, inputs: PlantInputs) -> PlantInputs:
        shafts = list(inputs.shafts)
        shafts[self.level] = self.command(now_s, shafts[self.level])
        return inputs._replace(shafts=tuple(shafts))

    def state(self, now_s: float, plant: PlantState) -> PlantState:
        shaft = plant.shafts[self.level]
        changed = self.shaft(now_s, shaft)
        if changed is shaft:
            return plant
        shafts = list(plant.shafts)
        shafts[self.level] = changed
        return plant._replace(shafts=tuple(shafts))

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command

    def shaft(self, now_s: float, shaft: PlantShaft) -> PlantShaft:
        return shaft


class DriveFault(_OnShaft):
    """The drive protects itself: its gates are off and it shows its fault flag."""

    def start(self, bench: Bench, now_s: float) -> None:
        super().start(bench, now_s)
        self._fields = fields_of(bench, f"{bench.boat_map.shaft_names[self.level]}.drive.fault")
        distort(self._fields, lambda value, time_s: 1.0)

    def stop(self, bench: Bench, now_s: float) -> None:
        mend(self._fields)

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(torque_order_nm=0.0, drive_enable=0)


class DriveDisobeys(_OnShaft):
    """The drive holds a torque of its own whatever it is ordered over the bus; only its hard-wired enable line still
    stops it."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(torque_order_nm=self.number("torque_nm"), drive_enable=1, precharge=1)


class PrechargeFailure(_OnShaft):
    """The precharge resistor is open: the link does not charge, and the relay behind it does not close."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(precharge=0, drive_enable=0)

    def shaft(self, now_s: float, shaft: PlantShaft) -> PlantShaft:
        if shaft.drive.relay_closed:
            return shaft._replace(drive=shaft.drive._replace(relay_closed=0, fault=DRIVE_OK))
        return shaft


class EngineStall(_OnShaft):
    """The engine loses its fuel and stops by itself."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(engine_stop=1, engine_start=0)


class EngineWeak(_OnShaft):
    """The engine gives no more than `torque_pct` of its full-load torque: a blocked fuel filter or air intake."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(engine_frac=self.number("torque_pct") / 100.0)


class ClutchStuckInTransit(_OnShaft):
    """The shaft clutch hangs half-way: neither of its contacts is made, whatever it is ordered."""

    def start(self, bench: Bench, now_s: float) -> None:
        super().start(bench, now_s)
        name = bench.boat_map.shaft_names[self.level]
        fields_of(bench, f"{name}.clutch.closed")  # a boat without a shaft clutch says so

    def shaft(self, now_s: float, shaft: PlantShaft) -> PlantShaft:
        line = shaft.line
        return shaft._replace(line=line._replace(clutch_frac=0.5, clutch_position=POSITION_IN_TRANSIT))


class BeltBroken(_OnShaft):
    """The drive's belt or coupling is broken: the drive turns by itself, the propeller as the water will."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(belt_nm=0.0)


class BeltSlipping(_OnShaft):
    """The drive's belt passes no more than `torque_nm` (at the shaft) and slips above that."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(belt_nm=self.number("torque_nm"))


class PropellerJammed(_OnShaft):
    """A rope or log holds the propeller."""

    def command(self, now_s: float, command: ShaftOrders) -> ShaftOrders:
        return command._replace(load_shock_nm=self.number("torque_nm"))
