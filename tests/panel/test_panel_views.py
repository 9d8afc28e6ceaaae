"""What the page is shown, as values: the drawing in words, the row that fired, limits, states of alarms, traffic."""

import math

import pytest
from panel_bench import Bench

from sim.panel.drawing import PARTS, drawing
from sim.panel.link import FAST, SLOW, TRAFFIC
from sim.panel.plots import pictures, plotted
from sim.panel.showing import alarm_states
from supervisor.modes import SHAFT_TABLE, ShaftMode
from supervisor.signals import Alarm

STILL = {
    "port.engine_running": 0.0, "port.engine_stalled": 0.0, "port.engine_rpm": 0.0, "port.gear": "neutral",
    "port.clutch": "closed", "port.lock": "released", "port.torque_nm": 0.0, "port.speed_rpm": 0.0,
    "port.propeller_rpm": 0.0, "port.power_w": 0.0,
}  # fmt: skip


def test_a_shaft_at_rest_in_words() -> None:
    drawn = drawing("port", STILL)
    words = {name: part["words"] for name, part in drawn["parts"].items()}
    assert words == {
        "engine": "stopped", "gearbox": "neutral", "machine": "no torque, still", "clutch": "closed",
        "lock": "released", "propeller": "still",
    }  # fmt: skip
    assert tuple(drawn["parts"]) == PARTS
    assert drawn["flow"] == {"way": 0, "words": "no power to speak of"}


@pytest.mark.parametrize(
    ("changes", "part", "words", "turns", "passes"),
    [
        ({"port.gear": "ahead", "port.speed_rpm": 400.0}, "gearbox", "ahead", 1, True),
        ({"port.clutch": "open", "port.propeller_rpm": -90.0}, "clutch", "open", None, False),
        ({"port.lock": "engaged"}, "lock", "engaged", 0, False),
        ({"port.lock": "in transit"}, "lock", "in transit", 0, False),
        ({"port.propeller_rpm": -90.0}, "propeller", "turns astern, 90 rpm", -1, True),
        ({"port.torque_nm": -40.0, "port.speed_rpm": 200.0}, "machine",
         "40 N m astern, against rotation, turns ahead, 200 rpm", 1, True),
        ({"port.torque_nm": -40.0, "port.speed_rpm": -200.0}, "machine",
         "40 N m astern, with rotation, turns astern, 200 rpm", -1, True),
        ({"port.torque_nm": 20.0}, "machine", "20 N m ahead, still", 0, True),
        ({"port.engine_running": 1.0, "port.engine_rpm": 850.4}, "engine", "runs, 850 rpm", 1, True),
        ({"port.engine_stalled": 1.0}, "engine", "stalled", 0, True),
        ({"port.torque_nm": math.nan, "port.speed_rpm": math.nan}, "machine",
         "torque unknown, speed unknown", None, True),
        ({"port.gear": math.nan}, "gearbox", "unknown", None, False),
    ],
)  # fmt: skip
def test_each_part_in_words(
    changes: dict[str, float | str], part: str, words: str, turns: int | None, passes: bool
) -> None:
    assert drawing("port", {**STILL, **changes})["parts"][part] == {"words": words, "turns": turns, "passes": passes}


@pytest.mark.parametrize(("power_w", "way"), [(-2300.0, 1), (5100.0, -1), (20.0, 0), (math.nan, None)])
def test_where_power_flows(power_w: float, way: int | None) -> None:
    flow = drawing("port", {**STILL, "port.power_w": power_w})["flow"]
    assert flow["way"] == way
    said = {1: "2.3 kW from bank to machine", -1: "5.1 kW from machine to bank", 0: "no power to speak of"}
    assert flow["words"] == ("power unknown" if way is None else said[way])


