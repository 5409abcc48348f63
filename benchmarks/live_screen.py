"""Does the live screen keep up: twenty frames a second on a tablet viewport in a real Chromium.

``python benchmarks/live_screen.py --seconds 60`` runs the app and a practice bench on this machine,
opens the live bench screen at 820 x 1180, counts the frames sent, received and drawn and what the
app needed for it, and rewrites the table in ``docs/benchmarks/live.md``; ``--dry`` only prints.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does

import argparse
import contextlib
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path
from typing import Any

import psutil
from playwright.sync_api import Page, sync_playwright

from live import PAGE, open_sweep, put
from portwright.services import instruments
from portwright.services import practice_bench as practice
from portwright.services.demo import create_demo

BEGIN, END = "<!-- screen: begin -->", "<!-- screen: end -->"
HTTP_PORT = 18437
HEADINGS = (
    "| Tablets | Seconds | Frames sent a second | Not sent | Received | Drawn a second | "
    "Oldest shown | App, one core | Load |"
)
_START = "from portwright.cli.main import run; run()"
# The age of a frame is how far what is shown lies behind what has come.
_WATCH = """() => {
  window.behind = 0;
  setInterval(() => {
    const c = window.portwrightLive;
    if (c) window.behind = Math.max(window.behind, c.newest - c.shown);
  }, 50);
}"""


def wait_for(address: str) -> None:
    """Until the app answers."""
    for _ in range(1200):
        with contextlib.suppress(OSError):
            urllib.request.urlopen(address, timeout=5).close()  # noqa: S310
            return
        time.sleep(0.1)
    raise RuntimeError("the app did not answer")


def counted(page: Page) -> dict[str, Any]:
    """What the screen has counted so far."""
    found: dict[str, Any] = page.evaluate("({...window.portwrightLive, behind: window.behind})")
    return found


def measure(seconds: float, tablets: int, folder: Path) -> str:
    """One line of the table."""
    bench = practice.Practice(practice.STEADY_BENCH, 20.0)
    outlet = practice.TcpOutlet(0, bench.command)
    stop = threading.Event()
    threading.Thread(target=practice.run, args=(bench, [outlet], stop), daemon=True).start()
    bench.command("on")
    bench.command("lift 6.5")  # no lift of the list: nothing is taken while it is measured
    with create_demo(folder / "demo.shop") as shop:
        instruments.keep(shop, practice.practice_description(outlet.port))
        run = open_sweep(shop).run
    served = subprocess.Popen(
        [
            *(sys.executable, "-c", _START, "serve", "--no-browser"),
            *("--shop", str(folder / "demo.shop"), "--port", str(HTTP_PORT)),
        ],
        stdout=subprocess.DEVNULL,
    )
    address = f"http://127.0.0.1:{HTTP_PORT}"
    try:
        wait_for(f"{address}/login")
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=os.environ.get("PORTWRIGHT_BROWSER", "/usr/bin/chromium"),
                args=["--no-sandbox"],
            )
            pages = []
            for _ in range(tablets):
                page = browser.new_context(viewport={"width": 820, "height": 1180}).new_page()
                page.goto(
                    f"{address}/bench?job={run.job}&port={run.port}&stage={run.stage}"
                    f"&run={run.code}&live=1"
                )
                page.wait_for_function("window.portwrightLive && portwrightLive.received > 40")
                page.evaluate(_WATCH)
                pages.append(page)
            page = pages[-1]
            time.sleep(10.0)  # earlier sweeps are worked out meanwhile
            app = psutil.Process(served.pid)
            used, first, begun = sum(app.cpu_times()[:2]), counted(page), time.monotonic()
            page.evaluate("window.behind = 0")
            page.wait_for_timeout(1000.0 * seconds)
            last, span = counted(page), time.monotonic() - begun
            cpu = (sum(app.cpu_times()[:2]) - used) / span
            browser.close()
    finally:
        served.terminate()
        served.wait()
        stop.set()
        outlet.close()
    sent = last["newest"] - first["newest"]
    missing = last["missing"] - first["missing"]
    received = last["received"] - first["received"]
    drawn = last["drawn"] - first["drawn"]
    return (
        f"| {tablets} | {span:.0f} | {sent / span:.1f} | {missing} | {received} | "
        f"{drawn / span:.1f} | {last['behind']} frames | {100.0 * cpu:.0f} % | "
        f"{os.getloadavg()[0]:.0f} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--dry", action="store_true")
    asked = parser.parse_args()
    rows = [HEADINGS, "|---" * 9 + "|"]
    for tablets in (1, 2):
        with tempfile.TemporaryDirectory() as folder:
            rows.append(measure(asked.seconds, tablets, Path(folder)))
            print(rows[-1], flush=True)
    if not asked.dry:
        put(PAGE, BEGIN, END, "\n".join(rows))


if __name__ == "__main__":
    main()
