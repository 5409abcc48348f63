"""What listening to the instruments costs: six channels a hundred times a second.

``python benchmarks/live.py --minutes 30`` sends numbered lines through a real pseudo-terminal (TCP
where the system has none), reads, understands, judges and stores them as the app does, pulls the
cable once on the way, looks for every number in the stored trace, and rewrites the table in
``docs/benchmarks/live.md``; ``--dry`` only prints.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command does

import argparse
import contextlib
import platform
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import psutil

from portwright.io.instruments.reader import Contact, Line
from portwright.services import capture, carried, instruments, live_trace
from portwright.services import practice_bench as practice
from portwright.services.capture import OpenSweep
from portwright.services.demo import DEMO_JOB, create_demo
from portwright.services.lift_lists import fixed_steps
from portwright.services.live_bench import LiveBench
from portwright.services.shop_file import ShopFile

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "live.md"
BEGIN, END = "<!-- listening: begin -->", "<!-- listening: end -->"
CHANNELS = 6
HEADINGS = (
    "| Wire | Minutes | Lines a second | Channels | Sent | Stored | Missing | Cable pulled | "
    "Processor, one core | Memory begin / end | Trace stored |"
)
SAID = (
    "The machine did other work beside it; the instrument runs in a process of its own, and its "
    "cable is pulled for five seconds."
)


@dataclass(frozen=True)
class Cost:
    """What one run cost."""

    wire: str
    minutes: float
    rate: float
    sent: int
    stored: int
    missing: int
    pulled: int
    cpu: float
    memory_begin: float
    memory_end: float
    trace: float
    load: float


def described(place: str, port: int) -> instruments.Described:
    """The practice bench with a number in front of each line."""
    terminal = None if place == "tcp" else Path(place)
    text = practice.practice_description(port or practice.DEFAULT_PORT, terminal)
    text = text.replace('pattern = "', 'pattern = "{*},')
    return instruments.Described(text, instruments.read_description(text))


def open_sweep(shop: ShopFile) -> OpenSweep:
    """A sweep to listen with."""
    set_up = carried.set_up(shop, shop.job(DEMO_JOB), "I2", "B2")
    run = capture.begin(shop, DEMO_JOB, "I2", "S0", set_up, fixed_steps("1", "1", "12", "mm"))
    return OpenSweep.open(shop, run.code)


def measure(minutes: float, rate: float, place: str, folder: Path) -> Cost:
    """Listen for so long and count."""
    total = round(minutes * 60.0 * rate)
    where = place if place == "tcp" else str(folder / "bench")
    child = subprocess.Popen(
        [
            sys.executable,
            str(Path(__file__).with_name("live_child.py")),
            where,
            str(rate),
            str(total),
        ],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        encoding="utf-8",
    )
    if child.stdin is None or child.stdout is None:
        raise RuntimeError("the instrument cannot be spoken to")
    port = int(child.stdout.readline())
    with create_demo(folder / "demo.shop") as shop:
        sweep = open_sweep(shop)
        bench = LiveBench(shop, [described(where, port)])
        bench.attach(sweep).plan.unread = sweep.lifts.lifts
        bench.start()
        name = bench.instruments[0].name
        while bench.standing()[name].contact is not Contact.SILENT and not (
            bench.standing()[name].connections
        ):
            time.sleep(0.05)
        me = psutil.Process()
        used, begun = sum(me.cpu_times()[:2]), time.monotonic()
        memory = me.memory_info().rss / 1e6
        child.stdin.write("go\n")
        child.stdin.flush()
        puller = threading.Thread(target=pull, args=(child.stdin, minutes * 30.0), daemon=True)
        puller.start()
        sent = int(child.stdout.readline())
        span, spent = time.monotonic() - begun, sum(me.cpu_times()[:2]) - used
        time.sleep(2.0)
        bench.stop()
        end = me.memory_info().rss / 1e6
        child.stdin.write("quit\n")
        child.stdin.close()
        child.wait()
        traces = live_trace.load(shop, sweep.run.job, sweep.run.code)
        kept = [e for t in traces for e in t.entries if isinstance(e, Line)]
        numbers = [int(e.text.partition(",")[0]) for e in kept if not e.cut]
        size = sum(
            a.size for a in shop.attachments(sweep.run.job) if a.media_type == live_trace.MEDIA_TYPE
        )
    return Cost(
        "TCP" if place == "tcp" else "pseudo-terminal",
        span / 60.0,
        rate,
        sent,
        len(numbers),
        sent - len(set(numbers)),
        bench.standing()[name].connections - 1,
        spent / span,
        memory,
        end,
        size / 1e6,
        os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan"),
    )


def pull(words: IO[str], after: float) -> None:
    """Pull the cable half-way, and put it back five seconds later."""
    time.sleep(after)
    with contextlib.suppress(ValueError):  # a run so short that it is over before
        for word in ("unplug", "plug"):
            words.write(f"{word}\n")
            words.flush()
            time.sleep(5.0)


def table(costs: list[Cost]) -> str:
    """As it stands in the page."""
    rows = [
        HEADINGS,
        "|---" * 11 + "|",
    ]
    rows += [
        f"| {c.wire} | {c.minutes:.1f} | {c.rate:.0f} | {CHANNELS} | {c.sent} | {c.stored} | "
        f"{c.missing} | {c.pulled} times | {100 * c.cpu:.1f} % | "
        f"{c.memory_begin:.0f} / {c.memory_end:.0f} MB | {c.trace:.2f} MB |"
        for c in costs
    ]
    load = ", ".join(f"{c.load:.1f}" for c in costs)
    rows += [
        "",
        f"Python {platform.python_version()}, {os.cpu_count()} cores, load {load}. {SAID}",
    ]
    return "\n".join(rows)


def put(page: Path, begin: str, end: str, text: str) -> None:
    """Put a table between two marks of a page."""
    old = page.read_text(encoding="utf-8")
    before, _, rest = old.partition(begin)
    _, _, after = rest.partition(end)
    page.write_text(f"{before}{begin}\n{text}\n{end}{after}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=30.0)
    parser.add_argument("--rate", type=float, default=100.0)
    parser.add_argument("--dry", action="store_true")
    asked = parser.parse_args()
    places = ["pty" if hasattr(os, "openpty") else "tcp"]
    costs = []
    for place in places:
        with tempfile.TemporaryDirectory() as folder:
            costs.append(measure(asked.minutes, asked.rate, place, Path(folder)))
    text = table(costs)
    print(text)
    if not asked.dry:
        put(PAGE, BEGIN, END, text)


if __name__ == "__main__":
    main()
