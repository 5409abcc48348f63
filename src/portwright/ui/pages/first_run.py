"""An empty shop: what Portwright needs, and three ways to begin."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nicegui import ui

from portwright.services.demo import DEMO_JOB, fill_demo
from portwright.services.jobs import JobLine
from portwright.ui import links
from portwright.ui.errors import show_error
from portwright.ui.layout import button, heading, link_button
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


@dataclass(frozen=True, slots=True)
class Step:
    """One step to the first flow test."""

    title: str
    words: str
    address: str
    done: bool


def steps(lines: Sequence[JobLine], benches: int) -> list[Step]:
    """Way to the first flow test from what the shop file holds."""
    newest = lines[0].job.number if lines else ""
    return [
        Step(
            "Open a job",
            "Tag number, casting, how many ports. Under a minute.",
            links.NEW_JOB,
            done=bool(lines),
        ),
        Step(
            "Describe the bench",
            "How it shows flow, at which pressure, what is on the bore.",
            links.SHOP,
            done=benches > 0,
        ),
        Step(
            "First flow test",
            "Pick port and stage. Portwright calls the lift, you type what the bench shows.",
            links.bench(newest),
            done=any(line.runs for line in lines),
        ),
    ]


def first_steps() -> None:
    """What an empty shop shows instead of a list."""
    with ui.element("section").classes("sheet"):
        heading("Nothing is in this shop file yet")
        ui.label(
            "Portwright keeps every reading as you typed it, compares stages, and says when a "
            "difference is smaller than your bench can tell."
        )
    with ui.element("div").classes("columns"):
        guide(steps((), len(shop_file().benches())))
        with ui.element("section").classes("sheet"):
            heading("Look around first")
            ui.label(
                "A fictional shop with one V6 job from strip to delivery: 69 sweeps, "
                "measurements, two benches. All of it is invented."
            )
            _demo_button()


def guide(way: Sequence[Step]) -> None:
    """Steps to the first flow test, the next one as a button."""
    ahead = [step for step in way if not step.done]
    with ui.element("section").classes("sheet"):
        heading("Your first flow test")
        with ui.element("ol").classes("stack steps"):
            for place, step in enumerate(way):
                with ui.element("li"):
                    ui.link(f"{place + 1}. {step.title}", step.address).classes("strong")
                    if step.done:
                        ui.label("done").classes("tag good")
                    else:
                        ui.label(step.words).classes("small soft")
        if ahead:
            link_button(f"Next: {ahead[0].title.lower()}", ahead[0].address, "main")


def _demo_button() -> None:
    async def fill() -> None:
        made.disable()
        made.set_text("Filling in … about ten seconds")
        try:
            await in_thread(fill_demo, shop_file())
        except Exception as error:
            made.enable()
            made.set_text("Fill in the demo shop")
            show_error(error)
            return
        ui.navigate.to(links.job(DEMO_JOB))

    made = button("Fill in the demo shop", fill)
    ui.label("It goes into this shop file; begin your own shop in a new file.").classes(
        "small soft"
    )
