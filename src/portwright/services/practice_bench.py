"""A bench to practise on: it prints lines like an instrument, on a pseudo-terminal or over TCP."""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

import numpy as np

from portwright import units
from portwright.core.air import REFERENCE_AIR
from portwright.core.practice_bench import (
    COLD_BENCH,
    HUNTING_BENCH,
    SLOW_BENCH,
    STEADY_BENCH,
    Habits,
    PracticeBench,
)
from portwright.errors import InputError, InstrumentError, UnknownNameError
from portwright.io.instruments.description import read_description
from portwright.model.instrument import Instrument
from portwright.services.instruments import example
from portwright.units import Kind

HABITS = {
    "steady": STEADY_BENCH,
    "hunting": HUNTING_BENCH,
    "slow": SLOW_BENCH,
    "cold": COLD_BENCH,
}
DEFAULT_PORT = 9870
COMMANDS = "lift 3 (in mm), on, off, unplug, plug, quit"
_REFERS_TO = units.to_si(28.0, "inH2O", Kind.PRESSURE)  # its own flow display is converted to this
_LATE = 1.0  # a clock further behind than this is set anew [s]


class Outlet(Protocol):
    """Where the lines go."""

    def send(self, data: bytes) -> None:
        """Hand over a line; nobody may be listening."""

    def unplug(self) -> None:
        """Pull the cable."""

    def plug(self) -> None:
        """Put it back."""

    def close(self) -> None:
        """End."""


class Practice:
    """One practice bench with its lines.

    Parameters
    ----------
    habits : Habits
    rate : float
        Lines each second. [1/s]
    seed : int
    size : float
        Effective area its port tends to. [m2]
    """

    def __init__(
        self, habits: Habits, rate: float = 20.0, seed: int = 1, size: float = 1.15e-3
    ) -> None:
        if not 0.1 <= rate <= 1000.0:
            raise InputError("The rate must lie between 0.1 and 1000 lines a second.")
        self.rate = rate
        self._bench = PracticeBench(habits, np.random.default_rng(seed), size)
        self._dice = np.random.default_rng(seed + 1)

    def line(self) -> str:
        """Let one step of time pass and give the line of it."""
        seen = self._bench.step(1.0 / self.rate)
        flow = seen.flow * np.sqrt(_REFERS_TO / max(seen.pressure, 1.0))
        if seen.pressure < 50.0:
            flow = 0.0
        temperature = REFERENCE_AIR.temperature + 0.05 * self._dice.standard_normal()
        parts = (
            f"{seen.pressure:.1f}",
            f"{seen.meter:.2f}",
            units.show(float(flow), "cfm", Kind.FLOW, 2),
            units.show(seen.lift, "mm", Kind.LENGTH, 2),
            units.show(temperature, "degC", Kind.TEMPERATURE, 1),
            "45",
        )
        return ",".join(parts)

    def command(self, text: str) -> str:
        """Do what a person at the bench would do, and say it.

        Raises
        ------
        InputError
        """
        word, _, rest = text.strip().lower().partition(" ")
        if word in {"on", "off"}:
            self._bench.switch(on=word == "on")
            return f"motor {word}"
        if word == "lift":
            lift = units.read(rest, Kind.LENGTH, "mm")
            self._bench.set_lift(lift.si)
            return f"lift {lift}"
        raise UnknownNameError("command", text.strip(), COMMANDS.split(", "))


class TcpOutlet:
    """Lines for everyone who connects; what they send back is a command.

    Parameters
    ----------
    port : int
        0 for any free one.
    on_command : callable
    """

    def __init__(self, port: int, on_command: Callable[[str], object]) -> None:
        self._on_command = on_command
        self._clients: list[socket.socket] = []
        self._lock = threading.Lock()
        self.port = port
        self._server: socket.socket | None = None
        self.plug()

    @property
    def listeners(self) -> int:
        """How many are connected."""
        return len(self._clients)

    def plug(self) -> None:
        """Listen."""
        if self._server is not None:
            return
        server = socket.socket()
        if os.name != "nt":  # there it would let two programs share the port
            server.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            server.bind(("127.0.0.1", self.port))
            server.listen()
        except OSError as error:
            server.close()
            raise InstrumentError(
                f"Port {self.port} of this computer is taken.", "Choose another with --tcp-port."
            ) from error
        self.port = int(server.getsockname()[1])
        self._server = server
        threading.Thread(target=self._accept, args=(server,), daemon=True).start()

    def _accept(self, server: socket.socket) -> None:
        while True:
            try:
                client, _ = server.accept()
            except OSError:
                return
            client.settimeout(2.0)
            with self._lock:
                self._clients.append(client)
            threading.Thread(target=self._hear, args=(client,), daemon=True).start()

    def _hear(self, client: socket.socket) -> None:
        held = b""
        while True:
            try:
                data = client.recv(1024)
            except TimeoutError:
                continue
            except OSError:
                return
            if not data:
                return
            *lines, held = (held + data).split(b"\n")
            for line in lines:
                with contextlib.suppress(InputError):  # the one who asked is not at the console
                    self._on_command(line.decode("utf-8", errors="replace"))

    def send(self, data: bytes) -> None:
        """As :meth:`Outlet.send`."""
        with self._lock:
            clients = list(self._clients)
        for client in clients:
            try:
                client.sendall(data)
            except OSError:
                self._drop(client)

    def _drop(self, client: socket.socket) -> None:
        with self._lock:
            if client in self._clients:
                self._clients.remove(client)
        client.close()

    def unplug(self) -> None:
        """Close everything as if the cable was pulled."""
        if self._server is not None:
            # an accept in the other thread would keep the port: wake it first
            with contextlib.suppress(OSError):
                self._server.shutdown(socket.SHUT_RDWR)
            self._server.close()
            self._server = None
        for client in list(self._clients):
            with contextlib.suppress(OSError):
                client.shutdown(socket.SHUT_RDWR)
            self._drop(client)

    close = unplug


