"""The shop's instruments: descriptions kept in the shop file, examples, and what a line says."""

from __future__ import annotations

import queue
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import resources

from portwright import units
from portwright.errors import InputError, InstrumentError, UnknownNameError
from portwright.io.instruments import reader
from portwright.io.instruments.description import read_description
from portwright.io.instruments.lines import CHANNELS, LineReader
from portwright.model.instrument import Instrument, Link
from portwright.services.display import Display
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

Contact = reader.Contact
Standing = reader.Standing

_SETTING = "instruments"


@dataclass(frozen=True, slots=True)
class Described:
    """An instrument of the shop with the text a person wrote."""

    text: str
    instrument: Instrument


def examples() -> tuple[str, ...]:
    """Names of the descriptions to begin with."""
    files = resources.files("portwright.io.instruments").joinpath("examples").iterdir()
    return tuple(sorted(f.name.removesuffix(".toml") for f in files if f.name.endswith(".toml")))


def example(name: str) -> str:
    """Text of an example.

    Raises
    ------
    UnknownNameError
    """
    if name not in examples():
        raise UnknownNameError("example", name, examples())
    folder = resources.files("portwright.io.instruments").joinpath("examples")
    return folder.joinpath(f"{name}.toml").read_text(encoding="utf-8")


def described(shop: ShopFile) -> list[Described]:
    """Instruments of the shop, by name."""
    texts: list[str] = shop.setting(_SETTING) or []
    return [Described(text, read_description(text)) for text in texts]


def keep(shop: ShopFile, text: str, replaces: str = "") -> Instrument:
    """Check a description and keep it with the shop.

    Parameters
    ----------
    replaces : str
        Name it had before, where it was renamed.

    Raises
    ------
    InputError
        It cannot be read, or another instrument sends one of its channels already.
    """
    made = read_description(text)
    others = [d for d in described(shop) if d.instrument.name not in {made.name, replaces}]
    for other in others:
        if made.bench and other.instrument.bench and other.instrument.bench != made.bench:
            continue
        taken = {c.name for c in other.instrument.channels} & {c.name for c in made.channels}
        if taken:
            raise InputError(
                f"{other.instrument.name} sends {_plain(min(taken))} already.",
                "Skip it in one of the two with {*}.",
            )
    _write(shop, [*(d.text for d in others), text])
    return made


def named(shop: ShopFile, name: str) -> Instrument:
    """Instrument of the shop by name.

    Raises
    ------
    UnknownNameError
    """
    known = {d.instrument.name: d.instrument for d in described(shop)}
    if name not in known:
        raise UnknownNameError("instrument", name, known)
    return known[name]


def listened(instrument: Instrument, lines: int, wait: float) -> Iterator[str]:
    """Lines of an instrument as they come.

    Parameters
    ----------
    lines : int
        It ends after so many.
    wait : float
        Longest pause. [s]

    Raises
    ------
    InstrumentError
        It cannot be reached, or nothing came for so long.
    """
    heard: queue.Queue[reader.Line] = queue.Queue(lines)
    listening = reader.Reader(instrument, heard)
    listening.start()
    try:
        for _ in range(lines):
            yield heard.get(timeout=wait).text
    except queue.Empty as error:
        why = listening.standing.why or "It is connected but sends nothing."
        raise InstrumentError(f"Nothing came from {instrument.name}.", why) from error
    finally:
        listening.stop()


def forget(shop: ShopFile, name: str) -> None:
    """Take an instrument out.

    Raises
    ------
    UnknownNameError
    """
    named(shop, name)
    _write(shop, [d.text for d in described(shop) if d.instrument.name != name])


def _write(shop: ShopFile, texts: list[str]) -> None:
    shop.save_setting(_SETTING, sorted(texts))


def _plain(channel: str) -> str:
    return channel.replace("_", " ")


@dataclass(frozen=True, slots=True)
class Understood:
    """One line with what was read from it.

    Parameters
    ----------
    line : str
    values : dict of str to str
        Channel in words to value with unit; empty where it does not look like the pattern.
    """

    line: str
    values: dict[str, str]


def understood(instrument: Instrument, line: str, display: Display) -> Understood:
    """Say what a line means, in the units shown and as sent."""
    found = LineReader(instrument).read(line)
    if found is None:
        return Understood(line, {})
    units_sent = {c.name: c.unit for c in instrument.channels}
    return Understood(
        line, {_plain(n): shown(n, v, units_sent[n], display) for n, v in found.items()}
    )


def shown(channel: str, value: float, unit: str, display: Display) -> str:
    """A channel's value [SI] as text; pressures and lengths in the units shown."""
    kind = CHANNELS[channel]
    if kind is None:
        return f"{value:.0f}"
    if kind is Kind.LENGTH:
        return f"{display.lift_text(value)} {display.length}"
    if kind is Kind.FLOW:
        return f"{display.flow_text(value)} {display.flow}"
    if kind is Kind.PRESSURE and channel != "barometer":
        return f"{units.show(value, display.pressure, kind, 2)} {display.pressure}"
    return f"{units.show(value, unit, kind)} {unit}"


__all__ = ["CHANNELS", "Contact", "Described", "LineReader", "Link", "Standing"]
