"""From the numbers in a picture to the light they stand for, and back."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from portwright.core.constants import Array


def linear_light(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Light that the values of an sRGB picture stand for.

    Parameters
    ----------
    picture : ndarray of uint8
        Values from 0 to 255. [-]

    Returns
    -------
    ndarray of float32
        Share of full light, the same shape; IEC 61966-2-1, from memory. [-]

    Notes
    -----
    A lens blurs light.  Smoothing or halving the encoded values instead moves an edge towards its
    bright side.
    """
    value = np.arange(256) / 255.0
    light = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    found: NDArray[np.float32] = light.astype(np.float32)[picture]
    return found


def encoded(light: Array) -> Array:
    """Inverse of :func:`linear_light`, between 0 and 1.

    Parameters
    ----------
    light : ndarray
        Share of full light. [-]
    """
    value: Array = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.maximum(light, 0.0) ** (1.0 / 2.4) - 0.055
    )
    return value
