"""What a choice of valve and seat gives: drawing, areas over lift, and what it costs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nicegui import ui

from portwright import units
from portwright.errors import Severity
from portwright.model.quantity import AsTyped
from portwright.services.display import Display
from portwright.services.seat_drawing import seat_drawing
from portwright.services.seat_plan import SeatPlan
from portwright.services.seat_sheet import chosen, side_by_side
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import heading, raw, table
from portwright.ui.state import View
from portwright.units import Kind


def seat_answer(
    plan: SeatPlan,
    name: str,
    lift: AsTyped | None,
    on_lift: Callable[[AsTyped], Outcome],
    view: View,
) -> None:
    """Show one alternative drawn and all of them side by side."""
    made, display = chosen(plan, name), view.display
    height = lift.si if lift is not None else 0.1 * made.valve.head_diameter
    with ui.element("section").classes("sheet"):
        heading(f"{name} to scale")
        raw(seat_drawing(plan, made, height, display), "figure").classes("drawing seat-section")
        ui.label(
            "Red: the smallest passage. Dashed grey: the valve shut. Dashed bronze: the seat as "
            "it is on record."
        ).classes("small soft")
        box = NumberEntry("Drawn at lift", Kind.LENGTH, display.length, on_lift)
        box.show(display.lift_text(height), display.length)
    with ui.element("section").classes("sheet"):
        heading("Area over lift")
        FlowChart(_spec(plan, display))
        ui.label(
            "Smallest geometric passage between seat, valve and throat; no chamber wall, no short "
            "side. The flow bench decides."
        ).classes("small soft")
    with ui.element("section").classes("sheet"):
        heading("Side by side")
        table(["", *(a.name for a in plan.alternatives)], side_by_side(plan, display))
        for refused, why in plan.refused.items():
            with ui.element("div").classes("notice ask"):
                ui.label(f"{refused} cannot be made").classes("kind")
                ui.label(why)
    _costs(plan)


def _spec(plan: SeatPlan, display: Display) -> dict[str, Any]:
    lifts = [units.from_si(float(v), display.length, Kind.LENGTH) for v in plan.lifts]
    series = [
        Series(
            f"{a.name}: {a.words}",
            lifts,
            [units.from_si(float(v), display.area, Kind.AREA) for v in a.area],
            tone=i,
            dash=i,
            points=False,
        )
        for i, a in enumerate(plan.alternatives)
    ]
    decimals = 3 if display.area == "in2" else 0
    return chart_spec(
        f"{plan.port} valve and seat",
        Axis("valve lift", display.length, 3 if display.length == "in" else 1),
        Axis("smallest passage", units.sign(display.area), decimals, minimum=0.0),
        series,
        summary=f"Smallest geometric passage of {plan.port} over lift for each alternative.",
    )


def _costs(plan: SeatPlan) -> None:
    said: dict[tuple[str, str, Severity], list[str]] = {}
    for a in plan.alternatives:
        for f in a.cautions:
            said.setdefault((f.message, f.hint, f.severity), []).append(a.name)
    with ui.element("section").classes("sheet"):
        heading("What it may cost")
        if not said:
            ui.label("Nothing stands out against the shop's figures.").classes("soft")
        for (message, hint, severity), names in said.items():
            look = "ask" if severity is Severity.WARNING else ""
            with ui.element("div").classes(f"notice {look}"):
                ui.label(", ".join(names)).classes("kind")
                ui.label(message)
                if hint:
                    ui.label(hint).classes("small")
