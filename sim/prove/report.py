"""A proof in lines, requirement by requirement."""

from collections.abc import Iterator

from sim.prove.result import Count, Proof, Shown
from sim.requirements import REGISTER, Requirement

_HOW = {"table": "tables", "product": "history", "reach": "reachability", "numeric": "numbers"}


def report_lines(proof: Proof, *, every_claim: bool = False) -> Iterator[str]:
    """What `thwart prove` prints. `every_claim` lists the claims of a requirement that holds as well."""
    by_requirement: dict[str, list[Shown]] = {}
    for one in proof.shown:
        by_requirement.setdefault(one.requirement, []).append(one)
    for requirement in REGISTER:
        yield from _requirement(requirement, by_requirement.get(requirement.id, []), every_claim)
    yield ""
    for count in proof.counts:
        yield (
            f"  {count.part:<18} {count.states:>7,} states {count.words:>20,} words or cases "
            f"{count.seconds:>7.2f} s {count.rate:>10.3g} a second{_blocks(count)}"
        )
    for note in proof.notes:
        yield f"note: {note}"


def _blocks(count: Count) -> str:
    if not count.in_blocks:
        return ""
    return f" ({count.in_blocks:,} in whole blocks, {count.words - count.in_blocks:,} in lanes of 64)"


def _requirement(requirement: Requirement, shown: list[Shown], every_claim: bool) -> Iterator[str]:
    title = f"{requirement.id} {requirement.title}"
    if not shown:
        yield f"{title}: {requirement.instead or 'nothing is claimed'}"
        return
    failed = [one for one in shown if not one.holds]
    if not failed:
        yield f"{title}: proven, {len(shown)} claim{'s' * (len(shown) != 1)}, {_parts(shown)}; {_complete(shown)}"
    else:
        yield f"{title}: REFUTED, {len(failed)} of {len(shown)} claims"
    for one in shown:
        if not one.holds:
            yield f"    against {one.claim!r} ({one.text}):"
            for line in one.counterexample.splitlines():
                yield f"      {line}"
        elif every_claim:
            yield f"    {one.claim}: {one.text} [{_HOW[one.how]}, {one.cases:,}]"


def _parts(shown: list[Shown]) -> str:
    parts = []
    for how, name in _HOW.items():
        # claims on one mode are looked at on the same words: those count once
        cases = {(one.claim if how == "numeric" else one.cases): one.cases for one in shown if one.how == how}
        if cases:
            parts.append(f"{name} over {sum(cases.values()):,}")
    return ", ".join(parts)


def _complete(shown: list[Shown]) -> str:
    left = sorted({one.left_out for one in shown if one.left_out})
    return "complete" if not left else f"left out: {' | '.join(left)}"
