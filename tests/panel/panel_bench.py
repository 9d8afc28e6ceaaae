"""An engine with a clock of its own: nothing waits, and a page is a name."""

from collections import deque
from pathlib import Path
from typing import Any

from sim.panel.engine import Engine
from sim.panel.link import EVENTS, FAST, REPLY, SLOW
from supervisor.config import load_config
from supervisor.config.load import resolve_boat
from supervisor.runtime.loop import VirtualClock


class Bench:
    """The engine of one boat, pages that ask it, and everything it said."""

    def __init__(self, folder: Path, boat: str = "marsh_tern") -> None:
        file = resolve_boat(boat)
        self.clock = VirtualClock(100.0)
        self.said: list[tuple[str, str, Any]] = []
        self.pages: set[str] = set()
        self.held: dict[str, list[str]] = {}
        self.engine = Engine(load_config(file), file, self.clock, self._send, folder, plot=False)
        self.engine.listen = self._listen
        self.on_tick: Any = None
        self._next_beat_s = 0.0
        self._number = 0
        self._commands: deque[dict[str, Any]] = deque()

    def _send(self, kind: str, client: str, payload: object) -> None:
        self.said.append((kind, client, payload))

    def _listen(self) -> None:
        """The pages that live beat every 0.1 s of the clock, as a browser's do."""
        now_s = self.clock.now_s()
        if self.on_tick is not None:
            self.on_tick()
        if now_s >= self._next_beat_s:
            self._next_beat_s = now_s + 0.1
            for page in self.pages:
                self.engine.take({"client": page, "do": "beat", "held": self.held.get(page, [])}, now_s)
        while self._commands:
            self.engine.take(self._commands.popleft(), now_s)

    def ask(self, page: str, do: str, **fields: Any) -> dict[str, Any]:
        """One command, its tick, and the answer."""
        self._number += 1
        self._commands.append({"client": page, "name": f"page {page}", "do": do, "re": self._number, **fields})
        for _ in range(20):
            self.engine.turn()
            for kind, client, payload in self.said:
                if kind == REPLY and client == page and payload["re"] == self._number:
                    return dict(payload)
        raise AssertionError(f"{do}: no answer")

    def act(self, target: str, value: Any, page: str = "a") -> dict[str, Any]:
        """An action of the page in control, which must be taken."""
        answer = self.ask(page, "act", target=target, value=value)
        assert answer["ok"], answer
        return answer

    def run(self, seconds: float) -> None:
        """So much of the boat's time."""
        until_s = self.engine.rig.now_s + seconds
        while self.engine.rig.now_s < until_s - 1e-6:
            self.engine.turn()

    def take_control(self, page: str = "a") -> None:
        """A page that lives and controls."""
        self.pages.add(page)
        assert self.ask(page, "take")["ok"]

    def last(self, kind: str) -> Any:
        """The newest message of a kind."""
        return next(payload for one, _, payload in reversed(self.said) if one == kind)

    def signal(self, name: str) -> Any:
        """What the boat is now."""
        return self.engine.rig.signals()[name]

    def events(self) -> list[dict[str, Any]]:
        """All events told so far."""
        return [event for kind, _, payload in self.said if kind == EVENTS for event in payload]

    def view(self) -> dict[str, Any]:
        """The newest of both views."""
        return {**self.last(FAST), **self.last(SLOW)}

    def under_way(self, lever_pct: float = 50.0) -> None:
        """From cold to electric thrust on the port shaft."""
        self.take_control()
        self.run(1.0)
        self.act("helm.enable", "press")
        self.run(1.5)
        assert self.signal("boat.mode") == "READY"
        self.act("port.lever_pct", lever_pct)
        self.run(2.0)
        assert self.signal("port.mode") == "PROPEL"
        assert self.signal("port.torque_nm") > 10.0
