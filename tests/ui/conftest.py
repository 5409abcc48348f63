"""A real app on a real shop file, looked at by a real Chromium.

Without a browser these tests are skipped with a reason; with PORTWRIGHT_REQUIRE_BROWSER=1 they
fail instead, so that a run meant to cover the screens cannot pass without them.
"""

from __future__ import annotations

import contextlib
import importlib
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn, Protocol
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

expect.set_options(timeout=120_000)  # a loaded machine may be slow; nothing here is timed

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_ARGUMENTS = (
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-sync",
    "--no-first-run",
    "--mute-audio",
)
_LOOKS = 3
_START = "import sys; from tests.ui.nursery import live; live(*sys.argv[1:])"


def _browser_path() -> str | None:
    named = os.environ.get("PORTWRIGHT_BROWSER")
    return named or next((found for name in _NAMES if (found := shutil.which(name))), None)


def _cannot(reason: str) -> NoReturn:
    if os.environ.get("PORTWRIGHT_REQUIRE_BROWSER") == "1":
        pytest.fail(reason)
    pytest.skip(reason)


def free_port() -> int:
    """A port nothing listens at."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def plain_environment() -> dict[str, str]:
    """Environment of the app; the framework behaves differently where it sees pytest's."""
    return {k: v for k, v in os.environ.items() if not k.startswith("PYTEST_")}


class Living(Protocol):
    """A process that may have ended."""

    def poll(self) -> int | None:
        """Its return code, None while it runs."""


def wait_for(address: str, process: Living) -> None:
    """Wait until an app answers, however slow the machine, unless its process ends."""
    while process.poll() is None:
        with contextlib.suppress(OSError):
            urllib.request.urlopen(address, timeout=5).close()  # noqa: S310
            return
        time.sleep(0.1)
    raise RuntimeError(f"the app ended with code {process.poll()}")


@dataclass
class Child:
    """A process that was born in the nursery."""

    pid: int

    def poll(self) -> int | None:
        """-1 when it is gone."""
        try:
            os.kill(self.pid, 0)
        except ProcessLookupError:
            return -1
        return None

    def kill(self) -> None:
        """End it at once."""
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGKILL)

    def wait(self) -> None:
        """Wait until it is gone."""
        while self.poll() is None:
            time.sleep(0.01)


class Nursery:
    """Starts apps; loading the program once for all of them saves most of the time of the tests.

    Where processes cannot be forked every app loads everything itself.
    """

    def __init__(self) -> None:
        self._mother: subprocess.Popen[str] | None = None

    def bear(self, *words: str, folder: Path, log: Path) -> Child | subprocess.Popen[bytes]:
        """A new app."""
        if not hasattr(os, "fork"):
            with log.open("ab") as out:
                command = [sys.executable, "-c", _START, *words]
                return subprocess.Popen(
                    command, cwd=folder, env=plain_environment(), stdout=out, stderr=out
                )
        if self._mother is None:
            self._mother = subprocess.Popen(
                [sys.executable, str(Path(__file__).with_name("nursery.py"))],
                cwd=Path(__file__).parents[2],
                env=plain_environment() | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                encoding="utf-8",
            )
        assert self._mother.stdin is not None
        assert self._mother.stdout is not None
        self._mother.stdin.write("\t".join(words) + "\n")
        self._mother.stdin.flush()
        return Child(int(self._mother.stdout.readline()))

    def close(self) -> None:
        """No more apps."""
        if self._mother is not None:
            self._mother.communicate()


