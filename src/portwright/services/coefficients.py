"""Discharge coefficients of both sides of a comparison, each named by the area it refers to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.constants import Array
from portwright.core.discharge import (
    DischargeCoefficients,
    discharge_coefficients,
    flow_per_valve_area,
)
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.valve import lift_over_diameter
from portwright.services.compare import RunComparison, RunGroup
from portwright.services.display import Display
from portwright.services.valves import assumed, valve_at


@dataclass(frozen=True, slots=True, eq=False)
class CoefficientTable:
    """Coefficients of one side, by lift.

    Parameters
    ----------
    label : str
        How people call the side: "I1 S0".
    valve_diameter : float
        [m]
    assumed : tuple of str
        Sizes of the valve that were assumed, not measured.
    lift, lift_over_diameter : ndarray, shape (n,)
        [m], [-]
    on : DischargeCoefficients
    flow_per_valve_area : ndarray, shape (n,)
        At the pressure of the comparison. [m/s]
    """

    label: str
    valve_diameter: float
    assumed: tuple[str, ...]
    lift: Array
    lift_over_diameter: Array
    on: DischargeCoefficients
    flow_per_valve_area: Array


def coefficient_tables(
    archive: Archive, comparison: RunComparison
) -> tuple[CoefficientTable | None, CoefficientTable | None]:
    """Tables of the earlier and the later side; None where the valve head was not measured."""
    lifts = comparison.result.lifts
    lift = np.array([at.lift for at in lifts])
    sides = (
        (comparison.before, [at.gain.before for at in lifts]),
        (comparison.after, [at.gain.after for at in lifts]),
    )
    velocity = float(jet_velocity(REFERENCE_DENSITY, comparison.pressure))
    before, after = (_table(archive, group, lift, np.array(a), velocity) for group, a in sides)
    return before, after


def _table(
    archive: Archive, group: RunGroup, lift: Array, area: Array, velocity: float
) -> CoefficientTable | None:
    contents = archive.job(group.job)
    shape = valve_at(contents, group.port, group.stage)
    if shape is None:
        return None
    return CoefficientTable(
        group.label,
        shape.head_diameter,
        tuple(assumed(contents, group.port, group.stage)),
        lift,
        lift_over_diameter(lift, shape.head_diameter),
        discharge_coefficients(area, lift, shape),
        flow_per_valve_area(area * velocity, shape),
    )


def coefficient_headings(display: Display) -> tuple[str, ...]:
    """Headings of :func:`coefficient_rows`."""
    return (
        f"Lift [{display.length}]",
        "Lift / valve diameter",
        "On the curtain",
        "On the valve disc",
        "On the net throat",
        "On the smallest area",
        f"{display.per_valve_area} of valve",
    )


def coefficient_rows(found: CoefficientTable, display: Display) -> list[tuple[str, ...]]:
    """One row a lift, ready to be read."""
    on = found.on
    return [
        (
            display.lift_text(float(found.lift[i])),
            f"{found.lift_over_diameter[i]:.3f}",
            f"{on.curtain[i]:.2f}",
            f"{on.valve_disc[i]:.2f}",
            f"{on.net_throat[i]:.2f}",
            f"{on.minimum_area[i]:.2f}",
            display.per_valve_area_text(float(found.flow_per_valve_area[i])),
        )
        for i in range(found.lift.size)
    ]


def coefficient_note(found: CoefficientTable) -> str:
    """What the coefficients rest on."""
    if not found.assumed:
        return "Every size of the valve was measured."
    return f"Assumed, not measured: {', '.join(found.assumed)}."
