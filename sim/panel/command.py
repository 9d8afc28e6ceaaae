"""What a page may ask: plain values of the kinds that are expected, or a refusal in words. Nothing that comes over a
network may end the boat's process."""

from collections.abc import Mapping
from typing import Any, NamedTuple

from sim.faults.base import Value

_WORDS = ("client", "name", "do", "target", "fault", "procedure", "text")


class Command(NamedTuple):
    """One thing asked. `re` is the number that its answer is to carry, 0 for none;
    `heard_s` when it came (s)."""

    client: str
    name: str
    do: str
    re: int = 0
    target: str = ""
    value: Value = ""
    fault: str = ""
    params: Mapping[str, Value] = {}
    procedure: str = ""
    text: str = ""
    held: frozenset[str] = frozenset()
    heard_s: float = 0.0

    def number(self) -> float:
        """Its value, where it has to be a number. Raises ValueError."""
        if isinstance(self.value, bool | str):
            raise ValueError(f"{self.target or self.do}: {self.value!r} is not a number")
        return float(self.value)


def understood(data: Mapping[str, Any], heard_s: float) -> Command:
    """A command as it came, stamped with its time. What is missing is empty; what is of a wrong kind is left out, and
    then refused by what it was for. Raises ValueError for a value that is no number, contact or word."""
    words = {key: text for key in _WORDS if isinstance(text := data.get(key), str)}
    number = data.get("re")
    held, params = data.get("held"), data.get("params")
    return Command(
        client=words.get("client", ""),
        name=words.get("name", "a page"),
        do=words.get("do", ""),
        re=number if isinstance(number, int) and not isinstance(number, bool) else 0,
        target=words.get("target", ""),
        value=_value(data.get("value", "")),
        fault=words.get("fault", ""),
        params={str(key): _value(one) for key, one in params.items()} if isinstance(params, dict) else {},
        procedure=words.get("procedure", ""),
        text=words.get("text", ""),
        held=frozenset(one for one in held if isinstance(one, str)) if isinstance(held, list) else frozenset(),
        heard_s=heard_s,
    )


def _value(one: object) -> Value:
    if isinstance(one, bool | str):
        return one
    if isinstance(one, int | float) and abs(one) < 1e12:  # so that NaN is refused as well
        return float(one)
    raise ValueError(f"{one!r} is no number, contact or word")
