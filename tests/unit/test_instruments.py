"""Descriptions of instruments, their lines, and the wires to them."""

from __future__ import annotations

import os
import queue
import socket
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright import units
from portwright.errors import InputError, InstrumentError, UnitError, UnknownNameError
from portwright.io.instruments.description import read_description
from portwright.io.instruments.lines import LineReader
from portwright.io.instruments.reader import Contact, Line, Reader
from portwright.io.instruments.transports import open_transport
from portwright.model.instrument import Instrument, Link
from portwright.services import instruments, practice_bench
from portwright.services.display import Display
from portwright.services.shop_file import create_shop
from portwright.units import Kind

PATIENCE = 120.0  # a hung machine fails, a slow one does not [s]
GAUGE = """
name = "Gauge"
pattern = "P={test_pressure} T={air_temperature}"
[connection]
kind = "tcp"
host = "127.0.0.1"
tcp_port = %d
%s
[channels.test_pressure]
unit = "inH2O"
scale = 2.0
offset = 1.0
[channels.air_temperature]
unit = "degF"
"""


def gauge(port: int = 5000, more: str = "") -> Instrument:
    return read_description(GAUGE % (port, more))


def test_a_line_becomes_si_by_scale_offset_and_unit() -> None:
    found = LineReader(gauge()).read("  P= 13.5  T=68 ")
    assert found is not None
    assert found["test_pressure"] == pytest.approx(28.0 * 249.08891, rel=1e-6)
    assert found["air_temperature"] == pytest.approx(293.15)


@pytest.mark.parametrize(
    "line", ["", "P=13.5", "P=OL T=68", "P=1e999 T=68", "P=13,5 T=68", "x" * 5000]
)
def test_other_lines_are_not_understood(line: str) -> None:
    assert LineReader(gauge()).read(line) is None


READER = LineReader(gauge())


@given(st.text(max_size=60))
def test_no_line_raises(line: str) -> None:
    READER.read(line)


@given(st.floats(-1e6, 1e6))
def test_every_number_sent_is_read(value: float) -> None:
    found = READER.read(f"P={value!r} T=0")
    assert found is not None
    expected = units.to_si(2.0 * value + 1.0, "inH2O", Kind.PRESSURE)
    assert found["test_pressure"] == pytest.approx(expected, rel=1e-9, abs=1e-6)


def test_decimal_commas_and_skipped_parts() -> None:
    reader = LineReader(read_description(instruments.example("drop_folder")))
    found = reader.read("10:31:05;112,4;28,02")
    assert found is not None
    assert found["flow"] == pytest.approx(units.to_si(112.4, "cfm", Kind.FLOW))


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("name = 5 5\n", InputError, "line 1"),
        ('name = "x"', InputError, "connection"),
        (GAUGE.replace('kind = "tcp"', 'kind = "wifi"') % (1, ""), UnknownNameError, "wifi"),
        (GAUGE.replace("inH2O", "cfm") % (1, ""), UnitError, "pressure"),
        (
            GAUGE.replace("P={test_pressure}", "P={pressure}") % (1, ""),
            UnknownNameError,
            "pressure",
        ),
        (GAUGE.replace("scale = 2.0", "scale = 0.0") % (1, ""), InputError, "zero"),
        (GAUGE.replace("scale = 2.0", 'scale = "2"') % (1, ""), InputError, "number"),
        (GAUGE % (1, 'port = "COM3"'), UnknownNameError, "port"),
        (GAUGE % (70000, ""), InputError, "70000"),
        (GAUGE.replace("T={air", "P={test_pressure} T={air") % (1, ""), InputError, "twice"),
        (
            GAUGE.replace("P={test_pressure} T={air_temperature}", "nothing") % (1, ""),
            InputError,
            "chan",
        ),
    ],
)
def test_a_wrong_description_says_where(text: str, error: type[Exception], says: str) -> None:
    with pytest.raises(error) as caught:
        read_description(text)
    assert says in str(caught.value)


def test_a_flow_must_say_what_it_is() -> None:
    text = instruments.example("practice").replace('flow_is = "converted"\n', "")
    with pytest.raises(InputError, match='flow_is = "as measured"'):
        read_description(text)


