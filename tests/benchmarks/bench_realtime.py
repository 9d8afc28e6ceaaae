"""Real time on this machine: python tests/benchmarks/bench_realtime.py [timing] [reaction] [load] [--seconds N]

timing    20 ms tick through the slcan hub at 250 kbit/s, all nodes of marsh_tern in a process of their own, beside a
          bare sleep loop in another process at the same time
reaction  from a monitor fault frame on the wire to the first zero-torque order on the wire
load      100 % of a 1 Mbit/s bus offered: does the supervisor keep its tick, or trip, and how soon
All processes, the bare loop too, run at the same real-time priority where the system grants it. The load average is
printed with each.
"""

import argparse
import json
import multiprocessing
import os
import sys
import tempfile
import time
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS), str(TESTS / "realtime")]

from hub.process import Hub, prefer  # noqa: E402
from orders import MONITOR_GUARD, SHAFT_ORDER_1, readings  # noqa: E402
from processes import stand_in, supervisor, under_way  # noqa: E402
from test_realtime_adapters import boat_at  # noqa: E402

from supervisor.runtime.histogram import Histogram  # noqa: E402

TICK_S = 0.02


def bare_loop(seconds: float, answer: "multiprocessing.SimpleQueue[dict[str, object]]") -> None:
    """A loop that does nothing but sleep to absolute deadlines."""
    late = Histogram()
    deadline_s = time.monotonic()
    end_s = deadline_s + seconds
    missed = 0
    while deadline_s < end_s:
        deadline_s += TICK_S
        time.sleep(max(0.0, deadline_s - time.monotonic()))
        late_s = time.monotonic() - deadline_s
        late.add(late_s)
        if late_s >= TICK_S:
            missed += int(late_s / TICK_S)
            deadline_s += int(late_s / TICK_S) * TICK_S
    answer.put({**late.report(), "missed": missed})


def preferred_bare_loop(seconds: float, answer: "multiprocessing.SimpleQueue[dict[str, object]]") -> None:
    """The same in a process of its own, preferred only now: with its imports before others it would hold them up."""
    prefer(os.getpid())
    bare_loop(seconds, answer)


def timing(folder: Path, seconds: float) -> None:
    """Lateness of the supervisor beside that of the bare loop."""
    context = multiprocessing.get_context("spawn")
    answer = context.SimpleQueue()
    with Hub(folder, "private:250000:3", "backbone:250000:3", log=False) as hub:  # noqa: SIM117 - the hub ends last
        with supervisor(hub, folder / "run", broken=None) as supervised, stand_in(hub) as standing:
            under_way(supervised, standing)
            bare = context.Process(target=preferred_bare_loop, args=(seconds, answer))
            bare.start()
            bare.join()
            status = supervised.end()
            stats = hub.order("stats")
            standing.end()
            lines = standing.lines[-1:] + [line for line in supervised.lines if "trip" in line or "missed" in line]
    ours = json.loads((folder / "run" / "timing-1.json").read_text())
    theirs = answer.get()
    late = ours["lateness"]
    print(f"timing over {seconds:.0f} s, exit {status}, load average {os.getloadavg()[0]:.2f}, hub {stats['buses']}")
    print(f"  supervisor: {ours['ticks']} ticks, {ours['missed_ticks']} missed; late {_ms(late)}")
    print(f"  bare loop:  {theirs['count']} ticks, {theirs['missed']} missed; late {_ms(theirs)}")
    print(f"  p99.9 ratio {late['p99_9_s'] / theirs['p99_9_s']:.2f}; tick takes {_ms(ours['cycle'])}")
    print("  " + "\n  ".join(lines))


def _ms(report: dict[str, object]) -> str:
    parts = (f"{name[:-2]} {float(str(report[name])) * 1e3:.2f}" for name in ("p50_s", "p99_s", "p99_9_s", "max_s"))
    return ", ".join(parts) + " ms"


