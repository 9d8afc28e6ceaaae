"""A proof in lines, requirement by requirement. "Proven" is said of what was decided for all that there is, "complete"
only where nothing that a requirement rests on is missing; of the rest it is said what was looked at instead."""

from collections.abc import Iterator, Sequence

from sim.prove.parity import Parity
from sim.prove.result import CHECKED, EMPTY, ERROR, LEFT, PROVEN, SILENT, Count, Proof, Shown
from sim.requirements import REGISTER, Requirement

_HOW = {
    "table": "tables",
    "product": "history",
    "reach": "reachability",
    "plain": "values read directly",
    "step": "steps",
}
_WORDS = {
    PROVEN: "proven",
    CHECKED: "checked over {over:,} ticks, not proven",
    SILENT: "does not apply to this boat",
    EMPTY: "empty: this claim can never be false",
    ERROR: "the solver could not read it",
    LEFT: "not looked at",
}
FOUNDATION = "What every requirement rests on"


def report_lines(proof: Proof, *, every_claim: bool = False) -> Iterator[str]:
    """What `thwart prove` prints. `every_claim` lists the claims of a requirement that is proven as well."""
    by_requirement: dict[str, list[Shown]] = {}
    for one in proof.shown:
        by_requirement.setdefault(one.requirement, []).append(one)
    if "" in by_requirement:
        yield from _claims(FOUNDATION, by_requirement[""], (), every_claim)
    for requirement in REGISTER:
        yield from _requirement(proof, requirement, by_requirement.get(requirement.id, []), every_claim)
    yield ""
    for count in proof.counts:
        yield (
            f"  {count.part:<18} {count.states:>7,} states {count.words:>20,} words or cases "
            f"{count.seconds:>7.2f} s {count.rate:>10.3g} a second{_blocks(count)}"
        )
    for note in proof.notes:
        yield f"note: {note}"


def parity_lines(parity: Parity) -> Iterator[str]:
    """Whether the evaluators of the requirements and the claims said the same of the ticks on which both were asked."""
    if parity.holds:
        yield (
            f"claims and evaluators: no disagreement on {parity.ticks:,} ticks, normal and forged; the evaluators "
            f"noted {sum(parity.violations.values()):,} violations, of {len(parity.violations)} requirements"
        )
        return
    yield f"claims and evaluators DISAGREE, on {parity.ticks:,} ticks, normal and forged:"
    for one in parity.disagreements:
        what = f"claim {one.claim!r} is broken, and" if one.claim else "no claim forbids what the evaluator sees:"
        yield f"    {one.requirement}, tick {one.tick}: {what} {one.words}"


def verdict(proof: Proof) -> str:
    """The whole proof in one line."""
    claims = len(proof.shown)
    if not proof.holds:
        return f"REFUTED: {len(proof.failed())} of {claims} claims fail"
    undecided = len(proof.undecided())
    if undecided:
        return f"not refuted; {undecided} of {claims} claims are neither proven nor refuted"
    short = sum(1 for requirement in REGISTER if proof.missing.get(requirement.id))
    return "proven" + (f", {short} requirements not complete" if short else "")


def _blocks(count: Count) -> str:
    if not count.in_blocks:
        return ""
    return f" ({count.in_blocks:,} in whole blocks, {count.words - count.in_blocks:,} in lanes of 64)"


def _requirement(proof: Proof, requirement: Requirement, shown: list[Shown], every_claim: bool) -> Iterator[str]:
    title = f"{requirement.id} {requirement.title}"
    if not shown:
        yield f"{title}: {requirement.instead or 'nothing is claimed'}"
        return
    yield from _claims(title, shown, proof.missing.get(requirement.id, ()), every_claim)


def _claims(title: str, shown: list[Shown], missing: Sequence[str], every_claim: bool) -> Iterator[str]:
    failed = [one for one in shown if not one.holds]
    open_ = [one for one in shown if one.holds and one.answer not in (PROVEN, SILENT)]
    plural = "s" * (len(shown) != 1)
    if failed:
        yield f"{title}: REFUTED, {len(failed)} of {len(shown)} claim{plural}"
    elif open_:
        yield f"{title}: not refuted; {len(shown) - len(open_)} of {len(shown)} claim{plural} proven, {_parts(shown)}"
    else:
        yield f"{title}: proven, {len(shown)} claim{plural}, {_parts(shown)}; {_complete(shown, missing)}"
    for one in shown:
        if not one.holds:
            yield f"    against {one.claim!r} ({one.text}):"
            for line in one.counterexample.splitlines():
                yield f"      {line}"
        elif every_claim or one.answer not in (PROVEN, SILENT):
            said = _WORDS[one.answer].format(over=one.over)
            yield f"    {one.claim}: {one.text} [{_HOW[one.how]}, {said}{_over(one)}{': ' * bool(one.why)}{one.why}]"


def _over(one: Shown) -> str:
    if one.answer != PROVEN:
        return ""
    return f" over {one.over:,}" + (" inputs, latches and timers, all free" if one.how == "step" else "")


def _parts(shown: list[Shown]) -> str:
    parts = []
    for how, name in _HOW.items():
        mine = [one for one in shown if one.how == how and one.answer == PROVEN]
        if not mine:
            continue
        if how == "step":
            parts.append(f"{len(mine)} on steps, over up to {max(one.over for one in mine)} inputs, latches and timers")
        else:
            # claims on one mode are looked at on the same words: those count once
            parts.append(f"{name} over {sum({one.over: one.over for one in mine}.values()):,}")
    return ", ".join(parts)


def _complete(shown: list[Shown], missing: Sequence[str]) -> str:
    left = [*sorted({one.left_out for one in shown if one.left_out})]
    left += [f"{one.claim}: {one.why or _WORDS[SILENT]}" for one in shown if one.answer == SILENT]
    left += missing
    return "complete" if not left else f"not complete: {' | '.join(left)}"
