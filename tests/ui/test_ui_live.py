"""Taking a sweep live on a tablet, from a practice bench over a real socket."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from portwright.core.practice_bench import STEADY_BENCH
from portwright.services import (
    capture,
    carried,
    instruments,
    live_trace,
    practice_bench,
    settle_rules,
    shop_file,
)
from portwright.services.calibrate import NewCalibration, add_calibration
from portwright.services.lift_lists import own_list
from portwright.services.practice_bench import Practice, TcpOutlet
from portwright.ui import links
from tests.ui.bench_help import JOB, Serve, begin, own_copy, stored
from tests.ui.conftest import Tablet, ready, serious_violations

pytestmark = pytest.mark.browser
QUICK = replace(STEADY_BENCH, motor_speed=5.0, damping=0.9, meter_lag=0.1, noise=0.002)
RULE = "standard-1 shortest=1s longest=3s"  # so that the test is short; the rule has its own tests
LATE = 120_000  # a slow machine may take its time [ms]

READ = """() => /taken|all lifts read/.test(document.querySelector('.live-step').textContent)
    || [...document.querySelectorAll('button')].some(
        (b) => b.textContent.trim() === 'Keep it' && b.offsetParent)"""
ASKED_FOR = "/send it from/.test(document.querySelector('.live-step').textContent)"


class Bench:
    """A practice bench that runs beside the test."""

    def __init__(self) -> None:
        self.practice = Practice(QUICK, 20.0)
        self.cable = TcpOutlet(0, self.practice.command)
        self._stop = threading.Event()
        self._thread = threading.Thread(
            target=practice_bench.run, args=(self.practice, [self.cable], self._stop)
        )
        self._thread.start()

    @property
    def description(self) -> str:
        return practice_bench.practice_description(self.cable.port)

    def do(self, words: str) -> None:
        self.practice.command(words)

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self.cable.close()


@pytest.fixture
def bench() -> Iterator[Bench]:
    made = Bench()
    yield made
    made.close()


def step(page: Page, words: str) -> None:
    """Wait until the screen says so, in large letters or beside them."""
    expect(page.locator(".live-step")).to_contain_text(words, timeout=LATE)


def test_hands_stay_on_the_lift_screw(
    bench: Bench,
    serve: Serve,
    demo_file: Path,
    tmp_path: Path,
    open_tablet: Callable[..., Tablet],
) -> None:
    shop = own_copy(demo_file, tmp_path)
    with shop_file.open_shop(shop) as opened:
        instruments.keep(opened, bench.description)
        settle_rules.choose(opened, RULE)
    server = serve(shop)
    tablet = open_tablet()
    page = tablet.page
    run = begin(page, server, "I2", "S0", "2 5")
    page.get_by_role("link", name="Live").click()
    ready(page)
    step(page, "switch the air on")
    page.get_by_role("button", name="Zero the gauges").click()
    expect(page.get_by_text("zero 20")).to_be_visible(timeout=LATE)
    bench.do("on")
    step(page, "set 2")
    bench.do("lift 2")
    # the flow of the practice bench is not that of this port: it is asked about, and kept
    take_it(page, "2")
    step(page, "taken")
    step(page, "set 5")
    assert serious_violations(page) == []

    bench.cable.unplug()
    step(page, "paused")
    step(page, "not connected")
    bench.cable.plug()
    step(page, "set 5")
    bench.do("lift 5")
    take_it(page, "5")
    step(page, "all lifts read")
    expect(page.get_by_role("button", name="Now come down")).to_be_visible()

    # drawn up to the newest frame; how many a second is measured by benchmarks/live_screen.py
    page.wait_for_function("portwrightLive.received > 100")
    page.wait_for_function("portwrightLive.shown === portwrightLive.newest")
    page.set_viewport_size({"width": 1180, "height": 820})
    assert page.evaluate(
        "[...document.querySelectorAll('.live-numbers dd')]"
        ".every((d) => d.scrollWidth <= d.clientWidth)"
    ), "a number runs out of its place"
    readings = stored(shop, run)
    assert set(readings) == {"2", "5"}

    page.get_by_role("link", name="How it settled").click()
    ready(page)
    expect(page.get_by_text("lines in the trace")).to_be_visible(timeout=LATE)
    assert serious_violations(page) == []
    with shop_file.open_shop(shop) as opened:
        kept = live_trace.load(opened, JOB, run)
        assert any(e.kind == "contact" for t in kept for e in t.entries if not hasattr(e, "text"))


def take_it(page: Page, lift: str) -> None:
    """Wait until the lift is read, whether it is asked about or not."""
    tile = page.locator(".lifts li", has_text=lift).first
    keep = page.get_by_role("button", name="Keep it")
    page.wait_for_function(READ, timeout=LATE)
    if keep.is_visible():
        keep.click()
    expect(tile).to_be_visible()


def test_a_description_is_tried_while_it_is_written(
    bench: Bench,
    serve: Serve,
    demo_file: Path,
    tmp_path: Path,
    open_tablet: Callable[..., Tablet],
) -> None:
    shop = own_copy(demo_file, tmp_path)
    server = serve(shop)
    page = open_tablet(width=1180, height=820).page
    page.goto(f"{server.address}{links.BENCH}")
    ready(page)
    page.get_by_role("link", name="Instruments").click()
    page.wait_for_url("**/instruments")
    ready(page)
    box = page.get_by_label("Description")
    box.fill(bench.description.replace('"Pa"', '"bananas"', 1))
    expect(page.get_by_text("'bananas' is not a unit of pressure")).to_be_visible()
    box.fill(bench.description)
    expect(page.get_by_text("'bananas' is not a unit of pressure")).to_be_hidden()
    expect(page.locator(".heard li").first).to_contain_text("test pressure", timeout=LATE)
    box.fill(bench.description.replace("{test_pressure},", "P={test_pressure},"))
    expect(page.locator(".heard li").first).to_contain_text("does not look like", timeout=LATE)
    assert serious_violations(page) == []
    box.fill(bench.description)
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url("**/instruments?name=Practice*")
    ready(page)
    expect(page.locator(".heard li").first).to_contain_text("test pressure", timeout=LATE)
    with shop_file.open_shop(shop) as opened:
        assert [d.instrument.name for d in instruments.described(opened)] == ["Practice bench"]


def old_bench_board(bench: Bench) -> str:
    """The practice bench as one of ranges: per cent, no lift, no range."""
    text = bench.description.replace("{flow}", "{percent}").replace("{lift}", "{*}")
    text = text.replace('[channels.flow]\nunit = "cfm"', '[channels.percent]\nunit = "%"')
    return text.replace('flow_is = "converted"\n', "").replace('[channels.lift]\nunit = "mm"\n', "")


TYPED_LIFT = """
name = "Lift indicator"
pattern = "{lift}"

