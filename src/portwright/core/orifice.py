"""Flow through orifice plates: in a pipe after ISO 5167-2, and discharging freely on a bench."""

from __future__ import annotations

from enum import StrEnum

import numpy as np

from portwright.core.constants import HEAT_CAPACITY_RATIO_AIR, Array, Number, as_array, unwrapped
from portwright.core.tolerances import ITERATION, ITERATION_LIMIT
from portwright.errors import Finding, NotConvergedError, RangeError, Severity

_INCH = 0.0254
_SMALL_PIPE = 0.07112
"""Pipes below 2.8 in get an extra term. [m]"""

LEAST_BORE = 0.0125
"""Smallest orifice bore ISO 5167-2 covers (seen second hand). [m]"""
PIPE_RANGE = (0.05, 1.0)
"""Pipe diameters ISO 5167-2 covers (seen second hand). [m]"""
BETA_RANGE = (0.10, 0.75)
"""Diameter ratios ISO 5167-2 covers (seen second hand). [-]"""
LEAST_PRESSURE_RATIO = 0.75
"""Pressure ratio below which the expansibility formula is not covered (seen second hand). [-]"""


class Taps(StrEnum):
    """Where the two pressures of a plate in a pipe are taken."""

    CORNER = "corner"
    FLANGE = "flange"
    D_AND_HALF_D = "d-and-half-d"


def _tap_distances(taps: Taps, pipe: Array) -> tuple[Array, Array]:
    """Distances of the taps from the plate in pipe diameters, up- and downstream."""
    one = np.ones_like(pipe)
    match taps:
        case Taps.CORNER:
            return 0.0 * one, 0.0 * one
        case Taps.FLANGE:
            return _INCH / pipe, _INCH / pipe
        case Taps.D_AND_HALF_D:
            return one, 0.47 * one


def discharge_coefficient(
    pipe_diameter: Number, bore: Number, reynolds: Number, taps: Taps
) -> Array:
    """Compute the discharge coefficient of a sharp-edged plate in a pipe.

    Parameters
    ----------
    pipe_diameter : float or ndarray
        Inside diameter of the pipe. [m]
    bore : float or ndarray
        Bore of the plate, smaller than the pipe. [m]
    reynolds : float or ndarray
        Reynolds number of the pipe flow on its diameter. [-]
    taps : Taps
        Where the pressures are taken.

    Returns
    -------
    ndarray
        Discharge coefficient. [-]

    Raises
    ------
    RangeError
        Bore not between zero and the pipe diameter, or Reynolds number not above zero.

    Notes
    -----
    Reader-Harris/Gallagher equation::

        C = 0.5961 + 0.0261 b^2 - 0.216 b^8 + 0.000521 (1e6 b/Re)^0.7
            + (0.0188 + 0.0063 A) b^3.5 (1e6/Re)^0.3
            + (0.043 + 0.080 e^(-10 L1) - 0.123 e^(-7 L1)) (1 - 0.11 A) b^4/(1 - b^4)
            - 0.031 (M2 - 0.8 M2^1.1) b^1.3
            + 0.011 (0.75 - b)(2.8 - D/0.0254)        only for D < 71.12 mm

    with ``b`` the diameter ratio, ``A = (19000 b/Re)^0.8``, ``M2 = 2 L2/(1 - b)``.  The factor of
    the last term is 0.011; 0.11 is printed in one public transcription and is wrong.  Range:
    see :func:`orifice_findings`.

    References
    ----------
    ISO 5167-2:2003, 5.3.2.1 (equation seen second hand; number of the clause from memory).
    """
    D, d, re = np.broadcast_arrays(as_array(pipe_diameter), as_array(bore), as_array(reynolds))
    _check_plate(D, d)
    if np.any(re <= 0.0):
        raise RangeError("Reynolds number must be above zero.", "Check flow and viscosity.")
    beta = d / D
    L1, L2 = _tap_distances(taps, D)
    A = (19000.0 * beta / re) ** 0.8
    M2 = 2.0 * L2 / (1.0 - beta)
    main = 0.5961 + 0.0261 * beta**2 - 0.216 * beta**8 + 0.000521 * (1e6 * beta / re) ** 0.7
    slope = (0.0188 + 0.0063 * A) * beta**3.5 * (1e6 / re) ** 0.3
    upstream = 0.043 + 0.080 * np.exp(-10.0 * L1) - 0.123 * np.exp(-7.0 * L1)
    upstream = upstream * (1.0 - 0.11 * A) * beta**4 / (1.0 - beta**4)
    downstream = -0.031 * (M2 - 0.8 * M2**1.1) * beta**1.3
    small = np.where(D < _SMALL_PIPE, 0.011 * (0.75 - beta) * (2.8 - D / _INCH), 0.0)
    return unwrapped(main + slope + upstream + downstream + small)


