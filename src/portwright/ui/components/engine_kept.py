"""Keeping a simulated before and after for the customer's report."""

from __future__ import annotations

from nicegui import ui

from portwright.services.engine_kept import keep_run, kept_run, out_of_date, take_off
from portwright.services.engine_run import EngineRun
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread


def engine_kept(number: str, run: EngineRun | None = None) -> None:
    """What the report prints of the engine, and a button that keeps a run for it.

    Parameters
    ----------
    run : EngineRun, optional
        The run on the screen; without one only what was kept before is shown.
    """
    place = ui.element("section").classes("sheet").props("aria-live=polite")

    async def keep() -> None:
        if run is not None:
            await in_thread(keep_run, shop_file(), run)
        await show()

    async def off() -> None:
        await in_thread(take_off, shop_file(), number)
        await show()

    async def show() -> None:
        contents = await in_thread(shop_file().job, number)
        kept = kept_run(contents)
        place.clear()
        place.set_visibility(run is not None or kept is not None)
        with place:
            heading("In the customer's report")
            if kept is None:
                ui.label("No run is kept yet; the report prints the quick answers only.")
            else:
                ui.label(
                    f"{kept.before} against {kept.after} on {kept.port}, kept on {kept.at[:10]}; "
                    "the report prints it with its ranges."
                ).classes("strong").props("role=status")
                if out_of_date(kept, contents):
                    with ui.element("div").classes("notice ask"):
                        ui.label("Readings or engine changed since.").classes("strong")
                        ui.label("Simulate again and keep the new one; the report says so too.")
            with ui.element("div").classes("row-wrap"):
                if run is not None:
                    button("Keep this for the report", keep, "main")
                if kept is not None:
                    button("Take it off the report", off, "quiet")

    ui.timer(0.05, show, once=True)
