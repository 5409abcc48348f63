"""Twenty tablets enter sweeps at once, over HTTP, into a shop file and into a database on a server.

``python -m benchmarks.tablets`` prints the table and rewrites it in ``docs/benchmarks/tablets.md``;
``--minutes``, ``--tablets`` and ``--pause`` choose the load, ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
import json
import platform
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import psycopg

from benchmarks.fault_writer import JOB, begin
from benchmarks.pages import BENCHMARKS, processors, put, system
from portwright.archive.archive import Archive
from portwright.services import shop_file, tokens
from portwright.services.tokens import Scope
from tests.archive.server import running

_SERVE = (
    "import sys, uvicorn; from pathlib import Path; from portwright.archive.archive import Archive;"
    "from portwright.ui.api.service import make_api;"
    "from starlette.applications import Starlette; from starlette.routing import Mount;"
    "uvicorn.run(Starlette(routes=[Mount('/api', make_api(Archive.open(Path(sys.argv[1]))))]),"
    " port=int(sys.argv[2]), log_level='error')"
)


@dataclass(slots=True)
class Log:
    """What the tablets saw.

    Parameters
    ----------
    waits : list of float
        Time until a reading was acknowledged. [s]
    said : dict of str to list of str
        Run code to the flows acknowledged.
    errors : list of str
    """

    waits: list[float] = field(default_factory=list)
    said: dict[str, list[str]] = field(default_factory=dict)
    errors: list[str] = field(default_factory=list)


def _ask(address: str, token: str, path: str, body: dict[str, Any]) -> Any:
    request = urllib.request.Request(  # noqa: S310 - our own server
        f"{address}/api/{path}",
        json.dumps(body).encode(),
        {"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=120) as answer:  # noqa: S310 - same
        return json.load(answer)


def _tablet(number: int, address: str, token: str, end: float, pause: float, log: Log) -> None:
    dice = random.Random(number)  # noqa: S311 - repeatable, not secret
    serial = 0
    while time.monotonic() < end:
        try:
            run = {"port": "I1", "stage": "S0", "bench": "B1"}
            code = _ask(address, token, f"jobs/{JOB}/runs", run)["code"]
            log.said[code] = []
            for lift in range(1, 13):
                if time.monotonic() >= end:
                    break
                serial += 1
                flow = f"{number}.{serial:05d}"
                started = time.perf_counter()
                place = f"jobs/{JOB}/runs/{code}/readings"
                _ask(address, token, place, {"lift": f"{lift} mm", "flow": f"{flow} cfm"})
                log.waits.append(time.perf_counter() - started)
                log.said[code].append(flow)
                time.sleep(pause * dice.uniform(0.5, 1.5))
        except (OSError, urllib.error.HTTPError) as error:
            log.errors.append(str(error))


def load(place: Path | str, token: str, minutes: float, tablets: int, pause: float) -> Log:
    """Serve a shop and let so many tablets enter for so long."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen([sys.executable, "-c", _SERVE, str(place), str(port)])
    address, log = f"http://127.0.0.1:{port}", Log()
    while True:
        try:
            urllib.request.urlopen(f"{address}/api/openapi.json").close()  # noqa: S310 - same
            break
        except OSError as error:
            if server.poll() is not None:
                raise RuntimeError("the app did not start") from error
            time.sleep(0.2)
    end = time.monotonic() + 60.0 * minutes
    threads = [
        threading.Thread(target=_tablet, args=(n, address, token, end, pause, log))
        for n in range(1, tablets + 1)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    server.kill()  # as a power cut would: what was acknowledged has to be there
    server.wait()
    return log


def lost(place: Path | str, log: Log) -> int:
    """How many acknowledged readings are not in the shop, or not in their order."""
    missing = 0
    with Archive.open(Path(place)) as archive:
        runs = {run.code: run for run in archive.job(JOB).runs}
    for code, flows in log.said.items():
        stored = [r.flow.text for r in runs[code].readings if r.flow] if code in runs else []
        missing += sum(f not in stored for f in flows)
    return missing


def row(name: str, log: Log, gone: int, minutes: float, tablets: int) -> str:
    """A line of the table."""
    waits = sorted(log.waits)
    middle, high = (1000 * waits[int(share * (len(waits) - 1))] for share in (0.5, 0.99))
    return (
        f"| {name} | {tablets} | {minutes:g} | {len(waits):,} | {middle:.0f} | {high:.0f} | "
        f"{1000 * waits[-1]:.0f} | {len(log.errors)} | {gone} |"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--tablets", type=int, default=20)
    parser.add_argument("--pause", type=float, default=2.0, help="between readings [s]")
    parser.add_argument("--dry", action="store_true")
    chosen = parser.parse_args()
    lines = [
        (
            "| shop in | tablets | minutes | readings | p50, ms | p99, ms | longest, ms | errors | "
            "lost |"
        ),
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    with tempfile.TemporaryDirectory() as folder, running() as server:
        path = Path(folder) / "a.shop"
        begin(path)
        with Archive.open(path) as archive:
            token = tokens.make(archive, "tablets", Scope.ENTER)
        with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
            connection.execute("CREATE DATABASE shop")
        shop_file.move(path, Path(f"{server}/shop"))
        places = {"a file (SQLite)": str(path), "a server (PostgreSQL)": f"{server}/shop"}
        for name, place in places.items():
            log = load(place, token, chosen.minutes, chosen.tablets, chosen.pause)
            for error in log.errors[:5]:
                print(f"ERROR {error}", flush=True)
            lines.append(row(name, log, lost(place, log), chosen.minutes, chosen.tablets))
            print(lines[-1], flush=True)
    about = (
        f"{processors()}, Python {platform.python_version()}, {system()}. "
        "Tablets, app and database on the same machine."
    )
    table = "\n".join([*lines, "", about])
    print(about)
    if not chosen.dry:
        put(BENCHMARKS / "tablets.md", "tablets", table)


if __name__ == "__main__":
    main()
