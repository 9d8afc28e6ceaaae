"""Serves the panel's pages on this computer, and carries messages between them and the process of the boat.

Everything a page needs comes from here; nothing is fetched from elsewhere. The boat's clock runs in the other process,
so that whatever happens here holds up no tick.
"""

import asyncio
import contextlib
import hmac
import ipaddress
import json
import secrets
import signal
import sys
import time
import webbrowser
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple
from urllib.parse import urlsplit

from aiohttp import WSCloseCode, WSMsgType, web

from sim.errors import BenchError
from sim.panel.hub import Hub, Page
from sim.panel.link import FAULT

ASSETS = Path(__file__).parent / "page"
_LONGEST_LINE = 1 << 24
_LOCAL_NAMES = ("localhost", "127.0.0.1", "[::1]")
_POLICY = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"  # noqa: E501
_MOST_TEXT = 1 << 20
"""A page may send a procedure of so many bytes at most."""


class Options(NamedTuple):
    """`host` and `port` to listen on (port 0: any that is free); `token` that pages must bring ("": none, for pages of
    this computer only); `boat` is the command that starts the boat's process."""

    host: str
    port: int
    token: str
    boat: tuple[str, ...]
    browser: bool = False


def is_loopback(host: str) -> bool:
    """Whether only this computer can reach pages served there."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def new_token() -> str:
    """One that cannot be guessed."""
    return secrets.token_urlsafe(16)


def boat_process(task: Mapping[str, object]) -> tuple[str, ...]:
    """The command of the boat's process: a simulated boat, or buses to listen to."""
    return (sys.executable, "-m", "sim.panel.boat", json.dumps(task))


class BoatFailedError(Exception):
    """A fault of the program in the boat's process; its traceback is in the note."""


