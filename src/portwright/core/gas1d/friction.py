"""Wall friction of tubes: Haaland's correlation, refreshed now and then."""

from __future__ import annotations

from typing import Final

import numpy as np

from portwright.core.curve import Array
from portwright.core.gas1d import rows as r
from portwright.core.gas1d.compiled import exact

# Pulsating flow in short ducts never settles into laminar flow: the correlation is used from
# this Reynolds number down with the value it has there.
LEAST_REYNOLDS: Final = 2300.0
# Sutherland's law for air (constants from memory): kg/(m s K^0.5) and K.
_SUTHERLAND: Final = 1.458e-6
_SUTHERLAND_TEMPERATURE: Final = 110.4


@exact
def viscosity(temperature: float) -> float:
    """Dynamic viscosity of air by Sutherland's law, also used for exhaust gas.

    Parameters
    ----------
    temperature : float
        Temperature. [K]

    Returns
    -------
    float
        Dynamic viscosity. [Pa s]
    """
    return float(
        _SUTHERLAND * temperature * np.sqrt(temperature) / (temperature + _SUTHERLAND_TEMPERATURE)
    )


@exact
def roughness_term(relative_roughness: float) -> float:
    """Part of the correlation that depends on the wall only. [-]"""
    return float((relative_roughness / 3.7) ** 1.11)


@exact
def _factor(reynolds: float, term: float) -> float:
    root = 1.8 / np.log(10.0) * np.log(term + 6.9 / max(reynolds, LEAST_REYNOLDS))
    return float(1.0 / (root * root))


@exact
def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy friction factor of a rough pipe.

    Parameters
    ----------
    reynolds : float
        Reynolds number on the hydraulic diameter; values below 2300 count as 2300. [-]
    relative_roughness : float
        Roughness over hydraulic diameter. [-]

    Returns
    -------
    float
        Darcy friction factor. [-]

    Notes
    -----
    ``1/sqrt(f) = -1.8 log10((e/3.7)**1.11 + 6.9/Re)``.

    References
    ----------
    S. E. Haaland, Simple and explicit formulas for the friction factor in turbulent pipe flow,
    J. Fluids Eng. 105 (1983), from memory.
    """
    return _factor(reynolds, roughness_term(relative_roughness))


@exact
def refresh_friction(w: Array, first: int, last: int, gas_fresh: float, gas_burned: float) -> None:
    """Set the friction of cells ``first`` to ``last - 1`` from their present flow."""
    for i in range(first, last):
        diameter = w[r.DIAMETER + i]
        if diameter > 0.0:
            gas = gas_fresh + (gas_burned - gas_fresh) * w[r.FRACTION + i]
            temperature = max(w[r.PRESSURE + i] * w[r.INV_DENSITY + i] / gas, 100.0)
            reynolds = abs(w[r.MOMENTUM + i]) * diameter / viscosity(temperature)
            factor = _factor(reynolds, w[r.ROUGHNESS + i])
            w[r.FRICTION + i] = 0.5 * factor / diameter
