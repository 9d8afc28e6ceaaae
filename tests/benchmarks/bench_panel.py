"""How late the boat's ticks begin with the panel, without pages and with three that are shown 20 views a second; and
how soon the first page is there.

    python tests/benchmarks/bench_panel.py [SECONDS]

The reference is the same boat at the same pace in a process with nothing else in it. All are put before whatever else
the machine does, where the system grants it, Chromium too. The pages are websockets that read and understand all they
are sent, each in this one process; with a Chromium, one more is a real page.
"""

import asyncio
import json
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import aiohttp

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / "realtime"), str(Path(__file__).resolve().parents[1])]

from panel_page import CHROMIUM, Panel, chromium  # noqa: E402 - after the path is set
from processes import Process  # noqa: E402 - the same

ALONE = """
import sys
from sim.panel.pace import Pace
from sim.rig.simulated import SimRig
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.loop import RealClock
rig, seconds = SimRig("marsh_tern"), float(sys.argv[1])
clock = RealClock()
pace = Pace(rig.tick_s, clock)
with SlackCollector() as collector:
    for _ in range(round(seconds / rig.tick_s)):
        pace.wait(); rig.step(); pace.rest(collector)
late = pace.late
print(late.total, late.quantile_s(0.5), late.quantile_s(0.999), late.worst_s, pace.missed)
rig.close()
"""


def told(name: str, text: str) -> None:
    """One row: ticks, median, p99.9 and worst lateness."""
    total, half, most, worst, missed = (float(one) for one in text.split())
    print(
        f"{name:44} {total:7.0f} ticks  median {half * 1e3:6.2f} ms  p99.9 {most * 1e3:6.2f} ms  "
        f"worst {worst * 1e3:6.2f} ms  missed {missed:.0f}",
        flush=True,
    )


async def measured(url: str, seconds: float, pages: int) -> tuple[str, list[float]]:
    """Lateness over some seconds with so many pages connected; and how many views a second each was given."""
    counts = [0] * pages
    async with aiohttp.ClientSession() as session:
        asking = await session.ws_connect(f"{url}wire?client=asking")

        async def ask() -> str:
            await asking.send_str(json.dumps({"do": "timing", "re": 1}))
            async for message in asking:
                data = json.loads(message.data)
                if data["t"] == "reply":
                    return str(data["d"]["text"])
            raise RuntimeError("the panel has gone")

        async def read(number: int) -> None:
            async with session.ws_connect(f"{url}wire?client=page{number}") as socket:
                async for message in socket:
                    counts[number] += json.loads(message.data)["t"] == "fast"

        readers = [asyncio.create_task(read(number)) for number in range(pages)]
        await asyncio.sleep(2.0)
        await ask()
        await asking.close()  # it would be one more page
        for number in range(pages):
            counts[number] = 0
        await asyncio.sleep(seconds)
        rates = [count / seconds for count in counts]
        asking = await session.ws_connect(f"{url}wire?client=asking")
        text = await ask()
        await asking.close()
        for reader in readers:
            reader.cancel()
    return text, rates


@contextmanager
def panel() -> Iterator[Panel]:
    """One, with its run folders elsewhere."""
    with tempfile.TemporaryDirectory() as place, Panel(Path(place)) as one:
        yield one


def first_page_s() -> float:
    """From the command to a page that shows the boat."""
    with chromium() as browser:
        page = browser.new_page()
        began_s = time.monotonic()
        with panel() as one:
            page.goto(one.url)
            page.wait_for_selector("body[data-ready=yes]")
            page.wait_for_function("document.querySelector('#boat-mode').textContent === 'STANDBY'")
            return time.monotonic() - began_s


def main(seconds: float) -> None:
    """Print all figures."""
    root = Path(__file__).resolve().parents[2]
    with Process(["-c", ALONE, str(seconds)], root) as alone:  # put before the neighbours, as the panel is
        alone.process.wait(seconds + 60.0)
        told("the boat alone", alone.wait_for(" "))
    for pages in (0, 3):
        with panel() as one:
            text, rates = asyncio.run(measured(one.url, seconds, pages))
        told(f"with the panel, {pages} pages", text)
        if rates:
            print(f"    views a second: {', '.join(f'{rate:.1f}' for rate in rates)}", flush=True)
    if CHROMIUM is None:
        print("no Chromium on this machine: no real page was measured")
        return
    with panel() as one, chromium() as browser:
        sheet = browser.new_page()
        sheet.goto(one.url)
        sheet.wait_for_selector("body[data-ready=yes]")
        with ThreadPoolExecutor(1) as aside:  # playwright has a loop of its own in this thread
            text, _ = aside.submit(lambda: asyncio.run(measured(one.url, seconds, 2))).result()
    told("with the panel, 2 pages and one in Chromium", text)
    took = sorted(first_page_s() for _ in range(5))
    print(f"first page after {took[2]:.2f} s (median of 5; {took[0]:.2f} to {took[-1]:.2f} s)")


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
