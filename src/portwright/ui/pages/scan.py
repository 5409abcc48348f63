"""A scan: what is wrong with it, its openings, the profile between two of them in 3-D and chart."""

from __future__ import annotations

import math
import secrets
import tempfile
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from nicegui import app, ui
from numpy.typing import NDArray
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from portwright import units
from portwright.errors import InputError
from portwright.services.scan import (
    Profile,
    Scan,
    ScanChange,
    ScanEnd,
    compare_scans,
    open_scan,
    profile_of,
)
from portwright.services.scan_ends import end_at_opening, end_of, end_touched, ring_at
from portwright.services.scan_picture import Picture, outlines_at, picture_of
from portwright.services.scan_store import store_profile
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.flow_chart import Axis, FlowChart, Series, chart_spec
from portwright.ui.components.mesh_view import MeshView
from portwright.ui.components.scan_box import ScanBox
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.errors import show_finding
from portwright.ui.layout import button, heading, link_button, page_frame, screen
from portwright.ui.state import View, form_fits, shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

_LONGEST_NAME = 120
_KEPT = 4  # scans at hand; older ones are forgotten
_ENDINGS = {".stl", ".obj", ".ply", ".3mf"}
_UNITS = {"": "Choose the unit", "mm": "mm", "in": "in", "cm": "cm", "m": "m"}
_TOUCH, _TYPED = "touch", "typed"
Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Kept:
    """A file that was sent: where it lies, and what its sender calls it."""

    path: Path
    name: str
    folder: tempfile.TemporaryDirectory[str]

    def read(self, unit: str, told: Told) -> Scan:
        """Open it in this unit."""
        return open_scan(self.path, unit, self.name, told)


_sent: OrderedDict[str, _Kept] = OrderedDict()


@app.post(links.SCAN_FILE, include_in_schema=False)
async def take_scan(request: Request, name: str = "scan.stl") -> Response:
    """Keep a scan while it is looked at; answers with its key."""
    if not form_fits(request.headers.get("x-portwright-form", "")):
        return PlainTextResponse("the page is out of date; reload it.", 403)
    ending = Path(name).suffix.lower()
    if ending not in _ENDINGS:
        return PlainTextResponse("choose an STL, OBJ, PLY or 3MF file.", 415)
    folder = tempfile.TemporaryDirectory(prefix="portwright-")
    path = Path(folder.name) / f"scan{ending}"  # nothing of the sender's name is used
    with path.open("wb") as file:  # piece by piece: a scan may be 200 MB
        async for piece in request.stream():
            file.write(piece)
    key = secrets.token_urlsafe(12)
    _sent[key] = _Kept(path, Path(name).name[:_LONGEST_NAME], folder)
    while len(_sent) > _KEPT:
        _sent.popitem(last=False)[1].folder.cleanup()
    return PlainTextResponse(key, 201)


def _at_hand(key: str) -> _Kept:
    if key not in _sent:
        raise InputError("This scan is not at hand any more.", "Choose the file again.")
    return _sent[key]


def _typed_end(what: str, unit: str) -> tuple[Field, Field]:
    """Boxes for point and normal, folded away: hardly anybody knows them."""
    with (
        ui.expansion(f"Type the {what.lower()}").classes("fold"),
        ui.element("div").classes("fields"),
    ):
        return (
            Field(f"{what} point", hint=f"x,y,z in {unit}"),
            Field(f"{what} normal", hint="x,y,z"),
        )


@screen(links.SCAN)
async def scan_page(job: str = "", port: str = "", stage: str = "") -> None:
    """Look at a scan and keep its sections."""
    contents = await in_thread(shop_file().job, job) if job else None
    with page_frame("Scan", "measure") as view:
        await thin_walls(contents, view, port)
        _Screen((job, port, stage), view)


