"""One time step of the quasi-one-dimensional Euler equations for all tubes at once.

Piecewise parabolic reconstruction of density, velocity and pressure, followed along the three
characteristics over the step, then one HLLC flux per face (Colella and Woodward, J. Comput.
Phys. 54, 1984, sections 1 and 3, from memory; Toro, Riemann Solvers, 3rd edition, section 10.4,
from memory).  One flux per step instead of one per Runge-Kutta stage, Courant numbers close to
one, and per cell and step three divisions and one square root.

All loops run over ``n`` cells counted from the first, ``n`` being a multiple of the vector length;
the array is a little longer and holds some harmless gas there.

The area source ``p dA/dx`` is written as differences to the pressure of the cell, so that still
gas stays still whatever the area does.
"""

from __future__ import annotations

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.compiled import inlined, vector

_TINY = 1e-12
# A face value never falls below this share of the cell's own: keeps pressure and density
# positive next to a vacuum without touching ordinary flow.
_FLOOR = 0.1
# Pr^(-2/3) with Pr = 0.71 for air and combustion gases (from memory).
_PRANDTL = 1.2565


@vector
def primitives(w: Array, n: int, gas: Array) -> None:
    """Velocity, pressure, sound speed and their companions from the conserved quantities."""
    a0, a1, a2, a3, a4 = gas[0], gas[1], gas[2], gas[3], gas[4]
    b0, b1, b2, b3, b4 = gas[5], gas[6], gas[7], gas[8], gas[9]
    for i in range(n):
        rho = w[r.DENSITY + i]
        volume = 1.0 / rho
        velocity = w[r.MOMENTUM + i] * volume
        y = w[r.BURNED + i] * volume
        e = w[r.ENERGY + i] * volume - 0.5 * velocity * velocity
        c0 = a0 + b0 * y
        c1 = a1 + b1 * y
        c2 = a2 + b2 * y
        c3 = a3 + b3 * y
        c4 = a4 + b4 * y
        g = c0 + e * (c1 + e * (c2 + e * (c3 + e * c4)))
        slope = c1 + e * (2.0 * c2 + e * (3.0 * c3 + e * (4.0 * c4)))
        sound2 = max(g * (1.0 + slope), _TINY)
        both = 1.0 / (sound2 * slope)
        w[r.INV_DENSITY + i] = volume
        w[r.VELOCITY + i] = velocity
        w[r.FRACTION + i] = y
        w[r.INTERNAL + i] = e
        w[r.PRESSURE + i] = rho * g
        w[r.SOUND + i] = np.sqrt(sound2)
        w[r.INV_SOUND2 + i] = both * slope
        w[r.INV_SLOPE + i] = both * sound2


