"""The job sheet: everything about a job that is not a reading, written any time."""

from __future__ import annotations

from nicegui import ui

from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Note
from portwright.services import head_facts as service
from portwright.services.jobs import today
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.head_facts import head_facts
from portwright.ui.layout import button, heading, link_button, page_frame, screen, table
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_FIELDS = {
    "customer": "Customer",
    "vehicle": "Car and use",
    "casting": "Casting number",
    "goal": "Goal",
    "opened": "Opened",
    "promised": "Promised",
    "delivered": "Delivered",
}
_DATES = {"opened", "promised", "delivered"}


@screen(links.JOB_SHEET)
async def job_sheet(number: str) -> None:
    """Fields, notes and ports of one job."""
    shop = shop_file()
    contents = await in_thread(shop.job, number)
    version = await in_thread(shop.job_version, number)
    subjects = await in_thread(service.subjects, shop, contents)
    locations = await in_thread(service.known_locations, shop)
    with page_frame(f"Job sheet {number}", "jobs"):
        link_button("Back to the job", links.job(number)).style("align-self: flex-start")
        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):
                _fields(contents, version)
                _facts(contents)
            with ui.element("div").classes("stack"):
                _notes(contents)
                head_facts(number, subjects, locations)
                _ports(contents)


def _fields(contents: JobContents, version: int) -> None:
    job = contents.job
    with ui.element("section").classes("sheet"):
        heading("Job")
        with ui.element("div").classes("fields"):
            boxes = {
                name: Field(title, getattr(job, name), hint="like 2026-03-20" * (name in _DATES))
                for name, title in _FIELDS.items()
            }

        def save() -> None:
            changes = {
                name: box.value.strip()
                for name, box in boxes.items()
                if box.value.strip() != getattr(job, name)
            }
            if changes:
                shop_file().update_job(job.number, changes, version)
            ui.navigate.to(links.job(job.number))

        button("Save", save, "main").style("align-self: flex-start")


def _facts(contents: JobContents) -> None:
    if not contents.job.facts:
        return
    with ui.element("section").classes("sheet"):
        heading("As on the sheet")
        table(("", ""), [(k.replace("_", " "), v) for k, v in contents.job.facts.items() if v])


def _notes(contents: JobContents) -> None:
    with ui.element("section").classes("sheet"):
        heading("Notes")
        for note in contents.notes:
            about = " ".join(t for t in (note.written_at[:10], note.subject, note.stage) if t)
            ui.label(f"{about}: {note.text}" if about else note.text).classes("small")
        stages = {"": "no stage"} | {s.code: s.code for s in contents.stages}
        words = Field("New note", kind="paragraph")
        stage = Field("At", kind="choice", options=stages)

        def add() -> None:
            text = words.value.strip()
            if text:
                shop_file().add_note(contents.job.number, Note(text, today(), stage=stage.value))
                ui.navigate.reload()

        button("Add the note", add).style("align-self: flex-start")


def _ports(contents: JobContents) -> None:
    with ui.element("section").classes("sheet"):
        heading("Ports")
        if contents.ports:
            ui.label(", ".join(port.code for port in contents.ports))
        with ui.element("div").classes("fields"):
            code = Field("Port", hint="like I1")
            side = Field("Side", kind="choice", options=[s.value for s in Side])
            valves = Field("Valves", "1", kind="choice", options=("1", "2", "3"))
        side.set(Side.INTAKE.value)

        def add() -> None:
            name = code.value.strip()
            if name:
                digits = "".join(c for c in name if c.isdigit())
                cylinder = int(digits) if digits else None
                port = Port(name, Side(side.value), "", cylinder, int(valves.value))
                shop_file().add_port(contents.job.number, port)
                ui.navigate.reload()

        button("Add the port", add).style("align-self: flex-start")
