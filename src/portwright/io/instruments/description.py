"""Description of an instrument as text (TOML) that a person can edit."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from typing import Any

from portwright import units
from portwright.errors import InputError, UnknownNameError, one_of
from portwright.io.instruments.lines import CHANNELS, LineReader, placeholders
from portwright.model.instrument import Channel, Connection, Instrument, Link

_TOP = {"name", "bench", "pattern", "decimal", "flow_is", "silence_s", "connection", "channels"}
_LINK_KEYS: Mapping[Link, frozenset[str]] = {
    Link.SERIAL: frozenset({"port", "baud"}),
    Link.TCP: frozenset({"host", "tcp_port"}),
    Link.FOLDER: frozenset({"folder", "files"}),
    Link.KEYS: frozenset(),
}
_POLLED = frozenset({"poll", "every_s"})
_FLOW_IS = {"converted": True, "as measured": False}


def read_description(text: str) -> Instrument:
    """Read and check a description.

    Raises
    ------
    InputError
        Not TOML, something missing or of the wrong sort; the message says where.
    UnknownNameError
        A key, channel or kind of connection that does not exist.
    UnitError
        A unit outside the closed list of the channel.
    """
    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"The description cannot be read: {error}.",
            'A line is like: name = "Pressure gauge". Text stands between quotes.',
        ) from error
    _only(found, _TOP, "entry of a description")
    name = _text(found, "name", "the description").strip()
    connection = _connection(_table(found, "connection"))
    pattern = _text(found, "pattern", name)
    channels = _channels(pattern, _table(found, "channels"))
    decimal = _text(found, "decimal", name, ".")
    if decimal not in {".", ","}:
        raise InputError(f"The decimal mark of {name} is '{decimal}'.", "It is '.' or ','.")
    instrument = Instrument(
        name,
        connection,
        pattern,
        channels,
        decimal,
        _converted(found, name, channels),
        _text(found, "bench", name, "").strip(),
        _positive(found, "silence_s", name, 2.0),
    )
    LineReader(instrument)
    return instrument


def _only(table: Mapping[str, Any], allowed: Iterable[str], what: str) -> None:
    known = set(allowed)
    for key in table:
        if key not in known:
            raise UnknownNameError(what, key, known)


def _text(table: Mapping[str, Any], key: str, where: str, default: str | None = None) -> str:
    value = table.get(key, default)
    if value is None:
        raise InputError(f"'{key}' is missing in {where}.", f'Add a line: {key} = "...".')
    if not isinstance(value, str):
        raise InputError(f"'{key}' of {where} is not text.", f'Put it between quotes: {key} = "x".')
    if default is None and not value.strip():
        raise InputError(f"'{key}' of {where} is empty.", "Write it between the quotes.")
    return value


def _number(table: Mapping[str, Any], key: str, where: str, default: float) -> float:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise InputError(f"'{key}' of {where} is not a number.", f"Write it like: {key} = 1.5.")
    return float(value)


def _positive(table: Mapping[str, Any], key: str, where: str, default: float) -> float:
    value = _number(table, key, where, default)
    if not 0.0 < value < 1e9:
        raise InputError(f"'{key}' of {where} must be above zero.", f"Now it is {value:g}.")
    return value


def _table(table: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = table.get(key)
    if not isinstance(value, dict):
        raise InputError(f"The part [{key}] is missing.", f"Add a line [{key}] and what is in it.")
    return value


def _connection(table: Mapping[str, Any]) -> Connection:
    kind = _text(table, "kind", "[connection]")
    link = one_of(Link, kind, "kind of connection")
    polled = _POLLED if link in {Link.SERIAL, Link.TCP} else frozenset()
    _only(table, {"kind"} | _LINK_KEYS[link] | polled, f"entry of a {kind} connection")
    where = "[connection]"
    made = Connection(
        link,
        port=_text(table, "port", where) if link is Link.SERIAL else "",
        baud=int(_positive(table, "baud", where, 9600)),
        host=_text(table, "host", where) if link is Link.TCP else "",
        tcp_port=int(_positive(table, "tcp_port", where, 0)) if link is Link.TCP else 0,
        folder=_text(table, "folder", where) if link is Link.FOLDER else "",
        files=_text(table, "files", where, "*.csv"),
        poll=_text(table, "poll", where, ""),
        every=_positive(table, "every_s", where, 0.2),
    )
    if made.tcp_port > 65535:
        raise InputError(f"There is no port {made.tcp_port}.", "It lies between 1 and 65535.")
    if "/" in made.files or "\\" in made.files or not made.files:
        raise InputError(f"'{made.files}' names no files.", 'Write it like: files = "*.csv".')
    return made


def _channels(pattern: str, table: Mapping[str, Any]) -> tuple[Channel, ...]:
    names = placeholders(pattern)
    for name in (*names, *table):
        if name not in CHANNELS:
            raise UnknownNameError("channel", name, CHANNELS)
    for name in table:
        if name not in names:
            raise InputError(
                f"[channels.{name}] is described but the pattern has no {{{name}}}.",
                "Put it into the pattern or take the part out.",
            )
    made = []
    for name in names:
        kind = CHANNELS[name]
        entry = table.get(name, {})
        where = f"[channels.{name}]"
        if not isinstance(entry, dict):
            raise InputError(f"{where} is not a part of its own.", f"Write a line {where}.")
        _only(entry, {"unit", "scale", "offset"}, "entry of a channel")
        unit = ""
        if kind is not None:
            unit = units.unit(_text(entry, "unit", where), kind).name
        scale = _number(entry, "scale", where, 1.0)
        if scale == 0.0:
            raise InputError(f"The scale of {where} is zero.", "Then nothing would be left of it.")
        made.append(Channel(name, unit, scale, _number(entry, "offset", where, 0.0)))
    return tuple(made)


def _converted(found: Mapping[str, Any], name: str, channels: tuple[Channel, ...]) -> bool:
    if not any(c.name == "flow" for c in channels):
        return True
    if "flow_is" not in found:
        raise InputError(
            f"'flow_is' is missing in {name}, which sends a flow.",
            'Above [connection] add flow_is = "converted" (to the pressure the calibration of the '
            'bench states) or flow_is = "as measured".',
        )
    said = _text(found, "flow_is", name)
    if said not in _FLOW_IS:
        raise UnknownNameError("answer to flow_is", said, _FLOW_IS)
    return _FLOW_IS[said]