class Server:
    """One boat's pages, from `run` until `stop`."""

    def __init__(self, options: Options, say: Callable[[str], None]) -> None:
        self._options, self._say = options, say
        self._hub = Hub()
        self._stop = asyncio.Event()
        self._fault = self._trace = ""
        self.url = ""
        """Where the page is, once it is served."""

    def stop(self) -> None:
        """End in good order."""
        self._stop.set()

    async def run(self) -> None:
        """Until `stop`, or until the boat's process ends. Raises BenchError where the boat cannot be simulated, the
        port is taken, or that process fails."""
        boat = await asyncio.create_subprocess_exec(
            *self._options.boat, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, limit=_LONGEST_LINE
        )
        self._boat = boat
        listening = asyncio.create_task(self._listen(boat))
        runner = web.AppRunner(self._app(), access_log=None, shutdown_timeout=1.0)
        try:
            while self._hub.hello is None and not listening.done() and not self._stop.is_set():
                await asyncio.sleep(0.01)
            if self._stop.is_set():
                boat.terminate()
                return
            if listening.done():
                raise self._ended("the process of the boat ended before it had begun")
            await runner.setup()
            await self._serve(runner)
            stopping = asyncio.create_task(self._stop.wait())
            await asyncio.wait({stopping, listening}, return_when=asyncio.FIRST_COMPLETED)
            if listening.done() and not self._stop.is_set():
                broken = listening.exception()
                if broken is not None:
                    boat.terminate()
                    raise BenchError(f"the process of the boat sent what is no message ({broken}): it was ended")
                raise self._ended(f"the process of the boat has ended (status {await boat.wait()})")
        finally:
            await runner.cleanup()
            if boat.stdin is not None:
                boat.stdin.close()  # which ends it
            try:
                await asyncio.wait_for(boat.wait(), 10.0)
            except TimeoutError:
                boat.kill()
            listening.cancel()

    def _ended(self, words: str) -> Exception:
        """Why the boat's process has ended: something that a person can mend, or a fault of the program."""
        if not self._trace:
            return BenchError(self._fault or words)
        failed = BoatFailedError(self._fault)
        failed.add_note(self._trace)
        return failed

    async def _serve(self, runner: web.AppRunner) -> None:
        host, port = self._options.host, self._options.port
        site = web.TCPSite(runner, host, port)
        try:
            await site.start()
        except OSError as error:
            raise BenchError(
                f"the panel cannot listen on {host}:{port}: {error.strerror or error}. Another panel may be running; "
                "give another port with --port, or --port 0 for any that is free"
            ) from error
        address = runner.addresses[0]
        shown = f"[{address[0]}]" if ":" in address[0] else address[0]
        query = f"?token={self._options.token}" if self._options.token else ""
        self.url = f"http://{shown}:{address[1]}/{query}"
        self._say(f"panel: {self.url}")
        if self._options.browser:
            await asyncio.to_thread(webbrowser.open, self.url)

    async def _listen(self, boat: asyncio.subprocess.Process) -> None:
        while boat.stdout is not None and (line := await boat.stdout.readline()):
            text = line.decode("utf-8").rstrip("\n")
            if text.startswith(FAULT):
                told = json.loads(text.partition(" ")[2])
                self._fault, self._trace = told["text"], told["trace"]
            else:
                self._hub.take(text, time.monotonic())

    # ---- what is served

    def _app(self) -> web.Application:
        app = web.Application(middlewares=[self._guard], client_max_size=_MOST_TEXT)
        app.router.add_get("/", self._index)
        app.router.add_get("/wire", self._wire)
        app.router.add_static("/page/", ASSETS)
        app.on_shutdown.append(self._goodbye)
        return app

    @web.middleware
    async def _guard(self, request: web.Request, handler: Callable[[web.Request], object]) -> web.StreamResponse:
        """Another site that is open in the same browser can reach this address too: it is refused by its name."""
        name = urlsplit(f"//{request.host}").hostname or ""
        if not self._options.token and name not in ("localhost", "127.0.0.1", "::1", self._options.host):
            raise web.HTTPForbidden(text=f"this panel answers to {', '.join(_LOCAL_NAMES)} only")
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != request.host:
            raise web.HTTPForbidden(text="this request comes from a page of another site")
        response: web.StreamResponse = await handler(request)  # type: ignore[misc]  # handlers are coroutines
        if not response.prepared:
            response.headers.update({
                "Content-Security-Policy": _POLICY, "X-Content-Type-Options": "nosniff", "Cache-Control": "no-cache",
                "Referrer-Policy": "no-referrer",
            })  # fmt: skip
        return response

    def _known(self, request: web.Request) -> bool:
        given = request.query.get("token", "")
        return not self._options.token or hmac.compare_digest(given.encode(), self._options.token.encode())

    async def _index(self, request: web.Request) -> web.StreamResponse:
        if not self._known(request):
            return web.FileResponse(ASSETS / "token.html", status=403)
        return web.FileResponse(ASSETS / "index.html")

    async def _wire(self, request: web.Request) -> web.StreamResponse:
        if not self._known(request):
            raise web.HTTPForbidden(text="the token is missing or wrong")
        socket = web.WebSocketResponse(heartbeat=20.0, compress=False, max_msg_size=_MOST_TEXT)
        await socket.prepare(request)
        client = request.query.get("client", "")[:64] or secrets.token_hex(8)
        page = self._hub.join("".join(letter for letter in client if letter.isalnum()) or secrets.token_hex(8))
        writing = asyncio.create_task(self._write(socket, page))
        try:
            async for message in socket:
                if message.type == WSMsgType.TEXT:
                    self._pass_on(page, message.data)
        finally:
            self._hub.leave(page)
            writing.cancel()
        return socket

    async def _write(self, socket: web.WebSocketResponse, page: Page) -> None:
        try:
            while True:
                for text in await page.next():
                    await socket.send_str(text)
                if page.overrun:
                    await socket.close(code=WSCloseCode.TRY_AGAIN_LATER)
                    return
        except ConnectionError:
            return

    def _pass_on(self, page: Page, text: str) -> None:
        """A page's command, with its own name on it. What is no command is dropped: only our page speaks here."""
        try:
            command = json.loads(text)
        except ValueError:
            return
        if not isinstance(command, dict) or self._boat.stdin is None:
            return
        command.update(client=page.client, name=page.name)
        self._boat.stdin.write(json.dumps(command, separators=(",", ":")).encode() + b"\n")

    async def _goodbye(self, _app: web.Application) -> None:
        for page in list(self._hub.pages):
            page.put("P", json.dumps({"t": "bye", "d": "the panel was ended"}))
        await asyncio.sleep(0.05)


def serve(options: Options, say: Callable[[str], None]) -> None:
    """Serve until Ctrl-C or a polite end from outside. Raises BenchError."""

    async def until_stopped() -> None:
        server = Server(options, say)
        loop = asyncio.get_running_loop()
        for name in ("SIGINT", "SIGTERM", "SIGHUP"):
            with contextlib.suppress(NotImplementedError):  # where the system has none, Ctrl-C ends the loop itself
                if hasattr(signal, name):
                    loop.add_signal_handler(signal.Signals[name], server.stop)
        await server.run()

    asyncio.run(until_stopped())