def reaction(folder: Path, times: int) -> None:
    """Fault frame to zero-torque frame, both as they end on the wire."""
    took = []
    with Hub(folder, "private:250000:3", "backbone:250000:3") as hub:  # noqa: SIM117 - the same
        with supervisor(hub, folder / "run", broken=None) as supervised, stand_in(hub) as standing:
            under_way(supervised, standing)
            for number in range(times):
                time.sleep(0.5)
                begin_s = time.monotonic()
                standing.say("inject monitor_fault monitor")
                time.sleep(0.5)
                shown = next(one for one in readings(hub, MONITOR_GUARD, begin_s) if one.values["Fault"] == 1.0)
                orders = readings(hub, SHAFT_ORDER_1, shown.time_s)
                took.append(next(one for one in orders if one.values["Torque"] == 0.0).time_s - shown.time_s)
                if number == times - 1:
                    break
                for line in ("clear monitor_fault monitor", "bank.isolator off", "port.lever_pct 0"):
                    standing.say(line)
                time.sleep(1.0)
                standing.say("bank.isolator on")
                time.sleep(1.5)
                seen = len(supervised.lines)
                standing.say("helm.reset press")
                time.sleep(0.7)
                standing.say("helm.enable press")
                _wait(supervised, seen, "-> READY")
                time.sleep(0.7)
                standing.say("port.lever_pct 60")
                _wait(supervised, seen, "-> PROPEL")
            supervised.end()
    took.sort()
    print(f"reaction, {len(took)} times, load average {os.getloadavg()[0]:.2f}: "
          f"p50 {took[len(took) // 2] * 1e3:.1f} ms, max {took[-1] * 1e3:.1f} ms")  # fmt: skip


def _wait(process: object, seen: int, text: str) -> None:
    until_s = time.monotonic() + 15.0
    while not any(text in line for line in process.lines[seen:]):  # type: ignore[attr-defined]
        if time.monotonic() > until_s:
            raise AssertionError("\n".join(process.lines[seen:]))  # type: ignore[attr-defined]
        time.sleep(0.02)


def load(folder: Path) -> None:
    """Frames of 8 bytes and of none at all, at the lowest priority, and one at the highest."""
    for number, size in (("1FFFFFFF", 8), ("7FF", 8), ("7FF", 0), ("000", 8)):
        here = folder / f"{number}_{size}"
        here.mkdir()
        boat = str(boat_at(here, 1_000_000))
        with Hub(here, "private:1000000:3", "backbone:250000:3") as hub:  # noqa: SIM117 - the same
            with (
                supervisor(hub, here / "run", boat=boat, broken=None) as supervised,
                stand_in(hub, boat=boat) as standing,
            ):
                under_way(supervised, standing)
                time.sleep(0.5)
                begin_s = float(str(hub.order(f"load private {number} {size} 1.0")["ok"]))
                time.sleep(5.0)
                stats = hub.order("stats")
                hub.order("noload private")
                time.sleep(0.5)
                supervised.end()
                orders = readings(hub, SHAFT_ORDER_1, begin_s)
                off = next((one.time_s - begin_s for one in orders if one.values["Enable"] == 0.0), None)
        ours = json.loads((here / "run" / "timing-1.json").read_text())
        buses = stats["buses"]
        trips = [line for line in supervised.lines if "trip " in line or "unread" in line or "missed" in line]
        print(f"load {number} with {size} bytes: bus {buses}, load average {os.getloadavg()[0]:.2f}")
        print(f"  {'kept its tick' if off is None else f'enable off on the wire after {off * 1e3:.0f} ms'}; "
              f"{ours['missed_ticks']} of {ours['ticks']} ticks missed, late {_ms(ours['lateness'])}, "
              f"tick takes {_ms(ours['cycle'])}")  # fmt: skip
        print(f"  standing in: {standing.lines[-1]}")
        for line in trips:
            print(f"  {line}")


def main() -> None:
    """Entry point."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="*", choices=["timing", "reaction", "load", []], default=[])
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--times", type=int, default=20)
    args = parser.parse_args()
    wanted = args.what or ["timing", "reaction", "load"]
    for what in wanted:
        with tempfile.TemporaryDirectory() as folder:
            here = Path(folder)
            if what == "timing":
                timing(here, args.seconds)
            elif what == "reaction":
                reaction(here, args.times)
            else:
                load(here)


if __name__ == "__main__":
    main()
