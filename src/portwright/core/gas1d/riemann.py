"""Exact solution of the shock-tube problem for a perfect gas, to check the solver against."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from portwright.core.curve import Array
from portwright.core.gas1d.tube import TubeState
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class StarState:
    """Gas between the two outer waves.

    Parameters
    ----------
    pressure, velocity : float
        Common to both sides of the contact. [Pa, m/s]
    density_left, density_right : float
        Left and right of the contact. [kg/m3]
    """

    pressure: float
    velocity: float
    density_left: float
    density_right: float


def _sound(state: TubeState, gamma: float) -> float:
    return float(np.sqrt(gamma * state.pressure / state.density))


def _jump(p: float, state: TubeState, gamma: float) -> float:
    """Velocity change across the wave towards ``state`` (Toro, eq. 4.6-4.7, from memory)."""
    if p > state.pressure:
        a = 2.0 / ((gamma + 1.0) * state.density)
        b = (gamma - 1.0) / (gamma + 1.0) * state.pressure
        return float((p - state.pressure) * np.sqrt(a / (p + b)))
    power = (gamma - 1.0) / (2.0 * gamma)
    ratio = (p / state.pressure) ** power
    return float(2.0 * _sound(state, gamma) / (gamma - 1.0) * (ratio - 1.0))


def _behind(p: float, state: TubeState, gamma: float) -> float:
    """Density behind the wave."""
    ratio = p / state.pressure
    if ratio > 1.0:
        k = (gamma - 1.0) / (gamma + 1.0)
        return float(state.density * (ratio + k) / (k * ratio + 1.0))
    return float(state.density * ratio ** (1.0 / gamma))


def star_state(left: TubeState, right: TubeState, gamma: float) -> StarState:
    """State between the outer waves.

    Parameters
    ----------
    left, right : TubeState
        States on both sides of the diaphragm.
    gamma : float
        Ratio of specific heats. [-]

    Returns
    -------
    StarState

    Raises
    ------
    RangeError
        The two sides fly apart so fast that vacuum would form.

    References
    ----------
    E. F. Toro, Riemann Solvers and Numerical Methods for Fluid Dynamics, 3rd edition, chapter 4
    (from memory).
    """
    fastest = 2.0 / (gamma - 1.0) * (_sound(left, gamma) + _sound(right, gamma))
    if right.velocity - left.velocity >= fastest:
        raise RangeError("The two sides fly apart: vacuum would form between them.")

    def mismatch(p: float) -> float:
        velocity = right.velocity - left.velocity
        return _jump(p, left, gamma) + _jump(p, right, gamma) + velocity

    high = 10.0 * max(left.pressure, right.pressure)
    while mismatch(high) < 0.0:
        high *= 10.0
    p = float(brentq(mismatch, 1e-14 * high, high, xtol=1e-15 * high, rtol=1e-14))
    u = 0.5 * (left.velocity + right.velocity) + 0.5 * (
        _jump(p, right, gamma) - _jump(p, left, gamma)
    )
    return StarState(p, float(u), _behind(p, left, gamma), _behind(p, right, gamma))


def exact_tube(
    left: TubeState, right: TubeState, gamma: float, speed: Array
) -> tuple[Array, Array, Array]:
    """Exact density, velocity and pressure along rays from the diaphragm.

    Parameters
    ----------
    left, right : TubeState
        States on both sides of the diaphragm.
    gamma : float
        Ratio of specific heats. [-]
    speed : ndarray, shape (n,)
        Distance from the diaphragm over time. [m/s]

    Returns
    -------
    tuple of ndarray, shape (n,)
        Density [kg/m3], velocity [m/s], pressure [Pa].
    """
    star = star_state(left, right, gamma)
    from_left = _one_side(left, star.pressure, star.velocity, star.density_left, gamma, speed)
    mirrored = TubeState(right.density, -right.velocity, right.pressure)
    density, velocity, pressure = _one_side(
        mirrored, star.pressure, -star.velocity, star.density_right, gamma, -speed
    )
    is_left = speed < star.velocity
    return (
        np.where(is_left, from_left[0], density),
        np.where(is_left, from_left[1], -velocity),
        np.where(is_left, from_left[2], pressure),
    )


def _one_side(
    state: TubeState, p: float, u: float, density: float, gamma: float, speed: Array
) -> tuple[Array, Array, Array]:
    """Left half of the solution."""
    c = _sound(state, gamma)
    if p > state.pressure:
        factor = (gamma + 1.0) / (2.0 * gamma) * p / state.pressure
        shock = state.velocity - c * np.sqrt(factor + (gamma - 1.0) / (2.0 * gamma))
        before = speed < shock
        return (
            np.where(before, state.density, density),
            np.where(before, state.velocity, u),
            np.where(before, state.pressure, p),
        )
    head = state.velocity - c
    tail = u - float(np.sqrt(gamma * p / density))
    inside = np.clip(speed, head, tail)
    k = 2.0 / (gamma + 1.0) + (gamma - 1.0) / (gamma + 1.0) / c * (state.velocity - inside)
    fan = (
        state.density * k ** (2.0 / (gamma - 1.0)),
        2.0 / (gamma + 1.0) * (c + 0.5 * (gamma - 1.0) * state.velocity + inside),
        state.pressure * k ** (2.0 * gamma / (gamma - 1.0)),
    )
    before, after = speed < head, speed > tail
    outer = (state.density, state.velocity, state.pressure)
    inner = (density, u, p)
    rho, vel, prs = (
        np.where(before, o, np.where(after, i, f))
        for o, i, f in zip(outer, inner, fan, strict=True)
    )
    return rho, vel, prs
