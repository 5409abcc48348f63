"""Curves of a comparison, and what each gained over the first, with its 95 % band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from portwright import units
from portwright.services.compare import RunComparison, RunGroup
from portwright.services.display import Display
from portwright.ui.components.flow_chart import Axis, Series, chart_spec
from portwright.units import Kind


def _lift_axis(display: Display) -> Axis:
    return Axis("valve lift", display.length, 3 if display.length == "in" else 1, minimum=0.0)


def label(group: RunGroup, others: Sequence[RunGroup], read_on: str = "") -> str:
    """Name of a side, as long as it must be to tell it from the others.

    Parameters
    ----------
    read_on : str
        Bench it was translated to, "" where it is shown as read.
    """
    parts = [group.stage or "no stage"]
    if len({g.port for g in others}) > 1:
        parts.insert(0, group.port)
    if len({g.job for g in others}) > 1:
        parts.insert(0, group.job)
    if len({(g.job, g.port, g.stage) for g in others}) < len(others):
        parts.append(", ".join(group.runs[:2]))
    if len({g.bench for g in others}) > 1:
        parts.append(f"on {group.bench}" + (f", as {read_on} would read" if read_on else ""))
    return " ".join(parts)


def label_before(comparison: RunComparison, others: Sequence[RunGroup]) -> str:
    """Name of the first side as this comparison shows it."""
    read_on = comparison.after.bench if comparison.translated else ""
    return label(comparison.before, others, read_on)


def groups_of(comparisons: Sequence[RunComparison]) -> list[RunGroup]:
    """The first side, then each that was compared with it."""
    return [comparisons[0].before, *(c.after for c in comparisons)]


def footer(group: RunGroup) -> str:
    """Conditions in one line, printed under a picture."""
    return "; ".join(f"{name} {text}" for name, text in group.conditions.items())


def curves_spec(
    comparisons: Sequence[RunComparison], display: Display, summary: str
) -> dict[str, Any]:
    """Flow against lift of all sides.

    Parameters
    ----------
    comparisons : sequence of RunComparison
        All with the same first side.
    display : Display
    summary : str
    """

    def xy(comparison: RunComparison, side: str) -> tuple[list[float], list[float]]:
        rows = comparison.result.lifts
        x = [units.from_si(g.lift, display.length, Kind.LENGTH) for g in rows]
        y = [
            units.from_si(comparison.flow(getattr(g.gain, side)), display.flow, Kind.FLOW)
            for g in rows
        ]
        return x, y

    first = comparisons[0]
    groups = groups_of(comparisons)
    names = [label_before(first, groups), *(label(g, groups) for g in groups[1:])]
    series: list[Series] = []
    for name in dict.fromkeys(label_before(c, groups) for c in comparisons):
        alike = [c for c in comparisons if label_before(c, groups) == name]
        x, y = xy(max(alike, key=lambda c: len(c.result.lifts)), "before")
        series.append(Series(name, x, y, tone=1, dash=1 + len(series)))
    for place, (name, comparison) in enumerate(zip(names[1:], comparisons, strict=True)):
        x, y = xy(comparison, "after")
        series.append(Series(name, x, y, tone=0 if place == 0 else place + 1, dash=_dash(place)))
    return chart_spec(
        " and ".join((names[0], names[1])) if len(names) == 2 else f"{names[0]} and others",
        _lift_axis(display),
        Axis(
            f"flow at {display.pressure_text(first.pressure)}",
            units.sign(display.flow),
            1,
            minimum=0.0,
        ),
        series,
        summary=summary,
        footer=footer(first.after),
    )


def _dash(place: int) -> int:
    return 0 if place == 0 else place + 1


def gain_spec(
    comparisons: Sequence[RunComparison], display: Display, summary: str
) -> dict[str, Any]:
    """Gain of each side over the first by lift, in percent, with the 95 % band."""
    groups = groups_of(comparisons)
    names = [label(g, groups) for g in groups]
    first = label_before(comparisons[0], groups)
    series = []
    for place, (name, comparison) in enumerate(zip(names[1:], comparisons, strict=True)):
        rows = [g for g in comparison.result.lifts if math.isfinite(g.gain.gain)]
        series.append(
            Series(
                f"{name} over {label_before(comparison, groups)}, band: 95 %",
                [units.from_si(g.lift, display.length, Kind.LENGTH) for g in rows],
                [100.0 * g.gain.gain for g in rows],
                [100.0 * g.gain.low for g in rows],
                [100.0 * g.gain.high for g in rows],
                tone=0 if place == 0 else place + 1,
                dash=_dash(place),
            )
        )
    return chart_spec(
        f"Gain over {first}",
        _lift_axis(display),
        Axis("gain", "%", 1, minimum=0.0, maximum=0.0),
        series,
        summary=summary,
        footer=footer(comparisons[0].after),
    )
