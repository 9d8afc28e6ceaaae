"""The panel as a process of its own, and real pages of it in Chromium."""

import os
import re
import shutil
import socket
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any

import pytest
from hub.process import prefer
from processes import Process

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")


def needs_a_browser() -> None:
    """Skips, and says plainly what is missing."""
    pytest.importorskip("playwright.sync_api", reason="the Python package playwright is missing: no page was tried")
    pytest.importorskip("aiohttp", reason="the Python package aiohttp (extra panel) is missing: no page was tried")
    if CHROMIUM is None:
        pytest.skip("no Chromium on this machine: the panel was not tried in a browser")


class Panel:
    """`thwart panel`, without its own browser."""

    def __init__(self, folder: Path, *options: str, boat: str = "marsh_tern") -> None:
        command = ["-m", "sim.cli", "panel", boat, "--no-browser", "--port", "0", "--runs", str(folder / "runs")]
        self.process = Process([*command, "--no-plot", *options], folder)
        self.url = re.search(r"http://\S+", self.process.wait_for("panel: http"))[0]  # type: ignore[index]  # it is there

    def __enter__(self) -> "Panel":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.process.__exit__(kind, error, trace)


@contextmanager
def chromium() -> Iterator["Browser"]:
    """A headless browser, put before whatever else this machine does: a page that is kept waiting loses control."""
    from playwright.sync_api import sync_playwright

    before = (os.sched_getscheduler(0), os.sched_getparam(0))
    prefer(0)  # what is started now inherits it
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        os.sched_setscheduler(0, *before)
        try:
            yield browser
        finally:
            browser.close()


class Sheet:
    """One page of the panel. Whatever the browser complains of, or fetches from elsewhere, fails the test at `end`."""

    def __init__(self, browser: "Browser", url: str, **settings: Any) -> None:
        self.context = browser.new_context(viewport={"width": 1280, "height": 900}, **settings)
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(10_000)
        self.complaints: list[str] = []
        self.fetched: list[str] = []
        self.page.on(
            "console", lambda one: self.complaints.append(one.text) if one.type in ("error", "warning") else None
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self.fetched.append(request.url))
        self.page.goto(url)
        self.page.wait_for_selector("body[data-ready=yes]")
        self.page.wait_for_function("() => document.querySelector('#boat-mode').textContent !== '-'")

    def mode(self, subject: str = "boat") -> str:
        """The mode shown of the boat, or of a shaft."""
        where = "#boat-mode" if subject == "boat" else f"[data-shaft={subject}] h3 .mode"
        return self.page.inner_text(where)

    def wait_mode(self, mode: str, subject: str = "boat", timeout_s: float = 8.0) -> None:
        """Until a mode is shown."""
        where = "#boat-mode" if subject == "boat" else f"[data-shaft={subject}] h3 .mode"
        self._wait("([where, mode]) => document.querySelector(where).textContent === mode", [where, mode], timeout_s)

    def wait_text(self, where: str, text: str, timeout_s: float = 8.0) -> None:
        """Until an element holds a text."""
        looks = "([where, text]) => [...document.querySelectorAll(where)].some((one) => one.textContent.includes(text))"
        self._wait(looks, [where, text], timeout_s)

    def _wait(self, looks: str, wanted: list[str], timeout_s: float) -> None:
        """Until it is so; else what the page shows in its place."""
        from playwright.sync_api import TimeoutError as TooLateError

        try:
            self.page.wait_for_function(looks, arg=wanted, timeout=timeout_s * 1000)
        except TooLateError:
            shown = {name: self.page.inner_text(f"#{name}") for name in ("boat-mode", "holder", "lately")}
            seen = self.page.locator(wanted[0]).all_inner_texts()
            raise AssertionError(f"not within {timeout_s:g} s: {wanted}; there: {seen}; the page: {shown}") from None

    def take_control(self) -> None:
        """And wait until the page says so."""
        self.page.click("#take")
        self.wait_text("#holder", "You control")

    def press(self, target: str, value: str = "") -> None:
        """A button of the page."""
        with_value = f"[data-value='{value}']" if value else ""
        self.page.click(f"[data-target='{target}']{with_value}")

    def lever(self, shaft: str, percent: int) -> None:
        """By the keyboard, in steps of 5 %."""
        lever = self.page.locator(f"input[data-target='{shaft}.lever_pct']")
        lever.focus()
        self.page.click(f"[data-neutral='{shaft}']")
        lever.focus()
        for _ in range(abs(percent) // 5):
            self.page.keyboard.press("ArrowUp" if percent > 0 else "ArrowDown")

    def enable(self) -> None:
        """From STANDBY to READY."""
        self.page.wait_for_timeout(1200)
        self.press("helm.enable")
        self.wait_mode("READY")

    def tab(self, name: str) -> None:
        """Another view."""
        self.page.click(f"#tab-{name}")

    def speed(self, value: str) -> None:
        """How fast the boat's time goes."""
        self.page.select_option("#speed", value)

    def torque_nm(self, shaft: str = "port") -> float:
        """As the drawing says it."""
        words = self.page.inner_text(f"[data-shaft={shaft}] .parts")
        found = re.search(r"(\d+) N m (ahead|astern)", words)
        return 0.0 if found is None else float(found[1])

    def end(self, allowed: Sequence[str] = ()) -> None:
        """Close it; nothing may have been complained of, nothing fetched from elsewhere."""
        origin = re.match(r"https?://[^/]+", self.page.url)[0]  # type: ignore[index]  # it is there
        self.context.close()
        bad = [text for text in self.complaints if not any(one in text for one in allowed)]
        assert bad == []
        outside = [
            url for url in self.fetched if not url.startswith((origin, "data:", "blob:", origin.replace("http", "ws")))
        ]
        assert outside == []


class Relay:
    """A way to the panel that can be cut: connections through it are dropped, and refused for as long as is asked."""

    def __init__(self, url: str) -> None:
        self._to = int(re.search(r":(\d+)/", url)[1])  # type: ignore[index]  # it is there
        self._door = socket.create_server(("127.0.0.1", 0))
        self._open: list[socket.socket] = []
        self._shut = False
        self.url = f"http://127.0.0.1:{self._door.getsockname()[1]}/"
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            if self._shut:
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self._to))
            self._open += [near, far]
            for source, sink in ((near, far), (far, near)):
                threading.Thread(target=self._carry, args=(source, sink), daemon=True).start()

    @staticmethod
    def _carry(source: socket.socket, sink: socket.socket) -> None:
        try:
            while data := source.recv(65536):
                sink.sendall(data)
        except OSError:
            pass
        for one in (source, sink):
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def cut(self, seconds: float) -> None:
        """Drop every connection; new ones are refused for so long."""
        self._shut = seconds > 0.0
        for one in self._open:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        self._open.clear()
        time.sleep(seconds)
        self._shut = False

    def __enter__(self) -> "Relay":
        return self

    def __exit__(
        self, _kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None
    ) -> None:
        self._door.close()
        self.cut(0.0)
