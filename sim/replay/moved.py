"""A silence on every channel at once: lost frames, or a clock that was set? The guards' counters know.

All channels silent together is a recorder or its clock more often than a boat. Each guarded message counts on by one
from frame to frame: where the counts go on across the silence as if nothing had been between, nothing was, and the
clock was set forward by its length; log time then goes on unbroken. Where they do not, frames are missing.
"""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from sim.replay.health import Health
from sim.replay.logclock import SILENCE, Item
from sim.replay.source import Batch
from sim.replay.wires import Wire
from supervisor.bus.e2e import COUNTER_MAX, next_counter

ENOUGH = 3
"""Guarded messages that must have been heard again before the counters are believed."""
LOOK_S = 0.6
"""So long after the silence their first frames are waited for."""
AGREE = 0.8
"""The share of them that must agree."""


class _Last(NamedTuple):
    counter: int
    time_s: float
    period_s: float


class Moved:
    """Passes batches on, with the time of what comes after a clock that was set forward put right."""

    def __init__(self, health: Health) -> None:
        self._health = health
        self._shift_s = 0.0
        self._last: dict[Wire, _Last] = {}
        self._before: dict[Wire, _Last] = {}
        self._answers: dict[Wire, tuple[bool, float]] = {}
        self._waiting: list[Item] = []
        self._silence_s: tuple[float, float] | None = None
        """When the silence begins, and how long it is by the stamps of its first frame; None: nothing waits."""

    def settled(self, batches: Iterable[Batch]) -> Iterator[Batch]:
        """The batches; frames after a silence may come one batch later."""
        end_s = 0.0
        for batch in batches:
            items: list[Item] = []
            for time_s, handle, data in batch.items:
                if self._silence_s is None and handle is not SILENCE:
                    self._note(time_s, handle, data)
                    items.append((time_s + self._shift_s, handle, data))
                    continue
                items += self._across(time_s, handle, data)
            if self._silence_s is None:
                end_s = batch.end_s + self._shift_s
            yield Batch(items, end_s)
            last_end_s = batch.end_s
        if self._silence_s is not None:
            yield Batch(self._decide(), last_end_s + self._shift_s)

    def _note(self, time_s: float, handle: object, data: bytes) -> None:
        if isinstance(handle, Wire) and handle.guarded and len(data) > 1 and data[1] & 0x0F <= COUNTER_MAX:
            before = self._last.get(handle)
            period_s = 0.0 if before is None else time_s - before.time_s
            if before is not None and before.period_s and period_s > 2.0 * before.period_s:
                period_s = before.period_s
            self._last[handle] = _Last(data[1] & 0x0F, time_s, period_s)

    def _across(self, time_s: float, handle: object, data: bytes) -> list[Item]:
        """One item from a silence on."""
        if self._silence_s is None:
            self._silence_s = (time_s, 0.0)
            self._before = dict(self._last)
            self._answers = {}
            return []
        begin_s, by_s = self._silence_s
        settled: list[Item] = []
        if handle is SILENCE:
            settled = self._decide()
            return settled + self._across(time_s, handle, data)
        if by_s == 0.0:
            by_s = time_s - begin_s
            self._silence_s = (begin_s, by_s)
        self._waiting.append((time_s, handle, data))
        before = self._before.get(handle) if isinstance(handle, Wire) else None
        if before is not None and isinstance(handle, Wire) and handle not in self._answers and len(data) > 1:
            follows = data[1] & 0x0F == next_counter(before.counter)
            self._answers[handle] = (follows, time_s - before.time_s - before.period_s)
        if time_s - begin_s - by_s > LOOK_S or len(self._answers) == len(self._before) >= ENOUGH:
            return settled + self._decide()
        return settled

    def _decide(self) -> list[Item]:
        """Whether the clock was set or frames are missing; what waited, at its time."""
        if self._silence_s is None:
            return []
        begin_s, by_s = self._silence_s
        at_s = begin_s + self._shift_s
        self._silence_s = None
        waiting, self._waiting = self._waiting, []
        answers = list(self._answers.values())
        follow = sorted(ahead_s for follows, ahead_s in answers if follows)
        if len(answers) < ENOUGH:
            self._health.doubt(
                at_s, at_s + by_s, f"nothing on any channel for {by_s:.2f} s: bus, recorder or its clock"
            )
        elif len(follow) >= AGREE * len(answers):
            ahead_s = min(max(follow[len(follow) // 2], 0.0), by_s)
            self._shift_s -= ahead_s
            self._health.doubt(
                at_s, at_s + by_s - ahead_s,
                f"the recorder's clock was set forward by {ahead_s:.2f} s here: the counters of {len(follow)} guarded "
                "messages go on without a break, so that nothing is missing and log time goes on unbroken",
            )  # fmt: skip
        else:
            self._health.doubt(
                at_s, at_s + by_s,
                f"nothing on any channel for {by_s:.2f} s, and by the counters frames are missing: the recorder lost "
                "them, or the bus was cut",
            )  # fmt: skip
        settled: list[Item] = []
        for time_s, handle, data in waiting:
            self._note(time_s, handle, data)
            settled.append((time_s + self._shift_s, handle, data))
        return settled
