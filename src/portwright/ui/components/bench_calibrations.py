"""Calibration versions of a bench: what old sweeps would be under another, and a new one."""

from __future__ import annotations

import math

from nicegui import ui

from portwright.model.bench import Calibration, Metering
from portwright.services.bench_health import BenchHealth, recompute
from portwright.services.calibrate import (
    ORIFICES,
    TABLES,
    NewCalibration,
    add_calibration,
    points_from_plates,
)
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, table
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_ROWS = {
    Metering.DIRECT: "Shown = true",
    Metering.FLOW_ELEMENT: "Pressure drop = flow",
}
_HINTS = {
    Metering.DIRECT: "one plate a line: 66.9 cfm = 69.6 cfm",
    Metering.FLOW_ELEMENT: "one row a line: 2.0 inH2O = 45 cfm",
}


def bench_calibrations(found: BenchHealth) -> None:
    """All versions, old sweeps under one of them, and a form for the next."""
    code = found.bench.code
    with ui.element("section").classes("sheet"):
        heading("Calibrations")
        table(
            ("Version", "From", "Shows", "Constants", "±", "Reason"),
            [
                (
                    str(c.version),
                    c.valid_from,
                    c.metering.value,
                    _constants(c),
                    f"{200 * c.relative_uncertainty:.1f} %",
                    c.reason,
                )
                for c in found.calibrations
            ],
        )
        ui.label(
            "A sweep keeps the version it was taken with. Raw readings never change; here they can "
            "be seen under another version."
        ).classes("small soft")
        if len(found.calibrations) > 1:
            _again(found)
    if found.calibrations:
        with ui.element("section").classes("sheet"):
            _NewVersion(code, {c.version: c for c in found.calibrations})


def _again(found: BenchHealth) -> None:
    with ui.element("div").classes("fields"):
        version = Field(
            "See old sweeps under version",
            str(found.calibrations[-1].version),
            kind="choice",
            options=[str(c.version) for c in found.calibrations],
        )

    @ui.refreshable
    def result(number: int = 0) -> None:
        if not number:
            return
        rows = [r for r in recompute(shop_file(), found.bench.code, number) if r.stored != number]
        if not rows:
            ui.label("No sweep was taken with another version.").props("role=status")
            return
        table(
            ("Job", "Sweep", "Taken with", "Would change by"),
            [(r.job, r.run, str(r.stored), _change(r.change)) for r in rows],
            numeric=(2, 3),
        )

    button("Recompute", lambda: result.refresh(int(version.value))).style("align-self: flex-start")
    result()


def _change(value: float) -> str:
    return f"{100 * value:+z.2f} %" if math.isfinite(value) else "cannot be computed"


def _constants(calibration: Calibration) -> str:
    parts = [f"{r.number}: {r.full_scale}" for r in calibration.ranges]
    if calibration.table:
        parts.append(f"{len(calibration.table)} rows")
    if calibration.orifice:
        orifice = calibration.orifice
        parts.append(f"bore {orifice.bore}")
        parts += [f"coefficient {orifice.coefficient:g}"] if orifice.coefficient else []
        parts += [f"pipe {orifice.pipe}"] if orifice.pipe else []
    if calibration.reads_at:
        parts.append(f"at {calibration.reads_at}")
    return ", ".join(parts) or "as shown"


class _NewVersion:
    """Form for the constants that the chosen version has."""

    def __init__(self, code: str, versions: dict[int, Calibration]) -> None:
        self._code, self._versions = code, versions
        heading("New calibration")
        newest = str(max(versions))
        with ui.element("div").classes("fields"):
            self._based = Field(
                "Begin from version",
                newest,
                kind="choice",
                options={
                    str(v): f"{v}: {c.metering.value} from {c.valid_from}"
                    for v, c in versions.items()
                },
                on_change=lambda new: self._constants.refresh(int(new)),
            )
            self._since = Field("Valid from", kind="date", hint="today where empty")
            self._reason = Field("Why", hint="like: orifice of range 4 replaced")
        self._constants(int(newest))
        button("Keep as a new version", self._keep, "main").style("align-self: flex-start")

    @ui.refreshable_method
    def _constants(self, version: int) -> None:
        chosen = self._versions[version]
        self._ranges: dict[int, Field] = {}
        self._points = self._bore = self._pipe = self._coefficient = None
        with ui.element("div").classes("fields"):
            for r in chosen.ranges:
                self._ranges[r.number] = Field(f"Range {r.number}, 100 % is", str(r.full_scale))
            if chosen.metering in ORIFICES:
                old = chosen.orifice
                self._bore = Field("Bore", str(old.bore) if old else "", hint="with its unit")
                if chosen.metering is Metering.ORIFICE_ISO:
                    self._pipe = Field("Pipe", str(old.pipe) if old and old.pipe else "")
                else:
                    known = f"{old.coefficient:g}" if old and old.coefficient else ""
                    self._coefficient = Field("Discharge coefficient", known, kind="number")
            self._uncertainty = Field(
                "Standard uncertainty [%]",
                f"{100 * chosen.relative_uncertainty:g}",
                kind="number",
                hint="of the bench against true flow",
            )
        if chosen.metering in TABLES:
            rows = "\n".join(f"{p.indicated} = {p.flow}" for p in chosen.table)
            self._points = Field(
                _ROWS[chosen.metering], rows, kind="paragraph", hint=_HINTS[chosen.metering]
            )
            if chosen.metering is Metering.DIRECT:
                button("Take the newest plate readings", self._take, "quiet").style(
                    "align-self: flex-start"
                )

    async def _take(self) -> None:
        rows, day = await in_thread(points_from_plates, shop_file(), self._code)
        if self._points is not None:
            self._points.set(rows.replace("; ", "\n"))
        if not self._reason.value:
            self._reason.set(f"plates read on {day}")

    def _text(self, box: Field | None) -> str:
        return "" if box is None else box.value

    def _keep(self) -> None:
        made = add_calibration(
            shop_file(),
            self._code,
            NewCalibration(
                reason=self._reason.value,
                valid_from=self._since.value,
                based_on=int(self._based.value),
                ranges={number: box.value for number, box in self._ranges.items()},
                points=self._text(self._points),
                bore=self._text(self._bore),
                pipe=self._text(self._pipe),
                coefficient=self._text(self._coefficient),
                uncertainty=self._uncertainty.value,
            ),
        )
        ui.notify(f"{made.key} kept")
        ui.navigate.to(links.bench_health(self._code))
