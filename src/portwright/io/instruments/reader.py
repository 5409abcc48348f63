"""One thread for each instrument: it reads lines, dates them, and connects again by itself."""

from __future__ import annotations

import queue
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from portwright.errors import InstrumentError
from portwright.io.instruments.lines import LONGEST
from portwright.io.instruments.transports import Keys, Transport, open_transport
from portwright.model.instrument import Instrument, Link

TICKS = 4  # digits of a second kept
ROOM = 60_000  # lines that may wait: ten minutes at a hundred a second
_WAIT = 0.1  # a read gives up after so long, to look whether it shall stop [s]
_PAUSES = (0.2, 0.5, 1.0, 2.0)  # before connecting again [s]


class Contact(StrEnum):
    """How it stands with one instrument."""

    CONNECTING = "connecting"
    CONNECTED = "connected"
    SILENT = "silent"  # connected, but no line comes
    LOST = "not connected"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Line:
    """One line as it came.

    Parameters
    ----------
    time : float
        Clock of this computer, counting from its start. [s]
    source : str
        Name of the instrument.
    text : str
        Without the end of line.
    cut : bool
        The wire was lost in the middle of it; it is kept but never read as numbers.
    """

    time: float
    source: str
    text: str
    cut: bool = False


@dataclass(frozen=True, slots=True)
class Standing:
    """State of one instrument.

    Parameters
    ----------
    contact : Contact
    why : str
        What stands in the way.
    lines : int
        Lines read since the start.
    lost : int
        Lines for which there was no room; 0 unless the computer stood still for minutes.
    connections : int
        How often it was reached.
    """

    contact: Contact
    why: str = ""
    lines: int = 0
    lost: int = 0
    connections: int = 0


class Reader:
    """Reads one instrument until stopped.

    Parameters
    ----------
    instrument : Instrument
    out : queue.Queue of Line
        With a bound; a line that finds no room is counted, never waited for.
    open_wire : callable
        How it is reached.
    """

    def __init__(
        self,
        instrument: Instrument,
        out: queue.Queue[Line],
        open_wire: Callable[[Instrument], Transport] = open_transport,
    ) -> None:
        self.instrument = instrument
        self._out, self._open = out, open_wire
        self._stop = threading.Event()
        self._contact, self._why = Contact.CONNECTING, ""
        self._lines = self._lost = self._connections = 0
        self._last = time.monotonic()
        self._keys = Keys()
        self._thread = threading.Thread(
            target=self._run, name=f"instrument {instrument.name}", daemon=True
        )

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def stop(self) -> None:
        """End; what was read stays in the queue."""
        self._stop.set()
        if self._thread.ident is not None:
            self._thread.join()
        self._contact = Contact.STOPPED

    def type(self, line: str) -> None:
        """A line that the instrument typed into the screen."""
        self._keys.type(line)

    @property
    def standing(self) -> Standing:
        """State now."""
        contact = self._contact
        quiet = time.monotonic() - self._last > self.instrument.silence
        # one that types is heard only when somebody presses its button
        types = self.instrument.connection.link is Link.KEYS
        if contact is Contact.CONNECTED and quiet and not types:
            contact = Contact.SILENT
        return Standing(contact, self._why, self._lines, self._lost, self._connections)

    def _run(self) -> None:
        tries = 0
        while not self._stop.is_set():
            try:
                wire = self._reach()
            except InstrumentError as error:
                self._contact, self._why = Contact.LOST, str(error)
                self._stop.wait(_PAUSES[min(tries, len(_PAUSES) - 1)])
                tries += 1
                continue
            tries = 0
            self._connections += 1
            self._last = time.monotonic()
            self._contact, self._why = Contact.CONNECTED, ""
            try:
                self._listen(wire)
            except InstrumentError as error:
                self._contact, self._why = Contact.LOST, str(error)
            finally:
                wire.close()

    def _reach(self) -> Transport:
        if self.instrument.connection.link is Link.KEYS:
            return self._keys
        return self._open(self.instrument)

    def _listen(self, wire: Transport) -> None:
        question = self.instrument.connection.poll.encode("utf-8")
        ask_at = 0.0
        held = b""
        try:
            while not self._stop.is_set():
                now = time.monotonic()
                wait = _WAIT
                if question:
                    if now >= ask_at:
                        wire.write(question)
                        ask_at = now + self.instrument.connection.every
                    wait = min(_WAIT, max(0.001, ask_at - now))
                data = wire.read(wait)
                if not data:
                    continue
                *whole, held = (held + data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")).split(
                    b"\n"
                )
                now = self._last = time.monotonic()
                for line in whole:
                    if line.strip():
                        self._put(now, line)
                if len(held) > 4 * LONGEST:  # noise without an end of line
                    self._put(now, held, cut=True)
                    held = b""
        finally:
            if held.strip():
                self._put(time.monotonic(), held, cut=True)

    def _put(self, now: float, line: bytes, *, cut: bool = False) -> None:
        text = line.decode("utf-8", errors="replace").strip()
        self._lines += 1
        now = round(now, TICKS)  # as a trace keeps it: replayed lines then judge alike
        try:
            self._out.put_nowait(Line(now, self.instrument.name, text, cut))
        except queue.Full:
            self._lost += 1
