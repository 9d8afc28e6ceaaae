"""What a tick of the whole boat costs compiled, and how soon a process has it.

    python tests/benchmarks/bench_fast.py [--plain]

For each demonstration boat: the time from the start of a process to its first compiled second, with the compiled module
in the cache folder (after a first process has put it there); ticks a second of the whole boat (plant, senses, rules) at
20 ms on one core; and with --plain the same without the compiler. Exit status 1 where a second start takes more than
2 s, or the twin-shaft boat makes fewer than 600,000 ticks a second.
"""

import subprocess
import sys
import time

START = """
import time
began = time.perf_counter()
from sim.fast.rig import FastRig
rig = FastRig({boat!r})
rig.run(1.0)
print(time.perf_counter() - began, rig.compiled_ticks)
"""
MOST_START_S = 2.0
LEAST_TICKS_PER_S = 600_000


def start_s(boat: str) -> float:
    """From the first import to a second of the boat's time (s)."""
    done = subprocess.run([sys.executable, "-c", START.format(boat=boat)], capture_output=True, text=True, check=True)
    seconds, ticks = done.stdout.split()
    if int(ticks) < 40:
        raise SystemExit(f"{boat}: only {ticks} ticks ran compiled")
    return float(seconds)


def ticks_per_s(boat: str, seconds: float, plain: bool) -> float:
    """Ticks a second, under thrust, best of three."""
    from sim.fast.rig import FastRig
    from sim.rig.direct import DirectRig

    rig = DirectRig(boat) if plain else FastRig(boat)
    rig.run(1.0)
    rig.act("helm.enable", "press")
    rig.run(8.0)
    for shaft in rig.shafts:
        rig.act(f"{shaft}.lever_pct", 60.0)
    rig.run(5.0)
    best = 0.0
    for _ in range(3):
        rig.set_plant("bank.soc_pct", 60.0)
        began = time.perf_counter()
        rig.run(seconds)
        best = max(best, seconds / rig.tick_s / (time.perf_counter() - began))
    return best


def main() -> int:
    """Print the numbers."""
    bad = 0
    for boat in ("marsh_tern", "reed_warbler"):
        first_s, second_s = start_s(boat), start_s(boat)
        fast = ticks_per_s(boat, 1200.0, plain=False)
        print(f"{boat}: first start {first_s:.1f} s, second start {second_s:.2f} s (most {MOST_START_S:g})")
        print(
            f"{boat}: {fast:,.0f} ticks a second compiled, {1e6 / fast:.2f} us each, {fast * 0.02:,.0f} times real time"
        )
        if "--plain" in sys.argv:
            plain = ticks_per_s(boat, 20.0, plain=True)
            print(f"{boat}: {plain:,.0f} ticks a second plain, {1e6 / plain:.0f} us a tick")
        bad |= second_s > MOST_START_S or (boat == "marsh_tern" and fast < LEAST_TICKS_PER_S)
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
