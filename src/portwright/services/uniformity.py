"""Are all ports of a head alike: each against the mean of them, judged by the bench's repeats."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.comparison import Verdict
from portwright.core.curve import Array, FlowCurve
from portwright.core.lift_bands import BandWeights, LiftBand, band_weights, lift_bands
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.weights import span_weights
from portwright.errors import InputError
from portwright.model.head import Side
from portwright.services.findings import CheckedJob, check_job
from portwright.services.odd_port import Oddity, measured_differently
from portwright.services.port_spread import Deviation, PortSpread
from portwright.services.reduce import ReducedRun
from portwright.services.sweeps import configuration, session_of
from portwright.services.valves import valve_at

_FEWEST = 2  # ports that can be compared


@dataclass(frozen=True, slots=True)
class PortMark:
    """One port.

    Parameters
    ----------
    port : str
    runs : tuple of str
        Sweeps used.
    bands : tuple of Deviation
        As :attr:`Uniformity.bands`.
    oddities : tuple of Oddity
        What was measured differently there; only for ports that really differ.
    """

    port: str
    runs: tuple[str, ...]
    bands: tuple[Deviation, ...]
    oddities: tuple[Oddity, ...] = ()

    @property
    def differs(self) -> bool:
        """More than the repeats explain, in some band."""
        return any(d.verdict is Verdict.REAL for d in self.bands)


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of lift in which the ports are compared.

    Parameters
    ----------
    name : str
    low, high : float
        [m]
    spread : float
        Largest less smallest port over the mean. [-]
    by_chance : float
        Spread that repeats alone stay below in 95 of 100 heads of equal ports. [-]
    """

    name: str
    low: float
    high: float
    spread: float
    by_chance: float


@dataclass(frozen=True, slots=True)
class Uniformity:
    """All ports of one side at one stage.

    Parameters
    ----------
    job, stage, bench, set_up : str
    side : Side
    bands : tuple of Band
        The whole curve first.
    ports : tuple of PortMark
    missing : tuple of str
        Ports without a sound sweep in this set-up.
    left_out : dict of str to str
        Sweeps not used, with the cause.
    """

    job: str
    side: Side
    stage: str
    bench: str
    set_up: str
    bands: tuple[Band, ...]
    ports: tuple[PortMark, ...]
    missing: tuple[str, ...]
    left_out: dict[str, str]


def uniformity(archive: Archive, job: str, side: Side, stage: str, head: str = "") -> Uniformity:
    """Compare all ports of a side with their mean.

    Parameters
    ----------
    head : str
        Head code; "" takes all heads of the job.

    Raises
    ------
    UnknownNameError
        No such job.
    InputError
        Fewer than two ports were swept in one set-up.
    """
    return uniformity_of(check_job(archive, job), side, stage, head)


def uniformity_of(checked: CheckedJob, side: Side, stage: str, head: str = "") -> Uniformity:
    """As :func:`uniformity` for a job already checked."""
    ports = [
        p.code for p in checked.contents.ports if p.side is side and (not head or p.head == head)
    ]
    chosen = _one_set_up([r for r in checked.sound() if _at(r, ports, stage)])
    by_port = {p: [r for r in chosen if r.run.port == p] for p in ports}
    swept = [p for p in ports if by_port[p]]
    if len(swept) < _FEWEST:
        raise InputError(
            f"Fewer than two {side} ports have a sound sweep at {stage or 'any stage'}.",
            "Sweep the other ports in the same set-up.",
        )
    curves = {p: [r.curve for r in by_port[p] if r.curve is not None] for p in swept}
    grid = _common_grid([c for members in curves.values() for c in members])
    shape = valve_at(checked.contents, swept[0], stage)
    spans = _spans(grid, None if shape is None else shape.head_diameter)
    first = chosen[0].run
    rep = checked.repeatability.get(first.bench, SHOP_DEFAULT)
    sessions = {p: {session_of(r.run) for r in by_port[p]} for p in swept}
    bands, columns = [], []
    for name, span in spans:
        spread = PortSpread(curves, sessions, rep, grid, span)
        columns.append(spread.deviations())
        bands.append(Band(name, span.low, span.high, *spread.widths()))
    marks = [
        PortMark(
            port,
            tuple(r.run.code for r in by_port[port]),
            tuple(column[k] for column in columns),
        )
        for k, port in enumerate(swept)
    ]
    known = checked.contents
    marks = [
        replace(m, oddities=measured_differently(known, m.port, swept, stage)) if m.differs else m
        for m in marks
    ]
    here = [r.run for r in checked.reduced if _at(r, ports, stage)]
    left_out = {r.code: r.left_out for r in here if r.left_out}
    left_out |= {r.code: f.message for r in here if (f := checked.faulty.get(r.code))}
    return Uniformity(
        known.job.number,
        side,
        stage,
        first.bench,
        configuration(first.conditions),
        tuple(bands),
        tuple(marks),
        tuple(p for p in ports if p not in swept),
        left_out,
    )


def _at(item: ReducedRun, ports: Sequence[str], stage: str) -> bool:
    return item.run.port in ports and item.run.stage == stage


def _one_set_up(runs: Sequence[ReducedRun]) -> list[ReducedRun]:
    """Sweeps of the set-up in which most ports were swept."""
    keys = {
        r.run.code: (r.run.bench, r.run.calibration, configuration(r.run.conditions)) for r in runs
    }
    ports = Counter(key for key, _ in {(keys[r.run.code], r.run.port) for r in runs})
    if not ports:
        return []
    best = max(ports, key=lambda key: (ports[key], key))
    return [r for r in runs if keys[r.run.code] == best]


def _common_grid(curves: Sequence[FlowCurve]) -> Array:
    low = max(float(c.lift[0]) for c in curves)
    high = min(float(c.lift[-1]) for c in curves)
    lifts = curves[0].lift
    grid = lifts[(lifts >= low - 1e-9) & (lifts <= high + 1e-9)]
    if grid.size < 2:
        raise InputError(
            "The sweeps of these ports have no range of lift in common.",
            "Sweep all ports at the same lifts.",
        )
    return grid


def _spans(grid: Array, valve_diameter: float | None) -> list[tuple[str, BandWeights]]:
    low, high = float(grid[0]), float(grid[-1])
    whole = BandWeights(LiftBand(0.0, np.inf), low, high, span_weights(grid, low, high))
    found = [("all lifts", whole)]
    if valve_diameter is not None:
        found += [(w.band.name, w) for w in band_weights(grid, valve_diameter, lift_bands())]
    return found
