"""How fast the closed loop runs: plant, stand-in nodes, python-can virtual buses, supervisor, in logical time.

    python tests/benchmarks/bench_loop.py [BOAT]

Prints the real-time factor with the signals read on every tick (as a bench run does), the frames per tick, one
supervisor tick (decode, word, tables, set points, encode) and, measured in the same run, one bare python-can virtual
send and receive. Exit status 1 when the loop is slower than 30 times real time or the supervisor's tick p50 exceeds
150 us.
"""

import statistics
import sys
import time
from typing import NamedTuple

import can

from sim.rig.simulated import SimRig
from supervisor.bus import BusPort
from supervisor.controller import Outcome
from supervisor.runtime import Supervisor
from supervisor.signals import BoatInput

LEAST_FACTOR = 30.0
MOST_TICK_US = 150.0
SECONDS = 40.0
CHUNKS = 40


class Figures(NamedTuple):
    """Times in microseconds."""

    factor: float
    tick_us: float
    frames_per_tick: float
    signals_us: float
    supervisor_p50_us: float
    supervisor_p99_us: float
    supervisor_with_bus_us: float
    bare_us: float


def into_propel(rig: SimRig) -> None:
    """From cold to PROPEL on every shaft."""
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(3.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 50.0)
    rig.run(2.0)
    modes = {str(rig.signals()[f"{shaft}.mode"]) for shaft in rig.shafts}
    if modes != {"PROPEL"}:
        raise SystemExit(f"{rig.boat} did not come into PROPEL: {modes}")


def bare_bus_us(count: int = 3000) -> float:
    """One send and one receive on a bare virtual bus, median."""
    sender = can.Bus(interface="virtual", channel="bare")
    receiver = can.Bus(interface="virtual", channel="bare")
    message = can.Message(arbitration_id=0x021, is_extended_id=False, data=bytes(8))
    times = []
    for _ in range(count):
        start_ns = time.perf_counter_ns()
        sender.send(message)
        receiver.recv(timeout=0)
        times.append((time.perf_counter_ns() - start_ns) / 1000)
    sender.shutdown()
    receiver.shutdown()
    return statistics.median(times)


def supervisor_us(boat: str, seconds: float) -> list[float]:
    """Ticks of a second supervisor that hears the very frames of a rig from cold on, without any bus: decode to encode.

    It decides as the first one does, so that its ticks are those of a boat in PROPEL.
    """
    rig = SimRig(boat)
    supervisor = Supervisor(rig.config, boat, BusPort({}))
    ours = {row.message.arbitration_id for row in rig.boat_map.outputs}
    heard: list[tuple[str, can.Message]] = []
    times: list[float] = []
    first = rig.supervisor.tick

    def note(_time_s: float, message: can.Message, bus: str) -> None:
        if message.is_extended_id or message.arbitration_id not in ours:
            heard.append((bus, message))

    def both(now_s: float) -> Outcome:
        outcome = first(now_s)
        start_ns = time.perf_counter_ns()
        table = supervisor.table
        for bus, message in heard:
            table.take(bus, message, now_s)
        table.set_contact(BoatInput.RECEIVE_OK, True)
        table.set_contact(BoatInput.DEADLINE_OK, True)
        boat_in, shaft_in = table.snapshot(now_s)
        again = supervisor.controller.tick(now_s, boat_in, shaft_in)
        supervisor.outputs.frames(now_s, again.boat_command, again.shaft_commands, again.boat_mode, again.shaft_modes)
        times.append((time.perf_counter_ns() - start_ns) / 1000)
        heard.clear()
        if again.shaft_commands != outcome.shaft_commands:
            raise SystemExit("the second supervisor decided otherwise")
        return outcome

    rig.on_frame = note
    rig.supervisor.tick = both  # type: ignore[method-assign]
    into_propel(rig)
    times.clear()
    rig.run(seconds)
    rig.close()
    return times


def measure(boat: str = "marsh_tern", seconds: float = SECONDS) -> Figures:
    """Measure one boat."""
    bare_us = bare_bus_us()
    alone = sorted(supervisor_us(boat, seconds / 4))
    rig = SimRig(boat)
    into_propel(rig)
    ticks = round(seconds / rig.tick_s)
    frames = rig.frames
    whole = [0.0]
    tick = rig.supervisor.tick

    chunks = []
    for _ in range(CHUNKS):  # the median of many: somebody else's work on this computer is not ours
        start_ns = time.perf_counter_ns()
        for _ in range(ticks // CHUNKS):
            rig.step()
            rig.signals()
        chunks.append((time.perf_counter_ns() - start_ns) / 1000 / (ticks // CHUNKS))
    tick_us = statistics.median(chunks)
    frames_per_tick = (rig.frames - frames) / ticks

    start_ns = time.perf_counter_ns()
    for _ in range(500):
        rig.signals()
    signals_us = (time.perf_counter_ns() - start_ns) / 1000 / 500

    def timed(now_s: float) -> Outcome:
        began_ns = time.perf_counter_ns()
        outcome = tick(now_s)
        whole.append((time.perf_counter_ns() - began_ns) / 1000)
        return outcome

    rig.supervisor.tick = timed  # type: ignore[method-assign]
    rig.run(seconds / 4)
    rig.close()
    return Figures(
        factor=rig.tick_s * 1e6 / tick_us,
        tick_us=tick_us,
        frames_per_tick=frames_per_tick,
        signals_us=signals_us,
        supervisor_p50_us=statistics.median(alone),
        supervisor_p99_us=alone[int(len(alone) * 0.99)],
        supervisor_with_bus_us=statistics.median(whole[1:]),
        bare_us=bare_us,
    )


def main() -> int:
    """Print the figures; 1 when one is missed."""
    boat = sys.argv[1] if len(sys.argv) > 1 else "marsh_tern"
    found = measure(boat)
    print(f"{boat}: closed loop, every frame through python-can's virtual bus and the codec")
    print(f"  real-time factor        {found.factor:7.1f} x   (at least {LEAST_FACTOR:.0f}; signals read every tick)")
    print(f"  one tick                {found.tick_us:7.1f} us  of it signals() {found.signals_us:.1f} us")
    print(f"  frames per tick         {found.frames_per_tick:7.2f}")
    print(f"  supervisor tick         {found.supervisor_p50_us:7.1f} us  p50, p99 {found.supervisor_p99_us:.1f} us "
          f"(at most {MOST_TICK_US:.0f}; decode to encode, no bus)")  # fmt: skip
    print(f"  supervisor with buses   {found.supervisor_with_bus_us:7.1f} us  p50")
    print(f"  bare virtual send+recv  {found.bare_us:7.1f} us  p50")
    missed = found.factor < LEAST_FACTOR or found.supervisor_p50_us > MOST_TICK_US
    print("MISSED" if missed else "met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
