"""Errors of configuration, for the person who wrote the file."""


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

    def __str__(self) -> str:
        where = f"{self.file}: {self.key}" if self.key else self.file
        return f"{where}: {self.problem}. {self.remedy}" if self.remedy else f"{where}: {self.problem}."
