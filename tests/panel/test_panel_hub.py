"""What the server keeps for its pages, and how a slow one is treated."""

import asyncio
import json
from typing import Any

from sim.panel.hub import MOST_WAITING, Hub, Page
from sim.panel.link import EVENTS, FAST, HELLO, REPLY


def line(kind: str, payload: object, client: str = "*") -> str:
    return f"{kind}{client} {json.dumps(payload)}"


def fast(time_s: float) -> str:
    return line(FAST, {"time_s": time_s, "signals": {"bank.soc_pct": 70.0}})


def read(page: Page) -> list[dict[str, Any]]:
    return [json.loads(text) for text in asyncio.run(page.next())]


def hub() -> Hub:
    one = Hub()
    one.take(line(HELLO, {"shafts": ["port"]}), 0.0)
    return one


def test_a_page_that_comes_is_told_what_it_missed() -> None:
    one = hub()
    one.take(line(EVENTS, [{"n": 1, "text": "before"}]), 0.0)
    for number in range(4):
        one.take(fast(float(number)), 0.2 * number)
    messages = {message["t"]: message["d"] for message in read(one.join("a"))}
    assert messages["hello"]["you"] == "page 1"
    assert messages["events"] == [{"n": 1, "text": "before"}]
    assert [row[0] for row in messages["past"]["points"]] == [0.0, 1.0, 2.0, 3.0]
    assert messages["fast"]["time_s"] == 3.0


def test_a_slow_page_is_given_the_newest_view_and_every_event() -> None:
    one = hub()
    page = one.join("a")
    read(page)
    for number in range(50):
        one.take(fast(float(number)), 0.05 * number)
        one.take(line(EVENTS, [{"n": number}]), 0.05 * number)
    messages = read(page)
    assert [message["d"]["time_s"] for message in messages if message["t"] == "fast"] == [49.0]
    assert [message["d"][0]["n"] for message in messages if message["t"] == "events"] == list(range(50))


def test_a_page_that_reads_nothing_is_cut_off() -> None:
    one = hub()
    page = one.join("a")
    for number in range(MOST_WAITING + 10):
        one.take(line(EVENTS, [{"n": number}]), 0.0)
    assert page.overrun


def test_an_answer_goes_to_the_page_that_asked() -> None:
    one = hub()
    first, second = one.join("a"), one.join("b")
    read(first)
    read(second)
    one.take(line(REPLY, {"re": 1}, "b"), 0.0)
    one.take(fast(1.0), 0.0)
    assert "reply" not in [message["t"] for message in read(first)]
    assert "reply" in [message["t"] for message in read(second)]


def test_a_page_that_comes_back_has_its_name_again() -> None:
    one = hub()
    page = one.join("a")
    one.leave(page)
    one.join("b")
    assert one.join("a").name == "page 1"
    assert one.join("c").name == "page 3"
