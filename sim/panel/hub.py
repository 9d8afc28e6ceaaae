"""What the server keeps for its pages: the newest views, the events so far, points for the plots; and a queue for each
page, in which an old view gives way to a newer one. One publisher for all: each message is made once."""

import asyncio
import json
import secrets
from collections import deque
from typing import Any

from sim.panel.link import EVENTS, EVERYBODY, FAST, HELLO, PASSING, REPLY, SLOW, TRAFFIC
from sim.panel.plots import KEPT, PERIOD_S, plotted

EVENTS_KEPT = 3000
_NAMES = {HELLO: "hello", FAST: "fast", SLOW: "slow", EVENTS: "events", REPLY: "reply", TRAFFIC: "traffic"}
MOST_WAITING = 2000
"""A page with more messages unsent is cut off: it will ask again when it can read."""


class Page:
    """One connection."""

    def __init__(self, client: str, name: str) -> None:
        self.client, self.name = client, name
        self._newest: dict[str, str] = {}
        self._waiting: deque[str] = deque()
        self._some = asyncio.Event()
        self.overrun = False
        """It does not read: too much waits for it."""

    def put(self, kind: str, text: str) -> None:
        """One message."""
        if kind in PASSING:
            self._newest[kind] = text
        else:
            self._waiting.append(text)
            self.overrun = len(self._waiting) > MOST_WAITING
        self._some.set()

    async def next(self) -> list[str]:
        """What waits, as soon as something does."""
        await self._some.wait()
        self._some.clear()
        found = [*self._waiting, *self._newest.values()]
        self._waiting.clear()
        self._newest.clear()
        return found


class Hub:
    """All pages of one boat."""

    def __init__(self) -> None:
        self.pages: set[Page] = set()
        self.hello: dict[str, Any] | None = None
        self._last: dict[str, str] = {}
        self._events: deque[dict[str, Any]] = deque(maxlen=EVENTS_KEPT)
        self._points: deque[list[float | None]] = deque(maxlen=KEPT)
        self._signals: list[str] = []
        self._next_s = 0.0
        self._names: dict[str, str] = {}
        self._boot = secrets.token_hex(8)
        """A page that finds another one has met another panel on its old address, and begins anew."""

    def join(self, client: str) -> Page:
        """A page comes, or comes back: it gets all that it missed."""
        name = self._names.setdefault(client, f"page {len(self._names) + 1}")
        page = Page(client, name)
        you = {**(self.hello or {}), "you": page.name, "boot": self._boot}
        page.put(HELLO, _message(HELLO, you))
        page.put(EVENTS, _message(EVENTS, list(self._events)))
        page.put("P", json.dumps({"t": "past", "d": {"signals": self._signals, "points": list(self._points)}}))
        for kind, text in self._last.items():
            page.put(kind, text)
        self.pages.add(page)
        return page

    def leave(self, page: Page) -> None:
        """The connection has ended. Whether its page is lost is not decided by that, but by its heartbeat."""
        self.pages.discard(page)

    def take(self, line: str, now_s: float) -> None:
        """One line of the engine."""
        head, _, body = line.partition(" ")
        kind, client = head[0], head[1:]
        if kind == HELLO:
            self.hello = json.loads(body)
            self._signals = ["time_s", *plotted(self.hello["shafts"])]
        elif kind == EVENTS:
            self._events.extend(json.loads(body))
        elif kind == FAST and now_s >= self._next_s:
            self._next_s = now_s + PERIOD_S
            view = json.loads(body)
            values = {**view["signals"], "time_s": view["time_s"]}
            self._points.append([values.get(name) for name in self._signals])
        text = f'{{"t":"{_NAMES[kind]}","d":{body}}}'
        if kind in PASSING:
            self._last[kind] = text
        for page in self.pages:
            if client in (EVERYBODY, page.client):
                page.put(kind, text)


def _message(kind: str, payload: object) -> str:
    return json.dumps({"t": _NAMES[kind], "d": payload}, separators=(",", ":"))
