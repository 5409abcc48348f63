"""Simulated jobs with known mistakes, for measuring how often the checks are right.

The curves do not come from the model the checks assume: a gap and a port in series
(1/A^2 = 1/gap^2 + 1/port^2), with seat-flow regimes, wall-limited ports, separation and flutter.
All ranges are wide guesses around common practice (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from portwright.core.curve import FlowCurve, make_curve
from portwright.core.detection import Side, SweepRecord, from_cfm28
from portwright.core.repeatability import Repeatability
from portwright.errors import Where

Array = NDArray[np.float64]

FAULTS = ("lift-zero-offset", "leak", "constant-factor", "range-step", "odd-reading")


@dataclass(frozen=True, slots=True, eq=False)
class Port:
    """A port as it truly is."""

    diameter: float
    gap: float  # coefficient of the gap at mid lift
    gap_fall: float  # relative fall of it over a lift of a quarter diameter
    regime_lift: float  # L/D where the seat flow changes its pattern
    regime_step: float
    limit: float  # effective area of the port behind the valve
    separation_lift: float
    separation: float  # relative loss at the top, negative recovers flow
    sharpness: float

    def area(self, lift: Array) -> Array:
        """Effective area. [m2]"""
        ratio = lift / self.diameter
        coefficient = self.gap * (1.0 - self.gap_fall * (ratio / 0.25 - 0.5))
        coefficient *= 1.0 - self.regime_step / (1.0 + np.exp((self.regime_lift - ratio) / 0.012))
        gap = coefficient * np.pi * self.diameter * lift * (1.0 - 0.15 * ratio)
        area = (gap**-4 + self.limit**-4) ** -0.25
        loss = self.separation / (1.0 + np.exp((self.separation_lift - lift) / self.sharpness))
        out: Array = area * (1.0 - loss)
        return out


@dataclass(frozen=True, slots=True)
class Fault:
    """A mistake put into one sweep: ``size`` in SI or relative."""

    kind: str
    size: float
    run: str
    at: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """Sweeps with what is wrong in them and how well the bench really repeats."""

    records: tuple[SweepRecord, ...]
    faults: tuple[Fault, ...]
    truth: Repeatability
    history: tuple[tuple[FlowCurve, ...], ...] = ()

    def repeat_groups(self) -> list[list[FlowCurve]]:
        """Curves of the repeats of each port and stage."""
        groups: dict[tuple[str, ...], list[FlowCurve]] = {}
        for record in self.records:
            groups.setdefault(record.key, []).append(record.curve)
        return list(groups.values())


def swapped(rng: np.random.Generator, clean: Job, *, side: bool) -> Job:
    """The job with one sweep filed under another port, of the other side if ``side``."""
    records = list(clean.records)
    taken = int(rng.integers(len(records)))
    sweep_ = records[taken]
    places = [
        r
        for r in records
        if r.stage == sweep_.stage and r.port != sweep_.port and (r.side != sweep_.side) == side
    ]
    if not places:
        return clean
    place = places[int(rng.integers(len(places)))]
    where = replace(sweep_.where, port=place.port)
    records[taken] = replace(sweep_, where=where, port=place.port, side=place.side)
    kind = "swapped-side" if side else "swapped-port"
    difference = float(np.mean(np.log(sweep_.curve.area[-3:] / place.curve.area[-3:])))
    return Job(tuple(records), (Fault(kind, difference, where.run),), clean.truth)


def port(rng: np.random.Generator, *, exhaust: bool = False) -> Port:
    """Draw the master port of a head."""
    diameter = rng.uniform(0.028, 0.036) if exhaust else rng.uniform(0.032, 0.056)
    disc = np.pi / 4.0 * diameter**2
    return Port(
        diameter=diameter,
        gap=rng.uniform(0.60, 0.70),
        gap_fall=rng.uniform(0.0, 0.25),
        regime_lift=rng.uniform(0.05, 0.14),
        regime_step=rng.uniform(0.0, 0.06),
        limit=disc * rng.uniform(0.42, 0.62),
        separation_lift=diameter * rng.uniform(0.2, 0.3),
        separation=rng.choice([0.0, 0.0, rng.uniform(0.01, 0.06)]),
        sharpness=rng.uniform(0.2e-3, 0.8e-3),
    )


def sister(rng: np.random.Generator, master: Port) -> Port:
    """Another port of the same head: same tools, other casting."""
    limit = master.limit * (1.0 + 0.015 * rng.standard_normal())
    if rng.random() < 0.1:  # wall-limited
        limit *= rng.uniform(0.88, 0.96)
    return replace(
        master,
        gap=master.gap * (1.0 + 0.010 * rng.standard_normal()),
        limit=limit,
        separation_lift=master.separation_lift * (1.0 + 0.03 * rng.standard_normal()),
        separation=master.separation * rng.uniform(0.6, 1.4),
    )


def worked(rng: np.random.Generator, before: Port) -> Port:
    """The same port one stage later: port work, seat work or nothing."""
    return replace(
        before,
        gap=before.gap * rng.choice([1.0, rng.uniform(0.99, 1.04)]),
        limit=before.limit * rng.choice([1.0, rng.uniform(0.99, 1.06)]),
        separation=before.separation * rng.choice([1.0, 0.3]),
    )


def lift_list(rng: np.random.Generator, diameter: float) -> Array:
    """One of the ways shops step the lift, 8 to 13 lifts."""
    n = int(rng.integers(8, 14))
    kind = rng.integers(3)
    if kind == 0:
        first = 1e-3 if n > 10 else 1.5e-3
        steps = first + np.arange(n) * 1e-3 * (1.0 if n > 10 else 1.3)
    elif kind == 1:
        steps = 0.0254 * 0.050 * np.arange(1, n + 1) * (1.0 if n <= 12 else 0.9)
    else:
        steps = diameter * np.linspace(0.05, 0.35, n)
    return np.asarray(steps, dtype=np.float64)


def bench(rng: np.random.Generator) -> Repeatability:
    """How well one bench repeats: around the common-practice figures."""
    around = rng.lognormal(0.0, 0.35, 3)
    return Repeatability(
        common=0.004 * around[0],
        lift_setting=15e-6 * around[1],
        reading=0.0025 * around[2],
        degrees_of_freedom=1e6,
        source="simulated",
    )


def sweep(
    rng: np.random.Generator,
    truth: Port,
    lift: Array,
    scale: Repeatability,
    fault: Fault | None = None,
    *,
    noted: bool = True,
) -> FlowCurve:
    """One sweep as a bench would show it, scatter noted or not."""
    unsteady = truth.separation > 0.012
    flutter = np.where(
        unsteady & (lift > truth.separation_lift), rng.uniform(0.012, 0.022), 0.005
    ) * rng.uniform(0.8, 1.2, lift.size)
    offset = scale.lift_setting * rng.standard_normal()
    leak = from_cfm28(0.05) * rng.standard_normal()
    if fault is not None and fault.kind == "lift-zero-offset":
        offset += fault.size
    if fault is not None and fault.kind == "leak":
        leak += fault.size
    area = truth.area(np.maximum(lift + offset, 0.05 * lift[0])) + leak
    noise = np.hypot(scale.reading, flutter / 2.0) * rng.standard_normal(lift.size)
    noise += scale.common * rng.standard_normal()
    if fault is not None and fault.kind == "constant-factor":
        noise += fault.size
    if fault is not None and fault.kind == "range-step":
        noise += fault.size * (np.arange(lift.size) >= fault.at)
    if fault is not None and fault.kind == "odd-reading":
        noise[fault.at] += fault.size
    digit = from_cfm28(0.1)
    area = np.maximum(np.round(area * np.exp(noise) / digit), 1.0) * digit
    return make_curve(
        lift,
        area,
        resolution=digit / np.sqrt(12.0) / area,
        scatter=np.round(flutter, 3) if noted else float("nan"),
        leak=np.round(rng.uniform(0.2, 0.6), 1) * from_cfm28(1.0),
    )


def draw_fault(rng: np.random.Generator, kind: str, size: float, run: str, n: int) -> Fault:
    """A mistake of this size at a random place; random sign, except a leak."""
    sign = 1.0 if kind == "leak" else rng.choice([-1.0, 1.0])
    at = int(rng.integers(2, n - 1)) if kind == "range-step" else int(rng.integers(0, n))
    return Fault(kind, sign * size, run, at)


def job(
    rng: np.random.Generator,
    *,
    ports: int | None = None,
    repeats: int | None = None,
    stages: int | None = None,
    faults: Sequence[tuple[str, float]] = (),
    history: int = 0,
) -> Job:
    """A simulated job: intake and exhaust ports, stages, repeats, mistakes.

    Parameters
    ----------
    rng : Generator
    ports : int or None
        Ports per side, drawn from 1 to 6 if None; both sides are swept half of the time.
    repeats : int or None
        Sweeps of each, drawn from 1 to 4 for each port and stage if None.
    stages : int or None
        Drawn from 1 to 3 if None.
    faults : sequence of (kind, size)
        Each goes into a sweep of its own port and stage.
    history : int
        Pairs of repeats from earlier jobs on this bench.
    """
    scale = bench(rng)
    ports = int(rng.integers(1, 7)) if ports is None else ports
    stages = int(rng.integers(1, 4)) if stages is None else stages
    sides: tuple[Side, ...] = ("intake", "exhaust") if rng.random() < 0.5 else ("intake",)
    plan: list[tuple[Side, str, str, int, Port, Array]] = []
    for side in sides:
        master = port(rng, exhaust=side == "exhaust")
        lift = lift_list(rng, master.diameter)
        current = [sister(rng, master) for _ in range(ports)]
        for stage in range(stages):
            for number, truth in enumerate(current):
                count = int(rng.integers(1, 5)) if repeats is None else repeats
                name = f"{side[0].upper()}{number + 1}"
                plan.append((side, name, f"S{stage}", count, truth, lift))
            current = [worked(rng, truth) for truth in current]
    places = [i for i, entry in enumerate(plan) if entry[3] > 1 or repeats == 1]
    chosen = rng.permutation(places)[: len(faults)]
    wrong = dict(zip(chosen.tolist(), faults, strict=False))
    # Scatter is noted by some shops always, by some never, by others on some sheets.
    habit = rng.choice([1.0, 1.0, 0.5, 0.0])
    noted = {stage: bool(rng.random() < habit) for stage in dict.fromkeys(e[2] for e in plan)}
    session = int(rng.integers(3, 15))
    records: list[SweepRecord] = []
    made: list[Fault] = []
    for i, (side, name, tag, count, truth, lift) in enumerate(plan):
        faulty = int(rng.integers(count)) if i in wrong else -1
        for repeat in range(count):
            run = f"R{len(records) + 1}"
            fault = None
            if repeat == faulty:
                kind, size = wrong[i]
                fault = draw_fault(rng, kind, size, run, lift.size)
                made.append(fault)
            records.append(
                SweepRecord(
                    curve=sweep(rng, truth, lift, scale, fault, noted=noted[tag]),
                    where=Where(run=run, port=name, stage=tag, repeat=repeat + 1),
                    side=side,
                    port=name,
                    stage=tag,
                    bench="B",
                    day=f"day {len(records) // session}",
                    order=float(len(records)),
                )
            )
    return Job(tuple(records), tuple(made), scale, _history(rng, scale, history))


def _history(
    rng: np.random.Generator, scale: Repeatability, pairs: int
) -> tuple[tuple[FlowCurve, ...], ...]:
    out = []
    for _ in range(pairs):
        truth = sister(rng, port(rng))
        lift = lift_list(rng, truth.diameter)
        out.append(tuple(sweep(rng, truth, lift, scale) for _ in range(2)))
    return tuple(out)
