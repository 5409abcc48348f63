"""The app on the shop's tablets: a reading acknowledged, pages opened, memory over many loads.

``python benchmarks/app.py`` prints the tables and rewrites them in ``docs/benchmarks/app.md``;
``--only times`` or ``--only memory`` leaves the other table as it is, ``--loads N`` sets the number
of page loads, ``--dry`` only prints.  Tablets are real Chromium windows on the same machine as the
app, each with its own cookies and socket; ``threads`` do the same work on the shop file without a
browser.  The shop is the fictional demo shop.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does

import argparse
import contextlib
import functools
import platform
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, Page, sync_playwright

from app_sockets import enter_all
from portwright import units
from portwright.model.run import Run
from portwright.services import capture, carried, plausible, shop_file
from portwright.services.capture import Entry, OpenSweep
from portwright.services.demo import DEMO_JOB, create_demo
from portwright.services.display import Display
from portwright.services.earlier import Bookshelf
from portwright.services.lift_lists import LiftList, fixed_steps
from portwright.services.reduce import reduce_runs
from portwright.units import Kind

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "app.md"
PORTS = ("I1", "I2", "I3", "I4", "I5", "I6", "E1", "E2")
STAGE = "S0"
LIFTS = fixed_steps("0.4", "0.4", "12", "mm")
OVERLAID = 50
HTTP_PORT = 18431
PAUSE_MS = (400, 1200)  # between two readings of one tablet; people need ten seconds and more
_START = "from portwright.cli.main import run; run()"
# Types every number into the pad as a keyboard would and notes how long the pad was locked.
_DRIVE = """([numbers, low, high]) => {
  window.took = [];
  const box = document.querySelector('.digits');
  const sleep = (ms) => new Promise((go) => setTimeout(go, ms));
  (async () => {
    for (const text of numbers) {
      await sleep(low + Math.random() * (high - low));
      box.value = text;
      box.dispatchEvent(new Event('input'));
      const told = new Promise((go) => window.addEventListener('pw-told', go, { once: true }));
      box.dispatchEvent(new KeyboardEvent('keydown', { key: 'Enter', bubbles: true }));
      await told;
      if (document.querySelector('.question')) {
        window.asked = (window.asked || 0) + 1;
        document.querySelector('.question .two .key:last-child').click();
        await new Promise((go) => window.addEventListener('pw-told', go, { once: true }));
      } else window.took.push(window.portwrightTook);
    }
    window.finished = true;
  })();
}"""


@dataclass(frozen=True)
class Row:
    """One line of the table of times. [ms]"""

    what: str
    times: Sequence[float]

    def text(self) -> str:
        """As Markdown."""
        p50, p99 = np.percentile(self.times, [50, 99])
        return (
            f"| {self.what} | {len(self.times)} | {p50:.0f} | {p99:.0f} | {max(self.times):.0f} |"
        )


@contextlib.contextmanager
def served(shop: Path) -> Iterator[subprocess.Popen[bytes]]:
    """The app in its own process, until it answers."""
    options = ["serve", "--shop", str(shop), "--port", str(HTTP_PORT), "--no-browser"]
    process = subprocess.Popen([sys.executable, "-c", _START, *options], stdout=subprocess.DEVNULL)
    try:
        for _ in range(600):
            with contextlib.suppress(OSError):
                urllib.request.urlopen(f"{address()}/login", timeout=5).close()  # noqa: S310
                break
            time.sleep(0.1)
        yield process
    finally:
        process.kill()
        process.wait()


def address() -> str:
    return f"http://127.0.0.1:{HTTP_PORT}"


def flows(shop: shop_file.ShopFile, port: str) -> list[str]:
    """What the port would show at the lifts of the benchmark, from its own earlier sweep."""
    run = next(r for r in shop.job(DEMO_JOB).runs if (r.port, r.stage) == (port, STAGE))
    curve = reduce_runs([run], shop.calibrations())[0].curve
    if curve is None:
        raise RuntimeError(f"no sweep of {port}")
    lift = np.array([t.si for t in LIFTS.lifts])
    known = [r.flow.si for r in run.readings if r.flow]
    shown = np.interp(lift, np.append(0.0, curve.lift), np.append(0.0, known))
    return [f"{units.from_si(float(v), 'cfm', Kind.FLOW):.1f}" for v in shown]


def begin(shop: shop_file.ShopFile, port: str, lifts: LiftList = LIFTS) -> Run:
    set_up = carried.set_up(shop, shop.job(DEMO_JOB), port, "B2")
    bare = replace(set_up.conditions, configuration="bare port")
    return capture.begin(shop, DEMO_JOB, port, STAGE, replace(set_up, conditions=bare), lifts)


def opened(browser: Browser, path: str) -> Page:
    page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
    page.goto(address() + path)
    page.wait_for_function("window.did_handshake")
    return page


def tablets(browser: Browser, path: Path, count: int) -> Row:
    """Enter to acknowledged in ``count`` browsers at once."""
    with shop_file.open_shop(path) as shop:
        work = [(begin(shop, port).code, flows(shop, port)) for port in PORTS[:count]]
    pages = [opened(browser, f"/bench?run={code}") for code, _ in work]
    for page in pages:
        page.get_by_text("earlier sweeps are being read").wait_for(state="detached", timeout=90_000)
    for page, (_, numbers) in zip(pages, work, strict=True):
        page.evaluate(_DRIVE, [numbers, *PAUSE_MS])
    times: list[float] = []
    for page in pages:
        page.wait_for_function("window.finished", timeout=300_000)
        times += page.evaluate("window.took")
        page.context.close()
    return Row(f"reading acknowledged, {count} tablet{'s' if count > 1 else ''}", times)


def sockets(path: Path, count: int) -> list[Row]:
    """Sent to acknowledged, and to refused, over real sockets without anything being drawn."""
    with shop_file.open_shop(path) as shop:
        lifts = [t.text for t in LIFTS.lifts]
        work = [
            (begin(shop, port).code, list(zip(lifts, flows(shop, port), strict=True)))
            for port in PORTS[:count]
        ]
    saved, refused = enter_all(address(), work, (PAUSE_MS[0] / 1e3, PAUSE_MS[1] / 1e3))
    many = f"{count} socket{'s' if count > 1 else ''}"
    return [
        Row(f"impossible number refused, {many}", refused),
        Row(f"reading acknowledged, {many}", saved),
    ]


def disk(folder: Path) -> Row:
    """One row made safe on this disk with plain SQLite: below this nothing can be."""
    times = []
    with contextlib.closing(sqlite3.connect(folder / "disk.db", isolation_level=None)) as plain:
        plain.execute("PRAGMA journal_mode=WAL")
        plain.execute("PRAGMA synchronous=FULL")
        plain.execute("CREATE TABLE t (x)")
        for n in range(240):
            time.sleep(0.05)
            start = time.perf_counter()
            plain.execute("INSERT INTO t VALUES (?)", (n,))
            times.append(1e3 * (time.perf_counter() - start))
    return Row("one row on the disk, plain SQLite", times)


def threads(path: Path, count: int) -> Row:
    """The same question and store without browsers, as fast as it goes."""
    times: list[float] = []
    with shop_file.open_shop(path) as shop:
        shelf = Bookshelf(shop)
        sweeps = [OpenSweep.open(shop, begin(shop, port).code) for port in PORTS[:count]]
        seen = [shelf.earlier(s.run) for s in sweeps]
        numbers = [flows(shop, port) for port in PORTS[:count]]

        def enter(place: int) -> None:
            sweep = sweeps[place]
            for lift, text in zip(LIFTS.lifts, numbers[place], strict=True):
                start = time.perf_counter()
                reading = sweep.reading(Entry(text, "cfm", lift))
                plausible.question(sweep, reading, seen[place], Display())
                sweep.commit(reading)
                times.append(1e3 * (time.perf_counter() - start))

        running = [threading.Thread(target=enter, args=(n,)) for n in range(count)]
        for thread in running:
            thread.start()
        for thread in running:
            thread.join()
    return Row(f"question and store only, {count} thread{'s' if count > 1 else ''}", times)


def pages(browser: Browser, what: str, path: str, ready: str, times: int = 12) -> list[Row]:
    """First paint and the moment the page can be used, each time with an empty cache."""
    paints, usable = [], []
    for _ in range(times):
        page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
        page.goto(address() + path, wait_until="commit")
        page.wait_for_function(ready, timeout=60_000)
        usable.append(float(page.evaluate("performance.now()")))
        page.wait_for_function("performance.getEntriesByName('first-contentful-paint').length")
        script = "performance.getEntriesByName('first-contentful-paint')[0].startTime"
        paints.append(float(page.evaluate(script)))
        page.context.close()
    return [Row(f"{what}: first paint", paints), Row(f"{what}: usable", usable)]


def overlay(path: Path) -> str:
    """Fifty sweeps of one port at one stage, and one to begin; gives its code."""
    dice = np.random.default_rng(1)
    with shop_file.open_shop(path) as shop:
        model = next(r for r in shop.job(DEMO_JOB).runs if (r.port, r.stage) == ("I2", STAGE))
        for n in range(OVERLAID):
            readings = tuple(
                replace(r, flow=units.typed(r.flow.si * dice.normal(1, 3e-3), "m3/s", Kind.FLOW))
                for r in model.readings
                if r.flow is not None
            )
            code = shop.next_run_code("R")
            shop.add_run(replace(model, code=code, repeat=n + 2, readings=readings))
        return begin(shop, "I2", fixed_steps("1", "1", "12", "mm")).code


def resident(process: subprocess.Popen[bytes]) -> str:
    """Memory in use [MB], where the system tells."""
    status = Path(f"/proc/{process.pid}/status")
    if not status.exists():
        return "not measured"
    line = next(ln for ln in status.read_text("utf-8").splitlines() if ln.startswith("VmRSS"))
    return f"{int(line.split()[1]) / 1024.0:.0f}"


def load_now() -> float:
    """Programs that want a processor, over the last minute; 0 where the system does not say."""
    return os.getloadavg()[0] if hasattr(os, "getloadavg") else 0.0


def machine(loaded: float) -> str:
    """Where it was measured, and what else ran there."""
    return (
        f"{os.cpu_count()} processors shared with the browsers and with other programs, load "
        f"average {loaded:.1f} at the beginning and {load_now():.1f} at the end. "
        f"Python {platform.python_version()}, {platform.system()} {platform.machine()}."
    )


def chromium() -> str:
    names = ("chromium", "chromium-browser", "google-chrome", "chrome")
    found = os.environ.get("PORTWRIGHT_BROWSER") or next(filter(None, map(shutil.which, names)), "")
    if not found:
        raise SystemExit("no Chromium found (name one in PORTWRIGHT_BROWSER)")
    return found


@contextlib.contextmanager
def demo_in_chromium() -> Iterator[tuple[Browser, Path]]:
    """A browser, and a demo shop of its own."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        path = Path(folder) / "app.shop"
        create_demo(path).close()
        browser = playwright.chromium.launch(
            executable_path=chromium(), args=["--no-sandbox", "--mute-audio"]
        )
        yield browser, path
        browser.close()


