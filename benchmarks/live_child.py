"""The instrument of ``live.py``: numbered lines on a cable that can be pulled."""

from __future__ import annotations

import sys
import threading
from pathlib import Path

from portwright.services import practice_bench as practice

_LAST_BYTES = 0.5  # what was sent has arrived before the cable is pulled [s]


class Numbered:
    """Puts a running number in front of each line and counts what was sent."""

    def __init__(self, outlet: practice.Outlet) -> None:
        self._outlet = outlet
        self.plugged = True
        self.sent = 0

    def send(self, data: bytes) -> None:
        """A line with its number."""
        if self.plugged:
            self._outlet.send(b"%d," % self.sent + data)
            self.sent += 1

    def do(self, word: str, stop: threading.Event) -> None:
        """What the measuring side asks for."""
        if word == "unplug":
            self.plugged = False
            stop.wait(_LAST_BYTES)
            self._outlet.unplug()
        elif word == "plug":
            self._outlet.plug()
            stop.wait(3.0)  # the reader looks again every two seconds
            self.plugged = True
        elif word == "quit":
            stop.set()

    def unplug(self) -> None:
        """As the outlet."""
        self._outlet.unplug()

    def plug(self) -> None:
        """As the outlet."""
        self._outlet.plug()

    def close(self) -> None:
        """As the outlet."""
        self._outlet.close()


def main() -> None:
    place, rate, lines = sys.argv[1], float(sys.argv[2]), int(sys.argv[3])
    bench = practice.Practice(practice.STEADY_BENCH, rate)
    bench.command("on")
    bench.command("lift 6")
    outlet: practice.Outlet
    if place == "tcp":
        outlet = practice.TcpOutlet(0, bench.command)
        print(outlet.port, flush=True)
    else:
        outlet = practice.TerminalOutlet(Path(place))
        print(0, flush=True)
    numbered = Numbered(outlet)
    stop = threading.Event()

    def hear() -> None:
        for line in sys.stdin:
            numbered.do(line.strip(), stop)

    sys.stdin.readline()  # the other side listens now
    threading.Thread(target=hear, daemon=True).start()
    practice.run(bench, [numbered], stop, lines)
    stop.wait(1.0)
    print(numbered.sent, flush=True)
    stop.wait(30.0)
    outlet.close()


if __name__ == "__main__":
    main()
