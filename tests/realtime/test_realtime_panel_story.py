"""The panel clicked through in a real browser: the demo's story, faults, why, plots, traffic, procedures."""

import json
import re
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from panel_page import Panel, Sheet, chromium, needs_a_browser

sys.path.append(str(Path(__file__).resolve().parents[1] / "own"))

from own_boat import LADDER, SEAL, write_boat

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def sheet(tmp_path: Path) -> Iterator[Sheet]:
    """One page of marsh_tern."""
    needs_a_browser()
    with Panel(tmp_path) as panel, chromium() as browser:
        one = Sheet(browser, panel.url)
        yield one
        one.end()


def test_first_page_within_three_seconds_of_the_command(tmp_path: Path) -> None:
    needs_a_browser()
    with chromium() as browser:
        began_s = time.monotonic()
        with Panel(tmp_path) as panel:
            page = browser.new_page()
            page.goto(panel.url)
            page.wait_for_selector("body[data-ready=yes]")
            took_s = time.monotonic() - began_s
    assert took_s < 3.0, f"{took_s:.2f} s"


def test_the_demos_story(sheet: Sheet) -> None:
    page = sheet.page
    sheet.take_control()
    # enabling in gear: refused, and it says which lever
    page.wait_for_timeout(1200)
    sheet.lever("port", 30)
    sheet.press("helm.enable")
    sheet.wait_mode("NEUTRAL_WAIT")
    sheet.tab("why")
    sheet.wait_text("#explain", "port lever is not in neutral")
    sheet.tab("events")
    sheet.wait_text("#events", "not READY: port lever is not in neutral")
    page.click("[data-neutral=port]")
    sheet.wait_mode("READY")
    # electric thrust ahead and astern
    sheet.lever("port", 50)
    sheet.wait_mode("PROPEL", "port")
    sheet.wait_text("[data-shaft=port] .flow", "from bank to machine")
    sheet.wait_text("[data-shaft=port] .parts", "turns ahead")
    sheet.lever("port", -50)
    sheet.wait_text("[data-shaft=port] .parts", "turns astern", 20.0)
    page.click("[data-neutral=port]")
    sheet.wait_mode("REST", "port")
    # a diesel, in gear, charging under way with the soft start
    sheet.press("starboard.engine", "start")
    sheet.wait_text("[data-shaft=starboard] .parts", "runs,", 12.0)
    sheet.press("starboard.gear", "ahead")
    sheet.wait_text("[data-shaft=starboard] .parts", "ahead")
    throttle = page.locator("input[data-target='starboard.throttle_pct']")
    throttle.focus()
    for _ in range(10):
        page.keyboard.press("ArrowUp")
    sheet.press("starboard.charge", "under_way")
    sheet.speed("10")
    sheet.wait_mode("GENERATE", "starboard", 30.0)
    sheet.wait_text("[data-shaft=starboard] .flow", "from machine to bank", 30.0)
    # the monitor withdraws its charge permit: an alarm, and charging ends
    sheet.speed("1")
    sheet.tab("faults")
    page.select_option("#fault", "permit_withdrawn")
    sheet.wait_text("#pane-faults", "own current of every source zero within 0.2 s")
    page.click("#inject")
    sheet.wait_mode("REST", "starboard")
    sheet.wait_text("[data-alarm=CHARGE_WITHDRAWN]", "unacknowledged")
    page.click("#pane-faults button:has-text('end it')")
    sheet.wait_mode("GENERATE", "starboard", 20.0)
    sheet.press("starboard.charge", "off")
    sheet.press("starboard.gear", "neutral")
    sheet.press("starboard.engine", "stop")
    # a monitor fault with the lever left ahead: after the reset nothing moves until neutral
    sheet.lever("port", 40)
    sheet.wait_mode("PROPEL", "port")
    page.select_option("#fault", "monitor_fault")
    page.click("#inject")
    sheet.wait_mode("TRIPPED")
    sheet.wait_text("#crew", "TRIPPED")
    sheet.wait_text("[data-alarm=BOAT_TRIPPED]", "unacknowledged")
    sheet.press("helm.acknowledge")
    sheet.wait_text("[data-alarm=BOAT_TRIPPED]", "acknowledged · priority")
    page.click("#pane-faults button:has-text('end it')")
    page.wait_for_timeout(3000)
    sheet.press("helm.reset")
    sheet.wait_mode("STANDBY")
    sheet.press("helm.enable")
    sheet.wait_mode("NEUTRAL_WAIT")
    page.wait_for_timeout(1000)
    assert sheet.torque_nm() == 0.0
    page.click("[data-neutral=port]")
    sheet.wait_mode("READY", timeout_s=15.0)