[connection]
kind = "keys"

[channels.lift]
unit = "mm"
"""


def test_a_typed_lift_a_range_chosen_and_the_way_down(
    bench: Bench,
    serve: Serve,
    demo_file: Path,
    tmp_path: Path,
    open_tablet: Callable[..., Tablet],
) -> None:
    shop = own_copy(demo_file, tmp_path)
    with shop_file.open_shop(shop) as opened:
        instruments.keep(opened, old_bench_board(bench))
        instruments.keep(opened, TYPED_LIFT)
        settle_rules.choose(opened, RULE)
        newest = NewCalibration("range 5 measured", ranges={5: "60 cfm"})
        add_calibration(opened, "B1", newest)
        set_up = carried.set_up(opened, opened.job(JOB), "I2", "B1")
        up = capture.begin(opened, JOB, "I2", "S0", set_up, own_list("1 2", "mm")).code
    server = serve(shop)
    page = open_tablet().page
    page.goto(f"{server.address}{links.live(JOB, 'I2', 'S0', up)}")
    ready(page)
    step(page, "choose the range")
    choose_range(page, "Range 5")
    step(page, "switch the air on")
    bench.do("on")
    step(page, "set 1")
    read_by_hand(page, bench, "1")
    step(page, "set 2")
    read_by_hand(page, bench, "2")
    step(page, "all lifts read")
    # the bench reads at 10, the shop compares at 28: figure, label and curve are of one pressure
    expect(page.get_by_text("Flow at 28 inH2O", exact=True)).to_be_visible()
    assert serious_violations(page) == []
    page.screenshot(path=tmp_path / "up.png")

    page.get_by_role("button", name="Now come down").click()
    page.wait_for_function("up => !location.search.includes(up)", arg=up)
    ready(page)
    step(page, "choose the range")  # the bench may have been turned to another meanwhile
    choose_range(page, "Range 5")
    step(page, "set 2")  # from the top
    read_by_hand(page, bench, "2")
    step(page, "set 1")
    read_by_hand(page, bench, "1")
    step(page, "all lifts read")
    page.get_by_role("link", name="How it settled").click()
    ready(page)
    expect(page.get_by_text("lines in the trace")).to_be_visible(timeout=LATE)
    page.screenshot(path=tmp_path / "down.png", full_page=True)
    with shop_file.open_shop(shop) as opened:
        there, back = opened.run(up), opened.run(re.findall(r"R\d+", page.url)[-1])
    assert [r.lift.text for r in back.readings] == ["2", "1"]
    for reading in (*there.readings, *back.readings):
        assert reading.range_number == 5
        assert reading.percent is not None


def choose_range(page: Page, name: str) -> None:
    """Press the range the bench stands on."""
    chosen = page.get_by_role("button", name=name, exact=True)
    chosen.click()
    expect(chosen).to_have_attribute("aria-pressed", "true")


def read_by_hand(page: Page, bench: Bench, lift: str) -> None:
    """Turn the valve, and let the indicator type where it stands."""
    bench.do(f"lift {lift}")
    box = page.get_by_label("Lift indicator types here")
    wanted = page.locator(".live-step").filter(has_text="send it from the indicator")
    # on a busy machine the change of flow may be heard after the lift: then it is asked for again
    while True:
        box.fill(f"{lift}.00")
        box.press("Enter")
        expect(box).to_have_value("")
        expect(page.locator(".live-step")).not_to_contain_text(f"set {lift}")  # it was heard
        page.wait_for_function(f"({READ})() || {ASKED_FOR}", timeout=LATE)
        if not wanted.count():
            return take_it(page, lift)
