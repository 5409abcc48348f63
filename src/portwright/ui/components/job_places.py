"""Where one can go from a job: usual places as buttons, the others by the question they answer."""

from __future__ import annotations

from nicegui import ui

from portwright.model.job import Job
from portwright.ui import links
from portwright.ui.layout import heading, link_button
from portwright.ui.pages.mill import address as mill_address

Place = tuple[str, str]
"""Words on the button, and the address."""


def _usual(number: str) -> tuple[Place, ...]:
    return (
        ("Measure", links.measure(number)),
        ("Compare", links.compare(number)),
        ("Engine", links.engine(number)),
        ("Job card", links.card(number)),
    )


def _others(job: Job) -> dict[str, tuple[Place, ...]]:
    """Groups in the order the work is done."""
    number = job.number
    groups: dict[str, tuple[Place, ...]] = {
        "How good is it": (
            ("Rank in its class", links.rank(number)),
            ("Which cut did what", links.cuts(number)),
            ("Read on another bench", links.translate(number)),
            ("Another shop's sheet", links.claims(number)),
        ),
        "The port": (
            ("Area, air and wall", links.port(number)),
            ("Outline on a photo", links.trace(number)),
            ("Scan", links.scan(number)),
        ),
        "Valve, chamber, deck": (
            ("Valve and seat", links.seat(number)),
            ("Room for valves", links.room(number)),
            ("Mill the deck", mill_address(number)),
            ("Manifold fit", links.manifold(number)),
            ("Springs and clearances", links.springs(number)),
        ),
        "Records": (
            ("Inspection", links.inspection(number)),
            ("Job sheet", links.job_sheet(number)),
            ("Read a sheet", links.sheets(number)),
            ("Old sheet, row by row", links.review(number)),
        ),
    }
    if job.casting:
        groups["Records"] += (("Same casting", links.jobs(job.casting)),)
    return groups


def job_places(job: Job) -> None:
    """Buttons of the job page."""
    with ui.element("div").classes("row-wrap"):
        link_button("Flow test", links.bench(job.number), "main")
        for words, address in _usual(job.number):
            link_button(words, address)
        link_button("Report", links.report(job.number)).props("target=_blank")
        link_button("Papers", links.papers(job.number))
    with ui.element("details").classes("more"):
        with ui.element("summary"):
            ui.label("More on this job")
        with ui.element("div").classes("fields"):
            for question, places in _others(job).items():
                with ui.element("div").classes("stack"):
                    heading(question, 3)
                    for words, address in places:
                        link_button(words, address)
