"""What was wrong with a recording: counted by kind, the first places kept."""

from typing import NamedTuple

AFTER_S = 1.0
"""So long after a doubtful stretch a decision may still come from it: inputs grow stale, timers have run wrongly."""
STOOD_STILL = "the recorder's clock stood still: more frames than the bus can carry in the time of their stamps"
DOUBTS_KEPT = 10_000
TICK_S = 0.1
"""The longest tick that a boat file may ask for: a frame is used in the tick after it, and a lost adapter known."""
KEPT = 5
"""Places kept for each kind of damage; the others are only counted."""


class Jump(NamedTuple):
    """Where the recording's clock jumped: `at_s` is log time before it, `by_s` the size (negative: backwards)."""

    at_s: float
    by_s: float


class Doubt(NamedTuple):
    """A stretch of log time in which stamps and frames do not belong together, and why."""

    from_s: float
    until_s: float
    words: str


class Health:
    """Damage and oddities of one recording. Everything here is counted and nothing of it stops a replay."""

    def __init__(self) -> None:
        self.lines = 0
        """Lines, or records, that the reader looked at."""
        self.frames = 0
        """CAN data frames read."""
        self.bad: dict[str, int] = {}
        """Kind of damage, in words -> how often."""
        self.where: dict[str, list[str]] = {}
        """The first places of each kind."""
        self.other: dict[str, int] = {}
        """Frames that carry no data for the supervisor, by kind: remote, error, CAN FD."""
        self.gaps: list[Jump] = []
        self.steps: list[Jump] = []
        self.gap_count = 0
        self.step_count = 0
        self.late = 0
        """Frames with a stamp a little before the one before them."""
        self.latest_s = 0.0
        """The worst of those, in s."""
        self.doubts: list[Doubt] = []
        self.unplaced_s = 0.0
        """The time on a full bus that frames stamped with one and the same time would need at least, s."""
        self.notes: list[str] = []
        """What else is worth saying of the recording as a whole."""
        self.stray = 0
        """Frames whose stamp fits neither the frame before nor the one after."""

    def damage(self, kind: str, where: str) -> None:
        """Count one damaged place."""
        self.bad[kind] = self.bad.get(kind, 0) + 1
        places = self.where.setdefault(kind, [])
        if len(places) < KEPT:
            places.append(where)

    def count_other(self, kind: str) -> None:
        """Count a frame without data for the supervisor."""
        self.other[kind] = self.other.get(kind, 0) + 1

    def gap(self, at_s: float, by_s: float) -> None:
        """Nothing was recorded for `by_s`, or the clock was set forward."""
        self.gap_count += 1
        if len(self.gaps) < KEPT:
            self.gaps.append(Jump(at_s, by_s))

    def step(self, at_s: float, by_s: float) -> None:
        """The clock was set back by `-by_s`, or forward by far more than any gap."""
        self.step_count += 1
        if len(self.steps) < KEPT:
            self.steps.append(Jump(at_s, by_s))

    def doubt(self, from_s: float, until_s: float, words: str) -> None:
        """Stamps of this stretch are doubtful. One that goes on where another ended, with the same words, is one."""
        last = self.doubts[-1] if self.doubts else None
        if last is not None and last.words == words and from_s <= last.until_s + AFTER_S:
            self.doubts[-1] = last._replace(until_s=max(last.until_s, until_s))
        elif len(self.doubts) < DOUBTS_KEPT:
            self.doubts.append(Doubt(from_s, until_s, words))

    def stood_still(self, from_s: float, until_s: float, least_s: float) -> None:
        """Between these times more frames were stamped than a bus can carry: it needs `least_s` more at least."""
        self.doubt(from_s, until_s, STOOD_STILL)
        self.unplaced_s = max(self.unplaced_s, least_s)

    def doubt_at(self, time_s: float) -> str:
        """Why what was decided at `time_s` may not have happened; "" where nothing speaks against it."""
        for doubt in reversed(self.doubts):
            if doubt.from_s - TICK_S <= time_s <= doubt.until_s + AFTER_S:
                return doubt.words
        return ""

    @property
    def damaged(self) -> int:
        """Damaged places, all kinds together."""
        return sum(self.bad.values())

    def lines_of_text(self) -> list[str]:
        """One line for each thing worth saying; an empty list for a sound recording."""
        out = []
        for kind, count in self.bad.items():
            places = ", ".join(self.where[kind])
            out.append(f"{count} x {kind} ({places}{', ...' if count > KEPT else ''}): not used")
        for kind, count in self.other.items():
            out.append(f"{count} x {kind}: counted, not used")
        for jump in self.gaps:
            out.append(f"gap of {jump.by_s:.1f} s at {jump.at_s:.1f} s (nothing recorded, or clock set forward)")
        if self.gap_count > KEPT:
            out.append(f"{self.gap_count - KEPT} more gaps")
        for jump in self.steps:
            way = "back" if jump.by_s < 0 else "forward"
            out.append(
                f"clock set {way} by {abs(jump.by_s):.1f} s at {jump.at_s:.1f} s: log time goes on without a break"
            )
        if self.step_count > KEPT:
            out.append(f"{self.step_count - KEPT} more clock steps")
        for doubt in self.doubts[:KEPT]:
            until = f" to {doubt.until_s:.2f} s" if doubt.until_s > doubt.from_s else ""
            out.append(f"DOUBTFUL from {doubt.from_s:.2f} s{until}: {doubt.words}")
        if len(self.doubts) > KEPT:
            out.append(f"{len(self.doubts) - KEPT} more doubtful stretches")
        if self.unplaced_s:
            out.append(
                f"frames for {self.unplaced_s:.2f} s of a full bus, and more of a real one, have no time of their own: "
                "rates and delays of that stretch mean nothing"
            )
        out += self.notes
        if self.late:
            out.append(f"{self.late} frames out of order, by {self.latest_s:.3f} s at most: taken as they stand")
        if self.stray:
            out.append(f"{self.stray} frames with a time stamp that fits nothing around them: taken where they stand")
        return out

    def as_dict(self) -> dict[str, object]:
        """The same for machines."""
        return {
            "lines": self.lines,
            "frames": self.frames,
            "damaged": dict(self.bad),
            "first_damaged_places": {kind: list(places) for kind, places in self.where.items()},
            "other_frames": dict(self.other),
            "gaps": {"count": self.gap_count, "first": [jump._asdict() for jump in self.gaps]},
            "clock_steps": {"count": self.step_count, "first": [jump._asdict() for jump in self.steps]},
            "out_of_order": {"count": self.late, "worst_s": self.latest_s},
            "stray_time_stamps": self.stray,
            "doubtful": [doubt._asdict() for doubt in self.doubts[:100]],
            "notes": list(self.notes),
        }