@pytest.mark.parametrize("name", instruments.examples())
def test_every_example_can_be_read(name: str) -> None:
    made = read_description(instruments.example(name))
    assert made.channels
    assert made.connection.link in set(Link)


def test_descriptions_live_in_the_shop_file(tmp_path: Path) -> None:
    with create_shop(tmp_path / "a.shop") as shop:
        instruments.keep(shop, instruments.example("pressure_gauge"))
        instruments.keep(shop, instruments.example("thermometer"))
        with pytest.raises(InputError, match="Test-pressure gauge sends test pressure already"):
            instruments.keep(shop, instruments.example("board"))
        renamed = instruments.example("pressure_gauge").replace("Test-pressure gauge", "New")
        instruments.keep(shop, renamed, replaces="Test-pressure gauge")
        names = [d.instrument.name for d in instruments.described(shop)]
        assert names == ["New", "Thermometer"]
        instruments.forget(shop, "New")
        with pytest.raises(UnknownNameError):
            instruments.forget(shop, "New")
        assert len(instruments.described(shop)) == 1


def test_what_a_line_says_in_words() -> None:
    said = instruments.understood(gauge(), "P=13.5 T=68", Display())
    assert said.values == {"test pressure": "28.00 inH2O", "air temperature": "68.0 degF"}
    assert instruments.understood(gauge(), "what", Display()).values == {}


# --- the wires ---------------------------------------------------------------------------------


class Talker:
    """The other end of a network cable."""

    def __init__(self, port: int = 0) -> None:
        self._server = socket.create_server(("127.0.0.1", port))
        self._server.settimeout(PATIENCE)
        self.port = int(self._server.getsockname()[1])
        self.client: socket.socket | None = None

    def accept(self) -> socket.socket:
        self.client, _ = self._server.accept()
        self.client.settimeout(PATIENCE)
        return self.client

    def close(self) -> None:
        self._server.close()  # first: a reader that connects again must not be let in meanwhile
        if self.client is not None:
            self.client.close()


Listen = Callable[[Instrument], tuple[Reader, "queue.Queue[Line]"]]


@pytest.fixture
def listen() -> Iterator[Listen]:
    started: list[Reader] = []

    def begin(instrument: Instrument) -> tuple[Reader, queue.Queue[Line]]:
        lines: queue.Queue[Line] = queue.Queue(1000)
        reader = Reader(instrument, lines)
        reader.start()
        started.append(reader)
        return reader, lines

    yield begin
    for reader in started:
        reader.stop()


def wait_until(true: Callable[[], bool]) -> None:
    """Wait, however slow the machine, for something that must come."""
    pause = threading.Event()
    for _ in range(int(PATIENCE / 0.02)):
        if true():
            return
        pause.wait(0.02)
    raise AssertionError("it never came")


def test_lines_come_whole_over_tcp(listen: Listen) -> None:
    talker = Talker()
    _, lines = listen(gauge(talker.port))
    client = talker.accept()
    for part in (b"P=1 T=2\r\nP=3", b" T=4\r", b"\nP=5 T=6\n"):
        client.sendall(part)
    texts = [lines.get(timeout=PATIENCE).text for _ in range(3)]
    assert texts == ["P=1 T=2", "P=3 T=4", "P=5 T=6"]
    talker.close()


def test_a_question_is_asked(listen: Listen) -> None:
    talker = Talker()
    _, lines = listen(gauge(talker.port, 'poll = "READ?\\n"\nevery_s = 0.05'))
    client = talker.accept()
    for k in range(3):
        assert client.recv(100).startswith(b"READ?\n")
        client.sendall(b"P=%d T=0\n" % k)
    assert [lines.get(timeout=PATIENCE).text for _ in range(3)] == ["P=0 T=0", "P=1 T=0", "P=2 T=0"]
    talker.close()


def test_a_network_cable_pulled_and_put_back(listen: Listen) -> None:
    talker = Talker()
    reader, lines = listen(gauge(talker.port))
    talker.accept().sendall(b"P=1 T=0\nP=2 T")
    assert lines.get(timeout=PATIENCE).text == "P=1 T=0"
    talker.close()
    cut = lines.get(timeout=PATIENCE)
    assert (cut.text, cut.cut) == ("P=2 T", True)
    wait_until(lambda: reader.standing.contact is Contact.LOST)
    assert reader.standing.why
    again = Talker(talker.port)
    again.accept().sendall(b"P=3 T=0\n")
    assert lines.get(timeout=PATIENCE).text == "P=3 T=0"
    assert reader.standing.contact is Contact.CONNECTED
    assert reader.standing.connections == 2
    again.close()


