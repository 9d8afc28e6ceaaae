"""Time of one plant step, in plain Python and compiled by numba: `python tests/benchmarks/bench_plant.py`.

Target: 40 us p50 in plain Python with two shafts.
"""

import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from sim.fast import built  # noqa: E402
from sim.fast.packed import packed  # noqa: E402
from sim.plant import (  # noqa: E402
    PlantInputs,
    PlantParams,
    PlantState,
    idle_inputs,
    initial_state,
    load_plant,
    run,
    step,
)


def under_way(name: str) -> tuple[PlantParams, PlantState, PlantInputs]:
    """A boat about to move on its drives, and the orders that keep it moving."""
    params = load_plant(ROOT / "configs" / "plants" / f"{name}.toml")
    idle = idle_inputs(params)
    command = idle.shafts[0]._replace(precharge=1, hard_enable=1)
    state = run(params, initial_state(params), idle._replace(shafts=(command,) * len(params.shafts)), 1.0)
    command = command._replace(drive_enable=1, torque_order_nm=40.0)
    told = idle._replace(shafts=(command,) * len(params.shafts), hotel_load_w=200.0, irradiance_w_m2=400.0)
    return params, state, told


def measure(name: str, ticks: int = 20_000) -> tuple[float, float]:
    """(p50, p99) of one 20 ms step under way on the drives, in microseconds."""
    params, state, told = under_way(name)
    times = []
    for _ in range(ticks):
        start = time.perf_counter()
        state = step(params, state, told, 0.02)
        times.append(time.perf_counter() - start)
    times.sort()
    return 1e6 * statistics.median(times), 1e6 * times[int(0.99 * ticks)]


def measure_compiled(name: str, ticks: int = 200_000) -> tuple[float, float]:
    """(us a step in a compiled loop, s to compile it or to find it in the cache folder)."""
    params, state, told = under_way(name)
    loop = built(len(params.shafts)).loops["coast"]
    record = packed(params)
    start = time.perf_counter()
    state = loop(record, state, told, 0.02, 1)
    compiling_s = time.perf_counter() - start
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        state = loop(record, state, told, 0.02, ticks)
        best = min(best, time.perf_counter() - start)
    return 1e6 * best / ticks, compiling_s


def main() -> None:
    """Print the numbers."""
    for name in ("marsh_tern", "reed_warbler"):
        p50, p99 = measure(name)
        print(f"{name}: one plant step {p50:.1f} us p50, {p99:.1f} us p99")
        each_us, compiling_s = measure_compiled(name)
        print(f"{name}: compiled {each_us:.2f} us a step, in a loop of its own; {compiling_s:.0f} s to compile")


if __name__ == "__main__":
    main()
