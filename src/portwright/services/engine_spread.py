"""What differences between the ports of a head mean for the cylinders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.sweep import Piece
from portwright.core.gas1d.simulate import Settings
from portwright.errors import Finding, InputError, PortwrightError, Severity, Where
from portwright.model.head import Side
from portwright.services.compare import archive_pressure
from portwright.services.engine_case import TwoHeads, two_heads
from portwright.services.engine_pool import Progress, run_pieces
from portwright.services.engine_quick import TO_RPM, chosen_port, last_stage
from portwright.services.findings import CheckedJob, check_job
from portwright.services.overview import stages_of

_SETTINGS = Settings(cell=10e-3, tolerance=2e-4)
# A percent of flow was worth about 0.6 % of torque near the top and half that in the middle in
# calculations of this kind; the larger is taken.
_TORQUE_PER_FLOW = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class PortTorque:
    """One port's worth.

    Parameters
    ----------
    port : str
    deviation : ndarray, shape (n,)
        Torque of a cylinder with this port over the mean of all ports, less one. [-]
    doubt : float
        Half width at 95 % that the sweeps of this port alone leave open. [-]
    """

    port: str
    deviation: Array
    doubt: float


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """All intake ports of a stage against each other.

    Parameters
    ----------
    stage : str
    speed : ndarray, shape (n,)
        [rev/min]
    ports : tuple of PortTorque
    spread : ndarray, shape (n,)
        Largest less smallest, over the mean. [-]
    findings : tuple of Finding
    """

    stage: str
    speed: Array
    ports: tuple[PortTorque, ...]
    spread: Array
    findings: tuple[Finding, ...]


def port_spread(
    archive: Archive,
    job: str,
    *,
    stage: str = "",
    speeds: Sequence[float] = (),
    workers: int | None = None,
    progress: Progress | None = None,
) -> Spread:
    """Run the engine as if all cylinders had each port in turn.

    Parameters
    ----------
    stage : str
        The last of the most developed port where empty.
    speeds : sequence of float
        Three over the engine's band where empty. [rev/min]
    workers, progress
        As in :func:`~portwright.services.engine_run.run_engine`.

    Raises
    ------
    UnknownNameError
    InputError
        Fewer than two ports were swept at this stage.
    """
    checked = check_job(archive, job)
    chosen = stage or last_stage(checked, chosen_port(checked, ""))
    intakes = [p.code for p in checked.contents.ports if p.side is Side.INTAKE]
    swept = [code for code in intakes if chosen in stages_of(checked, code)]
    pressure = archive_pressure(archive)
    heads: dict[str, TwoHeads] = {}
    findings: list[Finding] = []
    for code in swept:
        try:
            heads[code] = two_heads(checked, pressure, code, chosen, chosen)
        except PortwrightError as error:
            where = Where(port=code, stage=chosen)
            findings.append(
                Finding("port-not-run", Severity.WARNING, error.message, error.hint, where)
            )
    if len(heads) < 2:
        raise InputError(
            f"Fewer than two intake ports can be run at {chosen}.",
            "Sweep and measure the other ports too.",
        )
    engine = next(iter(heads.values())).description
    low, high = (v.si * TO_RPM for v in (engine.lowest_speed, engine.highest_speed))
    speed = np.array(speeds or np.linspace(low, high, 3).round(-2))
    at = tuple(float(n) for n in speed)
    pieces = [
        Piece((code, 0), two.case, two.after.head, at, _SETTINGS) for code, two in heads.items()
    ]
    done = run_pieces(pieces, workers=workers, progress=progress)
    table = np.array(
        [
            [np.nan if isinstance(p, str) else p.torque for p in done[code, 0].points]
            for code in heads
        ]
    )
    findings += [
        Finding(
            "port-not-run",
            Severity.WARNING,
            str(next(p for p in done[code, 0].points if isinstance(p, str))),
            "Its cylinder has no answer here.",
            Where(port=code, stage=chosen),
        )
        for code, row in zip(heads, table, strict=True)
        if not np.all(np.isfinite(row))
    ]
    mean = np.nanmean(table, axis=0)
    ports = tuple(
        PortTorque(code, row / mean - 1.0, _doubt(checked, heads[code]))
        for code, row in zip(heads, table, strict=True)
    )
    spread = (np.nanmax(table, axis=0) - np.nanmin(table, axis=0)) / mean
    return Spread(chosen, speed, ports, spread, tuple(findings))


def _doubt(checked: CheckedJob, two: TwoHeads) -> float:
    """Half width of one port's torque from the repeatability of its sweeps."""
    codes = two.after.intake_runs
    bench = next(r.run.bench for r in checked.reduced if r.run.code == codes[0])
    flow = checked.repeatability[bench].common / np.sqrt(len(codes))
    return float(2.0 * _TORQUE_PER_FLOW * flow)
