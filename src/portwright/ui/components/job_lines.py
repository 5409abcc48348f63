"""Jobs as a list of links."""

from __future__ import annotations

from collections.abc import Iterable

from nicegui import ui

from portwright.services.jobs import JobLine, year_of
from portwright.ui import links


def job_lines(lines: Iterable[JobLine]) -> None:
    """One line per job: number, what it is, when."""
    with ui.element("ul").classes("stack"):
        for line in lines:
            with ui.element("li"):
                _line(line)


def _line(line: JobLine) -> None:
    job = line.job
    what = " · ".join(t for t in (job.customer, job.vehicle or job.facts.get("architecture")) if t)
    state = "delivered" if job.delivered else ""
    past = bool(state) or len(job.opened) < len("2026-01-01")  # old records name only a year
    with ui.link(target=links.job(job.number)).classes(f"line {'done' if past else ''}"):
        with ui.element("div"):
            ui.label(job.number).classes("strong")
            ui.label(what or "no customer noted").classes("small soft")
        with ui.element("div").style("text-align: right"):
            ui.label(job.casting or "no casting noted").classes("strong small")
            runs = f"{line.runs} runs" if line.runs else "no runs"
            when = f"{year_of(job) or 'no date'}{', ' + state if state else ''}"
            ui.label(f"{when} · {runs}").classes("small soft")
