"""Instruments at the bench: how each is reached and what its lines mean."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Link(StrEnum):
    """How an instrument is reached."""

    SERIAL = "serial"  # a serial port, also one that a USB plug makes
    TCP = "tcp"  # an address in the shop's network
    FOLDER = "folder"  # files that another program writes into a folder
    KEYS = "keys"  # it types like a keyboard into the bench screen


@dataclass(frozen=True, slots=True)
class Connection:
    """Where an instrument is.

    Parameters
    ----------
    link : Link
    port : str
        Serial port ("COM3", "/dev/ttyUSB0").
    baud : int
        Speed of the serial port. [1/s]
    host : str
    tcp_port : int
    folder, files : str
        Folder looked into and which files count ("*.csv").
    poll : str
        What must be sent before it answers; "" where it talks by itself.
    every : float
        Time between two such questions. [s]
    """

    link: Link
    port: str = ""
    baud: int = 9600
    host: str = ""
    tcp_port: int = 0
    folder: str = ""
    files: str = "*.csv"
    poll: str = ""
    every: float = 0.2

    def __str__(self) -> str:
        match self.link:
            case Link.SERIAL:
                return self.port
            case Link.TCP:
                return f"{self.host}:{self.tcp_port}"
            case Link.FOLDER:
                return self.folder
            case Link.KEYS:
                return "keyboard"


@dataclass(frozen=True, slots=True)
class Channel:
    """One number of a line.

    Parameters
    ----------
    name : str
        What it is, from the list of channels.
    unit : str
        From the closed list of units.
    scale, offset : float
        The number in ``unit`` is ``scale * sent + offset``.
    """

    name: str
    unit: str
    scale: float = 1.0
    offset: float = 0.0


@dataclass(frozen=True, slots=True)
class Instrument:
    """Description of one instrument.

    Parameters
    ----------
    name : str
    connection : Connection
    pattern : str
        What a line looks like: ``{channel}`` where a number stands, ``{*}`` for what is skipped.
    channels : tuple of Channel
        In the order of the pattern.
    decimal : str
        Decimal mark it sends, "." or ",".
    converted : bool
        A flow it sends is already converted to the pressure the bench's calibration states.
    bench : str
        Bench it belongs to, "" where the shop has one set of instruments for all.
    silence : float
        Without a line for so long it counts as silent. [s]
    """

    name: str
    connection: Connection
    pattern: str
    channels: tuple[Channel, ...]
    decimal: str = "."
    converted: bool = True
    bench: str = ""
    silence: float = 2.0
