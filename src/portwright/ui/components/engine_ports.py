"""Cylinder against cylinder on this engine, worked out when asked for."""

from __future__ import annotations

from nicegui import ui

from portwright.services.engine_spread import Spread, port_spread
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.errors import show_finding
from portwright.ui.format import signed_percent
from portwright.ui.layout import button, heading, table
from portwright.ui.state import shop_file


def engine_ports(number: str, stage: str) -> None:
    """A button, and after it what differences between ports mean in torque.

    Parameters
    ----------
    number : str
        Job.
    stage : str
    """
    with ui.element("section").classes("sheet"):
        heading(f"Cylinder against cylinder at {stage}")
        ui.label("What the differences between the intake ports mean in torque.")

        def begin() -> None:
            place.clear()
            with place:
                _work(number, stage)

        button("Run every port", begin).style("align-self: flex-start")
        place = ui.element("div").classes("stack")


def _work(number: str, stage: str) -> None:
    shop = shop_file()

    def work(say: Told) -> Spread:
        def progress(done: int, total: int) -> bool:
            say(f"Ran {done} of {total}")
            return True

        return port_spread(shop, number, stage=stage, progress=progress)

    SlowWork(f"engine ports {shop.path} {number} {stage}", work, _show)


def _show(found: Spread) -> None:
    worst = int(found.spread.argmax())
    ui.label(
        f"Largest less smallest: {100.0 * found.spread[worst]:.1f} % of torque at "
        f"{found.speed[worst]:.0f} rpm."
    ).classes("strong")
    headings = ["port", *(f"{n:.0f} rpm" for n in found.speed), "sweeps leave open"]
    rows = [
        [p.port, *(signed_percent(float(d)) for d in p.deviation), f"±{100.0 * p.doubt:.1f} %"]
        for p in found.ports
    ]
    table(headings, rows, numeric=range(1, len(headings)))
    ui.label("Torque of a cylinder with this port, against the mean of all.").classes("small soft")
    for finding in found.findings:
        show_finding(finding)
