"""What small changes are worth on this engine, tried when asked for."""

from __future__ import annotations

from nicegui import ui

from portwright.services.engine_sensitivity import TOLD_FROM, Sensitivity, sensitivity, told
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.format import signed_percent
from portwright.ui.layout import button, heading, table
from portwright.ui.state import shop_file


def engine_changes(number: str, stage: str) -> None:
    """A button, and after it the table of changes.

    Parameters
    ----------
    number : str
        Job.
    stage : str
        State of the head that is changed.
    """
    with ui.element("section").classes("sheet"):
        heading(f"What is each change worth at {stage}")
        ui.label("A millimetre of lift, a percent of throat, a longer runner: one at a time.")
        place = ui.element("div").classes("stack")

        def begin() -> None:
            place.clear()
            with place:
                _work(number, stage)

        button("Try the changes", begin).style("align-self: flex-start")


def _work(number: str, stage: str) -> None:
    shop = shop_file()

    def work(say: Told) -> Sensitivity:
        def progress(done: int, total: int) -> bool:
            say(f"Tried {done} of {total}")
            return True

        return sensitivity(shop, number, stage=stage, progress=progress)

    SlowWork(f"engine changes {shop.path} {number} {stage}", work, _show)


def _show(found: Sensitivity) -> None:
    headings = ["change", *(f"{n:.0f} rpm" for n in found.speed), "mean"]
    rows = [
        [e.name, *(signed_percent(g) if told(g) else "–" for g in (*map(float, e.gain), e.mean))]
        for e in found.effects
    ]
    table(headings, rows, numeric=range(1, len(headings)))
    ui.label(
        f"Change of torque. Effects below {100.0 * TOLD_FROM:.1f} % are not told; they do not add "
        "up exactly, and no range is given."
    ).classes("small soft")
