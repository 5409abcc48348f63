"""Flow elements read through a calibration table, laminar elements among them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array, Number, as_array, unwrapped
from portwright.errors import Finding, RangeError, Severity, ShapeError


@dataclass(frozen=True, slots=True, eq=False)
class CalibrationTable:
    """Calibration of a flow element: what it reads against what flows.

    Parameters
    ----------
    reading : ndarray, shape (n,)
        Readings, strictly increasing, in the element's own unit. [-]
    flow : ndarray, shape (n,)
        Volume flow at each reading. [m3/s]

    Raises
    ------
    ShapeError
        Different lengths or fewer than two rows.
    RangeError
        Readings not increasing, or values that are not numbers.
    """

    reading: Array
    flow: Array

    def __post_init__(self) -> None:
        if self.reading.ndim != 1 or self.reading.shape != self.flow.shape:
            raise ShapeError("Reading and flow columns of a calibration have different lengths.")
        if self.reading.size < 2:
            raise ShapeError("A calibration table needs at least two rows.")
        if not (np.all(np.isfinite(self.reading)) and np.all(np.isfinite(self.flow))):
            raise RangeError("A calibration table has a gap.", "Fill it or take the row out.")
        if not np.all(np.diff(self.reading) > 0.0):
            raise RangeError("Readings of a calibration must increase from row to row.")


def table_flow(reading: Number, table: CalibrationTable) -> Array:
    """Read a flow element by its calibration table.

    Parameters
    ----------
    reading : float or ndarray
        Readings in the element's own unit. [-]
    table : CalibrationTable
        Its calibration.

    Returns
    -------
    ndarray
        Volume flow, in the air the table is stated for; NaN outside the table, which
        :func:`table_findings` reports. [m3/s]

    Notes
    -----
    Definition: straight lines between rows.  Nothing is extrapolated: beyond its last row a
    calibration says nothing.
    """
    flow = np.interp(as_array(reading), table.reading, table.flow, left=np.nan, right=np.nan)
    return unwrapped(np.asarray(flow, dtype=np.float64))


def plate_corrected(shown: Number, table: CalibrationTable) -> Array:
    """Correct a bench that shows flow by plates read on it.

    Parameters
    ----------
    shown : float or ndarray
        Volume flow shown. [m3/s]
    table : CalibrationTable
        Flow shown with each plate against the flow of the plate.

    Returns
    -------
    ndarray
        Volume flow. [m3/s]

    Notes
    -----
    Definition: the ratio of both is read between the plates by straight lines and held beyond the
    smallest and the largest, because a bench's own scale goes on there.
    """
    value = as_array(shown)
    ratio = np.interp(value, table.reading, table.flow / table.reading)
    return unwrapped(np.asarray(value * ratio, dtype=np.float64))


def table_findings(reading: Number, table: CalibrationTable) -> tuple[Finding, ...]:
    """Say which readings lie outside a calibration table.

    Parameters
    ----------
    reading : float or ndarray
        Readings in the element's own unit. [-]
    table : CalibrationTable
        Its calibration.

    Returns
    -------
    tuple of Finding
        One ``reading-outside-calibration`` when any does, else empty.

    Notes
    -----
    Definition: below the first or above the last row.
    """
    value = as_array(reading)
    outside = int(np.sum((value < table.reading[0]) | (value > table.reading[-1])))
    if not outside:
        return ()
    finding = Finding(
        code="reading-outside-calibration",
        severity=Severity.FAULT,
        message=f"{outside} reading(s) outside the calibration, which runs from "
        f"{table.reading[0]:.4g} to {table.reading[-1]:.4g}.",
        hint="No flow is given for them; extend the calibration or use another element.",
        size=float(outside),
    )
    return (finding,)


def viscosity_factor(calibration_viscosity: Number, meter_viscosity: Number) -> Array:
    """Correct a laminar flow element for air of another viscosity than in its calibration.

    Parameters
    ----------
    calibration_viscosity : float or ndarray
        Dynamic viscosity the table is stated for. [Pa s]
    meter_viscosity : float or ndarray
        Dynamic viscosity at the element. [Pa s]

    Returns
    -------
    ndarray
        Factor to multiply the table's volume flow by. [-]

    Notes
    -----
    Definition of laminar flow: drop is proportional to viscosity times volume flow, so at one
    reading ``Q = Q_cal mu_cal/mu``.
    """
    return as_array(calibration_viscosity) / as_array(meter_viscosity)
