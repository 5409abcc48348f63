"""What small changes to port, cam or pipes are worth on this engine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.change import Change
from portwright.core.engine.sweep import Piece, PieceDone
from portwright.core.gas1d.simulate import Settings
from portwright.errors import Finding, NotConvergedError, Severity
from portwright.services.compare import archive_pressure
from portwright.services.engine_case import TwoHeads, two_heads
from portwright.services.engine_pool import Progress, run_pieces
from portwright.services.engine_quick import TO_RPM, chosen_port, last_stage
from portwright.services.findings import check_job

# Cell size and repeating of cycles move a difference by up to 0.1 point: less is not told.
TOLD_FROM = 0.001
_SETTINGS = Settings(tolerance=1e-4)

CHANGES: dict[str, Change] = {
    "+1 mm lift": Change(lift=1e-3),
    "+1 % throat diameter": Change(throat=1.01),
    "+1 % smallest section": Change(section=1.01),
    "+5 mm runner": Change(runner=5e-3),
    "+50 mm primary": Change(primary=50e-3),
    "+0.5 compression ratio": Change(compression=0.5),
    "2° intake advance": Change(advance=2.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class Effect:
    """What one change does.

    Parameters
    ----------
    name : str
    gain : ndarray, shape (n,)
        Change of torque at each speed, NaN where it could not be solved. [-]
    mean : float
        Mean over the speeds. [-]
    """

    name: str
    gain: Array
    mean: float


@dataclass(frozen=True, slots=True, eq=False)
class Sensitivity:
    """Effects of small changes on one head.

    Parameters
    ----------
    heads : TwoHeads
        The engine; its ``after`` is the head that was changed.
    speed, torque : ndarray, shape (n,)
        [rev/min, N m]
    effects : tuple of Effect
        Largest mean effect first.
    findings : tuple of Finding
    """

    heads: TwoHeads
    speed: Array
    torque: Array
    effects: tuple[Effect, ...]
    findings: tuple[Finding, ...]


def sensitivity(
    archive: Archive,
    job: str,
    *,
    stage: str = "",
    port: str = "",
    speeds: Sequence[float] = (),
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
) -> Sensitivity:
    """Try small changes one by one.

    Parameters
    ----------
    stage : str
        The last with sweeps where empty.
    port : str
        Intake port; the one developed most where empty.
    speeds : sequence of float
        Four over the engine's band where empty. [rev/min]
    workers, cluster, progress
        As in :func:`~portwright.services.engine_run.run_engine`.

    Raises
    ------
    UnknownNameError, InputError
    NotConvergedError
        The engine could not be solved unchanged.
    SolveCancelledError
    """
    checked = check_job(archive, job)
    code = chosen_port(checked, port)
    chosen = stage or last_stage(checked, code)
    heads = two_heads(checked, archive_pressure(archive), code, chosen, chosen)
    engine = heads.description
    low, high = (v.si * TO_RPM for v in (engine.lowest_speed, engine.highest_speed))
    speed = np.array(speeds or np.linspace(low, high, 4).round(-2))
    pieces = [
        Piece(
            (name, 0), heads.case, heads.after.head, tuple(map(float, speed)), _SETTINGS, change=c
        )
        for name, c in {"as it is": Change(), **CHANGES}.items()
    ]
    done = run_pieces(pieces, workers=workers, cluster=cluster, progress=progress)
    plain = _torques(done["as it is", 0])
    if not np.any(np.isfinite(plain)):
        raise NotConvergedError(f"{chosen}: {done['as it is', 0].points[0]}")
    effects = []
    for name in CHANGES:
        gain = _torques(done[name, 0]) / plain - 1.0
        known = gain[np.isfinite(gain)]
        effects.append(Effect(name, gain, float(known.mean()) if known.size else float("nan")))
    effects.sort(key=lambda e: -abs(np.nan_to_num(e.mean)))
    return Sensitivity(heads, speed, plain, tuple(effects), (*heads.findings, *_beyond(heads)))


def _torques(piece: PieceDone) -> Array:
    return np.array([np.nan if isinstance(p, str) else p.torque for p in piece.points])


def _beyond(heads: TwoHeads) -> tuple[Finding, ...]:
    """Say when more lift leaves the tested range."""
    most = float(heads.case.intake_lift.max()) + CHANGES["+1 mm lift"].lift
    tested = float(heads.after.head.intake.lift[-1])
    if most <= tested + 1e-9:
        return ()
    return (
        Finding(
            "cam-above-tested-lift",
            Severity.NOTE,
            f"With 1 mm more the valve lifts to {most * 1e3:.2f} mm, tested up to "
            f"{tested * 1e3:.2f} mm; the area is held above.",
            "Test higher to know what more lift does.",
        ),
    )


def told(gain: float) -> bool:
    """Whether an effect is larger than what the solution itself leaves open."""
    return bool(np.isfinite(gain) and abs(gain) >= TOLD_FROM)
