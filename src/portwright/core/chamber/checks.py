"""What every number of a chamber must be before it is used."""

from __future__ import annotations

import math

from portwright.errors import RangeError

_LARGEST = 1e3  # no length, area or volume of an engine is larger in SI


def need_number(value: float, what: str) -> float:
    """Return a finite number of believable size, positive or negative.

    Parameters
    ----------
    value : float
        Any number in SI. [-]
    what : str
        Name for the message.

    Raises
    ------
    RangeError
        Not finite, or larger than anything on an engine.
    """
    if not math.isfinite(value) or abs(value) > _LARGEST:
        raise RangeError(f"The {what} of {value:.4g} cannot be.", "Check the number and its unit.")
    return float(value)


def need_size(value: float, what: str) -> float:
    """Return a number above zero.

    Parameters
    ----------
    value : float
        Any number in SI. [-]
    what : str
        Name for the message.

    Raises
    ------
    RangeError
        Zero, negative or not finite.
    """
    if need_number(value, what) <= 0.0:
        raise RangeError(
            f"The {what} must be larger than zero, not {value:.4g}.",
            "Measure it, or check the sign.",
        )
    return float(value)
