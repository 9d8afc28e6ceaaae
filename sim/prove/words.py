"""Counter-examples in the words of the trade."""

from collections.abc import Sequence
from typing import Any

from supervisor.modes import BOAT_WORDS, SHAFT_WORDS, BoatMode, Row, ShaftMode


def first_match(rows: Sequence[Row[Any, Any]], mode: int, word: int) -> Row[Any, Any] | None:
    """The row that `word` takes from `mode`, None where it stays."""
    for row in rows:
        if int(row.source) == mode and word & int(row.must) == int(row.must) and not word & int(row.must_not):
            return row
    return None


def describe_word(word: int, modes: type[BoatMode] | type[ShaftMode]) -> str:
    """The bits of a word in the words of the trade: what is set, and the stopping ones among the clear."""
    texts: dict[Any, tuple[str, str]] = dict(BOAT_WORDS) if modes is BoatMode else dict(SHAFT_WORDS)
    said = [when_set for bit, (when_set, _) in texts.items() if word & int(bit)]
    return "; ".join(said) if said else "nothing is set"


def describe_change(
    rows: Sequence[Row[Any, Any]], modes: type[BoatMode] | type[ShaftMode], mode: BoatMode | ShaftMode, word: int
) -> str:
    """One step: from which mode, on which word, by which row, to where."""
    row = first_match(rows, int(mode), word)
    if row is None:
        end = f"stays {mode.name}"
    else:
        marks = [mark for mark, on in (("disarms", row.disarms), ("to PROPEL", row.unload_to_propel)) if on]
        end = f"-> {row.dest.name} by the row {row.words!r}" + (f" ({', '.join(marks)})" if marks else "")
    return f"{mode.name} {end}, while: {describe_word(word, modes)}"
