"""The shop's own minima and ranges, each with where it comes from."""

from __future__ import annotations

from nicegui import ui

from portwright.model.quantity import AsTyped
from portwright.services.shop_figures import OWN, Figure, figures_of, set_figure, shipped
from portwright.ui import links
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import button, heading, page_frame, screen
from portwright.ui.state import shop_file
from portwright.units import Kind

_GROUPS = {
    "seat": "Valve and seat",
    "clearance": "Clearances and springs",
    "manifold": "Manifold fit",
    "inspection": "Inspection",
    "copies": "Copies of a port: how far a copy may be off",
}


@screen(links.FIGURES)
def figures_page() -> None:
    """One box for each figure; nothing here is a hard limit."""
    with page_frame("The shop's figures", "shop"):
        ui.label(
            "Work is held against these. None is a law: change any, and the figure counts as the "
            "shop's own from then on. What a maker or a rule book says comes first."
        )
        figures = figures_of(shop_file())
        with ui.element("div").classes("columns"):
            for group, title in _GROUPS.items():
                with ui.element("section").classes("sheet"):
                    heading(title)
                    for figure in figures.values():
                        if figure.group == group:
                            _box(figure)


def _hint(figure: Figure) -> str:
    return f"{figure.tag}. {figure.meaning}".strip()


def _box(figure: Figure) -> None:
    name, unit = figure.name, figure.value.unit

    def shown(value: Figure, say: str, state: str) -> None:
        reset.set_visibility(value.tag == OWN)
        box.show(value.value.text, value.value.unit, say, state, hint=_hint(value))

    def committed(value: AsTyped) -> Outcome:
        kept = set_figure(shop_file(), name, value)[name]
        shown(kept, "Kept as the shop's own", "saved")
        return Outcome(kept.value.text, "Kept as the shop's own")

    def back() -> None:
        shown(set_figure(shop_file(), name, None)[name], "As it came", "saved")
        box.focus()  # the button is gone

    label = figure.words[0].upper() + figure.words[1:]
    box = NumberEntry(
        label,
        Kind(figure.kind),
        unit,
        committed,
        value=figure.value.text,
        hint=_hint(figure),
    )
    reset = button(f"As it came: {shipped()[name].text}", back, "quiet")
    reset.style("align-self: flex-start").set_visibility(figure.tag == OWN)
