"""Faults of the supervisor's own adapter."""

from sim.faults.base import Bench, Fault, bus_of


class BusOff(Fault):
    """The supervisor's controller goes bus-off: it neither sends nor receives, and says so."""

    def start(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[bus_of(bench, self.target)].bus_off = True

    def stop(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[self.target].bus_off = False


class AdapterUnplugged(Fault):
    """The supervisor's adapter is pulled out: every call on it fails, until it is plugged in again."""

    def start(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[bus_of(bench, self.target)].unplugged = True

    def stop(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[self.target].unplugged = False


class ReceiveOverflow(Fault):
    """The adapter's receive buffer overflows: every second frame is lost, and an error frame says so."""

    def start(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[bus_of(bench, self.target)].overflow = True

    def stop(self, bench: Bench, now_s: float) -> None:
        bench.wires.ailments[self.target].overflow = False
