"""What one supervisor tick for two shafts costs, part by part: decode, word and tables and set points, encode.

    python tests/benchmarks/bench_tick.py [BOAT]

A second supervisor hears the very frames of a simulated boat, without a bus, so that its ticks are those of a boat that
propels, turns and charges. Beside it, measured in the same run: one bare python-can virtual send and receive, the pure
tick with the compiled tables, and one trigger of the `transitions` machine. Exit status 1 when the p50 of the whole
exceeds 150 us.
"""

import statistics
import sys
import time
from collections.abc import Callable

import can

from sim.rig.simulated import SimRig
from supervisor.bus import BusPort
from supervisor.controller import Outcome, TableMachine
from supervisor.modes import SHAFT_TABLE, ShaftMode
from supervisor.rules import run_tick
from supervisor.runtime import Supervisor
from supervisor.signals import BoatInput

MOST_US = 150.0
SECONDS = 40.0


def p50_p99(times_ns: list[int]) -> tuple[float, float]:
    """Median and 99th percentile in us."""
    ordered = sorted(times_ns)
    return statistics.median(ordered) / 1000, ordered[int(len(ordered) * 0.99)] / 1000


def timed(work: Callable[[], object], count: int) -> float:
    """Median of single runs, in us."""
    times = []
    for _ in range(count):
        start_ns = time.perf_counter_ns()
        work()
        times.append(time.perf_counter_ns() - start_ns)
    return p50_p99(times)[0]


def bare_bus_us() -> float:
    """One send and one receive on a bare virtual bus, median."""
    sender = can.Bus(interface="virtual", channel="bench_tick")
    receiver = can.Bus(interface="virtual", channel="bench_tick")
    message = can.Message(arbitration_id=0x021, is_extended_id=False, data=bytes(8))

    def once() -> None:
        sender.send(message)
        receiver.recv(timeout=0)

    result = timed(once, 3000)
    sender.shutdown()
    receiver.shutdown()
    return result


def trigger_us() -> float:
    """One trigger of the live machine whose first matching row is far down, median."""
    machine = TableMachine(SHAFT_TABLE, ShaftMode, ShaftMode.REST)
    return timed(lambda: machine.weigh_word(0), 2000)


def measure(boat: str) -> dict[str, tuple[float, float]]:
    """p50 and p99 of each part, in us."""
    rig = SimRig(boat)
    second = Supervisor(rig.config, boat, BusPort({}))
    ours = {row.message.arbitration_id for row in rig.boat_map.outputs}
    heard: list[tuple[str, can.Message]] = []
    parts: dict[str, list[int]] = {name: [] for name in ("decode", "decide", "encode", "whole", "pure tick")}
    first = rig.supervisor.tick

    def note(_time_s: float, message: can.Message, bus: str) -> None:
        if message.is_extended_id or message.arbitration_id not in ours:
            heard.append((bus, message))

    def both(now_s: float) -> Outcome:
        outcome = first(now_s)
        table, controller = second.table, second.controller
        clock = time.perf_counter_ns
        a = clock()
        for bus, message in heard:
            table.take(bus, message, now_s)
        table.set_contact(BoatInput.RECEIVE_OK, True)
        table.set_contact(BoatInput.DEADLINE_OK, True)
        boat_in, shaft_in = table.snapshot(now_s)
        b = clock()
        again = controller.tick(now_s, boat_in, shaft_in)
        c = clock()
        second.outputs.frames(now_s, again.boat_command, again.shaft_commands, again.boat_mode, again.shaft_modes)
        d = clock()
        run_tick(controller.boat, controller.memory, boat_in, shaft_in, 0.02)
        e = clock()
        for name, spent in zip(parts, (b - a, c - b, d - c, d - a, e - d), strict=True):
            parts[name].append(spent)
        heard.clear()
        if again.shaft_commands != outcome.shaft_commands:
            raise SystemExit("the second supervisor decided otherwise")
        return outcome

    rig.on_frame = note
    rig.supervisor.tick = both  # type: ignore[method-assign]
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    for times in parts.values():
        times.clear()
    modes = set()
    for pct in (50.0, -40.0, 0.0, 80.0):
        for shaft in rig.shafts:
            rig.act(f"{shaft}.lever_pct", pct)
        for _ in range(10):
            rig.run(SECONDS / 40)
            modes |= {str(rig.signals()[f"{shaft}.mode"]) for shaft in rig.shafts}
    rig.close()
    if "PROPEL" not in modes:
        raise SystemExit(f"{boat} did not propel: {modes}")
    return {name: p50_p99(times) for name, times in parts.items()}


def main() -> int:
    """Print the figures; 1 when the whole is too slow."""
    boat = sys.argv[1] if len(sys.argv) > 1 else "marsh_tern"
    bare = bare_bus_us()
    found = measure(boat)
    print(f"{boat}: one supervisor tick, us        p50     p99")
    for name, words in (
        ("decode", "decode, freshness, snapshot"), ("decide", "word, tables, set points, events"), ("encode", "encode"),
        ("whole", "the whole tick"), ("pure tick", "  (rules with compiled tables alone)"),
    ):  # fmt: skip
        p50, p99 = found[name]
        print(f"  {words:<36}{p50:8.1f}{p99:8.1f}")
    print(f"  {'(one trigger of the machine)':<36}{trigger_us():8.1f}")
    print(f"  {'bare virtual send and receive':<36}{bare:8.1f}")
    slow = found["whole"][0] > MOST_US
    print(f"{'MISSED' if slow else 'met'}: at most {MOST_US:.0f} us p50 for the whole")
    return 1 if slow else 0


if __name__ == "__main__":
    sys.exit(main())
