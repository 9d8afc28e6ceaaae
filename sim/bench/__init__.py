"""The bench: written procedures run against a rig, and the evidence of each run."""

from sim.bench.bind import BoundStep, bind
from sim.bench.load import load_procedure, parse_procedure
from sim.bench.procedure import Expectation, Procedure, Step
from sim.bench.recorder import Recorder
from sim.bench.result import Check, Result, StepResult
from sim.bench.rig import EVENT_KINDS, Event, Rig
from sim.bench.runner import run_procedure
from sim.bench.sinks import NullSink, Sink, Tee
from sim.errors import BenchError

__all__ = [
    "EVENT_KINDS",
    "BenchError",
    "BoundStep",
    "Check",
    "Event",
    "Expectation",
    "NullSink",
    "Procedure",
    "Recorder",
    "Result",
    "Rig",
    "Sink",
    "Step",
    "StepResult",
    "Tee",
    "bind",
    "load_procedure",
    "parse_procedure",
    "run_procedure",
]