class TerminalOutlet:
    """Lines on a pseudo-terminal, which programs open like a serial port.  Not on Windows.

    Parameters
    ----------
    name : Path
        Where the port is found; a link that is made anew each time the cable is put in.

    Raises
    ------
    InstrumentError
        The system has none, a file stands there, or none can be made there.
    """

    def __init__(self, name: Path) -> None:
        if not hasattr(os, "openpty"):
            raise InstrumentError(
                "This system has no pseudo-terminals.", "Use the practice bench over TCP."
            )
        if name.exists() and not name.is_symlink():
            raise InstrumentError(
                f"{name} is there already.", "Give the serial port a name that is free."
            )
        self.name = name
        self._ends: tuple[int, int] | None = None
        try:
            self.plug()
        except OSError as error:
            raise InstrumentError(
                f"No serial port can be made at {name}: {error.strerror}.",
                "Choose a folder you may write to.",
            ) from error

    def plug(self) -> None:
        """Make the port."""
        if sys.platform == "win32" or self._ends is not None:
            return
        import tty

        master, slave = os.openpty()
        tty.setraw(slave)
        os.set_blocking(master, False)
        self._ends = (master, slave)
        beside = self.name.with_name(self.name.name + ".new")
        beside.unlink(missing_ok=True)
        beside.symlink_to(os.ttyname(slave))
        beside.replace(self.name)

    def send(self, data: bytes) -> None:
        """As :meth:`Outlet.send`; what nobody reads is lost, as on a real cable."""
        if self._ends is not None:
            with contextlib.suppress(BlockingIOError):
                os.write(self._ends[0], data)

    def unplug(self) -> None:
        """Take the port away."""
        if self._ends is not None:
            ends, self._ends = self._ends, None
            self.name.unlink(missing_ok=True)
            for end in ends:
                os.close(end)

    close = unplug


def run(
    practice: Practice,
    outlets: Sequence[Outlet],
    stop: threading.Event,
    most: int | None = None,
) -> int:
    """Print lines in step with the clock until stopped; gives how many.

    Parameters
    ----------
    practice : Practice
    outlets : sequence of Outlet
    stop : threading.Event
    most : int, optional
        Lines after which it ends by itself.
    """
    begun, made, total = time.monotonic(), 0, 0
    while not stop.is_set() and (most is None or total < most):
        late = time.monotonic() - begun - made / practice.rate
        if late < 0.0:
            stop.wait(-late)
            continue
        if late > _LATE:
            begun, made = time.monotonic(), 0
        line = practice.line().encode("ascii") + b"\r\n"
        for outlet in outlets:
            outlet.send(line)
        made += 1
        total += 1
    return total


def practice_instrument(port: int = DEFAULT_PORT, terminal: Path | None = None) -> Instrument:
    """Description of the practice bench as it runs now."""
    return read_description(practice_description(port, terminal))


def practice_description(port: int = DEFAULT_PORT, terminal: Path | None = None) -> str:
    """The same as text."""
    text = example("practice")
    if terminal is not None:
        old = text[text.index('kind = "tcp"') : text.index("[channels.test_pressure]")]
        return text.replace(old, f"kind = \"serial\"\nport = '{terminal}'\n\n")
    return text.replace(f"tcp_port = {DEFAULT_PORT}", f"tcp_port = {port}")


class Console:
    """What a person types, and a hand that turns the valve by itself.

    Parameters
    ----------
    practice : Practice
    outlets : sequence of Outlet
    stop : threading.Event
    say : callable
    """

    def __init__(
        self,
        practice: Practice,
        outlets: Sequence[Outlet],
        stop: threading.Event,
        say: Callable[[str], object],
    ) -> None:
        self._practice, self._outlets = practice, outlets
        self._stop, self._say = stop, say

    def start(self) -> None:
        """Listen to the keyboard, where there is one."""
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        for line in sys.stdin:
            self.do(line)
            if self._stop.is_set():
                return

    def do(self, text: str) -> None:
        """Do one thing and say it; what is not understood is said too."""
        word = text.strip().lower()
        if word == "quit":
            self._stop.set()
        elif word == "unplug":
            for outlet in self._outlets:
                outlet.unplug()
            self._say("cable out")
        elif word == "plug":
            for outlet in self._outlets:
                outlet.plug()
            self._say("cable in")
        elif word:
            try:
                self._say(self._practice.command(word))
            except InputError as error:
                self._say(str(error))

    def turn(self, lifts: Sequence[str], every: float) -> None:
        """Switch on, then set one lift after the other, ``every`` seconds [s] at each."""
        threading.Thread(target=self._turn, args=(lifts, every), daemon=True).start()

    def _turn(self, lifts: Sequence[str], every: float) -> None:
        self._stop.wait(3.0)  # time for a zero
        self.do("on")
        for lift in lifts:
            self.do(f"lift {lift}")
            if self._stop.wait(every):
                return
