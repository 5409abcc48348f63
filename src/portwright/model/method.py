"""Reduction methods: how raw readings become effective area, chosen and versioned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReductionMethod:
    """One versioned recipe; a stored result always names the one it used.

    Parameters
    ----------
    name : str
        Stable name with its version ("standard-1").
    pressure_law : str
        "compressible" or "square-root", used when a flow is moved to another test pressure.
    leak : str
        "as-uncertainty" or "subtract".
    meter_air : str
        "same-air" when head and meter see the same air, "measured" when both temperatures count,
        "viscosity" when the meter is a laminar element whose table holds for reference air.
    about : str
        What it does, in one sentence.
    """

    name: str
    pressure_law: str
    leak: str
    meter_air: str
    about: str


METHODS = (
    ReductionMethod(
        "standard-1",
        pressure_law="compressible",
        leak="as-uncertainty",
        meter_air="same-air",
        about="Readings as shown, less a gauge's zero where noted; leak counted as uncertainty; "
        "pressure moved compressibly.",
    ),
    ReductionMethod(
        "leak-subtracted-1",
        pressure_law="compressible",
        leak="subtract",
        meter_air="same-air",
        about="As standard-1, with the recorded leak taken off every reading.",
    ),
    ReductionMethod(
        "square-root-1",
        pressure_law="square-root",
        leak="as-uncertainty",
        meter_air="same-air",
        about="As standard-1, with flow moved between pressures by the plain square root.",
    ),
    ReductionMethod(
        "two-temperatures-1",
        pressure_law="compressible",
        leak="as-uncertainty",
        meter_air="measured",
        about="As standard-1, corrected for different air temperature at head and meter.",
    ),
    ReductionMethod(
        "laminar-element-1",
        pressure_law="compressible",
        leak="as-uncertainty",
        meter_air="viscosity",
        about="As standard-1, the table of a flow element corrected as a laminar one for the "
        "viscosity of its air.",
    ),
)