def test_the_handset_is_pressed_held_and_lost_by_a_pointer_that_slips(sheet: Sheet) -> None:
    page = sheet.page
    sheet.take_control()
    sheet.enable()
    button = page.locator("[data-target='handset.held']")
    button.scroll_into_view_if_needed()
    box = button.bounding_box()
    assert box is not None
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.down()
    sheet.wait_text("[data-target='handset.held']", "HELD")
    page.wait_for_timeout(500)
    for _ in range(5):
        page.keyboard.press("ArrowUp")
    sheet.wait_mode("PROPEL", "port")
    page.wait_for_timeout(1500)
    assert sheet.torque_nm() > 10.0
    page.mouse.move(middle[0], box["y"] - 60)  # still pressed, but beside it
    sheet.wait_text("[data-target='handset.held']", "let go")
    sheet.wait_mode("REST", "port")
    page.mouse.up()
    page.wait_for_timeout(600)
    assert sheet.torque_nm() == 0.0


def test_a_finger_that_slides_off_the_handset_is_a_release(tmp_path: Path) -> None:
    """Touch: the browser sends a finger's events to what it touched first, wherever it goes."""
    needs_a_browser()
    with Panel(tmp_path) as panel, chromium() as browser:
        one = Sheet(browser, panel.url, has_touch=True)
        one.take_control()
        one.enable()
        button = one.page.locator("[data-target='handset.held']")
        button.scroll_into_view_if_needed()
        box = button.bounding_box()
        assert box is not None
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        hand = one.context.new_cdp_session(one.page)
        hand.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        one.wait_text("[data-target='handset.held']", "HELD")
        hand.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - 150}]})
        one.wait_text("[data-target='handset.held']", "let go")
        hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        one.end()


def test_own_interlocks_are_put_by_hand_and_stop_what_they_are_declared_to_stop(tmp_path: Path) -> None:
    needs_a_browser()
    boat = write_boat(tmp_path / "boat", LADDER, SEAL)
    with Panel(tmp_path, boat=str(boat)) as panel, chromium() as browser:
        one = Sheet(browser, panel.url)
        one.take_control()
        one.enable()
        one.lever("port", 40)
        one.wait_mode("PROPEL", "port")
        one.tab("around")
        one.wait_text("#pane-around", "swim ladder is up / swim ladder is down (stop thrust)")
        one.press("interlock.swim_ladder", "bad")
        one.wait_mode("REST", "port")
        one.wait_text("#lately", "swim ladder is down")
        one.press("interlock.swim_ladder", "good")
        one.page.click("#acknowledge")
        one.page.click("[data-neutral=port]")
        one.page.wait_for_timeout(800)
        one.lever("port", 40)
        one.wait_mode("PROPEL", "port")
        one.page.fill("[data-field='interlock.shaft_seal']", "120")
        one.page.keyboard.press("Enter")
        one.wait_text("#lately", "a shaft seal is hot", 5.0)
        one.wait_text("#tightest", "held by own interlock")
        one.end()


def test_a_procedure_file_of_ones_own(sheet: Sheet, tmp_path: Path) -> None:
    page = sheet.page
    file = tmp_path / "mine.toml"
    file.write_text(
        'title = "Mine"\n[[step]]\nname = "cold"\nwait_s = 1\nexpect = [{ signal = "boat.mode", value = "READY" }]\n'
    )
    sheet.take_control()
    sheet.tab("procedures")
    page.set_input_files("#pane-procedures input[type=file]", file)
    page.click("text=run this file")
    sheet.wait_text("#summary", "FAIL", 15.0)
    sheet.wait_text("#verdicts li", "seen STANDBY")


def test_plots_traffic_and_a_frozen_timeline(sheet: Sheet) -> None:
    page = sheet.page
    sheet.take_control()
    sheet.enable()
    sheet.lever("port", 50)
    sheet.wait_mode("PROPEL", "port")
    sheet.tab("plots")
    page.wait_for_timeout(1500)
    drawn = page.evaluate(
        """() => [...document.querySelectorAll('canvas')].map((one) => {
             const data = one.getContext('2d').getImageData(0, 0, one.width, one.height).data;
             let count = 0; for (let i = 3; i < data.length; i += 4) if (data[i] > 0) count += 1; return count; })"""
    )
    assert len(drawn) == 5
    assert min(drawn) > 500
    sheet.wait_text(".legend", "port ordered")
    sheet.tab("traffic")
    sheet.wait_text("#traffic", "MONITOR_GUARD")
    page.fill("#pane-traffic input", "monitor_guard")
    page.wait_for_timeout(1200)
    rows = page.locator("#traffic tbody tr").all_inner_texts()
    assert len(rows) == 1
    rate = float(re.split(r"\t", rows[0])[4])
    assert 20.0 < rate < 30.0  # every 40 ms
    assert "ChargePermit 1" in rows[0]
    sheet.tab("events")
    page.click("#freeze")
    before = page.inner_text("#events")
    sheet.lever("port", 0)
    sheet.wait_mode("REST", "port")
    sheet.wait_text("#pane-events", "newer")
    assert page.inner_text("#events") == before
    page.click("#freeze")
    sheet.wait_text("#events", "PROPEL -> ")


