"""What the bus layer costs, beside a bare python-can virtual bus. Run: python tests/benchmarks/bench_bus.py

Traffic is that of marsh_tern under way: two shafts, every message of its boat file at its own period. Times are the
best of several rounds, in microseconds of one core of the machine that ran it.
"""

import time
from collections.abc import Callable

import can

from supervisor.bus import BoatMap, InputTable, MessageCodec, OutputTable, compile_boat
from supervisor.bus.e2e import next_counter, protect
from supervisor.config import load_config
from supervisor.signals import BoatCommand, ShaftCommand

TICKS = 500
TICK_S = 0.02
ROUNDS = 5

Frame = tuple[str, int, bool, bytes]


def heard(boat_map: BoatMap) -> list[tuple[str, MessageCodec]]:
    """The messages that feed an input, each once."""
    found = {(row.bus, row.message.name): row.message for row in boat_map.inputs}
    return [(bus, codec) for (bus, _), codec in found.items()]


def traffic(boat_map: BoatMap) -> list[list[Frame]]:
    """Frames of each tick: every message at its period, contacts steady, numbers moving with the tick."""
    counters: dict[str, int] = {}
    instances = {"ENGINE_RAPID": (0, 1), "TRANSMISSION": (0, 1), "DC_SOURCE_STATUS_1": (1,), "DC_SOURCE_STATUS_2": (1,)}
    ticks: list[list[Frame]] = []
    for tick in range(TICKS):
        frames: list[Frame] = []
        for offset, (bus, codec) in enumerate(heard(boat_map)):
            every = max(1, round(codec.period_s / TICK_S))
            if (tick + offset) % every:
                continue
            for instance in instances.get(codec.name, (0,)):
                values: dict[str, float | None] = {}
                for name, signal in codec.signals.items():
                    if name not in ("Crc", "Counter") and signal.bits > 4:
                        values[name] = (tick % 50) * signal.scale
                if "Instance" in codec.signals:
                    values["Instance"] = instance
                data = codec.encode(values)
                if codec.data_id is not None:
                    counters[codec.name] = next_counter(counters.get(codec.name, 14))
                    protect(data, codec.data_id, counters[codec.name])
                frames.append((bus, codec.arbitration_id, codec.is_extended, bytes(data)))
        ticks.append(frames)
    return ticks


def best_us(run: Callable[[], None], count: float) -> float:
    """Best of several rounds, microseconds for each of `count` things."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return min(times) / count * 1e6


def main() -> None:
    """Measure and print."""
    boat_map = compile_boat(load_config("marsh_tern"), "marsh_tern")
    ticks = traffic(boat_map)
    frames = sum(len(tick) for tick in ticks)
    table = InputTable(boat_map)
    clock = [0.0]

    def feed() -> None:
        for tick in ticks:
            clock[0] += TICK_S
            for bus, identifier, extended, data in tick:
                table.feed(bus, identifier, extended, data, clock[0])

    def snapshot() -> None:
        for _ in range(TICKS):
            table.snapshot(clock[0])

    out = OutputTable(boat_map)
    commands = (ShaftCommand(50.0, -20.0, 1), ShaftCommand(45.0, -18.0, 1))
    sent = [0]

    def encode() -> None:
        for tick in range(TICKS):
            sent[0] += len(out.frames(tick * TICK_S, BoatCommand(), commands, 2, (1, 1)))

    sender = can.Bus(interface="virtual", channel="bench_bus")
    receiver = can.Bus(interface="virtual", channel="bench_bus")
    message = can.Message(arbitration_id=0x31, is_extended_id=False, data=bytes(8))

    def bare() -> None:
        for _ in range(TICKS):
            sender.send(message)
            receiver.recv(timeout=0)

    def empty() -> None:
        for _ in range(TICKS):
            receiver.recv(timeout=0)

    feed_us = best_us(feed, frames)
    snapshot_us = best_us(snapshot, TICKS)
    encode_us = best_us(encode, TICKS)
    frames_out = sent[0] / (TICKS * ROUNDS)
    bare_us, empty_us = best_us(bare, TICKS), best_us(empty, TICKS)
    sender.shutdown()
    receiver.shutdown()
    per_tick = frames / TICKS
    decode_us = feed_us * per_tick
    each_us = encode_us / frames_out
    print(f"decode           {feed_us:6.2f} us a frame, {per_tick:.1f} frames a tick: {decode_us:5.1f} us a tick")
    print(f"snapshot         {snapshot_us:6.2f} us a tick, two shafts")
    print(f"encode           {each_us:6.2f} us a frame, {frames_out:.1f} frames a tick: {encode_us:5.1f} us a tick")
    print(f"bare python-can  {bare_us:6.2f} us a frame, virtual bus, send and receive; empty receive {empty_us:.2f} us")
    print(f"bus layer        {decode_us + snapshot_us + encode_us:6.1f} us a tick of {TICK_S * 1000:.0f} ms")


if __name__ == "__main__":
    main()
