"""Expectations at work: each watch looks at every tick of a step until it is decided."""

import math
from collections import deque
from collections.abc import Callable, Collection, Mapping, Sequence

from sim.bench.procedure import Expectation
from sim.bench.rig import EVENT_KINDS, Event
from sim.bench.units import unit_of, written

Signals = Mapping[str, float | str]
EPS_S = 1e-6
"""Slack on times that are sums of ticks, s."""
RATE_WINDOW_S = 0.5
NOTHING_MISSING = "nothing is missing"


class Look:
    """What one expectation saw on one tick.

    `ok` is None when there is nothing to judge yet; `known` False when the value is not known (then neither the
    expectation nor its opposite holds); `margin` the distance to the bound where there is one, negative beyond it;
    `shown` False when its absence proves nothing, for the supervisor under test does not show such things.
    """

    __slots__ = ("known", "margin", "ok", "seen", "shown")

    def __init__(
        self, ok: bool | None, seen: str, margin: float | None = None, known: bool = True, shown: bool = True
    ) -> None:
        self.ok = ok
        self.seen = seen
        self.margin = margin
        self.known = known
        self.shown = shown


Looker = Callable[[float, Signals, Sequence[Event]], Look]


class SignalLook:
    """Judges a signal. The bound on a slope is widened as if its window were wrong by `jitter_s`."""

    def __init__(self, expectation: Expectation, start: Signals, jitter_s: float = 0.0) -> None:
        self.e = expectation
        self.name = expectation.signal or ""
        self.unit = unit_of(self.name) + ("/s" if expectation.of in ("rise_per_s", "fall_per_s") else "")
        self.start = start[self.name]
        self.window: deque[tuple[float, float]] = deque()
        self.over_s = expectation.over_s or RATE_WINDOW_S
        self.widened = jitter_s / self.over_s if expectation.of in ("rise_per_s", "fall_per_s") else 0.0
        if isinstance(self.start, float | int):
            self.window.append((0.0, self.start))

    def __call__(self, time_s: float, signals: Signals, _events: Sequence[Event]) -> Look:
        value = self._quantity(time_s, signals[self.name])
        if value is None:
            return Look(None, "too early")
        if isinstance(value, str):
            return Look(self._text(value, signals), written(value))
        if math.isnan(value):
            return Look(False, "unknown", known=False)
        return self._number(value, signals)

    def _quantity(self, time_s: float, value: float | str) -> float | str | None:
        of = self.e.of
        if of == "value" or isinstance(value, str) or isinstance(self.start, str):
            return value
        if of == "magnitude":
            return abs(value)
        if of == "change":
            return value - self.start
        self.window.append((time_s, value))
        while len(self.window) > 1 and self.window[1][0] <= time_s - self.over_s + EPS_S:
            self.window.popleft()
        then_s, then = self.window[0]
        if time_s - then_s < self.over_s - EPS_S:
            return None
        slope = (value - then) / (time_s - then_s)
        return slope if of == "rise_per_s" else -slope

    def _text(self, value: str, signals: Signals) -> bool:
        wanted = str(signals[self.e.against] if self.e.against else self.e.value)
        if self.e.op == "==":
            return value == wanted
        if self.e.op == "!=":
            return value != wanted
        inside = wanted.lower() in value.lower()
        return inside if self.e.op == "has" else not inside

    def _number(self, value: float, signals: Signals) -> Look:
        e = self.e
        tol = e.tol or 0.0
        seen = written(value, self.unit)
        if e.between is not None:
            margin = min(value - e.between[0], e.between[1] - value) + tol
            return Look(margin >= 0, seen, margin)
        wanted = float(signals[e.against] if e.against else e.value if e.value is not None else math.nan)
        if math.isnan(wanted):
            return Look(False, f"{seen}, bound unknown", known=False)
        tol += abs(wanted) * self.widened
        if e.against:
            seen = f"{seen} against {written(wanted)}"
        if e.op in ("==", "~", "!="):
            margin = tol - abs(value - wanted)
            return Look((margin >= 0) != (e.op == "!="), seen, margin if e.op != "!=" else -margin)
        margin = (wanted - value if e.op in ("<", "<=") else value - wanted) + tol
        return Look(margin > 0 if e.op in ("<", ">") else margin >= 0, seen, margin)


