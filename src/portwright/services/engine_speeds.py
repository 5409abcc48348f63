"""Crank speeds as people write them."""

from __future__ import annotations

import numpy as np

from portwright.errors import InputError, RangeError
from portwright.units import parse_number

_MOST = 60


def speeds(text: str) -> tuple[float, ...]:
    """Read "3500:7500:500" or "4000;5500;7000". [rev/min]

    Returns
    -------
    tuple of float
        Empty for empty text.

    Raises
    ------
    NumberError, InputError
        Not speeds, or too many.
    """
    if not text.strip():
        return ()
    if ":" in text:
        parts = [parse_number(p) for p in text.split(":")]
        if len(parts) != 3 or parts[2] <= 0.0 or parts[1] < parts[0]:
            raise InputError(f"'{text}' is not a range of speeds.", "Write it like 3500:7500:500.")
        found = np.arange(parts[0], parts[1] + 1e-6 * parts[2], parts[2])
    else:
        found = np.array([parse_number(p) for p in text.replace(",", ";").split(";")])
    if found.size > _MOST:
        raise InputError(f"{found.size} speeds are too many.", f"At most {_MOST}.")
    if np.any(found < 300.0) or np.any(found > 25000.0):
        raise RangeError("Crank speeds must be between 300 and 25 000 rpm.", "Check the speeds.")
    return tuple(float(v) for v in np.unique(found))
