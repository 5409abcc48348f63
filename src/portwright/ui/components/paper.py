"""A scanned or photographed sheet, large enough to read, to lie beside its rows."""

from __future__ import annotations

from nicegui import ui
from nicegui.element import Element

from portwright.model.contents import JobContents
from portwright.services.photos import FLOW_SHEET, KeptPhoto, photos_of
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.photos import PhotoBox
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file

_WIDTHS = (100, 150, 220, 320)  # of the space there is. [%]


def paper(contents: JobContents, stage: str) -> None:
    """The sheet on paper with larger and smaller, and a box to add it.

    Parameters
    ----------
    contents : JobContents
    stage : str
        Stage a new scan belongs to.
    """
    number = contents.job.number
    with ui.element("section").classes("sheet paper-place"):
        heading("The paper")

        @ui.refreshable
        def picture(chosen: str = "") -> None:
            kept = photos_of(shop_file(), number)
            sheets = [a for a in kept if a.subject == FLOW_SHEET]
            shown = next((a for a in kept if str(a.id) == chosen), None)
            shown = sheets[-1] if shown is None and sheets else shown
            rest = [a for a in kept if a not in sheets]
            if kept and (len(kept) > 1 or shown is None):
                Field(
                    "Picture",
                    str(shown.id) if shown else "",
                    kind="choice",
                    options=({} if shown else {"": "choose one"})
                    | {str(a.id): _named(a) for a in [*sheets, *rest]},
                    on_change=picture.refresh,
                )
            if shown is None:
                ui.label("Photograph or scan the sheet; it is kept with the job.").classes("soft")
            else:
                _large(shown)

        picture()
        there = any(a.subject == FLOW_SHEET for a in photos_of(shop_file(), number))
        with ui.element("details").classes("more").props("" if there else "open"):
            with ui.element("summary"):
                ui.label("Add a scan or photo")
            PhotoBox(
                contents,
                lambda: picture.refresh(""),
                subjects=[[FLOW_SHEET, "the flow sheet"]],
                stage=stage,
            )


def _named(photo: KeptPhoto) -> str:
    return " ".join(w for w in (photo.subject, photo.stage, photo.caption or photo.name) if w)


def _large(photo: KeptPhoto) -> None:
    width = 0
    words = f"Scan of the sheet: {photo.caption or photo.name}"
    with (
        ui.element("div").classes("paper").props("tabindex=0 role=region") as frame,
        Element("img").props(f'src="{links.PHOTO}/{photo.id}" decoding=async') as picture,
    ):
        pass
    frame.props["aria-label"] = "The paper, to be moved with the arrow keys"
    picture.props["alt"] = words

    def turn(step: int) -> None:
        nonlocal width
        width = min(max(width + step, 0), len(_WIDTHS) - 1)
        picture.style(f"width: {_WIDTHS[width]}%")

    with ui.element("div").classes("row-wrap"):
        button("Larger", lambda: turn(1))
        button("Smaller", lambda: turn(-1))
