"""The engine: one page works the boat, the others watch; a lost page is a handset let go."""

import json
import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from panel_bench import Bench

from sim.panel.link import FAST, HELLO, SLOW


def test_a_page_without_control_moves_nothing(bench: Bench) -> None:
    bench.run(0.5)
    answer = bench.ask("a", "act", target="port.lever_pct", value=50)
    assert not answer["ok"]
    assert "take control first" in answer["text"]
    assert bench.engine.rig.panel.shafts[0].lever_pct == 0.0


def test_the_second_page_watches_until_the_first_lets_go(bench: Bench) -> None:
    bench.take_control("a")
    bench.pages.add("b")
    assert "page a is in control" in bench.ask("b", "take")["text"]
    assert not bench.ask("b", "set", target="bank.soc_pct", value=30)["ok"]
    assert bench.ask("a", "let_go")["ok"]
    assert bench.ask("b", "take")["ok"]


def test_the_story_up_to_thrust(bench: Bench) -> None:
    bench.under_way()
    view = bench.view()
    assert view["signals"]["port.mode"] == "PROPEL"
    assert view["hands"]["port.lever_pct"] == 50.0
    port = view["drawings"][0]
    assert port["parts"]["clutch"] == {"words": "closed", "turns": 1, "passes": True}
    assert "ahead" in port["parts"]["machine"]["words"]
    assert port["flow"]["way"] == 1


def test_a_page_that_falls_silent_stops_thrust(bench: Bench) -> None:
    bench.under_way()
    bench.pages.clear()  # it beats no more: closed, frozen, cut off
    bench.run(0.42)
    assert bench.engine.control.holder is None
    assert bench.engine.rig.panel.shafts[0].lever_pct == 0.0
    bench.run(1.0)
    assert abs(bench.signal("port.torque_nm")) < 1.0
    told = [event["text"] for event in bench.events() if "was lost" in event["text"]]
    assert len(told) == 1
    assert "port lever to neutral" in told[0]
    assert "engines, gearboxes, clutches, selectors and switches stay" in told[0]
    assert "was lost" in bench.last(FAST)["control"]["lost"]


def test_thrust_orders_are_zero_within_the_stated_time_of_the_last_beat(bench: Bench) -> None:
    """0.3 s of silence, the lever's frame, and the slew of 250 N m/s from 52 N m."""
    bench.under_way()
    bench.pages.clear()
    last_beat_s = bench.clock.now_s()
    while abs(bench.signal("port.order_nm")) > 0.1:
        bench.engine.turn()
        assert bench.clock.now_s() - last_beat_s < 1.0
    assert bench.clock.now_s() - last_beat_s > 0.2  # a page that is merely slow is not lost


def test_what_was_lost_can_be_gone_on_with(bench: Bench) -> None:
    bench.under_way()
    bench.pages.clear()
    bench.run(2.0)
    bench.take_control("b")
    assert bench.engine.control.lost == ""
    bench.run(1.0)
    assert abs(bench.signal("port.order_nm")) < 0.1  # nothing by itself
    bench.act("port.lever_pct", 30, page="b")
    bench.run(1.0)
    assert bench.signal("port.order_nm") > 5.0


def test_a_hidden_tab_is_a_lost_page(bench: Bench) -> None:
    bench.under_way()
    bench.engine.take({"client": "a", "do": "hidden"}, bench.clock.now_s())
    assert bench.engine.rig.panel.shafts[0].lever_pct == 0.0
    assert "hidden" in bench.engine.control.lost


def test_another_page_that_is_hidden_is_nobodys_loss(bench: Bench) -> None:
    bench.under_way()
    bench.engine.take({"client": "b", "do": "hidden"}, bench.clock.now_s())
    assert bench.engine.rig.panel.shafts[0].lever_pct == 50.0