@pytest.mark.skipif(sys.platform == "win32", reason="this system has no pseudo-terminals")
def test_a_practice_port_replaces_no_file(tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("lift,flow\n", encoding="utf-8")
    with pytest.raises(InstrumentError, match="there already"):
        practice_bench.TerminalOutlet(sheet)
    assert sheet.read_text(encoding="utf-8") == "lift,flow\n"
    with pytest.raises(InstrumentError, match="folder you may write to"):
        practice_bench.TerminalOutlet(tmp_path / "nowhere" / "bench")


@pytest.mark.skipif(sys.platform == "win32", reason="this system has no pseudo-terminals")
def test_a_serial_cable_pulled_and_put_back(listen: Listen, tmp_path: Path) -> None:
    outlet = practice_bench.TerminalOutlet(tmp_path / "bench")
    text = practice_bench.practice_description(terminal=outlet.name)
    reader, lines = listen(read_description(text))
    wait_until(lambda: reader.standing.connections == 1)
    sent: list[str] = []
    got: list[str] = []
    for number in range(400):
        if number == 200:  # the cable is out: what was sent before is there, nothing is made up
            got += [lines.get(timeout=PATIENCE).text for _ in range(len(sent) - len(got))]
            outlet.unplug()
            wait_until(lambda: reader.standing.contact is Contact.LOST)
            assert not os.path.lexists(outlet.name)
            outlet.plug()
            wait_until(lambda: reader.standing.connections == 2)
        sent.append(f"{number},1,2,3,4,5")
        outlet.send(f"{sent[-1]}\r\n".encode())
        if number % 20 == 0:
            got += [lines.get(timeout=PATIENCE).text for _ in range(len(sent) - len(got))]
    got += [lines.get(timeout=PATIENCE).text for _ in range(len(sent) - len(got))]
    assert got == sent
    assert reader.standing.lost == 0
    outlet.close()


def test_nothing_there_is_said(tmp_path: Path) -> None:
    nowhere = practice_bench.practice_description(terminal=tmp_path / "none")
    with pytest.raises(InstrumentError, match="none"):
        open_transport(read_description(nowhere))


def test_new_lines_of_a_drop_folder(tmp_path: Path) -> None:
    text = instruments.example("drop_folder").replace("C:/bench", tmp_path.as_posix())
    old = tmp_path / "old.csv"
    old.write_text("a;1,0;2,0\n", encoding="utf-8")
    wire = open_transport(read_description(text))
    assert wire.read(0.0) == b""
    with old.open("a", encoding="utf-8", newline="") as file:
        file.write("b;3,0;4,0\nc;5,")
    assert wire.read(0.0) == b"b;3,0;4,0\n"
    with old.open("a", encoding="utf-8", newline="") as file:
        file.write("0;6,0\n")
    (tmp_path / "second.csv").write_bytes(b"d;7,0;8,0\n")
    (tmp_path / "other.txt").write_bytes(b"e;9,0;9,0\n")
    assert wire.read(0.0) == b"c;5,0;6,0\nd;7,0;8,0\n"
    (tmp_path / "second.csv").write_bytes(b"f;1,0\n")
    assert wire.read(0.0) == b"f;1,0\n"


def test_an_instrument_that_types(listen: Listen) -> None:
    reader, lines = listen(read_description(instruments.example("lift_indicator")))
    reader.type("3.02")
    assert lines.get(timeout=PATIENCE).text == "3.02"


def test_a_full_queue_counts_what_is_lost(tmp_path: Path) -> None:
    lines: queue.Queue[Line] = queue.Queue(2)
    reader = Reader(read_description(instruments.example("lift_indicator")), lines)
    for k in range(5):
        reader.type(str(k))
    reader.start()
    wait_until(lambda: reader.standing.lines == 5)
    assert reader.standing.lost == 3
    assert reader.standing.contact is Contact.CONNECTED
    reader.stop()
    assert [lines.get_nowait().text for _ in range(2)] == ["0", "1"]
