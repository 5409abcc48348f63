"""Photos of a job: upload, and small pictures that open large."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlencode

from nicegui import ui
from nicegui.element import Element

from portwright.model.contents import JobContents
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import heading
from portwright.ui.state import form_token, shop_file


class PhotoBox(Element, component="photos.js"):
    """Box that sends photos to the job, port and stage it was told."""

    def __init__(self, label: str, on_stored: Callable[[], object]) -> None:
        super().__init__()
        self._props.update(label=label, token=form_token(), address="")
        self.on("stored", on_stored)

    def aim(self, job: str, subject: str, stage: str) -> None:
        """Say what the next photos show."""
        parts = urlencode({"job": job, "subject": subject, "stage": stage})
        self._props["address"] = f"{links.PHOTO}?{parts}"


def photos(contents: JobContents) -> None:
    """Photos of a job and a box to add more."""
    number = contents.job.number
    stages = {"": "any stage"} | {s.code: f"{s.code} {s.note[:40]}" for s in contents.stages}
    ports = {"": "the whole head"} | {p.code: p.code for p in contents.ports}
    newest = contents.stages[-1].code if contents.stages else ""
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
                    address = f"{links.PHOTO}/{photo.id}"
                    with ui.link(target=address, new_tab=True):
                        Element("img").props(f'src="{address}" loading=lazy decoding=async').props[
                            "alt"
                        ] = f"{words}: {photo.name}"
                        ui.label(words)

        pictures()
        with ui.element("div").classes("fields"):
            subject = Field("Shows", kind="choice", options=ports, on_change=lambda _: aim())
            stage = Field("At", newest, kind="choice", options=stages, on_change=lambda _: aim())
            box = PhotoBox("Add photos", pictures.refresh)

        def aim() -> None:
            box.aim(number, subject.value, stage.value)

        aim()
