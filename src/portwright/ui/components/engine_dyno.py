"""The dyno sheet against the forecast, and what it teaches the shop."""

from __future__ import annotations

from nicegui import ui

from portwright import units
from portwright.errors import InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.services.display import Display
from portwright.services.engine_dyno import (
    DynoAir,
    DynoComparison,
    compare_dyno,
    has_dyno_sheet,
    keep,
    standards,
)
from portwright.services.engine_dyno_wording import dyno_lines, hit_rate_line
from portwright.services.engine_factors import hit_rate
from portwright.ui import links
from portwright.ui.components.engine_charts import dyno_spec
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import FlowChart
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.errors import show_error
from portwright.ui.layout import button, heading, link_button
from portwright.ui.state import shop_file
from portwright.units import Kind

_SAMPLES = 8


def engine_dyno(contents: JobContents, before: str, after: str, display: Display) -> None:
    """Air of the dyno run, then measured torque against the forecast.

    Parameters
    ----------
    contents : JobContents
    before, after : str
        Stages of the sheet's two columns.
    display : Display
    """
    number = contents.job.number
    with ui.element("section").classes("sheet"):
        heading("The dyno sheet comes back")
        ui.label(hit_rate_line(hit_rate(shop_file())))
        if not has_dyno_sheet(contents):
            ui.label("Read a sheet with rpm and torque or power columns to compare it.")
            link_button("Sheets", links.sheets(number)).style("align-self: flex-start")
            return
        ui.label("Leave the air empty when the sheet is corrected already.")
        with ui.element("div").classes("fields"):
            standard = Field("Standard of correction", kind="choice", options=standards())
            standard.set(standards()[0])
            pressure = Field("Barometer, like 98.2 kPa")
            temperature = Field("Intake air, like 28 degC")
            humidity = Field("Humidity, like 45 %")

        def begin() -> None:
            try:
                air = _air(pressure.value, temperature.value, humidity.value)
            except PortwrightError as error:
                show_error(error)
                return
            place.clear()
            with place:
                _work(number, standard.value, air, before, after, display)

        button("Compare with the forecast", begin).style("align-self: flex-start")
        place = ui.element("div").classes("stack")


def _air(pressure: str, temperature: str, humidity: str) -> DynoAir | None:
    if not (pressure.strip() or temperature.strip() or humidity.strip()):
        return None
    if not (pressure.strip() and temperature.strip()):
        raise InputError(
            "Barometer and intake air belong together.", "Fill in both, or leave all of it empty."
        )
    return DynoAir(
        units.read(pressure, Kind.PRESSURE).si,
        units.read(temperature, Kind.TEMPERATURE).si,
        units.read(humidity, Kind.RATIO).si if humidity.strip() else 0.0,
    )


def _work(
    number: str, standard: str, air: DynoAir | None, before: str, after: str, display: Display
) -> None:
    shop = shop_file()

    def work(say: Told) -> DynoComparison:
        def progress(done: int, total: int) -> bool:
            say(f"Simulated {done} of {total} parts")
            return True

        return compare_dyno(
            shop,
            number,
            standard=standard,
            air=air,
            before=before,
            after=after,
            samples=_SAMPLES,
            progress=progress,
        )

    key = f"engine dyno {shop.path} {number} {standard} {air} {before} {after}"
    SlowWork(key, work, lambda found: _show(found, display))


def _show(found: DynoComparison, display: Display) -> None:
    lines = dyno_lines(found)
    for line in lines:
        ui.label(line)
    FlowChart(dyno_spec(found, display, " ".join(lines)))
    if found.invented:
        return

    def teach() -> None:
        keep(shop_file(), found)
        said.set_text(hit_rate_line(hit_rate(shop_file())))

    button("Let it teach the shop's own factor", teach).style("align-self: flex-start")
    said = ui.label("").props("role=status")
