"""Who works the boat: one page at a time, by a heartbeat of its own. Pure: times are passed in.

A page that controls says so ten times a second, and with it which buttons it holds down. A page that is closed, frozen,
asleep or cut off says nothing, whatever the network thinks of its connection: after three beats it is lost, as is a
handset whose link breaks. What to do then is the engine's.
"""

from typing import NamedTuple

BEAT_S = 0.1
"""How often a controlling page must be heard, s."""
STALE_S = 3.0 * BEAT_S
"""A page that was not heard for longer is lost, s."""


class Holder(NamedTuple):
    """The page in control: its own key, and what it is called on other pages."""

    client: str
    name: str


class Control:
    """Times in s of one clock that never goes back."""

    def __init__(self) -> None:
        self.holder: Holder | None = None
        self.held: frozenset[str] = frozenset()
        """The hold-to-run controls that are held down on the page in control."""
        self._beat_s = 0.0
        self.lost = ""
        """How control was lost last, in words; "" once somebody has taken it again."""

    def is_holder(self, client: str) -> bool:
        """Whether this page is the one in control."""
        return self.holder is not None and self.holder.client == client

    def take(self, client: str, name: str, now_s: float) -> None:
        """Raises ValueError while another page is in control."""
        if self.holder is not None and self.holder.client != client:
            raise ValueError(
                f"{self.holder.name} is in control: it has to let go first. A page that is lost lets go by itself "
                f"after {STALE_S:g} s"
            )
        self.holder, self.held, self.lost = Holder(client, name), frozenset(), ""
        self._beat_s = now_s

    def beat(self, client: str, held: frozenset[str], heard_s: float) -> None:
        """A sign of life. Of any other page it means nothing."""
        if self.is_holder(client) and heard_s >= self._beat_s:
            self._beat_s, self.held = heard_s, held

    def let_go(self, client: str) -> None:
        """The page gives control back. Raises ValueError for one that has none."""
        if not self.is_holder(client):
            raise ValueError("this page is not in control")
        self.holder, self.held = None, frozenset()

    def lose(self, why: str) -> str:
        """The page in control is lost, and why. Returns its name, "" where there was none."""
        name = "" if self.holder is None else self.holder.name
        if name:
            self.lost = f"{name} was lost: {why}"
        self.holder, self.held = None, frozenset()
        return name

    def stale_s(self, now_s: float) -> float:
        """For how long the page in control has not been heard, where that is too long, s; else 0.0."""
        if self.holder is None:
            return 0.0
        silent_s = now_s - self._beat_s
        return silent_s if silent_s > STALE_S else 0.0
