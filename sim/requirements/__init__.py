"""The safety requirements: the register, and an evaluator for each that can be judged on signals."""

from sim.requirements.evaluator import JUDGES, Evaluator, evaluate
from sim.requirements.hazards import HAZARDS
from sim.requirements.model import Hazard, Requirement
from sim.requirements.on_own import OWN_PREFIX, own_identifier, own_sentence
from sim.requirements.record import Judgement, Record, of_tick
from sim.requirements.register import BY_ID, REGISTER, called, title_of

__all__ = [
    "BY_ID",
    "HAZARDS",
    "JUDGES",
    "OWN_PREFIX",
    "REGISTER",
    "Evaluator",
    "Hazard",
    "Judgement",
    "Record",
    "Requirement",
    "called",
    "evaluate",
    "of_tick",
    "own_identifier",
    "own_sentence",
    "title_of",
]
