"""Valve angle and port location of a casting or of one head, with a form to write them."""

from __future__ import annotations

from collections.abc import Sequence

from nicegui import ui

from portwright.model.head import Side
from portwright.services import head_facts as service
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file


def head_facts(job: str, subjects: Sequence[service.Subject], locations: Sequence[str]) -> None:
    """What is known, and boxes to change it; for every job of a casting, or one head alone.

    Parameters
    ----------
    job : str
    subjects : sequence of Subject
        Castings and heads of the job.
    locations : sequence of str
        Port locations to suggest.
    """
    by_name = {subject.name: subject for subject in subjects}
    with ui.element("section").classes("sheet"):
        heading("Valve angle and port location")
        ui.label(
            "Heads are ranked among others of their kind by these. The angle is that of the stem "
            "from the bore axis. What a head leaves empty goes by its casting."
        ).classes("small soft")

        def fill(name: str) -> None:
            for side in Side:
                said = service.of_side(by_name[name].thing, side)
                angles[side].set(str(said.valve_angle or ""))
                places[side].set(said.port_location)

        of = Field(
            "Of",
            next(iter(by_name)),
            kind="choice",
            options=list(by_name),
            on_change=fill,
        )
        with ui.element("div").classes("fields"):
            angles = {
                s: Field(f"{s.value.capitalize()} valve angle", hint="like 12 deg") for s in Side
            }
            places = {
                s: Field(
                    f"{s.value.capitalize()} port location",
                    options=locations,
                    hint="like down draft, or your own words",
                )
                for s in Side
            }

        fill(of.value)

        def save() -> None:
            service.write(
                shop_file(),
                job,
                by_name[of.value],
                {s: box.value for s, box in angles.items()},
                {s: box.value for s, box in places.items()},
            )
            ui.navigate.reload()

        button("Save valve angle and port location", save).style("align-self: flex-start")