def test_a_procedure_with_live_verdicts_and_one_made_of_what_was_done(sheet: Sheet, tmp_path: Path) -> None:
    page = sheet.page
    sheet.take_control()
    sheet.tab("procedures")
    sheet.speed("0")
    page.select_option("#procedure", "neutral_before_enable")
    page.click("#run")
    sheet.wait_text("#summary", "PASS", 30.0)
    assert page.locator("#verdicts li").count() > 3
    sheet.speed("1")
    page.click("#anew")
    sheet.wait_mode("STANDBY")
    sheet.enable()
    sheet.lever("port", 40)
    sheet.wait_mode("PROPEL", "port")
    page.wait_for_timeout(1000)
    page.click("#make")
    page.wait_for_function("() => document.querySelector('#pane-procedures textarea').value.includes('PROPEL')")
    text = page.input_value("#pane-procedures textarea")
    assert tomllib.loads(text)["boat"] == "marsh_tern"
    file = tmp_path / "made.toml"
    file.write_text(text, encoding="utf-8")
    out = ["--no-plot", "--out", str(tmp_path / "run")]
    done = subprocess.run(
        [sys.executable, "-m", "sim.cli", "bench", "marsh_tern", str(file), *out],
        cwd=ROOT, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    assert json.loads((tmp_path / "run" / "verdict.json").read_text())["verdict"] == "pass"


def test_by_keyboard_alone(sheet: Sheet) -> None:
    """Tab, Enter, Space, arrows and Escape: no pointer is used."""
    page = sheet.page

    def tab_to(selector: str) -> None:
        for _ in range(200):
            page.keyboard.press("Tab")
            if page.evaluate("(selector) => document.activeElement?.matches(selector)", selector):
                return
        raise AssertionError(f"no way by Tab to {selector}")

    tab_to("#take")
    page.keyboard.press("Enter")
    sheet.wait_text("#holder", "You control")
    page.wait_for_timeout(1200)
    tab_to("[data-target='helm.enable']")
    page.keyboard.press("Space")
    sheet.wait_mode("READY")
    tab_to("input[data-target='port.lever_pct']")
    for _ in range(8):
        page.keyboard.press("ArrowUp")
    sheet.wait_mode("PROPEL", "port")
    page.wait_for_timeout(1000)
    assert sheet.torque_nm() > 10.0
    for _ in range(8):
        page.keyboard.press("ArrowDown")
    sheet.wait_mode("REST", "port")
    page.wait_for_timeout(1000)  # the handset gets control once every lever has been in neutral for half a second
    tab_to("[data-target='handset.held']")
    page.keyboard.down("Space")
    sheet.wait_text("[data-target='handset.held']", "HELD")
    page.wait_for_timeout(400)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    sheet.wait_mode("PROPEL", "port")
    page.keyboard.up("Space")
    sheet.wait_mode("REST", "port")
    tab_to("[role=tab]")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("document.activeElement.id") == "tab-why"
    page.keyboard.press("Escape")
    sheet.wait_mode("TRIPPED")


def test_the_page_has_no_serious_fault_of_accessibility(sheet: Sheet, tmp_path: Path) -> None:
    """axe-core on each view, light and dark. It comes from npm and is kept nowhere: without it, nothing was tried."""
    fetched = subprocess.run(
        ["npm", "pack", "axe-core", "--silent"], cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False
    )
    archives = list(tmp_path.glob("axe-core-*.tgz"))
    if fetched.returncode != 0 or not archives:
        pytest.skip(f"axe-core cannot be had from npm here: accessibility was not tried ({fetched.stderr[-200:]})")
    subprocess.run(["tar", "xzf", str(archives[0]), "package/axe.min.js"], cwd=tmp_path, check=True)
    script = (tmp_path / "package" / "axe.min.js").read_text(encoding="utf-8")
    page = sheet.page
    found = []
    sheet.take_control()
    sheet.enable()
    sheet.lever("port", 40)
    sheet.wait_mode("PROPEL", "port")
    page.keyboard.press("Escape")
    sheet.wait_mode("TRIPPED")
    page.evaluate(script)  # not as a tag: the page's own policy lets no foreign script in
    for theme in ("light", "dark"):
        if page.evaluate("document.documentElement.dataset.theme") != theme:
            page.click("#theme")
        for view in ("plots", "events", "why", "faults", "around", "procedures", "traffic"):
            sheet.tab(view)
            page.wait_for_timeout(600)
            result = page.evaluate("axe.run(document, { resultTypes: ['violations'] })")
            found += [
                (theme, view, one["id"], one["impact"], [node["html"][:120] for node in one["nodes"][:2]])
                for one in result["violations"]
                if one["impact"] in ("serious", "critical")
            ]
    assert found == []