def test_the_row_that_fired_is_a_row_of_the_table(bench: Bench) -> None:
    bench.under_way()
    rows = {row["subject"]: row for row in bench.last(SLOW)["rows"]}
    row = rows["port"]
    assert (row["source"], row["dest"]) == ("REST", "PROPEL")
    assert SHAFT_TABLE[row["row"]].source == ShaftMode.REST
    assert SHAFT_TABLE[row["row"]].dest == ShaftMode.PROPEL
    assert "thrust is asked" in row["because"]
    assert "shaft clutch is closed" in row["because"]
    assert rows["boat"]["dest"] == "READY"


def test_the_tightest_limit_is_named_with_its_rule(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("a", "set", target="bank.soc_pct", value=20)["ok"]
    bench.run(45.0)
    slow = bench.last(SLOW)
    assert "thrust" in slow["tightest"]
    assert "held by SOC" in slow["tightest"]
    port = next(row for row in slow["limits"] if row["what"] == "port: electric thrust")
    assert 15.0 <= port["value"] < 60.0
    assert port["rule"] == "SOC"


def test_condition_words_cross_as_text(bench: Bench) -> None:
    """54 bits are more than a number of JSON's readers holds."""
    bench.under_way()
    outcome = bench.engine.rig.outcome
    assert outcome is not None
    words = bench.engine._showing.slow()["words"]
    assert [int(word, 16) for word in words["shaft"]] == list(outcome.shaft_words)
    assert max(outcome.shaft_words) > 2**40


def test_alarms_in_their_states() -> None:
    trip, soc, lever = Alarm.BOAT_TRIPPED, Alarm.SOC_UNKNOWN, Alarm.LEVER_LOST
    states = {one["bit"]: one["state"] for one in alarm_states(trip | soc, int(soc), int(lever))}
    assert states == {20: "unacknowledged", 0: "acknowledged", 1: "returned to normal, unacknowledged"}
    unknown = alarm_states(int(trip), None, 0)
    assert unknown == [{"bit": 20, "state": "stands; whether acknowledged is not on the bus"}]


def test_an_alarm_that_went_unacknowledged_stays_listed(bench: Bench) -> None:
    bench.under_way()
    assert bench.ask("a", "inject", fault="lever_lost", target="port")["ok"]
    bench.run(0.5)
    assert bench.ask("a", "clear", fault="lever_lost", target="port")["ok"]
    bench.run(1.0)
    states = {one["bit"]: one["state"] for one in bench.last(SLOW)["alarms"]}
    assert states[1] == "returned to normal, unacknowledged"
    bench.act("helm.acknowledge", "press")
    bench.run(0.6)
    assert 1 not in {one["bit"] for one in bench.last(SLOW)["alarms"]}


def test_every_message_of_the_bus_with_its_rate(bench: Bench) -> None:
    bench.run(3.0)
    rows = {row["name"]: row for row in bench.last(TRAFFIC)}
    assert rows["MONITOR_GUARD"]["rate_hz"] == pytest.approx(25.0, abs=2.5)  # every 40 ms
    assert rows["MONITOR_GUARD"]["from"] == "boat"
    assert rows["MONITOR_GUARD"]["age_s"] <= 0.1
    assert "ChargePermit 1" in rows["MONITOR_GUARD"]["values"]
    assert rows["STATUS"]["from"] == "supervisor"
    assert bench.ask("a", "take")["ok"]
    bench.pages.add("a")
    assert bench.ask("a", "inject", fault="node_silent", target="monitor")["ok"]
    bench.run(2.0)
    row = next(row for row in bench.last(TRAFFIC) if row["name"] == "MONITOR_GUARD")
    assert row["rate_hz"] == 0.0
    assert row["age_s"] > 1.4


def test_what_is_plotted_is_in_every_view(bench: Bench) -> None:
    bench.run(0.2)
    signals = bench.last(FAST)["signals"]
    assert set(plotted(["port", "starboard"])) <= set(signals)
    for picture in pictures(["port", "starboard"]):
        looks = [(line["dash"], line["shade"]) for line in picture["lines"]]
        assert len(set(looks)) == len(looks), picture["title"]
