"""What a rig says of itself whose supervisor lives in the same process, in logical time."""

from collections.abc import Sequence


class Inside:
    """Base of such rigs: the supervisor can be asked why, shows everything it decided, and shows it at once."""

    explains = True
    unseen: frozenset[str] = frozenset()

    def slack_s(self, event: str) -> float:
        """None."""
        return 0.0

    def remarks(self) -> Sequence[str]:
        """Nothing to say."""
        return ()
