"""The hub's process: `python -m hub --dir DIR --bus private:250000:3 --bus backbone:250000:2`.

Adapters are DIR/private0, DIR/private1, ... It says "ready" on stdout, then takes orders from stdin, one a line, each
answered by one line of JSON:
    unplug ADAPTER | plug ADAPTER | busoff ADAPTER | deaf ADAPTER 1|0 | garble ADAPTER HEX
    buffer ADAPTER BYTES
    destroy BUS FRAMES | load BUS ID(hex; over 7FF: 29 bit) SIZE SHARE | noload BUS | stats | log | quit
`log` brings the wire's log (end of frame in s of the monotonic clock, bus, sender, frame) up to date.
"""

import argparse
import gc
import json
import os
import select
import sys
import time
from pathlib import Path

from hub.adapter import Adapter
from hub.bus import HubBus, Load
from hub.wire import LENGTHS, Frame


class HubProcess:
    """Buses, adapters and the one loop around them."""

    def __init__(self, folder: Path, buses: list[str], stuffing: str, log: Path | None) -> None:
        self._log = log.open("w", buffering=1 << 20) if log is not None else None
        self.buses: dict[str, HubBus] = {}
        self.adapters: dict[str, Adapter] = {}
        for text in buses:
            name, bitrate, count = text.split(":")
            bus = self.buses[name] = HubBus(name, int(bitrate), stuffing, self._note)
            for number in range(int(count)):
                adapter = Adapter(f"{name}{number}", folder / f"{name}{number}", int(bitrate))
                bus.adapters.append(adapter)
                self.adapters[adapter.name] = adapter
        self.latest_wake_s = 0.0

    def _note(self, end_s: float, bus: str, sender: str, frame: Frame) -> None:
        if self._log is not None:
            self._log.write(f"{end_s:.6f} {bus} {sender} {frame.name}\n")

    def run(self) -> None:
        """Until told to quit, or the test that started us has gone."""
        orders = b""
        while True:
            by_master = {one.master: one for one in self.adapters.values() if one.master >= 0 and not one.deaf}
            full = [one.master for one in self.adapters.values() if one.master >= 0 and one.waiting]
            times = [when for bus in self.buses.values() if (when := bus.next_s()) is not None]
            wait_s = max(0.0, min(times) - time.monotonic()) if times else 0.5
            if full:
                wait_s = min(wait_s, 0.002)  # a host that does not read must not keep us spinning
            readable, _, _ = select.select([*by_master, 0], [], [], wait_s)
            now_s = time.monotonic()
            if times:
                self.latest_wake_s = max(self.latest_wake_s, now_s - max(min(times), now_s - 1.0))
            for number in readable:
                if number == 0:
                    chunk = os.read(0, 65536)
                    if not chunk:
                        return
                    *lines, orders = (orders + chunk).split(b"\n")
                    for line in lines:
                        if line == b"quit":
                            return
                        print(json.dumps(self._order(line.decode().split(), now_s)), flush=True)
                elif by_master[number].master == number:
                    by_master[number].read(now_s)
            for bus in self.buses.values():
                bus.advance(now_s)
            for adapter in self.adapters.values():
                adapter.write()

    def close(self) -> None:
        for adapter in self.adapters.values():
            adapter.unplug()
        if self._log is not None:
            self._log.close()

    def _order(self, words: list[str], now_s: float) -> object:
        match words:
            case ["unplug", name]:
                self.adapters[name].unplug()
            case ["plug", name]:
                self.adapters[name].plug()
            case ["busoff", name]:
                self.adapters[name].go_bus_off()
            case ["deaf", name, yes]:
                self.adapters[name].deaf = yes == "1"
            case ["garble", name, junk]:
                self.adapters[name].garble(bytes.fromhex(junk))
            case ["buffer", name, size]:
                self.adapters[name].buffer_limit = int(size)
            case ["destroy", name, count]:
                self.buses[name].destroy = int(count)
            case ["load", name, number, size, share]:
                load = Load(int(number, 16), int(number, 16) > 0x7FF, int(size), float(share))
                load.due_s = now_s
                self.buses[name].load = load
            case ["noload", name]:
                self.buses[name].load = None
            case ["stats"]:
                return self._stats(now_s)
            case ["log"]:
                if self._log is not None:
                    self._log.flush()
            case _:
                return {"error": f"no such order: {' '.join(words)}"}
        return {"ok": now_s}

    def _stats(self, now_s: float) -> dict[str, object]:
        return {
            "now_s": now_s,
            "latest_wake_s": self.latest_wake_s,
            "buses": {
                name: {"frames": bus.frames, "destroyed": bus.destroyed, "busy_s": bus.busy_s}
                for name, bus in self.buses.items()
            },
            "adapters": {name: {**one.counts, "flags": one.flags} for name, one in self.adapters.items()},
        }


def main() -> None:
    """Entry point."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dir", type=Path, required=True)
    parser.add_argument("--bus", action="append", required=True)
    parser.add_argument("--stuffing", choices=tuple(LENGTHS), default="actual")
    parser.add_argument("--log", type=Path, help="file for the wire's log; none without")
    args = parser.parse_args()
    hub = HubProcess(args.dir, args.bus, args.stuffing, args.log)
    print("ready", flush=True)
    gc.freeze()
    try:
        hub.run()
    finally:
        hub.close()


if __name__ == "__main__":
    sys.exit(main())
