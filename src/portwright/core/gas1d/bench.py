"""Valve-only effective area from a bench curve, so that the port is not counted twice.

The bench measures duct and valve in series. The simulation has the duct as a tube of its own, so
the valve must get the area that, behind that duct, passes the measured flow.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from portwright.core.curve import Array
from portwright.core.gas1d.compiled import exact
from portwright.core.gas1d.ducts import Duct
from portwright.core.gas1d.ends import MOST_OPENING, orifice_flow
from portwright.core.gas1d.friction import friction_factor, viscosity
from portwright.errors import GeometryError, RangeError

GAMMA = 1.4
GAS_CONSTANT = 287.05
_STATIONS = 400


@dataclass(frozen=True, slots=True)
class BenchCondition:
    """Test condition.

    Parameters
    ----------
    pressure, temperature : float
        Air at the upstream end, at rest. [Pa, K]
    drop : float
        Test pressure drop. [Pa]
    """

    pressure: float = 101325.0
    temperature: float = 293.15
    drop: float = 6974.49  # 28 inH2O

    def __post_init__(self) -> None:
        if not 0.0 < self.drop < self.pressure or self.temperature <= 0.0:
            raise RangeError("The test drop must be above zero and below the air pressure.")


def bench_mass_flow(area: float, condition: BenchCondition) -> float:
    """Mass flow a bench means by an effective area. [kg/s]

    Parameters
    ----------
    area : float
        Effective area by the incompressible definition ``Q / sqrt(2 dp / rho)`` at upstream
        density, times upstream density. [m2]
    condition : BenchCondition
        Test condition.

    Returns
    -------
    float
    """
    density = condition.pressure / (GAS_CONSTANT * condition.temperature)
    return float(area * np.sqrt(2.0 * condition.drop * density))


@exact
def _static(mass_velocity: float, total: float, temperature: float) -> tuple[float, float, float]:
    """Static pressure, density and speed of a subsonic stream from its total state.

    All zero where the section is too small to pass it.
    """
    k = (GAMMA - 1.0) / 2.0
    density0 = total / (GAS_CONSTANT * temperature)
    c0 = np.sqrt(GAMMA * GAS_CONSTANT * temperature)
    power = (GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))
    if mass_velocity >= density0 * c0 * (1.0 + k) ** -power:
        return 0.0, 0.0, 0.0
    mach = mass_velocity / (density0 * c0)
    for _ in range(100):
        base = 1.0 + k * mach * mach
        drop = base**-power
        f = mach * drop - mass_velocity / (density0 * c0)
        change = f / (drop * (1.0 - 2.0 * k * power * mach * mach / base))
        mach = min(max(mach - change, 0.5 * mach), 0.5 * (1.0 + mach))
        if abs(change) < 1e-13:
            break
    base = 1.0 + k * mach * mach
    pressure = total * base ** (-GAMMA / (GAMMA - 1.0))
    density = density0 * base ** (-1.0 / (GAMMA - 1.0))
    return pressure, density, mach * c0 / np.sqrt(base)


@exact
def _through(
    areas: Array,
    diameters: Array,
    step: float,
    roughness: float,
    flow: float,
    total: float,
    temperature: float,
) -> float:
    """Total pressure left at the far end of a duct with friction, adiabatic; 0 where it chokes."""
    for k in range(areas.size):
        pressure, density, speed = _static(flow / areas[k], total, temperature)
        if pressure <= 0.0:
            return 0.0
        diameter = diameters[k]
        mu = viscosity(pressure / (density * GAS_CONSTANT))
        factor = friction_factor(density * speed * diameter / mu, roughness / diameter)
        # d(p0)/dx = -f/(2 D) gamma p M^2 * p0/p, the friction line of Fanno flow.
        total -= 0.5 * factor / diameter * density * speed**2 * total / pressure * step
    return total


class _Duct:
    """A duct cut into stations, to be marched through again and again."""

    def __init__(self, duct: Duct) -> None:
        x = np.linspace(0.0, duct.length, _STATIONS + 1)
        middle = 0.5 * (x[1:] + x[:-1])
        self._areas, self._diameters = duct.area_at(middle), duct.diameter_at(middle)
        self._step, self._roughness = duct.length / _STATIONS, duct.roughness
        self.start, self.end = (float(a) for a in duct.area_at(x[[0, -1]]))

    def left(self, flow: float, total: float, temperature: float) -> float:
        """Total pressure at the far end, 0 where the duct chokes. [Pa]"""
        return float(
            _through(
                self._areas,
                self._diameters,
                self._step,
                self._roughness,
                flow,
                total,
                temperature,
            )
        )


def valve_only_area(
    duct: Duct, bench_area: Array, condition: BenchCondition, *, outward: bool = False
) -> Array:
    """Effective area of the valve alone, at each lift of a bench curve.

    Parameters
    ----------
    duct : Duct
        The port as tested, in flow direction of a running engine, with the entry piece that was
        on it.
    bench_area : ndarray, shape (n,)
        Measured effective area at each lift. [m2]
    condition : BenchCondition
        Test condition.
    outward : bool
        True for an exhaust port: the air passes the valve first.

    Returns
    -------
    ndarray, shape (n,)
        Valve-only effective area. [m2]

    Raises
    ------
    GeometryError
        The duct cannot pass the measured flow at the test drop.
    """
    solve = _outward if outward else _inward
    cut = _Duct(duct)
    return np.array([solve(cut, float(a), condition) for a in bench_area])


def _inward(duct: _Duct, area: float, condition: BenchCondition) -> float:
    flow = bench_mass_flow(area, condition)
    total = duct.left(flow, condition.pressure, condition.temperature)
    pressure, density, speed = _static(flow / duct.end, total, condition.temperature)
    if pressure <= 0.0:
        raise _too_small()
    back = condition.pressure - condition.drop
    if pressure <= back:
        raise _too_much()
    return _capped(flow / orifice_flow(pressure, density, speed, GAMMA, back), duct.end)


def _too_small() -> GeometryError:
    return GeometryError(
        "A section of the duct is too small for the measured flow: it would choke.",
        "Check section areas and flow figures; a factor of ten or wrong units look like this.",
    )


def _too_much() -> GeometryError:
    return GeometryError(
        "The duct alone would need more than the test drop for the measured flow.",
        "Check section areas, roughness and flow figures.",
    )


def _capped(valve: float, end: float) -> float:
    if valve >= MOST_OPENING * end:
        raise GeometryError(
            "The valve would have to be more open than the end of the duct.",
            "Check the section area at the valve and the flow figures.",
        )
    return float(valve)


def _outward(duct: _Duct, area: float, condition: BenchCondition) -> float:
    flow = bench_mass_flow(area, condition)
    back = condition.pressure - condition.drop

    def above(total: float) -> float:
        """Static pressure at the end over what stands behind it."""
        left = duct.left(flow, total, condition.temperature)
        return float(_static(flow / duct.end, left, condition.temperature)[0]) - back

    if above(condition.pressure) <= 0.0:
        raise _too_much()
    # Total pressure at the start of the duct that ends with the static pressure behind it.
    total = brentq(above, back, condition.pressure, xtol=1e-9 * condition.drop)
    pressure = _static(flow / duct.start, total, condition.temperature)[0]
    density = condition.pressure / (GAS_CONSTANT * condition.temperature)
    jet = orifice_flow(condition.pressure, density, 0.0, GAMMA, pressure)
    return _capped(flow / jet, duct.start)