def test_letting_go_leaves_no_thrust_behind(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("a", "let_go")["ok"]
    assert bench.engine.rig.panel.shafts[0].lever_pct == 0.0
    assert any("lets go of control: port lever to neutral" in event["text"] for event in bench.events())


def test_anybody_may_press_the_emergency_stop_and_only_the_holder_releases_it(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("b", "act", target="helm.emergency_stop", value=True)["ok"]
    bench.run(0.3)
    assert bench.signal("boat.mode") == "TRIPPED"
    assert any(event["text"] == "page b presses the emergency stop" for event in bench.events())
    assert not bench.ask("b", "act", target="helm.emergency_stop", value=False)["ok"]
    assert any("TRIPPED" in words for words in bench.last(SLOW)["crew"])
    assert bench.last(SLOW)["first_out"][0]["first_out"] == "emergency stop"
    bench.act("helm.emergency_stop", False)
    bench.act("port.lever_pct", 0)
    bench.run(0.5)
    bench.act("helm.reset", "press")
    bench.run(0.5)
    assert bench.signal("boat.mode") == "STANDBY"


def test_the_handset_is_held_as_long_as_the_beats_say_so(bench: Bench) -> None:
    bench.take_control()
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(1.5)
    bench.held["a"] = ["handset.held"]
    bench.run(1.0)
    bench.act("handset.thrust_pct", 40)
    bench.run(2.0)
    assert bench.signal("boat.handset_in_control") == 1.0
    assert bench.signal("port.order_nm") > 5.0
    bench.held["a"] = []  # the finger is lifted
    bench.run(0.3)
    assert abs(bench.signal("port.order_nm")) < 0.1
    assert bench.engine.rig.panel.shafts[0].handset_pct == 0.0  # it springs back: the next hold begins in neutral


def test_a_page_that_is_lost_holds_no_handset(bench: Bench) -> None:
    bench.take_control()
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(1.5)
    bench.held["a"] = ["handset.held"]
    bench.run(1.0)
    bench.act("handset.thrust_pct", 40)
    bench.run(2.0)
    assert bench.signal("port.order_nm") > 5.0
    bench.pages.clear()
    bench.run(0.6)
    assert abs(bench.signal("port.order_nm")) < 0.1
    assert bench.engine.rig.panel.handset_held == 0


def test_nothing_but_hold_to_run_controls_can_be_held(bench: Bench) -> None:
    bench.take_control()
    bench.held["a"] = ["helm.shore_connected", "port.lever_pct"]
    bench.run(0.5)
    assert bench.engine.rig.panel.switches["shore_connected"] == 0


def test_what_cannot_be_done_is_answered_in_words(bench: Bench) -> None:
    bench.take_control()
    for fields, says in (
        ({"do": "act", "target": "port.lever_pct", "value": 400}, "not allowed"),
        ({"do": "act", "target": "port.sail", "value": 1}, "there is no port.sail"),
        ({"do": "set", "target": "bank.soc_pct", "value": 400}, "not allowed"),
        ({"do": "inject", "fault": "gremlin", "target": "port"}, "there is no fault"),
        ({"do": "inject", "fault": "node_silent", "target": "monitor", "params": {"self": 1}}, "no parameter self"),
        ({"do": "clear", "fault": "bad_crc", "target": "port"}, "to clear"),
        ({"do": "speed", "value": 3}, "not allowed"),
        ({"do": "procedure", "procedure": "none such"}, "no shipped procedure"),
        ({"do": "make"}, "nothing has been done"),
        ({"do": "dance"}, "nothing that the panel does"),
        ({"do": "set", "target": "bank.soc_pct", "value": "much"}, "is not a number"),
    ):
        answer = bench.ask("a", **fields)  # type: ignore[arg-type]  # `do` is among them
        assert not answer["ok"], fields
        assert says in answer["text"], (fields, answer)


def test_a_refused_request_says_what_is_missing(bench: Bench) -> None:
    bench.take_control()
    bench.act("port.lever_pct", 30)
    bench.run(1.0)
    bench.act("helm.enable", "press")
    bench.run(0.5)
    ready = next(row for row in bench.last(SLOW)["explain"] if row["goal"] == "READY")
    assert "port lever is not in neutral" in ready["missing"]
    assert any(event["kind"] == "refusal" for event in bench.events())


def test_a_fault_is_told_shown_and_ended(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("a", "inject", fault="drive_fault", target="port")["ok"]
    bench.run(0.5)
    assert bench.signal("port.mode") == "ISOLATED"
    slow = bench.last(SLOW)
    assert slow["faults"] == [{"fault": "drive_fault", "target": "port"}]
    names = {one["bit"]: one["state"] for one in slow["alarms"]}
    assert names[19] == "unacknowledged"  # SHAFT_ISOLATED
    bench.act("helm.acknowledge", "press")
    bench.run(0.6)
    names = {one["bit"]: one["state"] for one in bench.last(SLOW)["alarms"]}
    assert names[19] == "acknowledged"
    assert bench.ask("a", "clear", fault="drive_fault", target="port")["ok"]
    bench.run(0.3)
    assert bench.last(SLOW)["faults"] == []


def test_time_goes_faster_when_asked(bench: Bench) -> None:
    bench.take_control()
    assert bench.ask("a", "speed", value=10)["ok"]
    bench.run(0.2)
    began_s, sim_s = bench.clock.now_s(), bench.engine.rig.now_s
    bench.run(20.0)
    assert (bench.engine.rig.now_s - sim_s) / (bench.clock.now_s() - began_s) > 9.5


def test_twenty_views_a_second_whatever_the_speed(bench: Bench) -> None:
    bench.take_control()
    for speed in (1, 10):
        assert bench.ask("a", "speed", value=speed)["ok"]
        bench.said.clear()
        began_s = bench.clock.now_s()
        while bench.clock.now_s() - began_s < 5.0:
            bench.engine.turn()
        views = sum(kind == FAST for kind, _, _ in bench.said)
        assert 92 <= views <= 102, (speed, views)


def test_power_up_anew_forgets_what_was_done(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("a", "power_up")["ok"]
    bench.run(0.5)
    assert bench.signal("boat.mode") == "STANDBY"
    assert bench.engine.rig.panel.shafts[0].lever_pct == 0.0
    assert "nothing has been done" in bench.ask("a", "make")["text"]
    assert bench.engine.control.is_holder("a")


def test_the_page_is_told_every_target_fault_signal_and_alarm(bench: Bench) -> None:
    from sim.faults import CATALOGUE
    from sim.rig.targets import targets_for
    from supervisor.signals import Alarm

    bench.engine.hello()
    hello = bench.last(HELLO)
    assert {one["name"] for one in hello["targets"]} == set(targets_for(["port", "starboard"]))
    assert {one["name"] for one in hello["faults"]} == set(CATALOGUE)
    assert all(one["required"] and one["targets"] for one in hello["faults"])
    assert set(bench.engine.rig.signals()) <= set(hello["signals"])
    stops_of_shafts_it_lacks = 2
    assert len(hello["alarms"]) == len(Alarm) - stops_of_shafts_it_lacks


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=6,
)
WORDS = st.sampled_from([
    "take", "let_go", "act", "set", "inject", "clear", "speed", "stop", "make", "beat", "hidden", "timing", "power_up",
    "helm.enable", "port.lever_pct", "port.engine", "handset.held", "bank.soc_pct", "node_silent", "monitor_fault",
    "monitor", "port", "press", "start",
])  # fmt: skip
KEYS = st.sampled_from(["do", "target", "value", "fault", "params", "held", "re", "name", "text", "procedure", "x"])


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.dictionaries(KEYS, WORDS | JSON, max_size=6))
def test_nothing_that_a_page_sends_ends_the_boat(bench: Bench, asked: dict[str, object]) -> None:
    if not bench.engine.control.is_holder("a"):
        bench.take_control()
    bench.engine.take({**asked, "client": "a"}, bench.clock.now_s())
    for _ in range(3):
        bench.engine.turn()
    json.dumps(bench.said[-20:], allow_nan=False)
    assert math.isfinite(bench.signal("bank.voltage_v"))
    del bench.said[:-50]
