"""The process of the boat: `python -m sim.panel.boat TASK`, the task as JSON. Started by the panel's server; it ends
when that one does. Standard input and output are the pipes to it."""

import contextlib
import json
import os
import signal
import sys
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import BenchError
from sim.panel.engine import Engine
from sim.panel.link import EVERYBODY, FAULT, Link
from supervisor.bus.port import BusSetting
from supervisor.config import ConfigError, load_config
from supervisor.runtime.loop import RealClock

if TYPE_CHECKING:
    from sim.panel.listening import Listening
    from sim.panel.playing import Playing


def main(arguments: list[str]) -> int:
    """0 when the server has gone, 2 for a boat that cannot be shown, 70 for a fault of the program; the server is then
    told why."""
    # Ctrl-C goes to every process of a terminal: the server ends this one when it has ended itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    pipe = os.fdopen(os.dup(sys.stdout.fileno()), "w", encoding="utf-8")
    sys.stdout = sys.stderr  # whatever a library prints is no message,
    os.dup2(2, 1)  # nor is what a library in C or a child process writes
    clock = RealClock()
    link = Link(sys.stdin, pipe, clock.now_s)
    try:
        return _run(_begun(json.loads(arguments[0]), clock, link), link)
    except (ConfigError, BenchError, OSError) as error:
        link.send(FAULT, EVERYBODY, {"text": str(error), "trace": ""})
        status = 2
    except Exception as error:  # noqa: BLE001 - the last line of defence: it ends the program, and hides nothing
        trace = "".join(traceback.format_exception(error))
        link.send(FAULT, EVERYBODY, {"text": f"{type(error).__name__}: {error}", "trace": trace})
        status = 70
    link.drain()
    return status


def _run(engine: "Engine | Listening | Playing", link: Link) -> int:
    """Tick by tick, until the server has gone."""

    def listen() -> None:
        while not link.commands.empty():
            heard_s, command = link.commands.get()
            engine.take(command, heard_s)

    engine.listen = listen
    if isinstance(engine, Engine):
        engine.ended = link.ended.is_set
    try:
        engine.hello()
        with engine.collector:
            while not link.ended.is_set():
                engine.turn()
    finally:
        engine.close()
    return 0


def _begun(task: dict[str, Any], clock: RealClock, link: Link) -> "Engine | Listening | Playing":
    """What the server wants: a simulated boat, buses to listen to, or a recording to play. Raises ConfigError,
    BenchError, OSError."""
    file = Path(task["boat"])
    config = load_config(file)
    if task["mode"] == "simulated":
        return Engine(config, file, clock, link.send, Path(task["runs"]), plot=task["plot"])
    if task["mode"] == "playing":
        from sim.panel.playing import Playing

        return Playing(config, file, task["log"], clock, link.send)
    from sim.panel.listening import Listening

    settings = {name: BusSetting(*setting) for name, setting in task["buses"].items()}
    return Listening(config, file, settings, task["settle_s"], clock, link.send)


if __name__ == "__main__":
    with contextlib.suppress(KeyboardInterrupt):
        sys.exit(main(sys.argv[1:]))
