"""Photos of a job: upload, and small pictures that open large."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui
from nicegui.element import Element

from portwright.model.contents import JobContents
from portwright.services.photos import FLOW_SHEET
from portwright.ui import links
from portwright.ui.layout import heading, link_button
from portwright.ui.state import form_token, shop_file


class PhotoBox(Element, component="photos.js"):
    """Box that says what photos show and sends them to the job.

    Parameters
    ----------
    contents : JobContents
    on_stored : callable
        Called after photos were kept.
    subjects : sequence of sequence of str, optional
        What a photo may show, each with its words; if left out head, ports and a flow sheet.
    stage : str
        Stage offered first, the newest if left out.
    """

    def __init__(
        self,
        contents: JobContents,
        on_stored: Callable[[], object],
        *,
        subjects: Sequence[Sequence[str]] = (),
        stage: str = "",
    ) -> None:
        super().__init__()
        every = [
            ["", "the whole head"],
            *([p.code, p.code] for p in contents.ports),
            [FLOW_SHEET, "a flow sheet on paper"],
        ]
        self._props.update(
            address=links.PHOTO,
            job=contents.job.number,
            token=form_token(),
            subjects=[list(pair) for pair in subjects] or every,
            stages=[
                ["", "any stage"],
                *([s.code, f"{s.code} {s.note[:40]}"] for s in contents.stages),
            ],
            newest=stage or (contents.stages[-1].code if contents.stages else ""),
        )
        self.on("stored", on_stored)


def photos(contents: JobContents) -> None:
    """Photos of a job and a box to add more."""
    number = contents.job.number
    with ui.element("section").classes("sheet"):
        heading("Photos")

        @ui.refreshable
        def pictures() -> None:
            kept = [a for a in shop_file().attachments(number) if a.media_type.startswith("image/")]
            if not kept:
                ui.label("No photos yet. Take all faces before the first cut.").classes("soft")
            with ui.element("div").classes("pictures"):
                for photo in kept:
                    words = " ".join(w for w in (photo.subject, photo.stage) if w) or photo.name
                    address = f"{links.PHOTO}/{photo.id}?small=1"
                    with ui.link(target=links.photo_marks(number, photo.id)):
                        Element("img").props(f'src="{address}" loading=lazy decoding=async').props[
                            "alt"
                        ] = f"{words}: {photo.name}"
                        ui.label(words)

        pictures()
        PhotoBox(contents, pictures.refresh)
        link_button("Measure on a photo", links.trace(number)).style("align-self: flex-start")
