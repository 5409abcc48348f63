"""How fast the gas-dynamics solver is: per cell, at equal error, per engine run.

``python -m benchmarks.gas1d`` prints the tables, ``--write`` also puts them into
docs/benchmarks/gas1d.md. Rows for the general-purpose finite-volume library appear when it is
installed (``pip install clawpack``, which needs a Fortran compiler). Times are processor time of
one thread, the best of several repeats, except where a row says "wall".
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # times are per core

import argparse
import logging
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import numba
import numpy as np
from numpy.typing import NDArray

from benchmarks.gas1d_others import (
    clawpack_available,
    clawpack_sod,
    numpy_sod,
)
from portwright.core.engine.case import BenchedPort, EngineCase, Head
from portwright.core.engine.change import Change, build_changed
from portwright.core.engine.sweep import Piece, run_piece
from portwright.core.gas1d import ends as en
from portwright.core.gas1d import march as ma
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.bench import BenchCondition, valve_only_area
from portwright.core.gas1d.ducts import Duct, join, plain_pipe
from portwright.core.gas1d.engine import Engine, Mechanics
from portwright.core.gas1d.gas import perfect_gas
from portwright.core.gas1d.network import End, Tube, build_network, fill_tube, march
from portwright.core.gas1d.riemann import exact_tube
from portwright.core.gas1d.simulate import Settings, simulate
from portwright.core.gas1d.tube import TubeState
from portwright.core.gas1d.valves import area_against_crank, lift_from_events

Array = NDArray[np.float64]
PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "gas1d.md"
BEGIN, END = "<!-- gas1d: begin -->", "<!-- gas1d: end -->"
LEFT, RIGHT, GAMMA, STOP = TubeState(1.0, 0.0, 1.0), TubeState(0.125, 0.0, 0.1), 1.4, 0.25
CELLS = (150, 1000)
SPEEDS = tuple(float(s) for s in np.linspace(2500.0, 9000.0, 14))


def timed(work: Callable[[], int], repeats: int) -> tuple[float, int]:
    """Best processor time of one thread and what the work returned."""
    best, out = np.inf, 0
    for _ in range(repeats):
        start = time.thread_time()
        out = work()
        best = min(best, time.thread_time() - start)
    return best, out


def sod_error(density: Array) -> float:
    """Mean density error against cell averages of the exact solution."""
    n = density.size
    inside = (np.arange(16) + 0.5) / 16.0 - 0.5
    x = (np.arange(n)[:, None] + 0.5 + inside) / n
    exact = exact_tube(LEFT, RIGHT, GAMMA, ((x - 0.5) / STOP).ravel())[0]
    return float(np.mean(np.abs(density - exact.reshape(x.shape).mean(axis=1))))


def ours_sod(n: int, repeats: int) -> tuple[float, int, float]:
    """Time, steps and error of the solver on the first shock tube."""
    tube = Tube("tube", 1.0, np.ones(n + 1), np.zeros(n))
    passing = End(en.PASS)
    network = build_network(perfect_gas(GAMMA), (tube,), ((passing, passing),))
    left = tube.centres < 0.5
    start = np.where(left, 1.0, 0.125), np.zeros(1), np.where(left, 1.0, 0.1)
    best = np.inf
    for _ in range(repeats):
        fill_tube(network, 0, *start, 0.0)
        network.clock[:] = 0.0
        seconds, _ = timed(lambda: march(network, STOP, 0.9) or 0, 1)
        best = min(best, seconds)
    return best, int(network.clock[ma.STEPS]), sod_error(network.part(r.DENSITY, 0))


def per_cell_table() -> list[str]:
    """Equal cells."""
    rows = [
        "| cells | program | million cell-steps per second | time (ms) | mean density error |",
        "|---|---|---|---|---|",
    ]

    def row(n: int, name: str, result: tuple[float, int, float]) -> None:
        seconds, steps, error = result
        rate = n * steps / seconds * 1e-6
        rows.append(f"| {n} | {name} | {rate:.3g} | {seconds * 1e3:.3g} | {error:.5f} |")

    for n in CELLS:
        row(n, "Portwright", ours_sod(n, 30))
        row(n, "the same scheme in plain NumPy", with_error(numpy_sod, n, 3))
        if clawpack_available():
            for limiter in ("MC", "superbee"):
                row(n, f"PyClaw, {limiter}", with_error(clawpack_sod, n, 5, limiter))
    if not clawpack_available():
        rows.append("\nThe finite-volume library is not installed here: its rows are left out.")
    return rows


def with_error(
    run: Callable[..., tuple[float, int, Array]], *args: object
) -> tuple[float, int, float]:
    """Turn the density into its error."""
    seconds, steps, density = run(*args)
    return seconds, steps, sod_error(density)


def equal_error_table() -> list[str]:
    """Time to the same error, ours interpolated between cell counts."""
    if not clawpack_available():
        return ["The finite-volume library is not installed here: nothing to compare with."]
    cells = (40, 60, 80, 100, 125, 150, 200, 300, 400, 600, 800, 1000, 1400)
    points = [ours_sod(n, 12) for n in cells]
    error = np.array([p[2] for p in points])
    # Errors fall a little unevenly with the cells: only the envelope is inverted.
    envelope = np.minimum.accumulate(error)
    seconds = np.array([p[0] for p in points])
    rows = [
        "| error of | cells | its time (ms) | our time at that error (ms) | ratio |",
        "|---|---|---|---|---|",
    ]
    for limiter in ("MC", "superbee"):
        for n in CELLS:
            its, _, density = clawpack_sod(n, 5, limiter)
            wanted = sod_error(density)
            ours = np.exp(np.interp(-np.log(wanted), -np.log(envelope), np.log(seconds)))
            rows.append(
                f"| PyClaw, {limiter}, {wanted:.5f} | {n} | {its * 1e3:.3g} | {ours * 1e3:.3g} | "
                f"{its / ours:.1f} |"
            )
    return rows


@numba.njit(error_model="numpy", fastmath={"contract", "reassoc", "nsz", "arcp", "nnan", "ninf"})
def _unit_bound(a: Array, n: int, again: int) -> None:
    """Only the three divisions and the square root of a cell and step, all independent."""
    for _ in range(again):
        for i in range(n):
            x = a[i]
            a[i + 4096] = 1.0 / x
            a[i + 8192] = 1.5 / (x + 1.0)
            a[i + 12288] = 2.5 / (x + 2.0)
            a[i + 16384] = np.sqrt(x)


def bound_table() -> list[str]:
    """Share of what the divide and square-root units allow."""
    n, again = 1024, 2000
    a = np.linspace(1.0, 2.0, 32768)
    _unit_bound(a, n, 1)
    seconds, _ = timed(lambda: _unit_bound(a, n, again) or 0, 7)
    least = seconds / (n * again) * 1e9
    ours, steps, _ = ours_sod(n, 30)
    spent = ours / (n * steps) * 1e9
    text = (
        f"Three divisions and one square root per cell and step take {least:.2f} ns when nothing "
        f"else is done; a whole cell and step takes {spent:.1f} ns at {n} cells, so the divide and "
        f"square-root units are busy {least / spent:.0%} of the time."
    )
    return [text]


def engine(finished: bool) -> Engine:
    """Invented 0.48 L race single, port as received or finished."""
    x = np.array([0.0, 0.024, 0.048, 0.080, 0.104, 0.120])
    area = (1162, 1050, 995, 1050, 999, 1048) if finished else (1092, 975, 889, 960, 801, 968)
    flow = (84, 240, 372, 478, 570, 634) if finished else (79, 226, 346, 438, 509, 553)
    lift = np.array([1.0, 3.0, 5.0, 7.0, 9.0, 11.0]) * 1e-3
    port = Duct("port", x, np.array(area) * 1e-6)
    bench = np.array(flow) * 1e-6
    valve = valve_only_area(port, bench, BenchCondition())
    intake = join("intake", plain_pipe("runner", 0.25, 0.0373), port)
    exhaust = join(
        "exhaust",
        plain_pipe("exhaust port", 0.07, 0.030, end_diameter=0.033, wall_temperature=500.0),
        plain_pipe("primary", 0.80, 0.038, wall_temperature=600.0),
    )
    return Engine(
        Mechanics(0.09, 0.075, 0.145, 11.2),
        (intake,),
        (exhaust,),
        area_against_crank(lift_from_events(332.0, 588.0, 1.27e-3, 11.1e-3), lift, valve),
        area_against_crank(lift_from_events(122.0, 382.0, 1.27e-3, 10.6e-3), lift, 0.72 * bench),
    )


def one_run(task: tuple[Engine, float, Settings]) -> tuple[float, int, float, int]:
    """Torque, cycles, processor time and process of one engine run."""
    start = time.thread_time()
    point = simulate(*task)
    return point.torque, point.cycles, time.thread_time() - start, os.getpid()


def _warm(_: int) -> int:
    simulate(engine(True), 6000.0, Settings(cell=20e-3))
    return os.getpid()


def sweep_table() -> list[str]:
    """Fourteen speeds, two heads, on one and two processes."""
    heads = [engine(False), engine(True)]
    names = (
        "cell, intake / exhaust (mm)",
        "1 process, processor time (s)",
        "1 process, wall (s)",
        "2 processes, processor time of the busier (s)",
        "2 processes, wall (s)",
        "cycles per run",
        "largest change of torque from 2.5 mm",
        "largest change of after/before",
    )
    rows = [f"| {' | '.join(names)} |", "|---" * len(names) + "|"]
    finest: Array | None = None
    _warm(0)
    lines = []
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        while len(set(pool.map(_warm, range(4)))) < 2:
            pass
        for cell, stretch in (
            (2.5e-3, 1.0),
            (5e-3, 1.6),
            (7.5e-3, 1.0),
            (7.5e-3, 1.6),
            (10e-3, 1.6),
            (15e-3, 1.6),
        ):
            settings = Settings(cell=cell, exhaust_stretch=stretch)
            tasks = [(head, speed, settings) for head in heads for speed in SPEEDS]
            best = np.full(4, np.inf)
            for _ in range(1 if cell < 5e-3 else 3):
                begin = time.perf_counter()
                results = [one_run(task) for task in tasks]
                middle = time.perf_counter()
                shared = list(pool.map(one_run, tasks))
                end = time.perf_counter()
                pids = {x[3] for x in shared}
                busier = max(sum(x[2] for x in shared if x[3] == pid) for pid in pids)
                alone = sum(x[2] for x in results)
                best = np.minimum(best, [alone, middle - begin, busier, end - middle])
            torque = np.array([x[0] for x in results])
            finest = torque if finest is None else finest
            ratio = torque[14:] / torque[:14] / (finest[14:] / finest[:14]) - 1.0
            cycles = np.mean([x[1] for x in results])
            lines.append(
                f"| {cell * 1e3:g} / {cell * stretch * 1e3:g} | "
                + " | ".join(f"{value:.2f}" for value in best)
                + f" | {cycles:.1f} | {np.max(np.abs(torque / finest - 1.0)):.2%} | "
                f"{np.max(np.abs(ratio)):.2%} |"
            )
    return rows + lines[::-1]


def convergence_table() -> list[str]:
    """Cost and result against cycles."""
    rows = ["| tolerance | cycles | time (ms) | torque (N m) |", "|---|---|---|---|"]
    head = engine(True)
    for tolerance in (1e-2, 1e-3, 1e-4, 1e-5):
        settings = replace(Settings(), tolerance=tolerance)
        point = simulate(head, 6000.0, settings)
        seconds, _ = timed(lambda s=settings: simulate(head, 6000.0, s).cycles, 3)
        rows.append(
            f"| {tolerance:.0e} | {point.cycles} | {seconds * 1e3:.0f} | {point.torque:.3f} |"
        )
    return rows


def timed_piece(piece: Piece) -> tuple[float, int]:
    """Processor time and process of one combination."""
    start = time.thread_time()
    run_piece(piece)
    return time.thread_time() - start, os.getpid()


def combinations_table() -> list[str]:
    """24 combinations at 4 speeds on one and two processes, and what building a head takes."""
    out = plain_pipe("exhaust port", 0.07, 0.030, end_diameter=0.033, wall_temperature=500.0)
    x = np.array([0.0, 0.024, 0.048, 0.080, 0.104, 0.120])
    port = Duct("port", x, np.array((1162, 1050, 995, 1050, 999, 1048)) * 1e-6)
    lift = np.array([1.0, 3.0, 5.0, 7.0, 9.0, 11.0]) * 1e-3
    bench = np.array((84, 240, 372, 478, 570, 634)) * 1e-6
    head = Head(BenchedPort(port, lift, bench), BenchedPort(out, lift, 0.6 * bench))
    case = EngineCase(
        Mechanics(0.09, 0.075, 0.145, 11.2),
        1,
        lift_from_events(332.0, 588.0, 1.27e-3, 11.1e-3),
        lift_from_events(122.0, 382.0, 1.27e-3, 10.6e-3),
        plain_pipe("runner", 0.25, 0.0373),
        plain_pipe("primary", 0.80, 0.038, wall_temperature=600.0),
    )
    changes = [Change(lift=1e-4 * k, runner=5e-3 * j) for k in range(6) for j in range(4)]
    speeds = (4000.0, 5500.0, 7000.0, 8500.0)
    pieces = [
        Piece(("try", k), case, head, speeds, Settings(cell=10e-3), change=change)
        for k, change in enumerate(changes)
    ]
    rows = [
        "| processes | processor time of the busier (s) | times less | wall (s) |",
        "|---|---|---|---|",
    ]
    alone = np.inf
    for count in (1, 2):
        with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
            while len(set(pool.map(_warm, range(2 * count)))) < count:
                pass
            best = np.full(2, np.inf)
            for _ in range(3):
                begin = time.perf_counter()
                done = list(pool.map(timed_piece, pieces))
                wall = time.perf_counter() - begin
                pids = {pid for _, pid in done}
                busier = max(sum(t for t, owner in done if owner == pid) for pid in pids)
                best = np.minimum(best, [busier, wall])
        alone = min(alone, best[0]) if count == 1 else alone
        rows.append(f"| {count} | {best[0]:.2f} | {alone / best[0]:.2f} | {best[1]:.2f} |")
    seconds, _ = timed(lambda: build_changed(case, head, Change()).mechanics.cylinders, 5)
    rows.append(
        f"\nPutting one head on the engine, with both valve areas solved behind their ducts, takes "
        f"{seconds * 1e3:.0f} ms."
    )
    return rows


def cold_start() -> str:
    """A fresh interpreter with the compiled code on disk: first result of an engine run."""
    code = (
        "import time; t = time.perf_counter(); from benchmarks.gas1d import engine, simulate;"
        " simulate(engine(True), 6000.0);"
        " print(time.perf_counter() - t, time.process_time())"
    )
    runs = []
    for _ in range(3):
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        runs.append([float(x) for x in done.stdout.split()])
    wall, busy = np.min(np.array(runs), axis=0)
    return (
        f"First engine run in a fresh interpreter, compiled code cached: {wall:.1f} s wall, "
        f"{busy:.1f} s processor time (best of three, imports included)."
    )


def build_report() -> str:
    """All tables."""
    logging.disable(logging.CRITICAL)
    parts = [
        "### Equal cells: first shock tube to t = 0.25",
        *per_cell_table(),
        "",
        "### Equal error",
        *equal_error_table(),
        "",
        "### Bound of the hardware",
        *bound_table(),
        "",
        "### Fourteen speeds, two heads, one cylinder",
        *sweep_table(),
        "",
        "### A sweep of combinations",
        *combinations_table(),
        "",
        "### Cycles",
        *convergence_table(),
        "",
        cold_start(),
        "",
        f"Load average of the machine while this ran: {os.getloadavg()[0]:.1f} on "
        f"{os.cpu_count()} cores."
        if hasattr(os, "getloadavg")
        else "",
    ]
    return "\n".join(parts)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true", help="put the tables into the page")
    options = parser.parse_args()
    report = build_report()
    print(report)
    if options.write:
        text = PAGE.read_text(encoding="utf-8")
        before, rest = text.split(BEGIN)
        _, after = rest.split(END)
        PAGE.write_text(f"{before}{BEGIN}\n{report}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