class ExplainLook:
    """Judges an explanation."""

    def __init__(self, expectation: Expectation, explain: Callable[[str], Sequence[str]]) -> None:
        self.what = expectation.explain or ""
        self.says = (expectation.says or "").lower()
        self.explain = explain

    def __call__(self, _time_s: float, _signals: Signals, _events: Sequence[Event]) -> Look:
        text = "; ".join(self.explain(self.what)) or NOTHING_MISSING
        return Look(self.says in text.lower(), text)


_CAUSED = ("mode", "trip")
"""Events whose text ends with a cause, which does not show on a bus."""


class EventLook:
    """Judges the events of the step: true from the first that fits. Where the supervisor does not explain itself, the
    cause of a mode or trip is not asked for; where it does not show events of a kind, not seeing one proves nothing."""

    def __init__(
        self, expectation: Expectation, start_s: float, explains: bool = True, unseen: Collection[str] = ()
    ) -> None:
        self.e = expectation
        self.start_s = start_s
        self.explains = explains
        kinds = EVENT_KINDS if expectation.event is None else (expectation.event,)
        uncaused = not explains and expectation.event in _CAUSED and expectation.says is not None and expectation.never
        self.shown = not uncaused and not any(kind in unseen for kind in kinds) and expectation.says not in unseen
        self.next = 0
        self.found = ""

    def __call__(self, _time_s: float, _signals: Signals, events: Sequence[Event]) -> Look:
        while not self.found and self.next < len(events):
            event = events[self.next]
            self.next += 1
            if event.time_s - self.start_s >= self.e.after_s and self._fits(event):
                self.found = f"{event.kind} {event.subject}: {event.text}"
        return Look(bool(self.found), self.found or "no such event", shown=bool(self.found) or self.shown)

    def _fits(self, event: Event) -> bool:
        e = self.e
        if (e.event is not None and event.kind != e.event) or (e.subject is not None and event.subject != e.subject):
            return False
        if e.says is None or e.says.lower() in event.text.lower():
            return True
        return not self.explains and e.event in _CAUSED and event.kind in _CAUSED and not e.never


