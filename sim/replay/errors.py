"""The one kind of error that a person with a recording can cause and mend."""

from sim.errors import BenchError


class ReplayError(BenchError):
    """A recording, or something said about it, cannot be used.

    The text is complete: what is wrong, where (file, option), what to do. It is shown as it stands, without a
    traceback. Examples: the file is missing or empty; no line of it is a CAN frame; `--channel` names no bus.
    """
