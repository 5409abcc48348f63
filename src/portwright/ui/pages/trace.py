"""Measuring on a photo: scale, outline, area with its uncertainty, kept with the port."""

from __future__ import annotations

from typing import Any

from nicegui import background_tasks, ui

from portwright.errors import InputError, PortwrightError
from portwright.model.contents import JobContents
from portwright.services import trace, trace_store
from portwright.services.trace import Join, PictureErrors, ScaleKind, Traced, Tracing
from portwright.ui import links
from portwright.ui.components.photos import PhotoBox
from portwright.ui.components.thin_walls import thin_walls
from portwright.ui.components.trace_photo import Drawn, TracePhoto
from portwright.ui.components.trace_save import SaveBox
from portwright.ui.components.trace_scale import ScaleBox, ScaleChoice
from portwright.ui.errors import show_finding
from portwright.ui.format import percent
from portwright.ui.layout import Switch, heading, link_button, page_frame, screen, table
from portwright.ui.state import View, shop_file
from portwright.ui.theme import asset
from portwright.ui.work import in_thread

_TOOLS = {
    "scale": "Mark scale",
    "outline": "Trace",
    "suggest": "Suggest",
    "holes": "Holes",
    "move": "Move",
}
_WORDS = {
    "outline": "Tap points round the edge or draw along it. Once closed, a line drawn along the "
    "true edge replaces that part.",
    "suggest": "Tap inside the section; the outline that stands out is drawn for you to correct.",
    "holes": "For an opening or a gasket: touch the middles of two dowel or bolt holes, far apart, "
    "the same one first on the photos of head, manifold and gasket.",
    "move": "Drag to move; two fingers move and enlarge with any tool.",
}
_JOINS = {Join.SMOOTH: "Smooth", Join.STRAIGHT: "Straight"}
_CAUSES = 3  # shown, of what makes the area uncertain


@screen(links.TRACE)
async def trace_page(job: str, photo: int = 0) -> None:
    """One photo of a job, or the choice of one."""
    ui.add_head_html(f'<link rel="stylesheet" href="{asset("trace.css")}">')
    shop = shop_file()
    contents = await in_thread(shop.job, job)
    if not photo:
        await _choose(contents)
        return
    chosen = await in_thread(trace.photo, shop, job, photo)
    size = await in_thread(trace.size_of, shop, chosen)
    with page_frame(f"Photo {photo}, job {job}", "measure") as view:
        _Screen(contents, photo, size, (chosen.subject, chosen.stage), view)
        await thin_walls(contents, view, chosen.subject)  # below: the photo needs the screen
        with ui.element("div").classes("row-wrap"):
            link_button("Another photo", links.trace(job), "quiet")
            link_button("To the job", links.job(job), "quiet")


async def _choose(contents: JobContents) -> None:
    """Photos of the job, what was traced already, and a box for more photos."""
    job, shop = contents.job.number, shop_file()
    kept = await in_thread(trace.photos, shop, job)
    traced = await in_thread(trace_store.traces, shop, job)
    with page_frame(f"Measure on a photo, job {job}", "measure") as view:
        await thin_walls(contents, view)
        with ui.element("section").classes("sheet"):
            heading("Choose a photo")
            ui.label(
                "Photograph the section with a frame, ring or bar level with it, the frame filling "
                "most of the picture."
            )
            with ui.element("div").classes("pictures"):
                for each in kept:
                    words = " ".join(w for w in (each.subject, each.stage) if w) or each.name
                    with ui.link(target=links.trace(job, each.id)):
                        address = f"{links.PHOTO}/{each.id}"
                        ui.element("img").props(f'src="{address}" loading=lazy alt=""')
                        ui.label(f"Trace {words}")
            PhotoBox(contents, ui.navigate.reload)
        if traced:
            with ui.element("section").classes("sheet"):
                heading("Traced already")
                table(
                    ("Photo", "Belongs to", "Stage", "Place", "Area, 95 %"),
                    [
                        (
                            str(t.tracing.photo),
                            t.subject,
                            t.stage,
                            t.place or t.target.value,
                            trace.area_text(t.traced, view.display),
                        )
                        for t in traced
                    ],
                )


