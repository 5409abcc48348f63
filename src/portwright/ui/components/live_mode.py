"""The bench screen while the instruments are listened to: hands stay on the lift screw."""

from __future__ import annotations

import math

from nicegui import app, ui

from portwright import units
from portwright.errors import PortwrightError
from portwright.model.bench import Bench
from portwright.services import capture
from portwright.services.carried import SetUp
from portwright.services.lift_lists import LiftList
from portwright.services.live_bench import LiveBench, kept_zero
from portwright.services.live_sweep import Now, Plan, Step, Take
from portwright.services.shop_file import ShopFile
from portwright.ui import links
from portwright.ui.components.bench_sweep import SweepScreen
from portwright.ui.components.live_numbers import LiveNumbers
from portwright.ui.format import typed_number
from portwright.ui.layout import Switch, button, link_button
from portwright.ui.state import View, shop_file
from portwright.ui.work import at_the_bench, in_thread
from portwright.units import Kind

_FRAME = 0.045  # with what sending takes, twenty times a second and a little more [s]
_FACTOR_EVERY = 8  # frames between two reductions of the newest second
_STATUS_EVERY = 10  # frames between two looks at the wires
_HUNTS = 6.0  # hunting is said aloud after so long [s]
_LOOKS = {
    Step.STEADY: "good",
    Step.TAKEN: "good",
    Step.HUNTING: "ask",
    Step.PAUSED: "fault",
    Step.SETTLING: "wait",
}
_hubs: dict[int, LiveBench] = {}


def live_bench(shop: ShopFile) -> LiveBench:
    """The instruments of this shop, listened to from the first live screen on."""
    if id(shop) not in _hubs:
        made = _hubs[id(shop)] = LiveBench(shop)
        made.start()
        app.on_shutdown(lambda: stop_listening(shop))
    return _hubs[id(shop)]


def stop_listening(shop: ShopFile) -> None:
    """Let go of the instruments: the app ends, or their descriptions changed."""
    hub = _hubs.pop(id(shop), None)
    if hub is not None:
        hub.stop()


def store_heard(shop: ShopFile, run: str) -> None:
    """Store what was heard of a sweep so far, so that it can be looked at while it goes on."""
    hub = _hubs.get(id(shop))
    if hub is not None:
        hub.flush(run)


