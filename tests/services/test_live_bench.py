"""The instruments of a shop while they are listened to: wires, zero, traces on the disk."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from portwright.core.practice_bench import STEADY_BENCH
from portwright.errors import InputError
from portwright.io.instruments.reader import Contact, Line
from portwright.services import capture, carried, instruments, live_trace, practice_bench
from portwright.services.capture import OpenSweep
from portwright.services.demo import DEMO_JOB, create_demo
from portwright.services.display import Display
from portwright.services.instrument_preview import Preview
from portwright.services.lift_lists import own_list
from portwright.services.live_bench import LiveBench, kept_zero
from portwright.services.live_sweep import LiveSweep, Step
from portwright.services.practice_bench import Practice, TcpOutlet
from portwright.services.shop_file import ShopFile

PATIENCE = 120.0  # a hung machine fails, a slow one does not [s]
NAME = "Practice bench"


def wait_until(true: Callable[[], bool]) -> None:
    """Wait, however slow the machine, for something that must come."""
    pause = threading.Event()
    for _ in range(int(PATIENCE / 0.02)):
        if true():
            return
        pause.wait(0.02)
    raise AssertionError("it never came")


class Wired:
    """A practice bench on a socket, and the shop listening to it."""

    def __init__(self, shop: ShopFile, folder: Path) -> None:
        self.shop = shop
        self.practice = Practice(replace(STEADY_BENCH, noise=1e-4), 50.0)
        self.outlet = TcpOutlet(0, self.practice.command)
        self.text = practice_bench.practice_description(self.outlet.port)
        instruments.keep(shop, self.text)
        set_up = carried.set_up(shop, shop.job(DEMO_JOB), "I2", "B2")
        run = capture.begin(shop, DEMO_JOB, "I2", "S0", set_up, own_list("2 4", "mm"))
        self.sweep = OpenSweep.open(shop, run.code)
        self.bench = LiveBench(shop)
        self.live: LiveSweep = self.bench.attach(self.sweep)
        self.live.plan.unread = self.sweep.lifts.lifts
        self.bench.start()
        wait_until(lambda: self.bench.standing()[NAME].contact is Contact.CONNECTED)
        self.sent: list[str] = []

    def send(self, lines: int) -> None:
        """Send so many lines and wait until they were handled."""
        wait_until(lambda: self.outlet.listeners == 1)
        begun = self.bench.handled
        for _ in range(lines):
            self.sent.append(self.practice.line())
            self.outlet.send(self.sent[-1].encode() + b"\r\n")
        wait_until(lambda: self.bench.handled >= begun + lines)

    def trace(self) -> list[str]:
        """Lines in the shop file."""
        run = self.sweep.run
        kept = live_trace.load(self.shop, run.job, run.code)
        return [e.text for t in kept for e in t.entries if isinstance(e, Line)]


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[Wired]:
    with create_demo(tmp_path / "demo.shop") as shop:
        made = Wired(shop, tmp_path)
        yield made
        made.bench.stop()
        made.outlet.close()


def test_every_line_is_on_the_disk_also_around_a_pulled_cable(wired: Wired) -> None:
    wired.send(100)
    wired.outlet.unplug()
    wait_until(lambda: wired.live.now().step is Step.PAUSED)
    assert "not connected" in wired.live.now().words
    wired.bench.flush(wired.sweep.run.code)
    wired.outlet.plug()
    wait_until(lambda: wired.live.now().step is not Step.PAUSED)
    wired.send(100)
    wired.bench.detach(wired.sweep.run.code)
    assert wired.trace() == wired.sent
    assert wired.bench.standing()[NAME].connections == 2
    assert live_trace.pieces(wired.shop, wired.sweep.run.job, wired.sweep.run.code) == 2


def test_one_sweep_for_all_screens(wired: Wired) -> None:
    assert wired.bench.attach(wired.sweep) is wired.live
    wired.bench.detach(wired.sweep.run.code)
    wired.send(20)
    wired.bench.detach(wired.sweep.run.code)
    assert wired.trace() == wired.sent


def test_zero_with_the_air_off_and_not_with_the_air_on(wired: Wired) -> None:
    with pytest.raises(InputError, match="send nothing"):
        wired.bench.take_zero()
    wired.send(40)
    zero = wired.bench.take_zero()
    assert set(zero.values) == {"test_pressure", "meter_pressure", "flow"}
    assert kept_zero(wired.shop) == zero
    wired.practice.command("on")
    wired.practice.command("lift 4")
    wired.send(400)
    with pytest.raises(InputError, match=r"inH2O\. Switch the air off"):
        wired.bench.take_zero()
    assert kept_zero(wired.shop) == zero


def test_what_an_edited_description_would_understand(wired: Wired) -> None:
    wired.send(5)
    preview = Preview(wired.bench)
    preview.describe(wired.text)
    state, lines = preview.look(Display(), 3)
    assert state.startswith("Connected")
    assert [line.line for line in lines] == wired.sent[:-4:-1]
    assert all("test pressure" in line.values for line in lines)
    preview.describe(wired.text.replace("{test_pressure},", "P {test_pressure},"))
    assert not preview.look(Display(), 1)[1][0].values
    preview.close()


def test_a_wire_nobody_holds_is_opened_for_the_preview(wired: Wired) -> None:
    other = TcpOutlet(0, wired.practice.command)
    preview = Preview(wired.bench)
    preview.describe(practice_bench.practice_description(other.port))

    def heard() -> bool:
        preview.look(Display(), 1)
        other.send(b"1,2,3,4,5,6\r\n")
        return bool(preview.look(Display(), 1)[1])

    wait_until(heard)
    preview.close()
    other.close()
