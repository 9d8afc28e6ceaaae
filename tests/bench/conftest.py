"""Fixtures of the bench's tests."""

from collections.abc import Callable

import pytest
from tiny_rig import TinyRig

from sim.bench import NullSink, Result, StepResult, parse_procedure, run_procedure

HEAD = 'title = "a test"\n'


@pytest.fixture
def rig() -> TinyRig:
    return TinyRig()


@pytest.fixture
def run(rig: TinyRig) -> Callable[[str], Result]:
    """Run the steps given as TOML on the tiny rig."""

    def go(steps: str) -> Result:
        return run_procedure(rig, parse_procedure(HEAD + steps, "test.toml"), NullSink(), file="test.toml")

    return go


@pytest.fixture
def one(run: Callable[[str], Result]) -> Callable[..., StepResult]:
    """One step: its body as TOML, after the boat was made READY (`ready=True`) or from cold."""

    def go(body: str, *, ready: bool = False) -> StepResult:
        first = '[[step]]\nname = "wait"\nwait_s = 0.6\n[[step]]\nname = "on"\ndo.helm.enable = "press"\nwait_s = 0.1\n'
        result = run((first if ready else "") + f'[[step]]\nname = "it"\n{body}\n')
        return result.steps[-1]

    return go
