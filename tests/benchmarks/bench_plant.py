"""Time of one plant step in plain Python: `python tests/benchmarks/bench_plant.py`. Target: 40 us p50 with two
shafts.
"""

import statistics
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT))

from sim.plant import idle_inputs, initial_state, load_plant, run, step  # noqa: E402


def measure(name: str, ticks: int = 20_000) -> tuple[float, float]:
    """(p50, p99) of one 20 ms step under way on the drives, in microseconds."""
    params = load_plant(ROOT / "configs" / "plants" / f"{name}.toml")
    idle = idle_inputs(params)
    command = idle.shafts[0]._replace(precharge=1, hard_enable=1)
    state = run(params, initial_state(params), idle._replace(shafts=(command,) * len(params.shafts)), 1.0)
    command = command._replace(drive_enable=1, torque_order_nm=40.0)
    told = idle._replace(shafts=(command,) * len(params.shafts), hotel_load_w=200.0, irradiance_w_m2=400.0)
    times = []
    for _ in range(ticks):
        start = time.perf_counter()
        state = step(params, state, told, 0.02)
        times.append(time.perf_counter() - start)
    times.sort()
    return 1e6 * statistics.median(times), 1e6 * times[int(0.99 * ticks)]


def main() -> None:
    """Print the numbers."""
    for name in ("marsh_tern", "reed_warbler"):
        p50, p99 = measure(name)
        print(f"{name}: one plant step {p50:.1f} us p50, {p99:.1f} us p99")


if __name__ == "__main__":
    main()
