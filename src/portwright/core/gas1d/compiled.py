"""How the numerical kernels are compiled.

``vector`` is for loops over cells: reordering and fused multiply-add are allowed, and so is
assuming finite numbers, because bad states are tested for outside these loops.  ``exact`` keeps
ordinary arithmetic.  Both use NumPy's rules for division by zero (tests for zero would stop the
vector instructions) and keep the compiled code on disk.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

from portwright.core.gas1d.stale import clear_stale

clear_stale(Path(__file__).parent)  # before anything of this package is compiled or loaded

F = TypeVar("F", bound=Callable[..., Any])

_ALLOCATING: dict[str, Any] = {"error_model": "numpy", "cache": True, "nogil": True}
_COMMON: dict[str, Any] = {**_ALLOCATING, "_nrt": False}  # no counting of references
_RELAXED = {"contract", "reassoc", "nsz", "arcp", "nnan", "ninf"}


def vector(function: F) -> F:
    """Compile a loop over cells."""
    make = numba.njit(fastmath=_RELAXED, **_COMMON)
    return cast("F", make(function))


def inlined(function: F) -> F:
    """Compile a piece of such a loop."""
    make = numba.njit(error_model="numpy", fastmath=_RELAXED, cache=True, inline="always")
    return cast("F", make(function))


def exact(function: F) -> F:
    """Compile with ordinary floating-point rules."""
    return cast("F", numba.njit(**_COMMON)(function))


def allocating(function: F) -> F:
    """Compile as :func:`exact`, for functions that make arrays of their own."""
    return cast("F", numba.njit(**_ALLOCATING)(function))
