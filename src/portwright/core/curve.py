"""One sweep of a port as arrays: what every comparison and check works on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from portwright.errors import RangeError, ShapeError

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class FlowCurve:
    """Effective area of one port against valve lift, from one sweep on one bench.

    Parameters
    ----------
    lift : ndarray, shape (n,)
        Valve lift, strictly increasing, above zero. [m]
    area : ndarray, shape (n,)
        Effective area, above zero. [m2]
    resolution : ndarray, shape (n,)
        Standard uncertainty from the last digit of the reading, relative. [-]
    scatter : ndarray, shape (n,)
        Scatter seen while the reading was taken (half width), relative; NaN where not noted. [-]
    leak : ndarray, shape (n,)
        Leak found with the port blanked, as effective area; NaN where not noted. [m2]
    range_number : ndarray of int, shape (n,)
        Meter range in use, 0 where the bench has none. [-]

    Raises
    ------
    ShapeError
        Arrays of different length, or fewer than two lifts.
    RangeError
        Lift not increasing or not positive, area not positive or not finite.
    """

    lift: Array
    area: Array
    resolution: Array
    scatter: Array
    leak: Array
    range_number: NDArray[np.int64]

    def __post_init__(self) -> None:
        n = self.lift.size
        sizes = {a.shape for a in (self.area, self.resolution, self.scatter, self.leak)}
        if sizes != {(n,)} or self.range_number.shape != (n,):
            raise ShapeError("Lift and flow columns of a sweep have different lengths.")
        if n < 2:
            raise ShapeError(f"A sweep needs at least two lifts, this one has {n}.")
        if not (np.all(self.lift > 0.0) and np.all(np.diff(self.lift) > 0.0)):
            raise RangeError("Lifts of a sweep must be above zero and increase.")
        if not (np.all(np.isfinite(self.area)) and np.all(self.area > 0.0)):
            raise RangeError("Effective areas of a sweep must be above zero.")

    def log_slope(self) -> Array:
        """Relative change of area per unit lift, d(ln A)/dL, at each lift. [1/m]

        A shape-preserving cubic through the points and the origin: close to the seat the area
        is proportional to lift, so the origin belongs to the curve.
        """
        curve = PchipInterpolator(np.append(0.0, self.lift), np.append(0.0, self.area))
        slope: Array = curve.derivative()(self.lift) / self.area
        return slope

    def at(self, lift: Array) -> Array:
        """Effective area at other lifts inside the swept range, NaN outside. [m2]"""
        curve = PchipInterpolator(
            np.append(0.0, self.lift), np.append(0.0, self.area), extrapolate=False
        )
        inside = (lift >= self.lift[0] - 1e-9) & (lift <= self.lift[-1] + 1e-9)
        clipped = np.clip(lift, self.lift[0], self.lift[-1])
        return np.where(inside, curve(clipped), np.nan)


def make_curve(
    lift: Array,
    area: Array,
    *,
    resolution: Array | float = 0.0,
    scatter: Array | float = float("nan"),
    leak: Array | float = float("nan"),
    range_number: NDArray[np.int64] | int = 0,
) -> FlowCurve:
    """Build a :class:`FlowCurve`, spreading single values over all lifts.

    Parameters as in :class:`FlowCurve`; scalars apply to every lift.
    """
    lift = np.asarray(lift, dtype=np.float64)
    shape = lift.shape

    def spread(value: Array | float) -> Array:
        array = np.asarray(value, dtype=np.float64)
        return np.broadcast_to(array, shape).copy() if array.ndim == 0 else array

    ranges = np.asarray(range_number, dtype=np.int64)
    return FlowCurve(
        lift=lift,
        area=np.asarray(area, dtype=np.float64),
        resolution=spread(resolution),
        scatter=spread(scatter),
        leak=spread(leak),
        range_number=np.broadcast_to(ranges, shape).copy() if ranges.ndim == 0 else ranges,
    )
