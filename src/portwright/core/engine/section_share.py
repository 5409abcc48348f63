"""How much of its smallest section a port really fills, read off the bench curve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from portwright.core.curve import Array
from portwright.errors import RangeError

# Below this share separation would be so gross that the sheet is to be doubted (our own limit).
_LEAST = 0.80


@dataclass(frozen=True, slots=True)
class SeriesFit:
    """A flow curve read as valve and port in series.

    Parameters
    ----------
    valve, port : float
        Coefficients on the valve's geometric area and on the smallest section; huge or infinite
        where that part does not show. [-]
    misfit : float
        Root mean square relative difference between fit and curve. [-]
    """

    valve: float
    port: float
    misfit: float


def series_fit(area: Array, valve_area: Array, section: float) -> SeriesFit:
    """Fit valve and port coefficients to a flow curve.

    Parameters
    ----------
    area : ndarray, shape (n,)
        Effective area at each lift. [m2]
    valve_area : ndarray, shape (n,)
        Geometric area the valve leaves at each lift. [m2]
    section : float
        Smallest section of the port. [m2]

    Returns
    -------
    SeriesFit

    Raises
    ------
    RangeError
        Fewer than three lifts, or areas not above zero.

    Notes
    -----
    ``1/A^2 = 1/(C_v A_valve)^2 + 1/(C_p A_section)^2``: losses add as for orifices in series. A
    model, so its misfit is part of the answer.
    """
    if area.size < 3 or min(float(area.min()), float(valve_area.min()), section) <= 0.0:
        raise RangeError("Valve and port can be told apart from three lifts above zero or more.")
    rows = np.column_stack(((area / valve_area) ** 2, (area / section) ** 2))
    found, _ = nnls(rows, np.ones(area.size))
    fitted = (rows @ found) ** -0.5
    with np.errstate(divide="ignore"):
        valve, port = np.sqrt(1.0 / found)
    misfit = float(np.sqrt(np.mean((fitted - 1.0) ** 2)))
    return SeriesFit(float(valve), float(port), misfit)


def least_filled_share(fit: SeriesFit) -> float:
    """Smallest share of the smallest section that the flow may fill.

    Parameters
    ----------
    fit : SeriesFit

    Returns
    -------
    float
        Between 0.8 and 1. [-]

    Notes
    -----
    The port coefficient counts every loss of the port as if the stream were narrower, so the
    true share lies between it and 1. Separated flow chokes at the narrower stream, which no
    steady test at a small pressure drop can show: this is the largest uncertainty of a forecast.
    """
    return float(np.clip(fit.port, _LEAST, 1.0))
