"""Gas properties for tubes and cylinders: a perfect gas, or tables made with Cantera."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

import numpy as np
from scipy.interpolate import CubicSpline

from portwright.core.curve import Array
from portwright.errors import RangeError, UnknownNameError

FUELS = ("petrol", "race-petrol", "e85", "methanol")

# Energy counted from here keeps internal energy positive down to about 60 K, so that pressure
# over density stays close to proportional to it.
_OFFSET = 210e3
_TABLE_STEP = 25.0
# Where tube gas is fitted: charge up to here, exhaust up to there. [K]
_FRESH_MOST, _BURNED_MOST, _LEAST = 1100.0, 1900.0, 200.0
_FIT_PRESSURE = 1e5


@dataclass(frozen=True, slots=True, eq=False)
class Gas:
    """Energy and gas constant of fresh charge and burned gas.

    Parameters
    ----------
    name : str
        Fuel, or what the gas is.
    tube : ndarray, shape (13,)
        Pressure over density as a polynomial of internal energy: five coefficients for fresh
        gas, five to add for burned gas, gas constants of fresh and burned gas [J/(kg K)],
        offset of the energy datum [J/kg].
    fresh : ndarray, shape (nt, 2)
        Internal energy [J/kg] and gas constant [J/(kg K)] of fresh charge.
    burned : ndarray, shape (np, nt, 2)
        The same of burned gas by pressure and temperature.
    grid : ndarray, shape (4,)
        First temperature [K] and its step [K], first ln(pressure/Pa) and its step [-].
    energy_released : float
        Released by burning one kilogram of fresh charge at constant volume. [J/kg]
    air_fuel_ratio : float
        Mass of air per mass of fuel, 0 without fuel. [-]
    fit_error : float
        Largest relative difference of the tube polynomial from the tables. [-]
    """

    name: str
    tube: Array
    fresh: Array
    burned: Array
    grid: Array
    energy_released: float
    air_fuel_ratio: float
    fit_error: float

    def internal_energy(self, temperature: float, fraction: float = 0.0) -> float:
        """Internal energy of tube gas with the datum of the tube polynomial. [J/kg]"""
        gas = self.gas_constant(fraction)
        return self.energy_from_ratio(gas * temperature, fraction)

    def gas_constant(self, fraction: float = 0.0) -> float:
        """Gas constant of a mixture in a tube. [J/(kg K)]"""
        return float(self.tube[10] + (self.tube[11] - self.tube[10]) * fraction)

    def energy_from_ratio(self, ratio: float, fraction: float = 0.0) -> float:
        """Internal energy from pressure over density. [J/kg]"""
        start, slope = self._ratio_and_slope(0.0, fraction)
        e = (ratio - start) / slope
        for _ in range(60):
            reached, slope = self._ratio_and_slope(e, fraction)
            change = (ratio - reached) / slope
            e += change
            if abs(change) <= 1e-14 * (abs(e) + 1e-300):
                break
        return e

    def gamma(self, energy: float, fraction: float = 0.0) -> float:
        """Ratio of specific heats of tube gas at an internal energy. [-]"""
        return 1.0 + self._ratio_and_slope(energy, fraction)[1]

    def _ratio_and_slope(self, e: float, fraction: float) -> tuple[float, float]:
        """Pressure over density and its slope against internal energy."""
        c = (self.tube[:5] + self.tube[5:10] * fraction).tolist()
        ratio = c[0] + e * (c[1] + e * (c[2] + e * (c[3] + e * c[4])))
        return ratio, c[1] + e * (2.0 * c[2] + e * (3.0 * c[3] + e * 4.0 * c[4]))


def perfect_gas(gamma: float, gas_constant: float = 287.05) -> Gas:
    """Gas with constant specific heats.

    Parameters
    ----------
    gamma : float
        Ratio of specific heats, above 1. [-]
    gas_constant : float
        Gas constant. [J/(kg K)]

    Returns
    -------
    Gas

    Raises
    ------
    RangeError
        Ratio of specific heats not above 1 or not below 3.
    """
    if not 1.0 < gamma < 3.0:
        raise RangeError(
            f"Ratio of specific heats {gamma:g} is not between 1 and 3.", "Air has 1.4."
        )
    tube = np.zeros(13)
    tube[1] = gamma - 1.0
    tube[10] = tube[11] = gas_constant
    heat = gas_constant / (gamma - 1.0)
    temperature = np.array([1.0, 1e5])
    fresh = np.column_stack((heat * temperature, np.full(2, gas_constant)))
    grid = np.array([temperature[0], temperature[1] - temperature[0], 0.0, 1.0])
    return Gas("perfect gas", tube, fresh, np.stack((fresh, fresh)), grid, 0.0, 0.0, 0.0)


@lru_cache(maxsize=8)
def _read(fuel: str) -> tuple[Array, Array, Array, Array, Array]:
    """Read air ratios, temperatures, pressures, fresh and burned tables of a fuel."""
    folder = files("portwright.refdata.gas_properties")
    text = (folder / f"{fuel}.csv").read_text(encoding="utf-8")
    rows = list(csv.reader(text.splitlines()))[1:]
    ratios = sorted({float(row[0]) for row in rows})
    pressures = sorted({float(row[1]) for row in rows if row[1] != "fresh"})
    temperatures = sorted({float(row[2]) for row in rows})
    fresh = np.empty((len(ratios), len(temperatures), 2))
    burned = np.empty((len(ratios), len(pressures), len(temperatures), 2))
    for ratio, pressure, temperature, energy, constant in rows:
        k = ratios.index(float(ratio))
        j = temperatures.index(float(temperature))
        if pressure == "fresh":
            fresh[k, j] = float(energy), float(constant)
        else:
            burned[k, pressures.index(float(pressure)), j] = float(energy), float(constant)
    return np.array(ratios), np.array(temperatures), np.array(pressures), fresh, burned


@lru_cache(maxsize=8)
def _facts(fuel: str) -> Array:
    """Air ratio, air-fuel ratio and energy released of a fuel."""
    folder = files("portwright.refdata.gas_properties")
    rows = csv.DictReader((folder / "facts.csv").read_text(encoding="utf-8").splitlines())
    columns = ("air_ratio", "air_fuel_ratio", "energy_released", "frozen_gas_constant")
    return np.array([[float(row[c]) for c in columns] for row in rows if row["fuel"] == fuel])


def _blend(ratios: Array, table: Array, air_ratio: float) -> Array:
    k = int(np.clip(np.searchsorted(ratios, air_ratio) - 1, 0, ratios.size - 2))
    x = (air_ratio - ratios[k]) / (ratios[k + 1] - ratios[k])
    mixed: Array = table[k] * (1.0 - x) + table[k + 1] * x
    return mixed


@lru_cache(maxsize=32)
def fuel_gas(fuel: str, air_ratio: float) -> Gas:
    """Gas of an engine running on a named fuel.

    Parameters
    ----------
    fuel : str
        ``petrol``, ``race-petrol``, ``e85`` or ``methanol``.
    air_ratio : float
        Air over the air just enough to burn the fuel (lambda), 0.75 to 1.1. [-]

    Returns
    -------
    Gas

    Raises
    ------
    UnknownNameError
        Fuel not in the list.
    RangeError
        Air ratio outside the tables.

    Notes
    -----
    Cylinder gas: tables of internal energy and gas constant made with Cantera, burned gas in
    equilibrium above 1750 K. Tube gas: a polynomial fitted to the same tables.
    """
    if fuel not in FUELS:
        raise UnknownNameError("fuel", fuel, FUELS)
    ratios, coarse, pressures, fresh_all, burned_all = _read(fuel)
    if not ratios[0] <= air_ratio <= ratios[-1]:
        raise RangeError(
            f"Air ratio {air_ratio:g} is outside {ratios[0]:g} to {ratios[-1]:g}.",
            "Race engines on petrol usually run between 0.85 and 0.90 (common practice).",
        )
    facts = _blend(ratios, _facts(fuel), air_ratio)
    fresh_coarse = _blend(ratios, fresh_all, air_ratio)
    burned_coarse = _blend(ratios, burned_all, air_ratio)
    t = np.arange(coarse[0], coarse[-1] + 1.0, _TABLE_STEP)
    fresh = np.ascontiguousarray(CubicSpline(coarse, fresh_coarse, axis=0)(t))
    log_p = np.linspace(np.log(pressures[0]), np.log(pressures[-1]), 2 * pressures.size - 1)
    along_t = CubicSpline(coarse, burned_coarse, axis=1)(t)
    burned = np.ascontiguousarray(CubicSpline(np.log(pressures), along_t, axis=0)(log_p))
    grid = np.array([t[0], _TABLE_STEP, log_p[0], log_p[1] - log_p[0]])
    tube, error = _fit_tube(t, fresh, along_t[list(pressures).index(_FIT_PRESSURE)], facts[3])
    return Gas(fuel, tube, fresh, burned, grid, float(facts[2]), float(facts[1]), error)


def _fit_tube(t: Array, fresh: Array, burned: Array, frozen: float) -> tuple[Array, float]:
    """Fit pressure over density as a polynomial of energy, linear in the burned share."""
    rows, ratio = [], []
    constants = fresh[0, 1], frozen
    for y in np.linspace(0.0, 1.0, 11):
        most = _FRESH_MOST + (_BURNED_MOST - _FRESH_MOST) * min(1.0, 2.0 * y)
        use = (t >= _LEAST) & (t <= most)
        e = _OFFSET + fresh[use, 0] + (burned[use, 0] - fresh[use, 0]) * y
        g = (fresh[use, 1] + (burned[use, 1] - fresh[use, 1]) * y) * t[use]
        powers = (1e-6 * e)[:, None] ** np.arange(5)
        rows.append(np.hstack((powers, powers * y)) / g[:, None])
        ratio.append(g)
    matrix = np.vstack(rows)
    fit = np.linalg.lstsq(matrix, np.ones(matrix.shape[0]), rcond=None)[0]
    error = float(np.max(np.abs(matrix @ fit - 1.0)))
    scale = 1e-6 ** np.arange(5)
    tube = np.concatenate((fit[:5] * scale, fit[5:] * scale, constants, [_OFFSET]))
    return tube, error
