"""A new job in under a minute: the tag, the casting, the ports."""

from __future__ import annotations

from nicegui import ui

from portwright.errors import InputError
from portwright.services import jobs as service
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, page_frame, screen
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

# One primary goal, because a head cannot be best at all three (common practice).
_GOALS = {
    "": "not decided",
    "peak power": "peak power",
    "area under the curve in the used band": "area under the curve in the used band",
    "pass the class rules": "pass the class rules",
}


def _whole(text: str, what: str) -> int:
    if not text.strip().isdigit():
        raise InputError(f"{what} must be a whole number, not '{text.strip()}'.", "Type 4, say.")
    return int(text)


@screen(links.NEW_JOB)
async def new_job() -> None:
    """Few fields; the rest can be written on the job any time."""
    shop = shop_file()
    suggested = await in_thread(service.suggest_number, shop)
    castings = await in_thread(service.castings, shop)
    with page_frame("New job", "jobs"), ui.element("section").classes("sheet"):
        with ui.element("div").classes("fields"):
            number = Field("Job number", suggested, hint="as on the tag")
            casting = Field("Casting number", options=castings)
            customer = Field("Customer")
            vehicle = Field("Car and use")
            goal = Field("One goal", kind="choice", options=_GOALS)
        heading("Ports")
        with ui.element("div").classes("fields"):
            heads = Field("Heads", "1", kind="choice", options=("1", "2", "3", "4"))
            ports = Field("Intake ports in all", "4", hint="as many exhaust ports are added")
            valves = Field("Valves per port", "1", kind="choice", options=("1", "2", "3"))

        def save() -> None:
            made = service.new_job(
                shop,
                service.NewJob(
                    number.value,
                    customer.value,
                    vehicle.value,
                    casting.value,
                    goal.value,
                    _whole(heads.value, "Heads"),
                    _whole(ports.value, "Intake ports"),
                    _whole(valves.value, "Valves per port"),
                ),
            )
            ui.navigate.to(links.job(made))

        button("Open the job", save, "main").style("align-self: flex-start")
