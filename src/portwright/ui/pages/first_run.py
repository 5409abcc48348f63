"""An empty shop: what Portwright needs, and three ways to begin."""

from __future__ import annotations

from nicegui import ui

from portwright.services.demo import DEMO_JOB, fill_demo
from portwright.ui import links
from portwright.ui.errors import show_error
from portwright.ui.layout import button, heading, link_button
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_STEPS = (
    ("Open a job", "Tag number, casting, how many ports. Under a minute.", links.NEW_JOB),
    (
        "Describe the bench",
        "How it shows flow, at which pressure, what is on the bore.",
        links.SHOP,
    ),
    (
        "First flow test",
        "Pick job, port and stage. Portwright calls the lift, you type what the bench shows.",
        links.bench(),
    ),
)


def first_steps() -> None:
    """What an empty shop shows instead of a list."""
    with ui.element("section").classes("sheet"):
        heading("Nothing is in this shop file yet")
        ui.label(
            "Portwright keeps every reading as you typed it, compares stages, and says when a "
            "difference is smaller than your bench can tell."
        )
    with ui.element("div").classes("columns"):
        with ui.element("section").classes("sheet"):
            heading("Your first flow test")
            with ui.element("ol").classes("stack steps"):
                for place, (title, words, address) in enumerate(_STEPS):
                    with ui.element("li"):
                        ui.link(f"{place + 1}. {title}", address).classes("strong")
                        ui.label(words).classes("small soft")
            link_button("Open the first job", links.NEW_JOB, "main")
        with ui.element("section").classes("sheet"):
            heading("Look around first")
            ui.label(
                "A fictional shop with one V6 job from strip to delivery: 69 sweeps, "
                "measurements, two benches. All of it is invented."
            )
            _demo_button()


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
