"""What hands did becomes a procedure that does it again: rerun on the bench it sees what was seen."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from panel_bench import Bench

from sim.bench.load import parse_procedure
from sim.bench.runner import run_procedure
from sim.bench.sinks import NullSink
from sim.panel.made import Deed, Diary, Seen, made_procedure
from sim.panel.rig import PanelRig
from sim.rig.simulated import SimRig
from supervisor.config import load_config
from supervisor.config.load import resolve_boat


def rerun(text: str, boat: str = "marsh_tern") -> str:
    """The bench's summary; "" where it passed."""
    config = load_config(resolve_boat(boat))
    rig = SimRig(config, file=resolve_boat(boat))
    try:
        result = run_procedure(rig, parse_procedure(text, "made", config), NullSink())
    finally:
        rig.close()
    failed = [(step.name, check.expected, check.seen) for step in result.steps for check in step.checks
              if check.verdict != "pass"]  # fmt: skip
    return "" if result.passed else f"{result.summary()} {failed}"


def test_the_story_is_made_into_a_procedure_that_passes(bench: Bench) -> None:
    bench.take_control()
    bench.run(1.0)
    bench.act("port.lever_pct", 30)
    bench.act("helm.enable", "press")
    bench.run(2.0)
    bench.act("port.lever_pct", 0)
    bench.run(2.0)
    bench.act("port.lever_pct", 60)
    bench.run(4.0)
    assert bench.ask("a", "inject", fault="drive_fault", target="port", params={})["ok"]
    bench.run(2.0)
    assert bench.ask("a", "clear", fault="drive_fault", target="port")["ok"]
    assert bench.ask("a", "set", target="bank.soc_pct", value=45)["ok"]
    bench.run(1.0)
    text = bench.ask("a", "make")["text"]
    parsed = tomllib.loads(text)
    expected = [one for step in parsed["step"] for one in step.get("expect", [])]
    assert {"signal": "port.mode", "value": "PROPEL"} in expected
    assert {"signal": "port.mode", "value": "ISOLATED"} in expected
    assert any(one.get("event") == "refusal" and "port lever is not in neutral" in one["says"] for one in expected)
    assert rerun(text) == ""


def test_the_rerun_would_notice_another_boat(bench: Bench) -> None:
    """So that the test above is known to be able to fail."""
    bench.under_way()
    text = bench.ask("a", "make")["text"].replace('"helm.enable" = "press"', '"helm.disable" = "press"')
    assert "FAIL" in rerun(text)


def test_a_lost_page_is_part_of_what_was_done(bench: Bench) -> None:
    bench.under_way()
    bench.pages.clear()
    bench.run(2.0)
    bench.take_control("b")
    text = bench.ask("b", "make")["text"]
    assert '"port.lever_pct" = 0.0' in text
    assert rerun(text) == ""


def test_deeds_that_a_procedure_does_in_another_order_wait_for_the_next_tick(bench: Bench) -> None:
    """`set` comes before `do` in a step: done after it here, it is a step of its own."""
    bench.take_control()
    bench._commands.extend([
        {"client": "a", "do": "act", "target": "port.lever_pct", "value": 10},
        {"client": "a", "do": "set", "target": "bank.soc_pct", "value": 50},
        {"client": "a", "do": "act", "target": "helm.enable", "value": "press"},
        {"client": "a", "do": "act", "target": "helm.enable", "value": "press"},
    ])  # fmt: skip
    bench.run(1.0)
    ticks = [(deed.target, deed.tick) for deed in bench.engine.rig.diary.deeds]
    first = ticks[0][1]
    assert ticks == [("port.lever_pct", first), ("bank.soc_pct", first + 1), ("helm.enable", first + 1),
                     ("helm.enable", first + 2)]  # fmt: skip
    assert rerun(bench.ask("a", "make")["text"]) == ""


DEEDS = st.one_of(
    st.tuples(
        st.just("act"), st.sampled_from(["port.lever_pct", "starboard.lever_pct"]), st.sampled_from([-60, 0, 40])
    ),
    st.tuples(st.just("act"), st.sampled_from(["helm.enable", "helm.reset", "helm.acknowledge"]), st.just("press")),
    st.tuples(st.just("act"), st.sampled_from(["helm.emergency_stop", "handset.held"]), st.booleans()),
    st.tuples(st.just("act"), st.just("port.engine"), st.sampled_from(["start", "stop"])),
    st.tuples(st.just("act"), st.just("port.clutch"), st.sampled_from(["open", "close"])),
    st.tuples(st.just("set"), st.just("bank.soc_pct"), st.sampled_from([15, 50, 96])),
    st.tuples(st.just("inject"), st.sampled_from(["drive_fault", "lever_lost"]), st.just("port")),
    st.tuples(st.just("clear"), st.sampled_from(["drive_fault", "lever_lost"]), st.just("port")),
)


@settings(max_examples=12)
@given(st.lists(st.tuples(DEEDS, st.integers(0, 60)), min_size=1, max_size=25))
def test_whatever_hands_do_the_rerun_sees_the_same(deeds: list[tuple[tuple[str, str, object], int]]) -> None:
    file = resolve_boat("marsh_tern")
    rig = PanelRig(load_config(file), file)
    try:
        for (kind, target, value), ticks in deeds:
            deed = rig.deed({"act": "do"}.get(kind, kind), "port" if kind in ("inject", "clear") else target,
                            value if kind in ("act", "set") else "",  # type: ignore[arg-type]  # one of its kinds
                            target if kind in ("inject", "clear") else "")  # fmt: skip
            if not rig.diary.fits(deed):
                rig.step()
            try:
                if kind == "act":
                    rig.act(target, value)  # type: ignore[arg-type]  # as drawn for this target
                elif kind == "set":
                    rig.set_plant(target, float(str(value)))
                elif kind == "inject":
                    rig.inject(target, "port")
                else:
                    rig.clear(target, "port")
            except ValueError:  # a fault that is there, or is not
                pass
            for _ in range(ticks):
                rig.step()
        if rig.diary.deeds:
            assert rerun(rig.made()) == ""
    finally:
        rig.close()


def test_too_much_for_a_procedure_is_said() -> None:
    diary = Diary()
    for tick in range(1000):
        diary.add(Deed(tick, "do", "port.lever_pct", 1.0), Seen((), 0))
    with pytest.raises(ValueError, match="a procedure holds 1000"):
        made_procedure("marsh_tern", diary, 0.02, 2000, Seen((), 0), [])


def test_reed_warbler_too(tmp_path: Path) -> None:
    one = Bench(tmp_path, "reed_warbler")
    try:
        shaft = one.engine.rig.shafts[0]
        one.take_control()
        one.run(1.0)
        one.act("helm.enable", "press")
        one.run(2.0)
        one.act(f"{shaft}.lever_pct", 40)
        one.run(3.0)
        assert one.signal(f"{shaft}.mode") == "PROPEL"
        assert rerun(one.ask("a", "make")["text"], "reed_warbler") == ""
    finally:
        one.engine.close()
