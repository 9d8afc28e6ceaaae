"""The pytest plugin: a `bench` fixture, the markers `boat` and `sr`, and failures handed over as procedures.

Loaded by entry point in every pytest run of an environment that has Thwart, so it imports nothing of the simulator
until a test asks for it, and stays silent where the extras are not installed.
"""

from collections.abc import Generator, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from sim.testing.bench import Bench

_OPTION = "--bench-failures"


def pytest_addoption(parser: pytest.Parser) -> None:
    """The command-line option."""
    group = parser.getgroup("thwart", "boats on the bench")
    group.addoption(
        _OPTION, default="failures", metavar="DIR",
        help="where violated requirements and missed expectations are written as procedures and candump logs "
        "(default: failures)",
    )  # fmt: skip


def pytest_configure(config: pytest.Config) -> None:
    """Our markers."""
    config.addinivalue_line(
        "markers", "boat(name, soc_pct=70, buses=True): the boat that the `bench` fixture puts on the bench"
    )
    config.addinivalue_line("markers", "sr(*ids): the safety requirements that a test shows")


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> "Iterator[Bench]":
    """A boat on the bench, at power-up: `marsh_tern` with its buses, or as `@pytest.mark.boat(...)` says.

    Every safety requirement is watched on every tick. Skips the test where the simulator's extras are missing.
    """
    pytest.importorskip("numpy", reason="the simulator needs Thwart's extra sim: pip install '.[sim]' in the clone")
    from sim.testing.bench import open_bench

    marker = request.node.get_closest_marker("boat")
    name: str = marker.args[0] if marker and marker.args else "marsh_tern"
    options: dict[str, Any] = dict(marker.kwargs) if marker else {}
    found = open_bench(name, failures=Path(str(request.config.getoption(_OPTION, "failures"))), **options)
    yield found
    found.close()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """A test that failed on a safety requirement, or on an expectation of its own, hands over its procedure and the
    frames of a rerun."""
    report = yield
    for error in _leaves(call.excinfo.value if call.excinfo is not None else None):
        procedure = getattr(error, "procedure", None)
        violation = getattr(error, "violation", None)
        missed = getattr(error, "missed", None)
        if isinstance(procedure, Path) and violation is not None and procedure.is_file():
            from sim.testing.handover import hand_over

            report.sections.append(("handed over", hand_over(procedure, violation).words()))
        elif missed is not None:
            from sim.testing.handover import hand_over_missed

            handed = hand_over_missed(missed, item.name)
            if handed is not None:
                report.sections.append(("handed over", handed.words()))
    return report


def _leaves(error: BaseException | None) -> Iterator[BaseException]:
    """The errors of a test: Hypothesis puts several failures of one property into a group."""
    if isinstance(error, BaseExceptionGroup):
        for one in error.exceptions:
            yield from _leaves(one)
    elif error is not None:
        yield error