class _Screen:
    """One scan at a time."""

    def __init__(self, keep_for: tuple[str, str, str], view: View) -> None:
        self._keep_for, self._view, self._key = keep_for, view, ""
        self._scan: Scan | None = None
        with ui.element("section").classes("sheet fields"):
            self._unit = Field(
                "Unit of the numbers in the file",
                kind="choice",
                options=_UNITS,
                hint="A file does not say it, and it is never guessed.",
                on_change=lambda _: ui.timer(0.01, self._read, once=True),
            )
            ScanBox(self._came)
        self._found = ui.element("div").classes("stack").props("aria-live=polite")

    def _came(self, key: str) -> None:
        self._key = key
        self._read()

    def _read(self) -> None:
        self._found.clear()
        if not self._key:
            return
        with self._found:
            if not self._unit.value:
                with ui.element("div").classes("notice ask"):
                    ui.label("Choose the unit of the file first.").classes("strong")
                return
            kept, unit = _at_hand(self._key), self._unit.value

            def work(told: Told) -> tuple[Scan, Picture]:
                scan = kept.read(unit, told)
                told("Drawing it")
                return scan, picture_of(scan)

            SlowWork(f"scan {self._key} {unit}", work, lambda found: self._show(*found))

    def _show(self, scan: Scan, picture: Picture) -> None:
        self._scan = scan
        size = " × ".join(f"{float(v) * 1e3:.1f}" for v in scan.mesh.size)
        label = f"Scan of {size} mm with {scan.report.faces} triangles"
        self._touched: dict[str, ScanEnd] = {}
        self._asked = ""
        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):
                with ui.element("section").classes("sheet"):
                    heading(f"{scan.report.faces:,} triangles, {size} mm")
                    self._mesh = MeshView(
                        picture.corners, picture.faces, label, on_touch=self._touch
                    )
                    for finding in scan.findings:
                        show_finding(finding)
                self._later()
            with ui.element("div").classes("stack"):
                self._profile = ui.element("div").classes("stack")
                self._choose_ends(scan)

    def _choose_ends(self, scan: Scan) -> None:
        """Openings of the scan, a touch in the picture, or numbers."""
        names = [
            f"opening {i + 1}, rim {opening.length * 1e3:.0f} mm"
            for i, opening in enumerate(scan.report.openings[:12])
        ]
        options = {str(i): name for i, name in enumerate(names)}
        options |= {_TOUCH: "touched in the picture", _TYPED: "as typed below"}
        self._ends = []
        with ui.element("section").classes("sheet"):
            heading("Inlet and outlet")
            for place, what in enumerate(("Inlet", "Outlet")):
                chosen = str(place) if place < len(names) else _TOUCH
                with ui.element("div").classes("row-wrap"):
                    choice = Field(what, chosen, kind="choice", options=options)
                    button(f"Touch the {what.lower()}", lambda what=what: self._ask(what))
                self._ends.append((choice, *_typed_end(what, scan.unit)))
            self._said = ui.label().classes("small").props("aria-live=polite")
            button("Profile", self._measure, "main").style("align-self: flex-start")

    def _ask(self, what: str) -> None:
        self._asked = what
        self._mesh.ask(on=True)
        self._said.set_text(f"Turn the picture until you see the {what.lower()}, then touch it.")

    def _touch(self, place: Array) -> None:
        scan, what = self._scan, self._asked
        if scan is None or not what:
            return
        self._touched[what] = end_touched(scan, place)
        self._asked = ""
        self._mesh.ask(on=False)
        self._mesh.ring([ring_at(end) for end in self._touched.values()])
        self._ends[0 if what == "Inlet" else 1][0].set(_TOUCH)
        self._said.set_text(f"{what} marked by a ring in the picture.")

    def _later(self) -> None:
        with ui.element("section").classes("sheet"):
            heading("Metal taken since")
            ui.label("A later scan of the same port, in the same unit. It may lie anyhow.")
            ScanBox(self._compare)
            self._change = ui.element("div").classes("stack").props("aria-live=polite")

    def _compare(self, key: str) -> None:
        scan = self._scan
        if scan is None:
            return
        kept = _at_hand(key)
        self._change.clear()

        def work(told: Told) -> tuple[ScanChange, Picture]:
            later = kept.read(scan.unit, told)
            told("Laying one scan on the other")
            change = compare_scans(scan, later)
            return change, picture_of(scan, change)

        with self._change:
            SlowWork(f"scans {self._key} {key}", work, lambda found: self._show_change(*found))

    def _show_change(self, change: ScanChange, picture: Picture) -> None:
        removed = change.removed
        length, deepest = self._view.unit(Kind.LENGTH), float(removed.depth.max())
        digits = 4 if length == "in" else 2
        said = (
            f"{units.show(removed.grown, 'cc', Kind.VOLUME, 2)} cc taken, "
            f"{units.show(removed.shrunk, 'cc', Kind.VOLUME, 2)} cc added; deepest "
            f"{units.show(deepest, length, Kind.LENGTH, digits)} {length}; unchanged surfaces fit "
            f"within {units.show(removed.registration.residual, length, Kind.LENGTH, digits + 1)} "
            f"{length}."
        )
        ui.label(said).classes("strong")
        MeshView(picture.corners, picture.faces, said, picture.depths, max(deepest, 1e-6))
        ui.label(
            "Grey: unchanged. Brown: metal taken, full colour at the deepest place. Blue: "
            "the port got smaller."
        ).classes("small soft")
        for finding in change.findings:
            show_finding(finding)

    async def _measure(self) -> None:
        scan = self._scan
        if scan is None:
            return
        ends = []
        for what, (choice, point, normal) in zip(("Inlet", "Outlet"), self._ends, strict=True):
            if choice.value == _TYPED:
                ends.append(end_of(point.value, normal.value, scan.unit, what.lower()))
            elif choice.value == _TOUCH:
                if what not in self._touched:
                    raise InputError(
                        f"The {what.lower()} was not chosen yet.",
                        f"Press 'Touch the {what.lower()}' and touch it in the picture.",
                    )
                ends.append(self._touched[what])
            else:
                ends.append(end_at_opening(scan.report.openings[int(choice.value)]))
        profile = await in_thread(profile_of, scan, ends[0], ends[1])
        self._profile.clear()
        with self._profile:
            self._show_profile(scan, profile)

    def _show_profile(self, scan: Scan, profile: Profile) -> None:
        line = profile.line
        self._mesh.follow(line.points)
        with ui.element("section").classes("sheet"):
            heading("Along the port")
            chart = FlowChart(self._spec(profile, profile.smallest), height="300px")
            said = ui.label().classes("strong").props("aria-live=polite")
            slider = ui.slider(min=0, max=len(line.distance) - 1, value=profile.smallest)
            slider.props('aria-label="Cutting plane along the port"')

            async def cut() -> None:
                station = int(slider.value)
                outlines = await in_thread(outlines_at, scan, profile, station)
                self._mesh.cut(line.points[station], line.tangents[station], outlines)
                said.set_text(self._words(profile, station))
                chart.draw(self._spec(profile, station))

            slider.on("change", cut)

            async def to_smallest() -> None:
                slider.set_value(profile.smallest)
                await cut()

            button("To the smallest section", to_smallest).style("align-self: flex-start")
            ui.timer(0.05, cut, once=True)
            volume = units.show(profile.volume, "cc", Kind.VOLUME)
            ui.label(f"Volume {volume} cc. {self._bend_words(profile)}")
            ui.label("The 3-D picture is coarser than what is measured.").classes("small soft")
            self._keep(profile)

    def _bend_words(self, profile: Profile) -> str:
        """Radius of the centreline and of the short side, where the bend is tightest."""
        at, unit = profile.tightest, self._view.unit(Kind.LENGTH)

        def shown(value: float) -> str:
            return f"{units.show(value, unit, Kind.LENGTH, 2 if unit == 'in' else 0)} {unit}"

        if not math.isfinite(float(profile.line.radius[at])):
            return "The port is straight."
        short = float(profile.inner_radius[at])
        side = f"short side {shown(short)}" if short > 0.0 else "short side sharp: sections cross"
        return (
            f"Tightest bend {shown(float(profile.line.distance[at]))} from the inlet: centreline "
            f"radius {shown(float(profile.line.radius[at]))}, {side}."
        )

    def _words(self, profile: Profile, station: int) -> str:
        length, area = self._view.unit(Kind.LENGTH), self._view.unit(Kind.AREA)
        at = units.show(float(profile.line.distance[station]), length, Kind.LENGTH, 1)
        text = (
            f"{at} {length} from the inlet: "
            f"{units.show(float(profile.area[station]), area, Kind.AREA)} {units.sign(area)}, "
            f"perimeter {units.show(float(profile.perimeter[station]), length, Kind.LENGTH, 1)} "
            f"{length}"
        )
        return text + (", the smallest section." if station == profile.smallest else ".")

    def _spec(self, profile: Profile, station: int) -> dict[str, object]:
        length, area = self._view.unit(Kind.LENGTH), self._view.unit(Kind.AREA)
        x = [units.from_si(float(v), length, Kind.LENGTH) for v in profile.line.distance]
        y = [units.from_si(float(v), area, Kind.AREA) for v in profile.area]
        marks = [(x[station], y[station], "cutting plane")]
        return chart_spec(
            "Area along the port",
            Axis("from the inlet", length, 1),
            Axis("area", units.sign(area), 0 if area == "mm2" else 3),
            [Series("scan", x, y, points=False, marks=marks)],
            summary=self._words(profile, profile.smallest),
        )

    def _keep(self, profile: Profile) -> None:
        job, port, stage = self._keep_for
        if not (job and port and stage):
            ui.label("Come here from a port to keep the sections with it.").classes("soft")
            return

        async def keep() -> None:
            count = await in_thread(store_profile, shop_file(), job, port, stage, profile)
            ui.notify(f"{count} sections kept with {port} at {stage}.")

        button(f"Keep as sections of {port} at {stage}", keep, "main")
        link_button("To the port", links.port(job, port, stage))
