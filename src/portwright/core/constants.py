"""Physical constants and the array type shared by the physics, each with where it came from.

Labels: *definition* needs no source; *seen* was read in the named place; *seen second hand* was
read in several transcriptions of the named place; *from memory* has not been re-read.
"""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
"""Result of every physics function; a float64 scalar when all arguments were scalars."""

Number: TypeAlias = float | Array
"""What every physics function accepts; arrays of different shape are broadcast."""

MOLAR_GAS_CONSTANT = 8.314472
"""CODATA 2006 value kept by CIPM-2007 (seen second hand). [J/(mol K)]"""

MOLAR_MASS_WATER = 18.01528e-3
"""CIPM-2007 (seen second hand). [kg/mol]"""

MOLAR_MASS_DRY_AIR = 28.96546e-3
"""CIPM-2007, dry air with 400 ppm of carbon dioxide (seen second hand). [kg/mol]"""

GAS_CONSTANT_AIR = MOLAR_GAS_CONSTANT / MOLAR_MASS_DRY_AIR
"""Specific gas constant of dry air, definition from the two above. [J/(kg K)]"""

HEAT_CAPACITY_RATIO_AIR = 1.4
"""Ratio of specific heats of a diatomic ideal gas, definition; real air at 20 degC is 1.402. [-]"""

STANDARD_PRESSURE = 101325.0
"""Standard atmosphere, definition. [Pa]"""

ZERO_CELSIUS = 273.15
"""Definition. [K]"""

JET_CONTRACTION_ZERO_BETA = 0.5961
"""Orifice coefficient for a hole small against the pipe and no viscosity: ISO 5167-2
Reader-Harris/Gallagher equation with diameter ratio 0 (seen). [-]"""

JET_CONTRACTION_SLOT = math.pi / (math.pi + 2.0)
"""Free-streamline contraction of a two-dimensional slot, 0.6110 (definition of the ideal case;
attributed to Kirchhoff from memory). [-]"""


def as_array(value: Number) -> Array:
    """Return a float or array as float64 array.

    Parameters
    ----------
    value : float or ndarray
        Any real number or array of them. [-]

    Returns
    -------
    ndarray
        The same numbers, shape kept. [-]

    Notes
    -----
    Definition; arithmetic on the result gives a float64 scalar again for scalar input.
    """
    return np.asarray(value, dtype=np.float64)


def unwrapped(value: Array) -> Array:
    """Return a zero-dimensional array as float64 scalar and every other array as it is.

    Parameters
    ----------
    value : ndarray
        Result of an operation that keeps scalars wrapped (``where``, ``full_like``). [-]

    Returns
    -------
    ndarray or float64
        The same numbers. [-]

    Notes
    -----
    Definition; keeps "floats in, float64 out" true for every function.
    """
    plain: Array = value[()]
    return plain
