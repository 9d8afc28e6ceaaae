"""Errors of configuration, for the person who wrote the file."""

from collections.abc import Iterable


class ConfigError(Exception):
    """A boat file, DBC file or key that cannot be used.

    Raised, for example, when a key is unknown, a number is out of range, two limits contradict each other, or a DBC
    file lacks a signal that the boat file names. `file`, `key` say where; `problem` what is wrong; `remedy` what to do.
    `others` are further complaints about the same file that came with it.
    """

    others: tuple["ConfigError", ...] = ()

    def __init__(self, file: str, key: str, problem: str, remedy: str) -> None:
        self.file = file
        self.key = key
        self.problem = problem
        self.remedy = remedy
        super().__init__(str(self))

    @property
    def line(self) -> str:
        """This complaint alone, without its file."""
        what = f"{self.problem}. {self.remedy}" if self.remedy else f"{self.problem}."
        return f"{self.key}: {what}" if self.key else what

    def __str__(self) -> str:
        number = len(self.others)
        more = f" ({number} more error{'' if number == 1 else 's'})" if number else ""
        return f"{self.file}: {self.line}{more}"


def raise_all(complaints: Iterable[ConfigError]) -> None:
    """Raise the first complaint, the others with it, if there is any."""
    found = list(complaints)
    if found:
        found[0].others = tuple(found[1:])
        raise found[0]
