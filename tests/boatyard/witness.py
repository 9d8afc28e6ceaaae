"""A word for which a given row is the first that matches: a small search over the rows before it."""

from collections.abc import Sequence

from supervisor.modes import Row


def witness(rows: Sequence[Row], index: int) -> int:
    """The smallest-effort word that makes row `index` win. Raises LookupError if there is none."""
    wanted = rows[index]
    before = [row for row in rows[:index] if row.source == wanted.source]

    def search(at: int, ones: int, zeros: int) -> int | None:
        if at == len(before):
            return ones
        row = before[at]
        must, must_not = int(row.must), int(row.must_not)
        if must & zeros or must_not & ones:
            return search(at + 1, ones, zeros)
        for bit in _bits(must & ~ones):
            found = search(at + 1, ones, zeros | bit)
            if found is not None:
                return found
        for bit in _bits(must_not & ~zeros):
            found = search(at + 1, ones | bit, zeros)
            if found is not None:
                return found
        return None

    word = search(0, int(wanted.must), int(wanted.must_not))
    if word is None:
        raise LookupError(f"row {index} can never win")
    return word


def _bits(word: int) -> list[int]:
    return [1 << n for n in range(word.bit_length()) if word >> n & 1]
