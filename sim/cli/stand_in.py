"""`thwart stand-in`: chosen simulated nodes on a real bus, in real time."""

import argparse
import queue
import sys
import threading
from typing import Any

from sim.cli.adapters import add_bus_options, percent, reason_to_stop, settings_of
from sim.console import say
from sim.faults import CATALOGUE
from sim.faults.base import Value
from sim.rig.live import StandIn
from supervisor.config import ConfigError, load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime import Loop, RealClock
from supervisor.runtime.adapters import Adapters
from supervisor.runtime.collector import SlackCollector
from supervisor.runtime.run import refuse_embedded_buses

_DESCRIPTION = """\
Stand in for parts of the boat that are not fitted yet: run chosen simulated nodes on a real CAN adapter, beside real
ones, so that the supervisor (`thwart run`) or your own controller meets a whole boat.

Nodes: monitor, helm, handset, sources (shore charger, alternators, solar: it hears the stop output), and drive,
engine, contacts, lever for each shaft (engine.port or port.engine; engine alone means all shafts); own.MESSAGE for a
message of own interlocks; all. Each process simulates a boat of its own and shares nothing with others but the bus.

On standard input, one line each, what the crew does and what goes wrong:
  helm.enable press | port.lever_pct 40 | port.engine start | set bank.soc_pct 90
  inject permit_withdrawn monitor permit=charge | clear permit_withdrawn monitor
"""
_EPILOG = "example:\n  thwart stand-in my_boat.toml --nodes monitor,engine.port --bus private=socketcan:can0"


def add_parser(subparsers: Any) -> None:
    """Add the verb."""
    parser = subparsers.add_parser(
        "stand-in",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("config", metavar="CONFIG", help="a boat file, or the name of a shipped boat")
    parser.add_argument("--nodes", required=True, metavar="NODE,NODE,...", help="the nodes to stand in for, or all")
    add_bus_options(parser)
    parser.add_argument("--soc", type=percent, default=70.0, metavar="PERCENT", help="SOC at the start (default: 70)")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """0 after a stop by hand or SIGTERM."""
    path = resolve_boat(args.config)
    config = load_config(path)
    settings = settings_of(config, args)
    clock = RealClock()
    nodes = [name.strip() for name in args.nodes.split(",") if name.strip()]
    stand_in = StandIn(config, path, nodes, settings, Adapters(args.settle), clock.now_s(), args.soc)
    used = stand_in.buses
    try:
        for warning in refuse_embedded_buses(settings, used, str(path)):
            say(warning)
    except ConfigError:
        stand_in.close()
        raise
    say(f"standing in for {', '.join(sorted(stand_in.chosen))}")
    for problem in stand_in.port.open(clock.now_s()):
        say(problem)
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()
    threading.Thread(target=_listen, args=(lines,), name="orders", daemon=True).start()
    loop = Loop(stand_in.tick, stand_in.tick_s, clock)
    problems: dict[str, str] = {}
    with reason_to_stop() as stop, SlackCollector() as collector:
        say("ready")
        while not (why := stop()):
            now_s = loop.once()
            while not lines.empty():
                _obey(stand_in, lines.get())
            now = stand_in.port.problems()
            for name in sorted(now.keys() ^ problems.keys()):
                say(f"bus {name}: {now.get(name, 'works again')}")
            problems = now
            collector.collect(stand_in.tick_s - (clock.now_s() - now_s))
    stand_in.close()
    timing = loop.timing
    say(f"{why}; {stand_in.sent} frames sent, {timing.ticks} ticks, {timing.missed} missed, "
        f"worst {timing.worst_late_s * 1e3:.1f} ms late")  # fmt: skip
    return 0


def _listen(lines: "queue.SimpleQueue[str]") -> None:
    for line in sys.stdin:
        lines.put(line)


def _obey(stand_in: StandIn, line: str) -> None:
    try:
        answer = order(stand_in, line)
    except ValueError as exc:
        say(f"refused: {exc}")
        return
    if answer:
        say(answer)


def order(stand_in: StandIn, line: str) -> str:
    """One line: `TARGET VALUE`, `set TARGET VALUE`, `inject FAULT TARGET [PARAM=VALUE ...]`, `clear FAULT TARGET`.

    Returns the answer, "" if there is nothing to say. Raises ValueError with a sentence for what cannot be done.
    """
    match line.split():
        case []:
            return ""
        case ["set", target, number]:
            stand_in.set_plant(target, _number(number))
            return ""
        case ["inject", name, target, *words]:
            pairs = (word.partition("=") for word in words)
            stand_in.inject(name, target, **{key: _value(text) for key, _, text in pairs})
            return CATALOGUE[name].words
        case ["clear", name, target]:
            stand_in.clear(name, target)
            return ""
        case [target, value]:
            return stand_in.act(target, _value(value))
    raise ValueError(
        f"not understood: {line.strip()!r}. Write one of: TARGET VALUE | set TARGET VALUE | inject FAULT TARGET | "
        "clear FAULT TARGET"
    )


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a number") from None


def _value(text: str) -> Value:
    if text in ("on", "true"):
        return True
    if text in ("off", "false"):
        return False
    try:
        return float(text)
    except ValueError:
        return text