@vector
def extremes(w: Array, n: int) -> tuple[float, float]:
    """Largest (|u| + c) / dx and smallest pressure, both in four independent strands."""
    a = b = c = d = 0.0
    pa = pb = pc = pd = w[r.PRESSURE]
    for k in range(n // 4):
        i = 4 * k
        a = max(a, (abs(w[r.VELOCITY + i]) + w[r.SOUND + i]) * w[r.INV_LENGTH + i])
        b = max(b, (abs(w[r.VELOCITY + i + 1]) + w[r.SOUND + i + 1]) * w[r.INV_LENGTH + i + 1])
        c = max(c, (abs(w[r.VELOCITY + i + 2]) + w[r.SOUND + i + 2]) * w[r.INV_LENGTH + i + 2])
        d = max(d, (abs(w[r.VELOCITY + i + 3]) + w[r.SOUND + i + 3]) * w[r.INV_LENGTH + i + 3])
        pa = min(pa, w[r.PRESSURE + i])
        pb = min(pb, w[r.PRESSURE + i + 1])
        pc = min(pc, w[r.PRESSURE + i + 2])
        pd = min(pd, w[r.PRESSURE + i + 3])
    for i in range(4 * (n // 4), n):
        a = max(a, (abs(w[r.VELOCITY + i]) + w[r.SOUND + i]) * w[r.INV_LENGTH + i])
        pa = min(pa, w[r.PRESSURE + i])
    return max(a, b, c, d), min(pa, pb, pc, pd)


@inlined
def _edge(a: float, b: float, c: float, d: float) -> float:
    """Fourth-order value between b and c, kept between them."""
    e = (7.0 / 12.0) * (b + c) - (1.0 / 12.0) * (a + d)
    return max(min(e, max(b, c)), min(b, c))


@vector
def edges(w: Array, n: int) -> None:
    """Values at faces from the four nearest cells."""
    for k in range(n):
        i = k + 2
        w[r.EDGE_DENSITY + i] = _edge(
            w[r.DENSITY + i - 2], w[r.DENSITY + i - 1], w[r.DENSITY + i], w[r.DENSITY + i + 1]
        )
        w[r.EDGE_VELOCITY + i] = _edge(
            w[r.VELOCITY + i - 2], w[r.VELOCITY + i - 1], w[r.VELOCITY + i], w[r.VELOCITY + i + 1]
        )
        w[r.EDGE_PRESSURE + i] = _edge(
            w[r.PRESSURE + i - 2], w[r.PRESSURE + i - 1], w[r.PRESSURE + i], w[r.PRESSURE + i + 1]
        )


@inlined
def _left_part(left: float, right: float) -> float:
    """Cell value minus left edge of a parabola without new extremes: at most twice the other."""
    twice = 2.0 * right
    return max(min(left, twice), 0.0) + min(max(left, twice), 0.0)


@inlined
def _limited(a: float, b: float) -> float:
    """Central slope within twice the one-sided ones, zero at an extreme."""
    mean, low, high = 0.5 * (a + b), 2.0 * min(a, b), 2.0 * max(a, b)
    return max(min(mean, low), 0.0) + min(max(mean, high), 0.0)


@vector
def trace(  # noqa: PLR0915 - one loop body, so that it becomes one stream of vector instructions
    w: Array, n: int, dt: float
) -> None:
    """States at both faces of each cell, averaged over what reaches the face in the step."""
    half = 0.5 * dt
    for k in range(n):
        i = k + 2
        rho = w[r.DENSITY + i]
        u = w[r.VELOCITY + i]
        p = w[r.PRESSURE + i]
        c = w[r.SOUND + i]
        inv_c2 = w[r.INV_SOUND2 + i]
        dl = rho - w[r.EDGE_DENSITY + i]
        dr = w[r.EDGE_DENSITY + i + 1] - rho
        rho_l = _left_part(dl, dr)
        rho_r = _left_part(dr, dl)
        dl = u - w[r.EDGE_VELOCITY + i]
        dr = w[r.EDGE_VELOCITY + i + 1] - u
        u_l = _left_part(dl, dr)
        u_r = _left_part(dr, dl)
        dl = p - w[r.EDGE_PRESSURE + i]
        dr = w[r.EDGE_PRESSURE + i + 1] - p
        p_l = _left_part(dl, dr)
        p_r = _left_part(dr, dl)
        impedance = rho * c
        inv_impedance = w[r.INV_DENSITY + i] * c * inv_c2
        # Strengths of the two sound waves and of what the gas carries along.
        turn_l = 0.5 * impedance * u_l
        turn_r = 0.5 * impedance * u_r
        plus_l = 0.5 * p_l + turn_l
        plus_r = 0.5 * p_r + turn_r
        minus_l = 0.5 * p_l - turn_l
        minus_r = 0.5 * p_r - turn_r
        zero_l = rho_l - p_l * inv_c2
        zero_r = rho_r - p_r * inv_c2
        d_plus = 0.5 * (plus_l + plus_r)
        d_minus = 0.5 * (minus_l + minus_r)
        d_zero = 0.5 * (zero_l + zero_r)
        q_plus = 1.5 * (plus_l - plus_r)
        q_minus = 1.5 * (minus_l - minus_r)
        q_zero = 1.5 * (zero_l - zero_r)
        ratio = dt * w[r.INV_LENGTH + i]
        v_plus = (u + c) * ratio
        v_zero = u * ratio
        v_minus = (u - c) * ratio
        # What widening of the tube and friction do to the two sound waves in half a step; only a
        # wave that reaches the face brings its share, or steady flow would lose total pressure.
        s_p = -half * u * w[r.AREA_SLOPE + i] * rho * c * c
        s_u = -half * w[r.FRICTION + i] * abs(u) * u * impedance
        s_plus = 0.5 * (s_p + s_u)
        s_minus = 0.5 * (s_p - s_u)
        internal = w[r.INTERNAL + i]
        inv_slope = w[r.INV_SLOPE + i]
        g = p * w[r.INV_DENSITY + i]
        low_rho = _FLOOR * rho
        low_p = _FLOOR * p

        s = max(v_plus, 0.0)
        plus = plus_r - s * (d_plus - (1.0 - s * (2.0 / 3.0)) * q_plus)
        s = max(v_minus, 0.0)
        minus = minus_r - s * (d_minus - (1.0 - s * (2.0 / 3.0)) * q_minus)
        s = max(v_zero, 0.0)
        zero = zero_r - s * (d_zero - (1.0 - s * (2.0 / 3.0)) * q_zero)
        plus += s_plus if v_plus > 0.0 else 0.0
        minus += s_minus if v_minus > 0.0 else 0.0
        both = plus + minus
        face_rho = max(rho + both * inv_c2 + zero, low_rho)
        face_p = max(p + both, low_p)
        w[r.L_DENSITY + i + 1] = face_rho
        w[r.L_VELOCITY + i + 1] = u + (plus - minus) * inv_impedance
        w[r.L_PRESSURE + i + 1] = face_p
        w[r.L_INTERNAL + i + 1] = face_rho * internal + (face_p - g * face_rho) * inv_slope

        s = min(v_plus, 0.0)
        plus = -plus_l - s * (d_plus + (1.0 + s * (2.0 / 3.0)) * q_plus)
        s = min(v_minus, 0.0)
        minus = -minus_l - s * (d_minus + (1.0 + s * (2.0 / 3.0)) * q_minus)
        s = min(v_zero, 0.0)
        zero = -zero_l - s * (d_zero + (1.0 + s * (2.0 / 3.0)) * q_zero)
        plus += s_plus if v_plus < 0.0 else 0.0
        minus += s_minus if v_minus < 0.0 else 0.0
        both = plus + minus
        face_rho = max(rho + both * inv_c2 + zero, low_rho)
        face_p = max(p + both, low_p)
        w[r.R_DENSITY + i] = face_rho
        w[r.R_VELOCITY + i] = u + (plus - minus) * inv_impedance
        w[r.R_PRESSURE + i] = face_p
        w[r.R_INTERNAL + i] = face_rho * internal + (face_p - g * face_rho) * inv_slope

        y = w[r.FRACTION + i]
        slope = 0.5 * _limited(y - w[r.FRACTION + i - 1], w[r.FRACTION + i + 1] - y)
        w[r.L_FRACTION + i + 1] = y + (1.0 - max(v_zero, 0.0)) * slope
        w[r.R_FRACTION + i] = y - (1.0 + min(v_zero, 0.0)) * slope


@vector
def fluxes(w: Array, n: int) -> None:
    """HLLC flux at each face; both quotients share one division.

    Something is computed from both sides before one is chosen: a choice between mere reads would
    become a gather, far slower than reading both.
    """
    for k in range(n):
        i = k + 3
        u_l = w[r.L_VELOCITY + i]
        u_r = w[r.R_VELOCITY + i]
        p_l = w[r.L_PRESSURE + i]
        p_r = w[r.R_PRESSURE + i]
        y_l = w[r.L_FRACTION + i]
        y_r = w[r.R_FRACTION + i]
        rho_l = w[r.L_DENSITY + i]
        rho_r = w[r.R_DENSITY + i]
        energy_l = w[r.L_INTERNAL + i] + 0.5 * rho_l * u_l * u_l
        energy_r = w[r.R_INTERNAL + i] + 0.5 * rho_r * u_r * u_r
        # One sound speed for both sides: never too slow, and sharp enough between near states.
        c = max(w[r.SOUND + i - 1], w[r.SOUND + i])
        s_l = min(u_l, u_r) - c
        s_r = max(u_l, u_r) + c
        q_l = rho_l * (s_l - u_l)
        q_r = rho_r * (s_r - u_r)
        top = p_r - p_l + q_l * u_l - q_r * u_r
        bottom = q_l - q_r  # always negative
        from_left = top < 0.0
        rho = rho_l if from_left else rho_r
        u = u_l if from_left else u_r
        p = p_l if from_left else p_r
        energy = energy_l if from_left else energy_r
        q = q_l if from_left else q_r
        outer = s_l if from_left else s_r
        reach = min(s_l, 0.0) if from_left else max(s_r, 0.0)
        gap = outer * bottom - top
        inverse = 1.0 / (bottom * gap)
        contact = top * gap * inverse
        weight = reach * bottom * bottom * inverse
        p_star = p + q * (contact - u)
        w[r.FACE_PRESSURE + i] = p_star if reach != 0.0 else p
        mass = rho * (u + weight * (contact - u))
        w[r.FLUX_MASS + i] = mass
        w[r.FLUX_MOMENTUM + i] = (
            rho * u * u + p + weight * (q * contact - rho * u * (outer - contact))
        )
        w[r.FLUX_ENERGY + i] = (energy + p) * u + weight * (
            p_star * contact - p * u + (contact - u) * energy
        )
        w[r.FLUX_BURNED + i] = max(mass, 0.0) * y_l + min(mass, 0.0) * y_r


@vector
def update(w: Array, n: int, dt: float, gas_fresh: float, gas_burned: float) -> None:
    """Add fluxes, pressure on the widening wall, wall friction and wall heat over the step."""
    for k in range(n):
        i = k + 2
        area = w[r.AREA + i]
        area_next = w[r.AREA + i + 1]
        step = dt * w[r.INV_VOLUME + i]
        mass = w[r.FLUX_MASS + i]
        mass_next = w[r.FLUX_MASS + i + 1]
        p = 0.5 * (w[r.FACE_PRESSURE + i] + w[r.FACE_PRESSURE + i + 1])
        mean = 0.5 * (mass + mass_next)
        drag = w[r.FRICTION + i] * abs(w[r.VELOCITY + i])
        slope = w[r.INV_SLOPE + i]
        gas = gas_fresh + (gas_burned - gas_fresh) * w[r.FRACTION + i]
        warmer = gas * w[r.WALL_TEMPERATURE + i] - w[r.PRESSURE + i] * w[r.INV_DENSITY + i]
        heat = (
            dt
            * w[r.HEAT_RATIO + i]
            * _PRANDTL
            * w[r.FRICTION + i]
            * abs(mean)
            * (1.0 + slope)
            * warmer
        )
        heat = heat if step > 0.0 else 0.0
        w[r.DENSITY + i] -= step * (area_next * mass_next - area * mass)
        w[r.MOMENTUM + i] -= (
            step
            * (area_next * (w[r.FLUX_MOMENTUM + i + 1] - p) - area * (w[r.FLUX_MOMENTUM + i] - p))
            + dt * drag * mean
        )
        w[r.ENERGY + i] -= (
            step * (area_next * w[r.FLUX_ENERGY + i + 1] - area * w[r.FLUX_ENERGY + i]) - heat
        )
        w[r.BURNED + i] -= step * (
            area_next * w[r.FLUX_BURNED + i + 1] - area * w[r.FLUX_BURNED + i]
        )
        w[r.WALL_HEAT + i] += heat


@vector
def note_mach(w: Array, n: int) -> None:
    """Largest Mach number each cell has seen."""
    for i in range(n):
        mach = abs(w[r.VELOCITY + i]) * w[r.SOUND + i] * w[r.INV_SOUND2 + i]
        w[r.MOST_MACH + i] = max(w[r.MOST_MACH + i], mach)
