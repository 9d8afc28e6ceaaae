"""Two supervisors on one bus, over all phases of their counters: how soon each notices, and whether the drive jumps.

Usage: python tests/benchmarks/bench_doubles.py [--trials 200]

The boat is simulated and under way, the second supervisor a whole one on the same buses, in STANDBY. It joins at
another moment in each trial, so that its counters stand elsewhere. Printed: the longest time until the first is TRIPPED
and says why, and the largest growth of a drive's torque in one tick from then on; in every other trial the first one is
killed then, and the second goes on alone.
"""

import argparse
from collections import Counter

from sim.rig.simulated import SimRig
from supervisor.bus import BusPort
from supervisor.runtime.supervisor import Supervisor


def trial(number: int) -> tuple[float, float, str]:
    """Time until the first one is stopped (s), the largest step of torque afterwards (N m), what it says."""
    rig = SimRig("marsh_tern", seed=number)
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(2.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 50.0)
    rig.run(1.0 + rig.tick_s * number)
    assert any(command.torque_nm for command in rig.outcome.shaft_commands)
    port = BusPort(rig.wires.settings(), rig.boat_map.essential, rig.wires.open_adapter, background=False)
    port.open(rig.now_s)
    second = Supervisor(rig.config, rig.boat_map, port)
    for _ in range(number % 15):  # as many ticks done elsewhere: its counters stand there
        second.tick(rig.now_s)
    began_s, stopped_s, said = rig.now_s, float("inf"), ""
    try:
        for _ in range(100):
            rig.step()
            second.tick(rig.now_s)
            if rig.outcome.boat_mode.name == "TRIPPED" and rig.supervisor.other:
                stopped_s = rig.now_s - began_s
                said = rig.supervisor.other.split(" on ")[0]
                break
        before = [shaft.drive.torque_nm for shaft in rig.plant.shafts]
        largest_nm = 0.0
        if number % 2:
            rig.supervisor_dead = True  # the first one is killed, the second goes on
        for _ in range(100):
            rig.step()
            if number % 2:
                second.tick(rig.now_s)
            now = [shaft.drive.torque_nm for shaft in rig.plant.shafts]
            largest_nm = max(largest_nm, *(abs(a) - abs(b) for a, b in zip(now, before, strict=True)))
            before = now
    finally:
        port.close()
        rig.close()
    return stopped_s, largest_nm, said


def main() -> None:
    """All trials."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--trials", type=int, default=200)
    trials = parser.parse_args().trials
    found = [trial(number) for number in range(trials)]
    slowest_s = max(stopped_s for stopped_s, _, _ in found)
    print(f"{trials} trials, {min(trials, 15)} phases of the counters")
    print(f"stopped and told after at most {slowest_s:.2f} s (target 0.3 s)")
    print(f"largest growth of a drive's torque in a tick afterwards: {max(nm for _, nm, _ in found):.2f} N m")
    print(f"named by: {dict(Counter(said for _, _, said in found))}")


if __name__ == "__main__":
    main()
