"""Before and after on one engine: torque and power over speed, the difference with its range."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.doubts import Unknowns, draw, half_width
from portwright.core.engine.learning import ShopFactor
from portwright.core.engine.peaks import Peak, peak
from portwright.core.engine.sweep import Piece, PieceDone
from portwright.core.gas1d.operating import OperatingPoint
from portwright.core.gas1d.simulate import Settings
from portwright.errors import Finding, InputError, NotConvergedError, Severity
from portwright.model.engine import Source
from portwright.services.compare import archive_pressure
from portwright.services.engine_case import HeadState, TwoHeads, two_heads
from portwright.services.engine_factors import learned_factor
from portwright.services.engine_head import HeadCurve, head_curve
from portwright.services.engine_pool import Progress, run_pieces
from portwright.services.engine_quick import TO_RPM, chosen_port
from portwright.services.findings import check_job
from portwright.services.overview import stages_of

# No range is shown narrower than what uncalibrated calculations of this kind are expected to
# reach at best: 8 to 10 % in level, 3 to 5 % in the difference of two versions (from memory).
LEVEL_FLOOR = 0.09
DIFFERENCE_FLOOR = 0.03
CALIBRATED_FLOOR = 0.04  # calibrated: 3 to 5 % (from memory)
# Relative standard uncertainty of a pipe's length that nobody measured (our own judgement).
GUESSED_LENGTH = 0.15
WHY_DIFFERENCE = (
    "The difference is better known than the level: friction, combustion, fuel and the bench's own "
    "error push both heads the same way and drop out of it."
)
FINE = Settings(tolerance=2e-4, record_step=4.0)
COARSE = Settings(cell=10e-3, tolerance=5e-4)
_SEED = 20260210  # any fixed number: the same question gives the same answer
_STEP = 500.0
_CHUNK = 3  # speeds of one piece: few enough to spread, enough to build the engine once


@dataclass(frozen=True, slots=True, eq=False)
class Difference:
    """Change from before to after.

    Parameters
    ----------
    gain : ndarray, shape (n,)
        Of torque, relative. [-]
    low, high : ndarray, shape (n,)
        Its range at 95 %, never narrower than the floor. [-]
    sampled : ndarray, shape (n,)
        Half width from the sampled uncertainties alone. [-]
    """

    gain: Array
    low: Array
    high: Array
    sampled: Array


@dataclass(frozen=True, slots=True, eq=False)
class EngineRun:
    """Both heads on one engine.

    Parameters
    ----------
    heads : TwoHeads
    speed : ndarray, shape (n,)
        [rev/min]
    before, after : HeadCurve
    difference : Difference
    peak_before, peak_after : Peak or None
        Of power.
    shift : tuple of float
        Shift of the speed of peak power with its low and high end; NaN where a peak lies
        outside the speeds. [rev/min]
    samples : int
        Pairs of guesses behind the ranges; 0 for none.
    factor : ShopFactor or None
        Learned factor in torque and power.
    findings : tuple of Finding
    """

    heads: TwoHeads
    speed: Array
    before: HeadCurve
    after: HeadCurve
    difference: Difference
    peak_before: Peak | None
    peak_after: Peak | None
    shift: tuple[float, float, float]
    samples: int
    factor: ShopFactor | None
    findings: tuple[Finding, ...]


def run_engine(
    archive: Archive,
    job: str,
    *,
    before: str = "",
    after: str = "",
    port: str = "",
    speeds: Sequence[float] = (),
    samples: int = 12,
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
    use_factor: bool = True,
) -> EngineRun:
    """Simulate both heads on the job's engine.

    Parameters
    ----------
    before, after : str
        Stages; the first and last with sweeps where empty.
    port : str
        Intake port whose cylinder stands for all; the one developed most where empty.
    speeds : sequence of float
        Crank speeds; every 500 of the engine's band where empty. [rev/min]
    samples : int
        Pairs of guesses for the ranges; 0 leaves only the floor.
    workers, cluster
        See :func:`~portwright.services.engine_pool.runner`.
    progress : callable, optional
        Called with pieces done and their number; False stops.
    use_factor : bool
        Multiply the level by the factor the shop has learned from its dyno sheets, if any.

    Raises
    ------
    UnknownNameError, InputError
    NotConvergedError
        No speed gave an answer for one of the heads.
    SolveCancelledError
    """
    checked = check_job(archive, job)
    code = chosen_port(checked, port)
    stages = stages_of(checked, code)
    if not stages:
        raise InputError(f"Port {code} has no sweeps.", "Sweep it, or name another port.")
    heads = two_heads(
        checked, archive_pressure(archive), code, before or stages[0], after or stages[-1]
    )
    speed = np.array(speeds or _speeds(heads))
    factor = learned_factor(archive) if use_factor else None
    return run_heads(
        heads,
        speed,
        samples=samples,
        workers=workers,
        cluster=cluster,
        progress=progress,
        factor=factor,
    )


def _speeds(heads: TwoHeads) -> list[float]:
    engine = heads.description
    low, high = (v.si * TO_RPM for v in (engine.lowest_speed, engine.highest_speed))
    first = _STEP * np.floor(low / _STEP)
    return [float(v) for v in np.arange(first, high + _STEP, _STEP)]


def run_heads(
    heads: TwoHeads,
    speed: Array,
    *,
    samples: int = 12,
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
    factor: ShopFactor | None = None,
) -> EngineRun:
    """As :func:`run_engine` for heads already gathered."""
    sparse = _sparse(speed)
    pieces = _pieces(heads, speed, sparse, samples)
    done = run_pieces(pieces, workers=workers, cluster=cluster, progress=progress)
    parts = [[done[name, k] for k in range(0, speed.size, _CHUNK)] for name in ("before", "after")]
    points = [[p for part in side for p in part.points] for side in parts]
    seen = [[one for part in side for one in part.seen] for side in parts]
    findings = list(heads.findings)
    for state, found in zip((heads.before, heads.after), points, strict=True):
        findings += _unsolved(state, speed, found)
    spread = _Spread.of(done, sparse, samples)
    curves = [
        head_curve(
            heads,
            state,
            found,
            pictures,
            _level(speed, sparse, width, factor),
            factor.factor if factor else 1.0,
        )
        for state, found, pictures, width in zip(
            (heads.before, heads.after),
            points,
            seen,
            (spread.before, spread.after),
            strict=True,
        )
    ]
    gain = curves[1].torque / curves[0].torque - 1.0
    sampled = np.interp(speed, sparse, spread.gain)
    width = np.maximum(np.nan_to_num(sampled), DIFFERENCE_FLOOR)
    peaks = [peak(speed, c.power) for c in curves]
    return EngineRun(
        heads=heads,
        speed=speed,
        before=curves[0],
        after=curves[1],
        difference=Difference(gain, gain - width, gain + width, sampled),
        peak_before=peaks[0],
        peak_after=peaks[1],
        shift=_shift(peaks, spread),
        samples=spread.answered,
        factor=factor,
        findings=tuple(findings),
    )


def _sparse(speed: Array) -> Array:
    """Speeds at which the uncertainties are sampled: at most seven, both ends among them."""
    count = min(speed.size, 7)
    chosen: Array = speed[np.unique(np.linspace(0, speed.size - 1, count).round().astype(int))]
    return chosen


def _pieces(heads: TwoHeads, speed: Array, sparse: Array, samples: int) -> list[Piece]:
    states = {"before": heads.before.head, "after": heads.after.head}
    pieces = [
        Piece((name, k), heads.case, head, tuple(float(n) for n in speed[k : k + _CHUNK]), FINE)
        for name, head in states.items()
        for k in range(0, speed.size, _CHUNK)
    ]
    if samples:
        all_speeds = tuple(float(n) for n in sparse)
        pairs = draw(_unknowns(heads), samples, _SEED)
        for name, head in states.items():
            pieces.append(Piece((f"{name} guess", 0), heads.case, head, all_speeds, COARSE))
            pieces += [
                Piece(
                    (f"{name} guess", k),
                    heads.case,
                    head,
                    all_speeds,
                    COARSE,
                    pair[0 if name == "before" else 1],
                )
                for k, pair in enumerate(pairs, start=1)
            ]
    return pieces


def guessed_lengths(heads: TwoHeads) -> dict[str, float]:
    """Pipes whose length nobody gave, with the relative standard uncertainty of the guess. [-]"""
    engine = heads.description
    lengths = {"runner": engine.runner_length, "primary": engine.primary_length}
    if engine.runner_profile is not None:
        del lengths["runner"]
    if heads.case.collectors:
        lengths["tail"] = engine.tail_length
    return {
        name: GUESSED_LENGTH for name, length in lengths.items() if length.source is Source.ASSUMED
    }


def _unknowns(heads: TwoHeads) -> Unknowns:
    return Unknowns(
        bench=heads.after.bench_uncertainty,
        gain_intake=heads.intake_deviation,
        gain_exhaust=heads.exhaust_deviation,
        **guessed_lengths(heads),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Spread:
    """Half widths over the sampled speeds, and the sampled shifts of peak power."""

    before: Array
    after: Array
    gain: Array
    shifts: Array
    answered: int

    @classmethod
    def of(cls, done: dict[tuple[str, int], PieceDone], sparse: Array, samples: int) -> _Spread:
        if samples == 0:
            none = np.full(sparse.size, np.nan)
            return cls(none, none, none, np.full(0, np.nan), 0)
        tables = [
            np.array([_torques(done[f"{name} guess", k]) for k in range(samples + 1)])
            for name in ("before", "after")
        ]
        level = [half_width(t[1:] / t[0] - 1.0, np.zeros(sparse.size)) for t in tables]
        gains = tables[1] / tables[0] - 1.0
        peaks = [[peak(sparse, row * sparse) for row in t] for t in tables]
        shifts = np.array(
            [
                b.speed - a.speed if a and b and a.inside and b.inside else np.nan
                for a, b in zip(*peaks, strict=True)
            ]
        )
        return cls(
            level[0],
            level[1],
            half_width(gains[1:], gains[0]),
            shifts,
            int(np.isfinite(gains[1:]).all(axis=1).sum()),
        )


def _torques(piece: PieceDone) -> list[float]:
    return [np.nan if isinstance(p, str) else p.torque for p in piece.points]


def _level(speed: Array, sparse: Array, width: Array, factor: ShopFactor | None) -> Array:
    """Half width of the level at every speed, never below the floor. [-]"""
    if factor is not None and factor.half_width is not None:
        return np.full(speed.size, max(factor.half_width, CALIBRATED_FLOOR))
    sampled = np.nan_to_num(np.interp(speed, sparse, width))
    return np.maximum(sampled, LEVEL_FLOOR)


def _shift(peaks: Sequence[Peak | None], spread: _Spread) -> tuple[float, float, float]:
    first, second = peaks
    if first is None or second is None or not (first.inside and second.inside):
        return (np.nan, np.nan, np.nan)
    middle = second.speed - first.speed
    if spread.shifts.size < 2 or not np.isfinite(spread.shifts[0]):
        return (middle, np.nan, np.nan)
    width = float(half_width(spread.shifts[1:, None], spread.shifts[:1])[0])
    return (middle, middle - width, middle + width)


def _unsolved(
    state: HeadState, speed: Array, points: Sequence[OperatingPoint | str]
) -> list[Finding]:
    failed = [(n, p) for n, p in zip(speed, points, strict=True) if isinstance(p, str)]
    if not failed:
        return []
    said = ", ".join(f"{n:.0f}" for n, _ in failed)
    if len(failed) == speed.size:
        raise NotConvergedError(f"{state.stage}: no speed could be solved. {failed[0][1]}")
    return [
        Finding(
            "speeds-not-solved",
            Severity.WARNING,
            f"{state.stage}: no answer at {said} rpm. {failed[0][1]}",
            "The curve has gaps there.",
        )
    ]