def times() -> list[str]:
    """Table of waiting times."""
    rows: list[Row] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "app.shop"
        create_demo(path).close()
        rows += [disk(Path(folder)), threads(path, 1), threads(path, 8)]
        with served(path):
            rows += [*sockets(path, 1), *sockets(path, 8)]
    with demo_in_chromium() as (browser, path), served(path):
        rows += [tablets(browser, path, 1), tablets(browser, path, 8)]
        rows += pages(browser, "start page", "/", "document.querySelector('.line')")
        bench = f"/bench?run={overlay(path)}"
        usable = "window.did_handshake && document.querySelector('.digits')"
        rows += pages(browser, "bench page", bench, usable)
        drawn = f"document.querySelectorAll('.live svg path').length > {OVERLAID}"
        rows.append(pages(browser, f"bench page, {OVERLAID} sweeps drawn", bench, drawn)[1])
    return [
        "| what | times | median, ms | 99th percentile, ms | worst, ms |",
        "|---|---:|---:|---:|---:|",
        *(row.text() for row in rows),
    ]


def memory(loads: int) -> list[str]:
    """Table of the app's memory over many page loads, and after they are forgotten."""
    rows = ["| page loads | app memory, MB |", "|---:|---:|"]
    with demo_in_chromium() as (browser, path):
        places = (f"/bench?run={overlay(path)}", "/", "/jobs", f"/measure?job={DEMO_JOB}")
        with served(path) as process:
            page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
            for n in range(loads + 1):
                if n % max(1, loads // 5) == 0:
                    rows.append(f"| {n} | {resident(process)} |")
                page.goto(address() + places[n % len(places)])
                page.wait_for_function("window.did_handshake")
            page.context.close()
            time.sleep(75.0)  # longer than the app remembers pages that are gone
            rows.append(f"| 75 s later | {resident(process)} |")
    return rows


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--loads", type=int, default=500)
    options.add_argument("--only", choices=("times", "memory"))
    options.add_argument("--dry", action="store_true")
    chosen = options.parse_args()
    tables = {"times": times, "memory": functools.partial(memory, chosen.loads)}
    page = PAGE.read_text(encoding="utf-8")
    for name, table in tables.items():
        if chosen.only not in {None, name}:
            continue
        loaded = load_now()
        text = "\n".join([*table(), "", machine(loaded)])
        print(text)
        before, begin, rest = page.partition(f"<!-- {name}: begin -->")
        end = f"<!-- {name}: end -->"
        page = f"{before}{begin}\n{text}\n{end}{rest.partition(end)[2]}"
    if not chosen.dry:
        PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
