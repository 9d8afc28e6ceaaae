"""The hazards as docs/safety.md shows them: the two scales, what meets each hazard, and what is left to people."""

from sim.requirements.hazards import HAZARDS
from sim.requirements.model import Exposure, Hazard, Severity
from sim.requirements.register import REGISTER

NOTHING = "nothing in the program"


def hazards_page() -> str:
    """The generated part on hazards, as Markdown."""
    lines = ["| severity | the worst that can reasonably be expected |", "| --- | --- |"]
    lines += [f"| {step.value} {step.name.lower()} | {step.words} |" for step in Severity]
    lines += ["", "| exposure | how often there is a situation in which it can strike |", "| --- | --- |"]
    lines += [f"| {step.value} {step.name.lower()} | {step.words} |" for step in Exposure]
    lines += ["", "| hazard | how it comes about | severity | exposure | met by |", "| --- | --- | --- | --- | --- |"]
    lines += [_row(hazard) for hazard in HAZARDS]
    lines += ["", "What is left to people, where the program does little or nothing:", ""]
    lines += ["| hazard | whose duty, and which |", "| --- | --- |"]
    lines += [f"| {hazard.id} {hazard.title} | {hazard.duty} |" for hazard in HAZARDS if hazard.duty]
    return "\n".join(lines)


def met_by(hazard: Hazard) -> list[str]:
    """Identifiers of the requirements that name the hazard, then its checks in words."""
    requirements = [one.id for one in REGISTER if hazard.id in one.hazards]
    return requirements + [check.words for check in hazard.checks]


def _row(hazard: Hazard) -> str:
    severity = f"{hazard.severity.value} {hazard.severity.name.lower()}"
    exposure = f"{hazard.exposure.value} {hazard.exposure.name.lower()}"
    by = ", ".join(met_by(hazard)) or NOTHING
    return f"| {hazard.id} {hazard.title} | {hazard.situation} | {severity} | {exposure} | {by} |"
