"""The curve of a sweep as it grows, over the band in which it would lie if nothing had changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from nicegui.element import Element

from portwright import units
from portwright.services.capture import OpenSweep
from portwright.services.display import Display
from portwright.services.earlier import Earlier, Point, Reference
from portwright.ui.components.flow_chart import Axis, Series, chart_spec
from portwright.units import Kind

_OVERLAID = 60  # earlier sweeps drawn at most


class LiveCurve(Element, component="live_curve.js"):
    """Curve of the sweep under way; draw the background once, then only what changes."""

    def __init__(self) -> None:
        super().__init__()
        empty = chart_spec("Flow", Axis("valve lift", "mm"), Axis("flow", "cfm"), [])
        self._props.update(base=empty, first={"series": [], "summary": ""})

    def background(self, spec: dict[str, Any]) -> None:
        """Draw earlier sweeps."""
        self._props["base"] = spec

    def current(self, now: dict[str, Any]) -> None:
        """Draw the sweep under way."""
        with self._props.suspend_updates():  # for a page that is drawn anew; sent below as a call
            self._props["first"] = now
        self.run_method("current", now)


def background_spec(sweep: OpenSweep, earlier: Earlier, display: Display) -> dict[str, Any]:
    """Earlier sweeps of this port and the band of the stage before."""
    before = earlier.reference(previous_stage=True)
    same = earlier.reference(previous_stage=False)
    series = []
    banded = before or same
    if banded is not None:
        series.append(_banded(banded, display))
    members = [*earlier.same, *(() if before is None else earlier.before)][-_OVERLAID:]
    for item in members:
        curve = earlier.shown_curve(item)
        if curve is not None:
            x = [units.from_si(float(v), display.length, Kind.LENGTH) for v in curve.lift]
            y = [units.from_si(earlier.flow(float(a)), display.flow, Kind.FLOW) for a in curve.area]
            series.append(Series(item.run.code, x, y, quiet=True, points=False))
    top = max((t.si for t in sweep.lifts.lifts), default=0.0)
    inch = display.length == "in"
    return chart_spec(
        f"{sweep.run.port} {sweep.run.stage}",
        Axis(
            "valve lift",
            display.length,
            3 if inch else 1,
            minimum=0.0,
            maximum=units.from_si(top, display.length, Kind.LENGTH),
        ),
        Axis(
            f"flow at {display.pressure_text(earlier.pressure)}",
            units.sign(display.flow),
            1,
            minimum=0.0,
        ),
        series,
    )


def _banded(reference: Reference, display: Display) -> Series:
    x = [units.from_si(float(v), display.length, Kind.LENGTH) for v in reference.lift]
    y = [units.from_si(float(v), display.flow, Kind.FLOW) for v in reference.flow]
    factor = [math.exp(float(h)) for h in reference.half]
    return Series(
        f"{reference.stage}, band: a sweep with nothing changed",
        x,
        y,
        [v / f for v, f in zip(y, factor, strict=True)],
        [v * f for v, f in zip(y, factor, strict=True)],
        tone=1,
        dash=1,
        points=False,
    )


def current_spec(sweep: OpenSweep, points: Sequence[Point], display: Display) -> dict[str, Any]:
    """The sweep under way."""
    ordered = sorted(points, key=lambda p: p.reading.lift.si)
    known = [p for p in ordered if math.isfinite(p.flow)]
    x = [units.from_si(p.reading.lift.si, display.length, Kind.LENGTH) for p in known]
    y = [units.from_si(p.flow, display.flow, Kind.FLOW) for p in known]
    name = f"{sweep.run.stage}, this sweep"
    series = [Series(name, x, y).props()] if known else []
    summary = f"Sweep under way, {len(known)} readings"
    if known:
        last = known[-1]
        summary += f", up to {display.lift_text(last.reading.lift.si)} {display.length}"
    return {"series": series, "summary": summary}
