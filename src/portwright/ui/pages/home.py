"""Start: what is in work now, or how to begin."""

from __future__ import annotations

from nicegui import ui

from portwright.services import jobs
from portwright.ui import links
from portwright.ui.components.job_lines import job_lines
from portwright.ui.layout import heading, link_button, page_frame, screen
from portwright.ui.pages.first_run import first_steps, guide, steps
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_NEWEST = 5


@screen(links.HOME)
async def home() -> None:
    """Open jobs and the things done most."""
    shop = shop_file()
    everything = await in_thread(jobs.search, shop, jobs.Wanted())
    if not everything:
        with page_frame("Welcome"):
            first_steps()
        return
    benches = len(await in_thread(shop.benches))
    in_work = await in_thread(jobs.open_jobs, shop)
    with page_frame("Today"):
        with ui.element("div").classes("row-wrap"):
            link_button("Flow test", links.bench(), "main")
            link_button("Measure", links.measure())
            link_button("New job", links.NEW_JOB)
        if not any(line.runs for line in everything):
            guide(steps(everything, benches))
        if in_work:
            heading("In work")
            job_lines(in_work)
        heading("Newest jobs")
        known = {line.job.number for line in in_work}
        job_lines([line for line in everything if line.job.number not in known][:_NEWEST])
