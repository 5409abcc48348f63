"""Before a sweep: what is tested, what is mounted, which lifts."""

from __future__ import annotations

from dataclasses import fields, replace

from nicegui import ui

from portwright.errors import InputError
from portwright.model.bench import Conditions
from portwright.model.contents import JobContents
from portwright.services import capture, lift_lists
from portwright.services.carried import AIR, SetUp, asked_of, read_air, stated, with_air
from portwright.services.lift_lists import LiftList
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, link_button
from portwright.ui.state import View, shop_file
from portwright.ui.work import in_thread

_EVEN, _OWN = "even", "own"
_WORDS = {"direction": ("forward", "reverse")}


class BenchSetUp:
    """Form that begins a sweep.

    Parameters
    ----------
    contents : JobContents
    port, stage, bench : str
    found : SetUp
        Carried over.
    view : View
    """

    def __init__(
        self, contents: JobContents, port: str, stage: str, found: SetUp, view: View
    ) -> None:
        self._contents, self._port, self._stage = contents, port, stage
        self._found, self._view = found, view
        self._lists = lift_lists.proposed(contents, port, stage, view.choice.length)
        self._going_on()
        with ui.element("div").classes("bench-set-up"):
            with ui.element("section").classes("sheet"):
                self._lifts()
            with ui.element("section").classes("sheet"):
                self._mounted()

    def _going_on(self) -> None:
        under_way = capture.under_way(self._contents, self._port, self._stage)
        if not under_way:
            return
        with ui.element("section").classes("sheet"):
            heading("Begun today")
            with ui.element("div").classes("row-wrap"):
                for run in under_way:
                    read = len(run.readings)
                    link_button(
                        f"{run.code}: {read} {'lift' if read == 1 else 'lifts'} read",
                        links.bench(run.job, run.port, run.stage, run.code),
                    )

    def _lifts(self) -> None:
        heading("Lifts")
        unit = self._view.choice.length
        options = {
            str(i): f"{found.name}, {len(found.lifts)} lifts" for i, found in enumerate(self._lists)
        } | {_EVEN: "other even steps", _OWN: "own list"}
        self._list = Field("Go through", "0", kind="choice", options=options, on_change=self._pick)
        with ui.element("div").classes("fields") as self._even:
            self._first = Field(f"First [{unit}]", "0.5" if unit == "mm" else "0.025")
            self._step = Field(f"Step [{unit}]", "0.5" if unit == "mm" else "0.025")
            self._last = Field(f"Last [{unit}]", "12" if unit == "mm" else "0.500")
        with ui.element("div") as self._own:
            self._typed = Field(f"Lifts [{unit}]", hint="parted by spaces: 0.5 1 2 4 6 8")
        self._pick("0")
        self._summary()
        button(f"Begin {self._port} {self._stage}", self._begin, "main").style(
            "min-height: 92px; font-size: 1.4rem"
        )

    def _summary(self) -> None:
        found = self._found
        usual = found.conditions.configuration in {"", Conditions().configuration}
        with ui.element("div").classes("notice" if usual else "notice ask"):
            ui.label(f"Mounted on {found.bench.code}").classes("kind small")
            ui.label("; ".join(f"{name} {text}" for name, text in stated(found.conditions).items()))
            ui.label(f"Carried over from {found.source}. Change below what differs.").classes(
                "small soft"
            )

    def _pick(self, chosen: str) -> None:
        self._even.set_visibility(chosen == _EVEN)
        self._own.set_visibility(chosen == _OWN)

    def _mounted(self) -> None:
        heading("Change what is mounted")
        with ui.element("div").classes("fields"):
            self._conditions = {
                f.name: Field(
                    f.name.replace("_", " ").capitalize(),
                    getattr(self._found.conditions, f.name),
                    kind="choice" if f.name in _WORDS else "text",
                    options=_WORDS.get(f.name, ()),
                )
                for f in fields(Conditions)
            }
        heading("Air, leak and zero", 3)
        with ui.element("div").classes("fields"):
            asked = asked_of(self._found.calibration)
            self._air = {name: self._air_field(name, unit) for name, (_, unit) in asked.items()}

    def _air_field(self, name: str, unit: str) -> Field:
        value = getattr(self._found.air, name)
        return Field(
            name.replace("_", " ").capitalize(),
            "" if value is None else str(value),
            hint=f"in {unit} unless you type a unit" if value is None else "",
        )

    def _chosen(self) -> LiftList:
        unit, chosen = self._view.choice.length, self._list.value
        if chosen == _OWN:
            return lift_lists.own_list(self._typed.value, unit)
        if chosen == _EVEN:
            return lift_lists.fixed_steps(
                self._first.value, self._step.value, self._last.value, unit
            )
        return self._lists[int(chosen)]

    async def _begin(self) -> None:
        lifts = self._chosen()
        conditions = Conditions(**{n: box.value.strip() for n, box in self._conditions.items()})
        air = {n: read_air(n, box.value, AIR[n][1]) for n, box in self._air.items()}
        if air["test_pressure"] is None and self._found.calibration.reads_at is None:
            raise InputError(
                "The test pressure is missing.", "Type it; flow means nothing without."
            )
        chosen = replace(self._found, conditions=conditions, air=with_air(air))
        run = await in_thread(
            capture.begin,
            shop_file(),
            self._contents.job.number,
            self._port,
            self._stage,
            chosen,
            lifts,
        )
        ui.navigate.to(links.bench(run.job, run.port, run.stage, run.code))
