"""Which outline stands for an opening: its sizes, or one traced on a photo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial

from nicegui import ui

from portwright.services.display import Display
from portwright.services.line_up import LineUp
from portwright.services.manifold_traces import OpeningTrace, trace_words
from portwright.ui.components.field import Field
from portwright.ui.layout import heading, link_button

_WAYS = {
    LineUp.MIDDLES.value: "middles, then offset and turn",
    LineUp.HOLES.value: "the two holes marked on each photo",
}
_NAMES = {"head": "Head's opening", "runner": "Manifold or pipe", "gasket": "Gasket"}


def choose_openings(
    offered: Sequence[OpeningTrace],
    chosen: dict[str, int],
    display: Display,
    choose: Callable[[str, str], None],
    photos: str,
    lies: str,
    lay: Callable[[str], None],
) -> None:
    """Offer the traces of a port for each part of the fit.

    Parameters
    ----------
    offered : sequence of OpeningTrace
    chosen : dict of str to int
        Trace by part; sizes count where there is none.
    display : Display
    choose : callable
        Hears part and number of the trace, "" for its sizes.
    photos : str
        Address where outlines are traced.
    lies : str
        What is laid on what.
    lay : callable
        Hears another way of it.
    """
    holes = {one.part for one in offered if one.holes == 2 and chosen.get(one.part) == one.id}
    with ui.element("section").classes("sheet"):
        heading("Openings traced on photos")
        if not offered:
            ui.label("None of this port yet: sizes are used.").classes("soft")
        else:
            with ui.element("div").classes("fields"):
                for part, name in _NAMES.items():
                    of = {
                        str(one.id): trace_words(one, display)
                        for one in offered
                        if one.part == part
                    }
                    Field(
                        name,
                        str(chosen.get(part, "")),
                        kind="choice",
                        options={"": "by its sizes"} | of,
                        on_change=partial(choose, part),
                    )
                if holes >= {"head", "runner"} or lies != LineUp.MIDDLES:
                    Field("Laid on one another", lies, kind="choice", options=_WAYS, on_change=lay)
            if not holes >= {"head", "runner"}:
                ui.label(
                    "Mark two dowel or bolt holes with each outline, and they are laid on one "
                    "another as the bolts do it; else by their middles, offset and turn."
                ).classes("small")
            ui.label(
                "Photos are taken upright, the deck below. A manifold or pipe is photographed from "
                "its own side; it is turned over here."
            ).classes("small soft")
        link_button("Trace an opening", photos, "quiet").style("align-self: flex-start")
