"""What one tick decided, as text in which equal decisions are equal and no others, and as a short code of it.

Numbers are written so that reading them back gives the same bits.
"""

import zlib

from supervisor.controller.controller import Outcome
from supervisor.controller.events import Event


def decided_text(outcome: Outcome) -> str:
    """Modes, commands and condition words, without time and events."""
    command = outcome.boat_command
    return "|".join((
        outcome.boat_mode.name,
        ",".join(mode.name for mode in outcome.shaft_modes),
        f"{command.stop_sources}{command.sounder}{command.handset_in_control} {command.alarms:x} "
        f"{command.charge_limit_a!r} {command.derate_pct!r}",
        ";".join(f"{one.torque_nm!r} {one.current_a!r} {one.permits:x}" for one in outcome.shaft_commands),
        f"{outcome.boat_word:x}",
        ",".join(f"{word:x}" for word in outcome.shaft_words),
    ))  # fmt: skip


def event_line(event: Event) -> str:
    """One event, without its time."""
    return f"{event.kind.value}:{event.subject}:{event.source}>{event.dest}:{event.first_out}:{event.text}"


class Codes:
    """The code of each tick: CRC-32 of what it decided and of its events. Equal ticks running are reckoned once."""

    def __init__(self) -> None:
        self._last: tuple[object, ...] = ()
        self._code = 0

    def state(self, outcome: Outcome) -> int:
        """The code of what holds after this tick, its events left out."""
        if outcome[1:7] != self._last:
            self._last = outcome[1:7]
            self._code = zlib.crc32(decided_text(outcome).encode())
        return self._code

    def of(self, outcome: Outcome) -> int:
        """The code of this tick."""
        code = self.state(outcome)
        for event in outcome.events:
            code = zlib.crc32(event_line(event).encode(), code)
        return code