class Watch:
    """One expectation through one step. `passed` is None until it is decided; `seen` says what decided it; `shown` is
    False where that decides nothing. `slack_s` is granted on top of `within_s`."""

    def __init__(self, expectation: Expectation, look: Looker, slack_s: float = 0.0) -> None:
        self.e = expectation
        self.look = look
        self.passed: bool | None = None
        self.shown = True
        self.seen = "not observed"
        self.at_s: float | None = None
        self.closest: float | None = None
        self._since_s: float | None = None
        self._latest_s = None if expectation.within_s is None else expectation.within_s + slack_s
        self._looked = False
        timed = expectation.within_s is not None or expectation.for_s is not None
        self.has_deadline = timed
        self._on_tick = self._by_deadline if timed else self._throughout

    @property
    def reads_every_tick(self) -> bool:
        """False for an expectation that is only read at the end."""
        return self.has_deadline or self.e.always or self.e.never or self.e.of in ("rise_per_s", "fall_per_s")

    def tick(self, time_s: float, signals: Signals, events: Sequence[Event]) -> None:
        """One tick; `time_s` since the start of the step, `events` those of the step so far."""
        if self.passed is None and self.reads_every_tick:
            look = self.look(time_s, signals, events)
            self.shown = look.shown
            self._on_tick(time_s, look)

    def finish(self, time_s: float, signals: Signals, events: Sequence[Event]) -> None:
        """The step is over: decide what is open."""
        if self.passed is not None:
            return
        if self.has_deadline:
            self._decide(False, self.seen, time_s)
        elif self.e.always or self.e.never:
            self._decide(self._looked, self._all_along(), None)
        else:
            look = self.look(time_s, signals, events)
            self.shown = look.shown
            self._decide(look.ok is True, look.seen, time_s)
            self.closest = look.margin if look.margin is not None and math.isfinite(look.margin) else None

    def give_up(self, why: str) -> None:
        """It cannot be seen: decide it without looking."""
        self.shown = False
        self._decide(False, why, None)

    def _decide(self, passed: bool, seen: str, at_s: float | None) -> None:
        self.passed, self.seen, self.at_s = passed, seen, at_s

    def _by_deadline(self, time_s: float, look: Look) -> None:
        if self._latest_s is None:  # `for_s` alone: from the first tick that can be judged
            if look.ok is None:
                return
            self._latest_s = time_s
        self.seen = look.seen
        if not look.ok:
            self._since_s = None
        elif self._since_s is None:
            self._since_s = time_s
        if self._since_s is not None and self._since_s <= self._latest_s + EPS_S:
            if self.e.for_s is None or time_s - self._since_s >= self.e.for_s - EPS_S:
                self._decide(True, look.seen, self._since_s)
                self.closest = look.margin if look.margin is not None and math.isfinite(look.margin) else None
        elif time_s >= self._latest_s - EPS_S:
            self._decide(False, look.seen, time_s)

    def _throughout(self, time_s: float, look: Look) -> None:
        if not (self.e.always or self.e.never) or look.ok is None or time_s < self.e.after_s - EPS_S:
            return
        self._looked = True
        broken = not look.known or look.ok is self.e.never
        if look.margin is not None:
            margin = -look.margin if self.e.never else look.margin
            if self.closest is None or margin < self.closest:
                self.closest = margin
                self.seen = look.seen
        else:
            self.seen = look.seen
        if broken:
            self._decide(False, look.seen, time_s)

    def _all_along(self) -> str:
        if not self._looked:
            return "not observed"
        if self.closest is not None:
            return f"{_extreme(self.e)} {self.seen}"
        return "not seen" if self.e.never else f"{self.seen} all along"


def _extreme(e: Expectation) -> str:
    """Which value of all is told: the one that came nearest to the bound."""
    if e.op in ("<", "<="):
        return "smallest" if e.never else "largest"
    if e.op in (">", ">="):
        return "largest" if e.never else "smallest"
    return "nearest"


def wanted(e: Expectation) -> str:
    """The expectation in words, for the table."""
    if e.explain is not None:
        text = f'{e.explain}: says "{e.says}"'
    elif e.signal is None:
        subject = f" {e.subject}" if e.subject else ""
        says = f' saying "{e.says}"' if e.says else ""
        text = f"{e.event or 'event'}{subject}{says}"
    else:
        text = _signal_words(e)
    if e.never:
        text = f"never {text}"
    if e.always:
        text = f"always {text}"
    if e.after_s:
        text += f", after {e.after_s:g} s"
    if e.within_s is not None:
        text += f" within {e.within_s:g} s"
    if e.for_s is not None:
        text += f" for {e.for_s:g} s"
    return text


def _signal_words(e: Expectation) -> str:
    prefix = {
        "value": "",
        "magnitude": "size of ",
        "change": "change of ",
        "rise_per_s": "rise of ",
        "fall_per_s": "fall of ",
    }
    unit = unit_of(e.signal or "") + ("/s" if e.of in ("rise_per_s", "fall_per_s") else "")
    name = f"{prefix[e.of]}{e.signal}"
    slack = f" +-{e.tol:g}" if e.tol else ""
    if e.between is not None:
        return f"{name} {e.between[0]:g} to {e.between[1]:g} {unit}".rstrip() + slack
    if e.against is not None:
        return f"{name} {e.op} {e.against}{slack}"
    if isinstance(e.value, str):
        return f"{name} {e.op} {e.value or '(empty)'}"
    number = float(e.value if e.value is not None else math.nan)
    return f"{name} {e.op} {number:g}{slack} {unit}".rstrip()