def expansibility(
    beta: Number,
    pressure_drop: Number,
    upstream_pressure: Number,
    gamma: Number = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute the expansibility factor of a sharp-edged plate.

    With diameter ratio 0 it serves the plate that discharges freely.

    Parameters
    ----------
    beta : float or ndarray
        Bore over pipe diameter. [-]
    pressure_drop : float or ndarray
        Drop across the plate, zero or above. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    gamma : float or ndarray
        Isentropic exponent. [-]

    Returns
    -------
    ndarray
        Expansibility factor, 1 for a vanishing drop. [-]

    Raises
    ------
    RangeError
        Drop below zero or not below the upstream pressure.

    Notes
    -----
    ``e = 1 - (0.351 + 0.256 b^4 + 0.93 b^8) (1 - (p2/p1)^(1/gamma))``; covered for p2/p1 of
    0.75 and above.

    References
    ----------
    ISO 5167-2:2003, 5.3.2.2 (equation seen second hand; number of the clause from memory).
    """
    fraction = as_array(pressure_drop) / as_array(upstream_pressure)
    if np.any(fraction < 0.0) or np.any(fraction >= 1.0):
        raise RangeError(
            "Drop across the plate must lie between zero and the absolute upstream pressure.",
            "Check the sign and the unit of both pressures.",
        )
    b4 = as_array(beta) ** 4
    density_drop = -np.expm1(np.log1p(-fraction) / as_array(gamma))
    return 1.0 - (0.351 + 0.256 * b4 + 0.93 * b4**2) * density_drop


def approach_factor(beta: Number) -> Array:
    """Compute the velocity-of-approach factor.

    Parameters
    ----------
    beta : float or ndarray
        Bore over pipe diameter, below 1. [-]

    Returns
    -------
    ndarray
        Factor, 1 for a bore small against the pipe. [-]

    Notes
    -----
    Definition: ``1 / sqrt(1 - b^4)``.
    """
    factor: Array = 1.0 / np.sqrt(1.0 - as_array(beta) ** 4)
    return factor


def pipe_orifice_mass_flow(
    pipe_diameter: Number,
    bore: Number,
    pressure_drop: Number,
    *,
    upstream_pressure: Number,
    upstream_density: Number,
    viscosity: Number,
    taps: Taps,
    gamma: Number = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute the mass flow through a sharp-edged plate in a pipe.

    Parameters
    ----------
    pipe_diameter : float or ndarray
        Inside diameter of the pipe. [m]
    bore : float or ndarray
        Bore of the plate. [m]
    pressure_drop : float or ndarray
        Drop across the plate. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    upstream_density : float or ndarray
        Density ahead of the plate. [kg/m3]
    viscosity : float or ndarray
        Dynamic viscosity. [Pa s]
    taps : Taps
        Where the pressures are taken.
    gamma : float or ndarray
        Isentropic exponent. [-]

    Returns
    -------
    ndarray
        Mass flow; 0 for no drop, NaN where an input is NaN. [kg/s]

    Raises
    ------
    RangeError
        As :func:`discharge_coefficient` and :func:`expansibility`.
    NotConvergedError
        Flow and coefficient could not be made to agree.

    Notes
    -----
    ``m = C e E pi/4 d^2 sqrt(2 rho1 dp)``; C depends weakly on the Reynolds number and so on m,
    hence repeated from C = 0.6 until m stops changing.

    References
    ----------
    ISO 5167-1:2003, equation 1 (seen second hand).
    """
    D, d, dp, p1, rho, mu, g = np.broadcast_arrays(
        *map(
            as_array,
            (
                pipe_diameter,
                bore,
                pressure_drop,
                upstream_pressure,
                upstream_density,
                viscosity,
                gamma,
            ),
        )
    )
    _check_plate(D, d)
    beta = d / D
    factor = expansibility(beta, dp, p1, g) * approach_factor(beta)
    ideal = factor * 0.25 * np.pi * d**2 * np.sqrt(2.0 * rho * dp)
    flowing = np.where(ideal > 0.0, ideal, 1.0)  # no flow has no Reynolds number
    coefficient = np.full_like(flowing, 0.6)
    for _ in range(ITERATION_LIMIT):
        reynolds = 4.0 * coefficient * flowing / (np.pi * D * mu)
        last, coefficient = coefficient, discharge_coefficient(D, d, reynolds, taps)
        if not np.any(np.abs(coefficient - last) > ITERATION):
            return unwrapped(np.asarray(coefficient * ideal))
    raise NotConvergedError(
        "Flow through the orifice plate could not be found.",
        "Drop, bore and viscosity do not describe a flow the equation covers.",
    )


def permanent_pressure_loss(beta: Number, coefficient: Number, pressure_drop: Number) -> Array:
    """Compute the pressure a plate in a pipe costs for good.

    Parameters
    ----------
    beta : float or ndarray
        Bore over pipe diameter. [-]
    coefficient : float or ndarray
        Discharge coefficient. [-]
    pressure_drop : float or ndarray
        Drop across the taps. [Pa]

    Returns
    -------
    ndarray
        Loss, always below the drop across the taps. [Pa]

    Notes
    -----
    ``loss = dp (sqrt(1 - b^4 (1 - C^2)) - C b^2) / (sqrt(1 - b^4 (1 - C^2)) + C b^2)``.

    References
    ----------
    ISO 5167-2:2003, 5.4 (equation seen second hand; number of the clause from memory).
    """
    b2, C = as_array(beta) ** 2, as_array(coefficient)
    root = np.sqrt(1.0 - b2**2 * (1.0 - C**2))
    loss: Array = as_array(pressure_drop) * (root - C * b2) / (root + C * b2)
    return loss


def plate_mass_flow(
    bore: Number,
    coefficient: Number,
    pressure_drop: Number,
    *,
    upstream_pressure: Number,
    upstream_density: Number,
    gamma: Number = HEAT_CAPACITY_RATIO_AIR,
) -> Array:
    """Compute the mass flow through a bench plate of known coefficient, discharging freely.

    Parameters
    ----------
    bore : float or ndarray
        Bore of the plate. [m]
    coefficient : float or ndarray
        Discharge coefficient for a small drop, without expansion; a coefficient that was found
        at one drop with the expansion in it must first be divided by :func:`expansibility`
        (diameter ratio 0) at that drop. [-]
    pressure_drop : float or ndarray
        Drop across the plate. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    upstream_density : float or ndarray
        Density ahead of the plate. [kg/m3]
    gamma : float or ndarray
        Isentropic exponent. [-]

    Returns
    -------
    ndarray
        Mass flow. [kg/s]

    Raises
    ------
    RangeError
        Bore not above zero, coefficient outside 0 to 1.1, or drop as in :func:`expansibility`.

    Notes
    -----
    ``m = C e pi/4 d^2 sqrt(2 rho1 dp)``: definition of the coefficient, with the expansibility of
    ISO 5167-2 for a bore small against the box it sits in.
    """
    d, C = as_array(bore), as_array(coefficient)
    if np.any(d <= 0.0):
        raise RangeError("Bore of the plate must be above zero.", "Check the plate record.")
    if np.any((C <= 0.0) | (C > 1.1)):
        raise RangeError(
            "Coefficient of a plate lies between 0 and about 1.",
            "A sharp edge has 0.60 to 0.62, a well rounded one 0.97 to 0.99.",
        )
    epsilon = expansibility(0.0, pressure_drop, upstream_pressure, gamma)
    ideal = np.sqrt(2.0 * as_array(upstream_density) * as_array(pressure_drop))
    flow: Array = C * epsilon * 0.25 * np.pi * d**2 * ideal
    return flow


def least_reynolds(pipe_diameter: Number, bore: Number, taps: Taps) -> Array:
    """Compute the smallest Reynolds number ISO 5167-2 covers for a plate.

    Parameters
    ----------
    pipe_diameter : float or ndarray
        Inside diameter of the pipe. [m]
    bore : float or ndarray
        Bore of the plate. [m]
    taps : Taps
        Where the pressures are taken.

    Returns
    -------
    ndarray
        Reynolds number on the pipe diameter. [-]

    Notes
    -----
    5000 up to a diameter ratio of 0.56, ``16000 b^2`` above; flange taps also ``170000 b^2 D``
    with D in metres.

    References
    ----------
    ISO 5167-2:2003, 5.3.1 (seen second hand; number of the clause from memory).
    """
    D, d = np.broadcast_arrays(as_array(pipe_diameter), as_array(bore))
    beta = d / D
    least = np.where(beta > 0.56, 16000.0 * beta**2, 5000.0)
    if taps is Taps.FLANGE:
        least = np.maximum(least, 170_000.0 * beta**2 * D)
    return unwrapped(least)


def orifice_findings(
    pipe_diameter: Number,
    bore: Number,
    reynolds: Number,
    *,
    pressure_drop: Number,
    upstream_pressure: Number,
    taps: Taps,
) -> tuple[Finding, ...]:
    """Say where a plate in a pipe is outside what the standard covers.

    Parameters
    ----------
    pipe_diameter : float or ndarray
        Inside diameter of the pipe. [m]
    bore : float or ndarray
        Bore of the plate. [m]
    reynolds : float or ndarray
        Reynolds number on the pipe diameter. [-]
    pressure_drop : float or ndarray
        Drop across the plate. [Pa]
    upstream_pressure : float or ndarray
        Absolute pressure ahead of the plate. [Pa]
    taps : Taps
        Where the pressures are taken.

    Returns
    -------
    tuple of Finding
        One ``orifice-outside-standard`` for each limit that is not kept; flow is still computed.

    Notes
    -----
    Limits as named at the top of this module and in :func:`least_reynolds`.

    References
    ----------
    ISO 5167-2:2003, 5.3.1 (seen second hand; number of the clause from memory).
    """
    pipe, d, re = as_array(pipe_diameter), as_array(bore), as_array(reynolds)
    beta = d / pipe
    ratio = 1.0 - as_array(pressure_drop) / as_array(upstream_pressure)
    least = least_reynolds(pipe, d, taps)
    checks = (
        (d < LEAST_BORE, f"bore {np.min(d) * 1e3:.4g} mm is below 12.5 mm"),
        (
            (pipe < PIPE_RANGE[0]) | (pipe > PIPE_RANGE[1]),
            f"pipe {np.min(pipe) * 1e3:.4g} mm is not 50 to 1000 mm",
        ),
        (
            (beta < BETA_RANGE[0]) | (beta > BETA_RANGE[1]),
            f"bore over pipe {np.max(beta):.3g} is not 0.10 to 0.75",
        ),
        (re < least, f"Reynolds number {np.min(re):.3g} is below {np.max(least):.3g}"),
        (
            ratio < LEAST_PRESSURE_RATIO,
            f"pressure ratio {np.min(ratio):.3g} across the plate is below 0.75",
        ),
    )
    return tuple(
        Finding(
            code="orifice-outside-standard",
            severity=Severity.WARNING,
            message=f"Orifice plate outside ISO 5167-2: {text}.",
            hint="The stated uncertainty of the standard does not apply; calibrate this plate.",
        )
        for broken, text in checks
        if np.any(broken)
    )


def _check_plate(pipe_diameter: Array, bore: Array) -> None:
    if np.any(bore <= 0.0) or np.any(bore >= pipe_diameter):
        raise RangeError(
            "Bore of an orifice plate must lie between zero and the pipe diameter.",
            "Check that both are diameters in the same unit.",
        )
