"""Which side gained: seat or port, by two resistances in series, with how well they fit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls
from scipy.special import chdtri

from portwright.core.comparison import Gain, JoinedSweeps, Sweep, gains_of, join_sweeps
from portwright.core.curve import Array
from portwright.core.lift_bands import LiftBand, band_weights, lift_bands
from portwright.errors import RangeError, ShapeError

_FEWEST_LIFTS = 5
_CHANCE = 0.05  # of calling a model that fits a poor fit, our choice
_LEAST_CONTRAST = 0.25  # the seat's share of the resistance must change by this over the lifts


@dataclass(frozen=True, slots=True, eq=False)
class TwoResistances:
    """A sweep as valve gap and port in series.

    Parameters
    ----------
    valve_coefficient : float
        Discharge coefficient of the curtain. [-]
    port_area : float
        Effective area of the port alone, infinite where the sweep shows none. [m2]
    seat_share : ndarray, shape (n,)
        Share of the pressure drop at the valve gap at each lift. [-]
    misfit : float
        Root mean square deviation of the sweep from the model, relative in area. [-]
    """

    valve_coefficient: float
    port_area: float
    seat_share: Array
    misfit: float


def fit_two_resistances(area: Array, curtain: Array) -> TwoResistances:
    """Fit valve gap and port to one sweep.

    Parameters
    ----------
    area : ndarray, shape (n,)
        Effective area. [m2]
    curtain : ndarray, shape (n,)
        Curtain area of all valves of the port at the same lifts. [m2]

    Raises
    ------
    ShapeError
        Fewer than five lifts, or different lengths.
    RangeError
        Areas that are not above zero.

    Notes
    -----
    ``1/A^2 = 1/(Cv A_curtain)^2 + 1/A_port^2``: pressure drops in series add at equal flow
    (definition; the pressure recovered between the two is left out).  Least squares on relative
    deviations, both terms kept from being negative.
    """
    if area.shape != curtain.shape or area.size < _FEWEST_LIFTS:
        raise ShapeError(f"A fit of seat and port needs {_FEWEST_LIFTS} lifts or more.")
    if not (np.all(area > 0.0) and np.all(curtain > 0.0)):
        raise RangeError("Areas of a fit of seat and port must be above zero.")
    # each row divided by 1/A^2, so that all lifts count alike; a port area in the units of the top
    top = float(area.max())
    found, _ = nnls(np.column_stack([(area / curtain) ** 2, (area / top) ** 2]), np.ones(area.size))
    gap, port = found[0] / curtain**2, found[1] / top**2
    together = gap + port
    misfit = -0.5 * np.log(together * area**2)
    return TwoResistances(
        valve_coefficient=math.inf if found[0] == 0.0 else 1.0 / math.sqrt(found[0]),
        port_area=math.inf if found[1] == 0.0 else top / math.sqrt(found[1]),
        seat_share=gap / together,
        misfit=float(np.sqrt(np.sum(misfit**2) / max(area.size - 2, 1))),
    )


@dataclass(frozen=True, slots=True)
class SideGain:
    """What seat and port gained over one stretch of lift.

    Parameters
    ----------
    name : str
        Band, or "" over a cam or all lifts.
    low, high : float
        Stretch of lift. [m]
    seat, port : Gain
        Their shares; before is 1 and after the ratio.
    rest : float
        What the two do not explain. [-]
    """

    name: str
    low: float
    high: float
    seat: Gain
    port: Gain
    rest: float


@dataclass(frozen=True, slots=True, eq=False)
class Attribution:
    """A change split into seat side and port side.

    Parameters
    ----------
    before, after : TwoResistances
        Fits of both sides.
    seat, port : Gain
        Change of the valve coefficient and of the port area.
    bands : tuple of SideGain
        All lifts first.
    """

    before: TwoResistances
    after: TwoResistances
    seat: Gain
    port: Gain
    bands: tuple[SideGain, ...]


def attribute(
    before: Sequence[Sweep],
    after: Sequence[Sweep],
    *,
    valve_diameter: float,
    valves: int = 1,
    bands: Sequence[LiftBand] | None = None,
) -> Attribution | None:
    """Split a change into what the seat side and what the port side gained.

    Parameters
    ----------
    before, after : sequence of Sweep
        Sound sweeps, one or more each.
    valve_diameter : float
        [m]
    valves : int
        Valves of this port. [-]
    bands : sequence of LiftBand, optional
        The usual four when None.

    Returns
    -------
    Attribution or None
        None where the lifts swept cannot tell the two apart.

    Raises
    ------
    InputError
        No sweep on a side, or no lifts in common.

    Notes
    -----
    With ``s(L)`` the seat's share of the pressure drop, a small change of the valve coefficient
    moves ``ln A`` by ``s`` times its own, and one of the port area by ``1 - s``.  The gains by
    lift are fitted with these two by least squares weighted with their covariance, so the
    intervals are those of :func:`portwright.core.comparison.compare`; a misfit that both sides
    have in common cancels.
    """
    joined = join_sweeps(before, after)
    grid = joined.grid
    if grid.size < _FEWEST_LIFTS:
        return None
    curtain = valves * math.pi * valve_diameter * grid
    old, new = (fit_two_resistances(a, curtain) for a in (joined.before, joined.after))
    mean = fit_two_resistances(np.sqrt(joined.before * joined.after), curtain)
    if float(np.ptp(mean.seat_share)) < _LEAST_CONTRAST:
        return None
    design = np.column_stack([mean.seat_share, 1.0 - mean.seat_share])
    change = np.log(joined.after / joined.before)
    estimate, widened = _weighted(design, joined, change)
    spans = [
        ("all lifts", float(grid[0]), float(grid[-1]), np.ones_like(grid) / grid.size),
        *(
            (s.band.name, s.low, s.high, s.weight)
            for s in band_weights(grid, valve_diameter, lift_bands() if bands is None else bands)
        ),
    ]
    rows = [estimate]
    for _, _, _, weight in spans:
        area = weight * np.sqrt(joined.before * joined.after)
        share = (area / area.sum()) @ design
        rows.append(share[:, None] * estimate)
    functional = np.vstack(rows)
    gains = gains_of(functional, joined, widened)
    found = []
    for k, (name, low, high, weight) in enumerate(spans):
        area = weight * np.sqrt(joined.before * joined.after)
        seat, port = gains[2 * k + 2], gains[2 * k + 3]
        whole = float((area / area.sum()) @ change)
        explained = math.log1p(seat.gain) + math.log1p(port.gain)
        found.append(SideGain(name, low, high, seat, port, math.expm1(whole - explained)))
    return Attribution(old, new, gains[0], gains[1], tuple(found))


def _weighted(design: Array, joined: JoinedSweeps, change: Array) -> tuple[Array, float]:
    """How gains by lift enter the two parts, shape (2, n), and how much worse they fit. [-]

    Least squares with their covariance; where what is left over is more than the errors of the
    sweeps explain but once in twenty times, all variances grow by that ratio (Birge), because the
    model is not the port.  Growing by any ratio above 1 would punish every other sound split.
    """
    size = joined.grid.size
    both = np.hstack([np.eye(size), -np.eye(size)])
    covariance = both @ joined.covariances.sum(axis=0) @ both.T
    # readings of one lift repeated exactly would make it singular
    covariance[np.diag_indices(size)] += 1e-12
    inverse = np.linalg.inv(covariance)
    estimate = np.linalg.solve(design.T @ inverse @ design, design.T @ inverse)
    rest = change - design @ (estimate @ change)
    excess = float(rest @ inverse @ rest)
    widened = excess / (size - 2) if excess > chdtri(size - 2, _CHANCE) else 1.0
    return np.asarray(estimate, dtype=np.float64), widened
