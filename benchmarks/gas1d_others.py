"""The same shock tube by other means: the solver's scheme in plain NumPy, and PyClaw."""

from __future__ import annotations

import importlib.util
import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
GAMMA, STOP, COURANT = 1.4, 0.25, 0.9


def _edges(q: Array) -> Array:
    """Limited fourth-order values at inner faces."""
    a, b, c, d = q[:-3], q[1:-2], q[2:-1], q[3:]
    e = (7.0 / 12.0) * (b + c) - (1.0 / 12.0) * (a + d)
    return np.clip(e, np.minimum(b, c), np.maximum(b, c))


def _parts(q: Array, e: Array) -> tuple[Array, Array]:
    """Cell value minus left edge and right edge minus cell value, limited."""
    left, right = q[2:-2] - e[:-1], e[1:] - q[2:-2]
    same = left * right > 0.0
    size_l = np.minimum(np.abs(left), 2.0 * np.abs(right))
    size_r = np.minimum(np.abs(right), 2.0 * np.abs(left))
    return np.where(same, np.copysign(size_l, left), 0.0), np.where(
        same, np.copysign(size_r, right), 0.0
    )


def _mean(near: Array, spread: Array, bend: Array, s: Array, sign: float) -> Array:
    """Average of the parabola over what reaches the face, from the edge value."""
    return near - sign * 0.5 * s * (spread - sign * (1.0 - s * (2.0 / 3.0)) * bend)


def _traced(
    rho: Array, u: Array, p: Array, c: Array, ratio: float
) -> tuple[tuple[Array, Array, Array], tuple[Array, Array, Array]]:
    """States at the right and the left face of each inner cell."""
    parts = [_parts(q, _edges(q)) for q in (rho, u, p)]
    spread = [a + b for a, b in parts]
    bend = [3.0 * (a - b) for a, b in parts]
    rho, u, p, c = rho[2:-2], u[2:-2], p[2:-2], c[2:-2]
    z = rho * c
    out = []
    for sign, near in ((1.0, [b for _, b in parts]), (-1.0, [-a for a, _ in parts])):
        reach = [np.maximum(sign * v * ratio, 0.0) for v in (u + c, u - c, u)]

        def at(
            k: int, wave: int, sign: float = sign, near: Any = near, reach: Any = reach
        ) -> Array:
            return _mean(near[k], spread[k], bend[k], reach[wave], sign)

        plus = 0.5 * (at(2, 0) + z * at(1, 0))
        minus = 0.5 * (at(2, 1) - z * at(1, 1))
        entropy = at(0, 2) - at(2, 2) / c**2
        out.append(
            (rho + (plus + minus) / c**2 + entropy, u + (plus - minus) / z, p + plus + minus)
        )
    return out[0], out[1]


def _fluxes(left: tuple[Array, ...], right: tuple[Array, ...], c: Array) -> Array:
    rho_l, u_l, p_l = left
    rho_r, u_r, p_r = right
    s_l, s_r = np.minimum(u_l, u_r) - c, np.maximum(u_l, u_r) + c
    q_l, q_r = rho_l * (s_l - u_l), rho_r * (s_r - u_r)
    contact = (p_r - p_l + q_l * u_l - q_r * u_r) / (q_l - q_r)
    first = contact > 0.0
    rho, u, p = np.where(first, rho_l, rho_r), np.where(first, u_l, u_r), np.where(first, p_l, p_r)
    q, outer = np.where(first, q_l, q_r), np.where(first, s_l, s_r)
    weight = np.where(first, np.minimum(s_l, 0.0), np.maximum(s_r, 0.0)) / (outer - contact)
    star = p + q * (contact - u)
    energy = p / (GAMMA - 1.0) + 0.5 * rho * u * u
    return np.stack(
        (
            rho * (u + weight * (contact - u)),
            rho * u * u + p + weight * (q * contact - rho * u * (outer - contact)),
            (energy + p) * u + weight * (star * contact - p * u + (contact - u) * energy),
        )
    )


def numpy_sod(n: int, repeats: int) -> tuple[float, int, Array]:
    """Processor time, steps and density of the solver's scheme in plain NumPy."""
    best, steps = np.inf, 0
    left = (np.arange(n) + 0.5) / n < 0.5
    for _ in range(repeats):
        rho, p = np.where(left, 1.0, 0.125), np.where(left, 1.0, 0.1)
        state = np.stack((rho, np.zeros(n), p / (GAMMA - 1.0)))
        begin = time.thread_time()
        now, steps = 0.0, 0
        while now < STOP:
            full = np.pad(state, ((0, 0), (3, 3)), mode="edge")
            rho = full[0]
            u = full[1] / rho
            p = (GAMMA - 1.0) * (full[2] - 0.5 * full[1] * u)
            c = np.sqrt(GAMMA * p / rho)
            dt = COURANT / n / float(np.max(np.abs(u) + c)) * (0.2 if steps < 5 else 1.0)
            dt = min(dt, STOP - now)
            right_face, left_face = _traced(rho, u, p, c, dt * n)
            flux = _fluxes(
                tuple(q[:-1] for q in right_face),
                tuple(q[1:] for q in left_face),
                np.maximum(c[2:-3], c[3:-2]),
            )
            state = state - dt * n * np.diff(flux, axis=1)
            now, steps = now + dt, steps + 1
        best = min(best, time.thread_time() - begin)
    return best, steps, state[0]


def clawpack_available() -> bool:
    """Whether PyClaw can be imported."""
    return importlib.util.find_spec("clawpack") is not None


def clawpack_sod(n: int, repeats: int, limiter: str) -> tuple[float, int, Array]:
    """Processor time, steps and density of PyClaw's classic solver with its compiled kernels."""
    from clawpack import pyclaw, riemann  # type: ignore[import-not-found]  # noqa: PLC0415

    best, steps = np.inf, 0
    for _ in range(repeats):
        solver = pyclaw.ClawSolver1D(riemann.euler_with_efix_1D)
        solver.kernel_language = "Fortran"
        solver.limiters = getattr(pyclaw.limiters.tvd, limiter)
        solver.cfl_desired, solver.cfl_max = COURANT, 1.0
        solver.bc_lower[0] = solver.bc_upper[0] = pyclaw.BC.extrap
        solver.max_steps = 10**6
        domain = pyclaw.Domain([pyclaw.Dimension(0.0, 1.0, n, name="x")])
        state = pyclaw.State(domain, 3)
        state.problem_data["gamma"], state.problem_data["gamma1"] = GAMMA, GAMMA - 1.0
        left = state.grid.x.centers < 0.5
        state.q[0] = np.where(left, 1.0, 0.125)
        state.q[1] = 0.0
        state.q[2] = np.where(left, 1.0, 0.1) / (GAMMA - 1.0)
        solution = pyclaw.Solution(state, domain)
        solver.dt_initial = 0.2 * COURANT / n / np.sqrt(GAMMA)
        solver.setup(solution)
        begin = time.thread_time()
        solver.evolve_to_time(solution, STOP)
        best = min(best, time.thread_time() - begin)
        steps = solver.status["numsteps"]
    return best, steps, np.array(solution.state.q[0])
