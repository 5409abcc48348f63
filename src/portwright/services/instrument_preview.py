"""What an instrument says while its description is being written."""

from __future__ import annotations

import queue
from collections import deque

from portwright.io.instruments.description import read_description
from portwright.io.instruments.reader import Contact, Line, Reader, Standing
from portwright.model.instrument import Connection, Instrument, Link
from portwright.services.display import Display
from portwright.services.instruments import Understood, understood
from portwright.services.live_bench import LiveBench

_KEPT = 20  # newest lines looked at


class Preview:
    """Listens with the description as it is written.

    Parameters
    ----------
    bench : LiveBench
        Holds the instruments of the shop; a wire it holds is not opened a second time.
    """

    def __init__(self, bench: LiveBench) -> None:
        self._bench = bench
        self._instrument: Instrument | None = None
        self._wanted: Connection | None = None
        self._reader: Reader | None = None
        self._out: queue.Queue[Line] = queue.Queue(1000)
        self._lines: deque[Line] = deque(maxlen=_KEPT)
        self._closed = False

    def describe(self, text: str) -> None:
        """Take the description as it is now.

        Raises
        ------
        InputError
            It cannot be read; what came before stays in force.
        """
        self._instrument = read_description(text)

    def look(self, display: Display, most: int) -> tuple[str, list[Understood]]:
        """State in words, and the newest lines with what they mean.

        Parameters
        ----------
        display : Display
        most : int
            Lines at most.
        """
        instrument = self._instrument
        if instrument is None or self._closed:
            return "", []
        held = self._held(instrument.connection)
        if held:
            standing = self._bench.standing()[held]
            lines = self._bench.seen(held)
        else:
            standing = self._own(instrument)
            lines = list(self._lines)
        made = [understood(instrument, line.text, display) for line in lines[-most:]]
        return _words(instrument, standing), made[::-1]

    def _held(self, connection: Connection) -> str:
        """Name under which the shop listens to this very wire already."""
        names = (i.name for i in self._bench.instruments if i.connection == connection)
        return next(names, "")

    def _own(self, instrument: Instrument) -> Standing:
        connection = instrument.connection
        if connection != self._wanted:  # still being typed: opened when it stays as it is
            self._wanted = connection
            self.hang_up()
        elif self._reader is None:
            self._reader = Reader(instrument, self._out)
            self._reader.start()
        while not self._out.empty():
            self._lines.append(self._out.get_nowait())
        return self._reader.standing if self._reader else Standing(Contact.CONNECTING)

    def hang_up(self) -> None:
        """Let go of the wire."""
        reader, self._reader = self._reader, None
        if reader is not None:
            reader.stop()
        self._lines.clear()

    def close(self) -> None:
        """End."""
        self._closed = True
        self.hang_up()


def _words(instrument: Instrument, standing: Standing) -> str:
    if instrument.connection.link is Link.KEYS:
        return "Types into the bench screen; nothing to be seen here."
    said = f"{standing.contact.value.capitalize()}: {instrument.connection}."
    return f"{said} {standing.why}".strip()
