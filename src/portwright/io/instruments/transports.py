"""The wires: serial port, network address, drop folder and keyboard, all read in the same way."""

from __future__ import annotations

import queue
import socket
import time
from pathlib import Path
from typing import Protocol

import serial

from portwright.errors import InstrumentError
from portwright.model.instrument import Connection, Instrument, Link

_CONNECT = 3.0  # an address that does not answer in this time is not there [s]
_CHUNK = 65536
_LOOK = 0.2  # time between two looks into a folder [s]


class Transport(Protocol):
    """One wire while it is open."""

    def read(self, wait: float) -> bytes:
        """What has come, b"" when nothing came in ``wait`` seconds.

        Raises
        ------
        InstrumentError
            The wire was lost.
        """

    def write(self, data: bytes) -> None:
        """Send a question.

        Raises
        ------
        InstrumentError
        """

    def close(self) -> None:
        """Let go of it."""


def open_transport(instrument: Instrument) -> Transport:
    """Reach an instrument.

    Raises
    ------
    InstrumentError
        It is not there, or another program holds it.
    """
    connection = instrument.connection
    match connection.link:
        case Link.SERIAL:
            return _Serial(connection)
        case Link.TCP:
            return _Tcp(connection)
        case Link.FOLDER:
            return _Folder(connection)
        case Link.KEYS:
            return Keys()


class _Serial:
    def __init__(self, connection: Connection) -> None:
        try:
            self._port = serial.serial_for_url(connection.port, connection.baud, write_timeout=2.0)
        except (serial.SerialException, OSError, ValueError) as error:
            raise InstrumentError(
                f"Nothing can be read at {connection.port}.",
                f"Is it plugged in, and does no other program use it? ({_why(error)})",
            ) from error

    def read(self, wait: float) -> bytes:
        try:
            self._port.timeout = wait
            first = self._port.read(1)
            more = self._port.read(self._port.in_waiting) if first else b""
            return bytes(first + more)
        except (serial.SerialException, OSError, TypeError) as error:
            # TypeError: the library's own, when the port is closed while it reads
            raise InstrumentError("The cable was pulled.", _why(error)) from error

    def write(self, data: bytes) -> None:
        try:
            self._port.write(data)
        except (serial.SerialException, OSError) as error:
            raise InstrumentError("The cable was pulled.", _why(error)) from error

    def close(self) -> None:
        self._port.close()


class _Tcp:
    def __init__(self, connection: Connection) -> None:
        place = (connection.host, connection.tcp_port)
        try:
            self._socket = socket.create_connection(place, timeout=_CONNECT)
        except OSError as error:
            raise InstrumentError(
                f"Nothing answers at {connection}.",
                f"Is it switched on and in this network? ({_why(error)})",
            ) from error

    def read(self, wait: float) -> bytes:
        try:
            self._socket.settimeout(wait)
            data = self._socket.recv(_CHUNK)
        except TimeoutError:
            return b""
        except OSError as error:
            raise InstrumentError("The connection was lost.", _why(error)) from error
        if not data:
            raise InstrumentError("The connection was closed from the other side.")
        return data

    def write(self, data: bytes) -> None:
        try:
            self._socket.sendall(data)
        except OSError as error:
            raise InstrumentError("The connection was lost.", _why(error)) from error

    def close(self) -> None:
        self._socket.close()


class _Folder:
    """Complete lines that are added to the files of a folder after it was opened."""

    def __init__(self, connection: Connection) -> None:
        self._folder, self._files = Path(connection.folder), connection.files
        self._read: dict[Path, int] = dict(self._sizes())

    def _sizes(self) -> list[tuple[Path, int]]:
        try:
            if not self._folder.is_dir():
                raise InstrumentError(
                    f"There is no folder {self._folder}.", "Make it, or change the description."
                )
            return sorted(
                (path, path.stat().st_size)
                for path in self._folder.glob(self._files)
                if path.is_file()
            )
        except OSError as error:
            raise InstrumentError(f"{self._folder} cannot be read.", _why(error)) from error

    def read(self, wait: float) -> bytes:
        until = time.monotonic() + wait
        while True:
            found = self._new_lines()
            left = until - time.monotonic()
            if found or left <= 0.0:
                return found
            time.sleep(min(_LOOK, left))

    def _new_lines(self) -> bytes:
        found = []
        for path, size in self._sizes():
            start = self._read.get(path, 0)
            if size < start:  # written anew from the beginning
                start = 0
            if size > start:
                try:
                    with path.open("rb") as file:
                        file.seek(start)
                        data = file.read(_CHUNK)
                except OSError:  # still held by the program that writes it: next time
                    continue
                whole = data.rfind(b"\n") + 1
                found.append(data[:whole])
                start += whole
            self._read[path] = start
        return b"".join(found)

    def write(self, data: bytes) -> None:
        """A folder is asked nothing."""

    def close(self) -> None:
        """Nothing is held open."""


class Keys:
    """Lines that an instrument types into the bench screen."""

    def __init__(self) -> None:
        self._typed: queue.SimpleQueue[bytes] = queue.SimpleQueue()

    def type(self, line: str) -> None:
        """Hand over one line."""
        self._typed.put(line.encode("utf-8") + b"\n")

    def read(self, wait: float) -> bytes:
        """As :meth:`Transport.read`."""
        try:
            return self._typed.get(timeout=wait)
        except queue.Empty:
            return b""

    def write(self, data: bytes) -> None:
        """A keyboard is asked nothing."""

    def close(self) -> None:
        """Nothing is held open."""


def _why(error: BaseException) -> str:
    return getattr(error, "strerror", None) or str(error)