class _Screen:
    """Photo, scale, result and where it is kept."""

    def __init__(
        self,
        contents: JobContents,
        photo: int,
        size: tuple[int, int],
        shows: tuple[str, str],
        view: View,
    ) -> None:
        self._job, self._photo, self._size, self._view = contents.job.number, photo, size, view
        self._choice, self._drawn, self._round = ScaleChoice(), Drawn(), 0
        with ui.element("div").classes("trace"):
            with ui.element("div").classes("stack"):
                self._tools = Switch("What a finger does", _TOOLS, "scale", self._use)
                self._canvas = TracePhoto(
                    photo,
                    size,
                    f"{self._job}/{photo}",
                    self._changed,
                    self._suggest,
                    self._restored,
                )
            with ui.element("div").classes("stack"):
                with ui.element("section").classes("sheet"):
                    heading("Result")
                    self._joins = Switch(
                        "Between points",
                        {join.value: name for join, name in _JOINS.items()},
                        self._choice.join.value,
                        self._join,
                    )
                    self._result = ui.element("div").classes("stack").props("aria-live=polite")
                self._scale = ScaleBox(self._choice, view, self._scaled, self._find_lines)
                SaveBox(contents, *shows, view, self._tracing, self._canvas.forget)
        view.on_change(self._look)
        self._use("scale")
        self._scaled_props()
        self._show("Mark the scale first.")

    # --- what the person does -------------------------------------------------------------

    def _use(self, tool: str) -> None:
        self._tool = tool
        self._tools.press(tool)
        self._canvas.use(tool, _WORDS.get(tool, self._choice.words))

    def _join(self, join: str) -> None:
        self._choice.join = Join(join)
        self._scaled()

    def _scaled(self) -> None:
        self._scaled_props()
        background_tasks.create(self._look(), name="traced anew")

    def _scaled_props(self) -> None:
        self._canvas.scale(self._choice.kind.value, self._choice.most_marks)
        self._canvas.keep_too(self._choice.kept())
        self._use(self._tool)

    async def _changed(self, drawn: Drawn) -> None:
        self._drawn = drawn
        await self._look()

    async def _restored(self, drawn: Drawn, kept: dict[str, Any]) -> None:
        self._choice.take(kept)
        self._scale.show()
        self._joins.press(self._choice.join.value)
        self._scaled_props()
        await self._changed(drawn)

    async def _suggest(self, x: float, y: float) -> None:
        shop = shop_file()
        chosen = await in_thread(trace.photo, shop, self._job, self._photo)
        frame = self._drawn.marks if self._choice.framed else ()
        outline = await in_thread(trace.suggest, shop, chosen, (x, y), frame)
        self._canvas.take(outline)
        self._use("outline")

    async def _find_lines(self) -> None:
        shop = shop_file()
        chosen = await in_thread(trace.photo, shop, self._job, self._photo)
        marks = await in_thread(trace.find_lines, shop, chosen, self._drawn.marks)
        self._choice.kind = ScaleKind.FRAME_WITH_MIDDLES
        self._scale.show()
        self._canvas.take_marks(marks, self._choice.kind.value)
        self._scaled_props()

    # --- what follows ---------------------------------------------------------------------

    def _tracing(self) -> Tracing:
        """What stands on the photo now."""
        choice, drawn = self._choice, self._drawn
        sizes = choice.sizes[: choice.kind.sizes]
        if any(size is None for size in sizes):
            raise InputError("The size of the scale is missing.", "Type it under Scale.")
        return Tracing(
            self._photo,
            *self._size,
            choice.kind,
            drawn.marks,
            tuple(size for size in sizes if size is not None),
            choice.limit,
            drawn.outline,
            choice.join,
            trace.hand_errors(drawn.outline_zoom, drawn.mark_zoom, PictureErrors()),
            drawn.holes,
            trace.placing_error(drawn.hole_zoom),
        )

    async def _look(self) -> None:
        self._round += 1
        now = self._round
        try:
            tracing = self._tracing()
            found: Traced | PortwrightError = await in_thread(trace.trace, tracing)
        except PortwrightError as error:
            found = error
        if now != self._round:  # drawn on meanwhile: the newer look shows
            return
        if isinstance(found, PortwrightError):
            self._show(str(found))
        else:
            self._show_traced(found, len(tracing.outline))

    def _show(self, words: str) -> None:
        self._canvas.figure("")
        self._result.clear()
        with self._result:
            ui.label(words).classes("soft")

    def _show_traced(self, found: Traced, points: int) -> None:
        display = self._view.display
        figure = trace.area_text(found, display)
        self._canvas.figure(figure)
        self._result.clear()
        with self._result:
            area = ui.label(figure).classes("area")
            area.props(f"data-points={points}")  # tells which outline the figure belongs to
            ui.label(f"Perimeter {trace.perimeter_text(found, display)}")
            ui.label("± is half the 95 % interval. Largest shares:").classes("small soft")
            with ui.element("dl").classes("facts"):
                for name, share in found.causes[:_CAUSES]:
                    with ui.element("div").style("display: contents"):
                        with ui.element("dt"):
                            ui.label(name)
                        with ui.element("dd"):
                            ui.label(f"± {percent(share)}")
            for finding in found.findings:
                show_finding(finding)
