"""What a rig says of itself whose supervisor lives in the same process, in logical time."""

from collections.abc import Mapping, Sequence

from sim.nodes.own import OwnKind


class Inside:
    """Base of such rigs: the supervisor can be asked why, shows everything it decided, and shows it at once."""

    explains = True
    unseen: frozenset[str] = frozenset()
    interlocks: Mapping[str, OwnKind] = {}
    """The own interlocks of the boat, and what each of them may be put to."""

    def slack_s(self, event: str) -> float:
        """None."""
        return 0.0

    def remarks(self) -> Sequence[str]:
        """Nothing to say."""
        return ()
