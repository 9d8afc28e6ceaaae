"""What the verbs on real buses share: which adapter stands for which bus, and how they are stopped."""

import argparse
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from types import FrameType

from sim.console import say
from sim.errors import BenchError, installs
from supervisor.bus.port import BusSetting, bus_settings, no_hardware
from supervisor.config import BoatConfig
from supervisor.runtime.adapters import SETTLE_S


def add_bus_options(parser: argparse._ActionsContainer) -> None:
    """Options of every verb that opens real adapters."""
    parser.add_argument(
        "--bus", action="append", default=[], metavar="NAME=INTERFACE:CHANNEL",
        help="adapter of one bus of the boat file, instead of the one named there; may be given for each bus",
    )  # fmt: skip
    parser.add_argument(
        "--no-hardware", action="store_true",
        help="no adapter: the buses are multicast groups inside this computer, for other Thwarts started the same way",
    )  # fmt: skip
    parser.add_argument(
        "--settle", type=seconds, default=SETTLE_S, metavar="SECONDS",
        help="wait after opening a serial adapter, many restart then (default: %(default)s)",
    )  # fmt: skip


def settings_of(config: BoatConfig, args: argparse.Namespace) -> dict[str, BusSetting]:
    """The adapters that the options ask for. Raises ConfigError and BenchError."""
    if not args.no_hardware:
        return bus_settings(config, args.bus)
    if args.bus:
        raise BenchError("--no-hardware takes the place of every adapter: leave --bus out, or --no-hardware")
    if find_spec("msgpack") is None:
        raise BenchError(f"--no-hardware needs the package msgpack, which comes with: {installs('sim')}")
    say(f"NO HARDWARE: {', '.join(config.buses)} are multicast groups inside this computer; nothing real is there")
    return no_hardware(config)


def seconds(text: str) -> float:
    """A time of at least 0 s, at most an hour."""
    return _number(text, 0.0, 3600.0)


def percent(text: str) -> float:
    """A share from 0 to 100 %."""
    return _number(text, 0.0, 100.0)


def _number(text: str, low: float, high: float) -> float:
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number") from None
    if not low <= value <= high:
        raise argparse.ArgumentTypeError(f"{text} is not allowed: {low:g} to {high:g}")
    return value


@contextmanager
def reason_to_stop() -> Iterator[Callable[[], str]]:
    """Yields a function that says why to stop, "" while there is no reason. A second signal ends the run at once."""
    reasons: list[str] = []

    def note(number: int, _frame: FrameType | None) -> None:
        if len(reasons) > 1:
            raise KeyboardInterrupt
        reasons.append("stopped by hand" if number == signal.SIGINT else f"stopped by {signal.Signals(number).name}")

    # A closed terminal or a dropped connection (SIGHUP) is no less polite than a stop by the service manager.
    names = [name for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {number: signal.signal(number, note) for number in (signal.Signals[name] for name in names)}
    try:
        yield lambda: reasons[0] if reasons else ""
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
