"""Marking a photo, and saving a copy of it that may be given away."""

from __future__ import annotations

from typing import Any

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.errors import PortwrightError
from portwright.services import photos
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.photo_marks import PhotoMarks
from portwright.ui.files import file_answer
from portwright.ui.layout import button, link_button, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread


@app.get(links.PHOTO_COPY, include_in_schema=False)
async def photo_copy(job: str, photo: int) -> Response:
    """A copy to give away: marks drawn in, nothing else that the camera wrote."""

    def made() -> bytes:
        shop = shop_file()
        return photos.shared_jpeg(shop, job, photos.photo_of(shop, job, photo))

    try:
        jpeg = await in_thread(made)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 404)
    return file_answer(jpeg, "image/jpeg", f"photo-{job}-{photo}.jpg", save=True)


@screen(links.PHOTO_MARKS)
async def marks_page(job: str, photo: int) -> None:
    """The photo large, its caption, and the way out."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("marks.css")}">')
    shop = shop_file()
    kept = await in_thread(photos.photo_of, shop, job, photo)
    known = photos.marked(await in_thread(shop.job, job), kept)
    plain = [{"kind": m.kind, **m.place(), "words": m.words} for m in known.marks]
    words = " · ".join(t for t in (kept.subject, kept.stage) if t) or "whole head"
    state: dict[str, Any] = {"marks": plain}
    with page_frame(f"Photo, {words}", "jobs"):
        with ui.element("div").classes("row-wrap"):
            link_button("Job", links.job(job), "quiet")
            link_button("Measure on this photo", links.trace(job, photo))
        with ui.element("section").classes("sheet"):

            def store() -> None:
                drawn = photos.read_marks(state["marks"])
                photos.keep_marks(shop, job, kept, drawn, caption.value)
                said.set_text("Saved; the photo itself stays as it was taken")

            def marked(marks: list[dict[str, Any]]) -> None:
                state["marks"] = marks
                store()

            PhotoMarks(f"{links.PHOTO}/{photo}", plain, marked)
            with ui.element("div").classes("fields"):
                caption = Field(
                    "Caption", known.caption or kept.caption, hint="printed in the report"
                )
            with ui.element("div").classes("row-wrap"):
                button("Save the caption", store)
                link_button("Save a copy to give away", links.photo_copy(job, photo), "main")
            said = ui.label().classes("strong small").props("role=status")
            ui.label("The copy carries no place, time or camera data.").classes("small soft")
