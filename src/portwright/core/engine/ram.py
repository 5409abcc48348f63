"""Ram tuning of an intake runner: the tone of air column and cylinder, and the speed it suits."""

from __future__ import annotations

import numpy as np

from portwright.core.gas1d.ducts import Duct, end_correction
from portwright.errors import RangeError

_POINTS = 401


def inertance_length(duct: Duct, area: float, *, flanged: bool = False) -> float:
    """Length of an even pipe with the same inertia as a duct, entry correction included.

    Parameters
    ----------
    duct : Duct
        Runner and port, entry first.
    area : float
        Area of the even pipe. [m2]
    flanged : bool
        Whether the entry sits in a large flat wall.

    Returns
    -------
    float
        Length. [m]

    Notes
    -----
    ``area * integral(dx / A)``; air moving in and out of the open end adds
    :func:`~portwright.core.gas1d.ducts.end_correction` there.
    """
    x = np.linspace(0.0, duct.length, _POINTS)
    areas = duct.area_at(x)
    inside = float(np.trapezoid(1.0 / areas, x))
    outside = end_correction(float(np.sqrt(areas[0] / np.pi)), flanged=flanged) / float(areas[0])
    return area * (inside + outside)


def ram_frequency(
    area: float, length: float, swept: float, compression: float, sound_speed: float
) -> float:
    """Tone of the air column against half the swept volume with the clearance.

    Parameters
    ----------
    area, length : float
        Of the runner as an even pipe. [m2, m]
    swept : float
        Swept volume of one cylinder. [m3]
    compression : float
        Compression ratio. [-]
    sound_speed : float
        Of the intake air. [m/s]

    Returns
    -------
    float
        Frequency. [Hz]

    Raises
    ------
    RangeError
        A size not above zero, or a compression ratio not above 1.

    Notes
    -----
    ``f = (a / 2 pi) sqrt(A / (L V))`` with ``V = V_s/2 (CR + 1)/(CR - 1)``.

    References
    ----------
    H. W. Engelman, Design of a Tuned Intake Manifold, ASME 73-WA/DGP-2 (from memory).
    """
    if min(area, length, swept, sound_speed) <= 0.0 or compression <= 1.0:
        raise RangeError("Ram tuning needs sizes above zero and a compression ratio above 1.")
    volume = 0.5 * swept * (compression + 1.0) / (compression - 1.0)
    return float(sound_speed / (2.0 * np.pi) * np.sqrt(area / (length * volume)))


def tuned_speed(frequency: float, constant: float) -> float:
    """Crank speed that a ram tone suits.

    Parameters
    ----------
    frequency : float
        From :func:`ram_frequency`. [Hz]
    constant : float
        Tone over crank frequency; 2.0 to 2.5, so always shown with the answer. [-]

    Returns
    -------
    float
        Speed. [rev/min]

    Raises
    ------
    RangeError
        A constant not above zero.

    Notes
    -----
    ``N = 60 f / K`` (definition of K).
    """
    if not constant > 0.0:
        raise RangeError("The ram constant must be above zero.", "2.0 to 2.5 are usual.")
    return 60.0 * frequency / constant