class LiveMode:
    """Numbers, state in plain words and what a person may press.

    Parameters
    ----------
    screen : SweepScreen
    view : View

    Raises
    ------
    InputError
        The instruments do not send what the bench's calibration needs.
    """

    def __init__(self, screen: SweepScreen, view: View) -> None:
        self._screen, self._view = screen, view
        self._shop = shop_file()
        self._hub = live_bench(self._shop)
        self._live = self._hub.attach(screen.sweep)
        self._client = ui.context.client
        self._frames = 0
        self._factor = math.nan
        self._handled = ""
        self._asked: Take | None = None
        self._question = ""
        self._said: tuple[Step, str] = (Step.LINES, "")
        self._busy = False
        last = screen.sweep.last
        self._range = last.reading.range_number if last else None
        screen.hide_pad()
        with screen.pad_place, ui.element("div").classes("live-mode"):
            self._numbers = LiveNumbers(self._pedal, self._hub.type, self._hub.typing)
            self._buttons()
            self._wires = ui.label().classes("small").props("role=status")
        self._show_units()
        view.on_change(self._show_units)
        self._client.on_delete(self._closed)
        ui.timer(_FRAME, self._tick)

    def _buttons(self) -> None:
        run = self._screen.sweep.run
        with ui.element("div").classes("live-ask").props("role=group aria-label=Question") as ask:
            self._keep = button("Keep it", self._keep_asked)
            self._again = button("Read it again", self._go_on, "main")
        self._ask = ask
        ranges = self._screen.sweep.ranges
        if ranges and not self._live.flow.has_range:
            named = {str(r): f"Range {r}" for r in ranges}
            Switch("Range of the bench", named, str(self._range or ""), self._choose_range)
        with ui.element("div").classes("row-wrap"):
            self._ready = button("Lift is set", self._set, "main")
            self._pause = button("Pause", self._pause_now)
            self._zero = button("Zero the gauges", self._take_zero)
            self._down = button("Now come down", self._come_down)
            link_button("Type it instead", links.bench(run.job, run.port, run.stage, run.code))
            link_button("How it settled", links.settling(run.code), "quiet")
            link_button("Instruments", links.INSTRUMENTS, "quiet")
        self._ready.set_visibility(not self._live.flow.has_lift)
        self._ask.set_visibility(False)
        self._down.set_visibility(False)

    async def _closed(self) -> None:
        await in_thread(self._hub.detach, self._screen.sweep.run.code)

    def _show_units(self) -> None:
        display = self._view.display
        self._labelled = self._screen.pressure
        self._numbers.units(
            lengthUnit=display.length,
            flowUnit=units.sign(display.flow),
            flowAt=display.pressure_text(self._screen.pressure),
            areaUnit=units.sign(display.area),
            pressureUnit=display.pressure,
        )

    # --- twenty times a second -----------------------------------------------------------------

    async def _tick(self) -> None:
        if self._client.is_deleted:
            return
        sweep = self._screen.sweep
        with self._hub.held():
            self._live.plan = Plan(
                self._screen.lift,
                tuple(t for t in sweep.lifts.lifts if sweep.at(t.si) is None),
                sweep.air,
                self._range,
            )
            now, take, values = self._live.now(), self._live.take, dict(self._live.values)
            if self._live.paused != self._question:  # a cable came out meanwhile: it is read anew
                self._asked = None
        if self._frames % _FACTOR_EVERY == 0 or math.isnan(self._factor):
            self._factor = self._live.flow.flow_factor(
                sweep.run,
                now.ratio,
                values,
                sweep.air,
                now.range_number,
                self._screen.pressure,
            )
        if self._labelled != self._screen.pressure:  # earlier sweeps were read meanwhile
            self._show_units()
        if self._frames % _STATUS_EVERY == 0:
            self._show_wires()
        self._frames += 1
        self._numbers.now(self._frame(now))
        self._announce(now)
        if take is not None and not self._busy and take.token != self._handled:
            self._handled = take.token
            await self._offer(take, keep=False)

    def _frame(self, now: Now) -> dict[str, str]:
        display = self._view.display
        flow = now.ratio * self._factor
        area = flow / self._screen.flow_of(1.0)

        pressure = units.show(now.pressure, display.pressure, Kind.PRESSURE)

        def number(value: float, text: str) -> str:
            return text if math.isfinite(value) else "–"

        step, words = self._words(now)
        return {
            "step": step,
            "words": words,
            "look": "ask" if self._asked else _LOOKS.get(now.step, ""),
            "lift": number(now.lift, display.lift_text(now.lift)),
            "flow": number(flow, display.flow_text(flow)),
            "area": number(area, units.show(area, display.area, Kind.AREA)),
            "pressure": number(now.pressure, pressure),
            "waited": f"{now.waited:.0f}",
            "known": number(now.error, f"{200.0 * now.error:.2f}"),
        }

    def _words(self, now: Now) -> tuple[str, str]:
        called = now.called
        shown = typed_number(called, Kind.LENGTH, self._view) if called else ""
        if now.step is Step.LIFT and called is not None:
            return f"set {shown} {self._view.display.length}", now.words
        if now.step is Step.TAKEN:
            following = self._screen.lift
            if following is None:
                return Step.DONE.value, ""
            next_one = typed_number(following, Kind.LENGTH, self._view)
            return Step.TAKEN.value, f"set {next_one} {self._view.display.length}"
        if now.step is Step.STEADY and now.unsteady:
            return now.step.value, "but unsteady: taken with its scatter"
        return now.step.value, now.words

    def _announce(self, now: Now) -> None:
        """Say aloud what a person at the lift screw must know; once each."""
        key = (now.step, now.words if now.step in {Step.PAUSED, Step.SETTLING} else "")
        self._ask.set_visibility(now.step is Step.PAUSED)
        self._keep.set_visibility(self._asked is not None)
        self._again.set_text("Read it again" if self._asked is not None else "Go on")
        self._pause.set_visibility(now.step is not Step.PAUSED)
        self._down.set_visibility(now.step is Step.DONE and self._live.flow.has_lift)
        if key == self._said or (now.step is Step.HUNTING and now.waited < _HUNTS):
            return
        self._said = key
        if now.step is Step.PAUSED:
            self._numbers.tell("ask" if self._asked else "fault", f"Paused. {now.words}")
        elif now.step is Step.HUNTING:
            self._numbers.tell("ask", "Hunting. Not taken.")
        elif now.step is Step.SETTLING and now.words:
            self._numbers.tell("ask", f"{now.words.capitalize()}.")

    def _show_wires(self) -> None:
        said = [
            f"{name}: {s.contact.value}{', ' + s.why if s.why else ''}"
            + (f", {s.lost} lines lost" if s.lost else "")
            for name, s in self._hub.standing().items()
        ]
        zero = kept_zero(self._shop)
        taken = zero.taken_at.replace("T", " ")[:16]
        said.append(f"zero {taken} UTC" if taken else "not zeroed")
        if self._hub.trouble:
            said.append(self._hub.trouble)
        self._wires.set_text("; ".join(said))

    # --- what happens with a settled reading ---------------------------------------------------

    async def _offer(self, take: Take, *, keep: bool) -> None:
        self._busy = True
        try:
            answer = await self._screen.offer(take.token, take.reading, keep=keep)
        finally:
            self._busy = False
        with self._hub.held():
            if answer.state in {"saved", "aside"}:
                self._asked = None
                self._live.stored(take.token)
                if keep:
                    self._live.go_on(again=False)
            else:
                self._question = f"{answer.message} {answer.hint}"
                self._asked = take if answer.state == "asked" else None
                self._live.pause(self._question)
        if answer.state == "saved":
            self._numbers.tell("good", answer.words)
            await at_the_bench(self._hub.flush, self._screen.sweep.run.code)

    async def _keep_asked(self) -> None:
        if self._asked is not None:
            await self._offer(self._asked, keep=True)

    def _go_on(self) -> None:
        self._asked = None
        with self._hub.held():
            self._live.go_on()

    def _choose_range(self, number: str) -> None:
        self._range = int(number)
        with self._hub.held():
            self._live.choose_range(self._range)

    def _set(self) -> None:
        with self._hub.held():
            self._live.ready()

    def _pause_now(self) -> None:
        with self._hub.held():
            self._live.pause("By hand.")

    async def _pedal(self) -> None:
        """The pedal goes on, or says that the lift is set; it never keeps a questioned value."""
        if self._live.paused:
            self._go_on()
        elif not self._live.flow.has_lift:
            self._set()

    async def _take_zero(self) -> None:
        zero = await in_thread(self._hub.take_zero)
        said = "; ".join(
            f"{name.replace('_', ' ')} {self._view.display.pressure_text(v)}"
            for name, v in zero.values.items()
            if name.endswith("pressure")
        )
        self._numbers.tell("good", "Zeroed.")
        ui.notify(f"Zero: {said or 'taken'}")

    async def _come_down(self) -> None:
        """The same lifts once more from the top, as a sweep of its own."""
        sweep = self._screen.sweep
        bench = sweep.bench or Bench(sweep.run.bench)
        found = SetUp(bench, sweep.calibration, sweep.run.conditions, sweep.air, sweep.run.code)
        down = LiftList(f"{sweep.lifts.name}, coming down", sweep.lifts.lifts[::-1])
        run = sweep.run
        begun = await in_thread(
            capture.begin, self._shop, run.job, run.port, run.stage, found, down
        )
        ui.navigate.to(links.live(begun.job, begun.port, begun.stage, begun.code))


def show_live(screen: SweepScreen, view: View) -> None:
    """Live mode where the instruments allow it; else what stands in the way, above the pad."""
    try:
        LiveMode(screen, view)
    except PortwrightError as error:
        with screen.pad_place, ui.element("div").classes("notice ask"):
            ui.label(error.message).classes("kind")
            ui.label(error.hint)
            link_button("Instruments", links.INSTRUMENTS)