@dataclass
class Server:
    """The app in its own process."""

    shop: Path
    nursery: Nursery
    port: int = field(default_factory=free_port)
    lan: bool = False
    extra: str = ""
    log: Path | None = None
    process: Child | subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start and wait until it answers."""
        self.log = self.shop.with_suffix(f".{self.port}.log")
        where = "lan" if self.lan else "own"
        words = (str(self.shop), str(self.port), where, str(self.log), self.extra)
        self.process = self.nursery.bear(*words, folder=self.shop.parent, log=self.log)
        try:
            wait_for(f"{self.address}/login", self.process)
        except RuntimeError as error:
            raise RuntimeError(f"{error}\n{self.complaints()}") from error

    def kill(self) -> None:
        """End the process at once, as a power cut would."""
        if self.process is not None:
            self.process.kill()
            self.process.wait()
            self.process = None

    def complaints(self) -> str:
        """What the app wrote to its log; a healthy app writes nothing."""
        return self.log.read_text(encoding="utf-8") if self.log else ""


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    path = _browser_path()
    if path is None:
        _cannot("no Chromium found (name one in PORTWRIGHT_BROWSER)")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=list(_ARGUMENTS))
        yield started
        started.close()


@dataclass
class Tablet:
    """One browser with its own cookies, noting every request and every script error."""

    context: BrowserContext
    page: Page
    hosts: set[str]
    faults: list[str]


@pytest.fixture
def open_tablet(browser: Browser) -> Iterator[Callable[..., Tablet]]:
    """Open browsers; at the end no request may have left this machine, no script failed."""
    opened: list[Tablet] = []

    def open_one(*, width: int = 820, height: int = 1180, **options: Any) -> Tablet:
        options.setdefault("has_touch", True)
        context = browser.new_context(viewport={"width": width, "height": height}, **options)
        context.set_default_timeout(180_000)
        hosts: set[str] = set()
        faults: list[str] = []
        context.on("request", lambda request: hosts.add(urlsplit(request.url).hostname or ""))
        page = context.new_page()
        page.on("websocket", lambda ws: hosts.add(urlsplit(ws.url).hostname or ""))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on(
            "console",
            lambda message: (
                faults.append(message.text)
                if message.type == "error" and "Content Security Policy" in message.text
                else None
            ),
        )
        tablet = Tablet(context, page, hosts, faults)
        opened.append(tablet)
        return tablet

    yield open_one
    for tablet in opened:
        tablet.context.close()
    for tablet in opened:
        assert tablet.hosts <= {"127.0.0.1", ""}, "a request left the machine"
        assert tablet.faults == []


@pytest.fixture(scope="session")
def nursery() -> Iterator[Nursery]:
    made = Nursery()
    yield made
    made.close()


@pytest.fixture(scope="module")
def serve(
    nursery: Nursery, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Callable[..., Server]]:
    """Start apps; all are ended with the module, and none may have logged an error."""
    running: list[Server] = []

    def start(shop: Path | None = None, **options: Any) -> Server:
        path = shop or tmp_path_factory.mktemp("shop") / "test.shop"
        server = Server(path, nursery, **options)
        server.start()
        running.append(server)
        return server

    yield start
    for server in running:
        server.kill()
    for server in running:
        assert "Traceback" not in server.complaints(), server.complaints()


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Run the tests of one module beside each other: they share an app."""
    for item in items:
        if item.path.parent == Path(__file__).parent:
            item.add_marker(pytest.mark.xdist_group(item.path.stem))


@pytest.fixture(scope="session")
def demo_file(demo_file_once: Path) -> Path:
    """The demo shop, made once; tests work on copies."""
    return demo_file_once


@pytest.fixture(scope="module")
def demo_shop(demo_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A fresh copy of the demo shop for one test module."""
    copy = tmp_path_factory.mktemp("shop") / "demo.shop"
    shutil.copy(demo_file, copy)
    return copy


def serious_violations(page: Page, *rules: str) -> list[str]:
    """Accessibility rules of axe-core broken seriously or critically on this page, and lastingly.

    A judgement takes a second or more, in which the page may be drawn anew; what is found in a
    page half drawn is looked for again, as every other expectation here waits for its page.
    """
    try:
        axe = importlib.import_module("axe_playwright_python.sync_playwright")
    except ImportError:
        _cannot("axe-playwright-python is not installed")
    options: dict[str, Any] = {"resultTypes": ["violations"]}
    if rules:
        options["runOnly"] = list(rules)
    found: list[str] = []
    for _ in range(_LOOKS):
        still(page)
        result = axe.Axe().run(page, options=options)
        found = [
            f"{v['id']}: {v['help']}: " + "; ".join(node["html"][:160] for node in v["nodes"][:4])
            for v in result.response["violations"]
            if v["impact"] in {"serious", "critical"}
        ]
        if not found:
            break
    return found


def still(page: Page) -> None:
    """Wait until nothing fades in or out: a closing dialog has lost its name and its contrast."""
    page.wait_for_function(
        "!document.querySelector('[class*=-leave-active], [class*=-enter-active]')"
        " && !document.getAnimations().some(a => a.playState === 'running'"
        "      && a.effect.getComputedTiming().endTime !== Infinity)"
    )


def ready(page: Page) -> None:
    """Wait until the page is drawn and its socket is up."""
    page.wait_for_function("window.did_handshake && document.documentElement.dataset.link === 'up'")


def start_again(server: Server, page: Page) -> None:
    """Start a server that was killed, and wait until the page has loaded itself anew."""
    page.evaluate("window.stale = true")
    server.start()
    page.wait_for_function("!window.stale && document.querySelector('.work')")
    ready(page)
