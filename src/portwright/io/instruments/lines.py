"""Lines of an instrument to numbers in SI, by the pattern of its description."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from portwright import units
from portwright.errors import InputError
from portwright.model.instrument import Instrument
from portwright.units import Kind

LONGEST = 1000  # characters of a line; more is noise on the wire
_PART = re.compile(r"\{([^{}]*)\}")
_SKIP = "*"
# What a line may hold, by name.  A range number has no unit.
CHANNELS: Mapping[str, Kind | None] = {
    "test_pressure": Kind.PRESSURE,
    "meter_pressure": Kind.PRESSURE,
    "flow": Kind.FLOW,
    "percent": Kind.RATIO,
    "range_number": None,
    "lift": Kind.LENGTH,
    "air_temperature": Kind.TEMPERATURE,
    "meter_temperature": Kind.TEMPERATURE,
    "barometer": Kind.PRESSURE,
    "humidity": Kind.RATIO,
}


def placeholders(pattern: str) -> list[str]:
    """Channels of a pattern in order.

    Raises
    ------
    InputError
        None, or one of them twice.
    """
    names = [name for name in _PART.findall(pattern) if name != _SKIP]
    if not names:
        raise InputError(
            f"The pattern '{pattern}' holds no channel.",
            "Write it like a line, with {test_pressure} where that number stands.",
        )
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise InputError(f"The pattern has {{{twice[0]}}} twice.", "Skip one of them with {*}.")
    return names


def _expression(pattern: str, decimal: str) -> re.Pattern[str]:
    number = rf"([+-]?\s*(?:\d+(?:\{decimal}\d*)?|\{decimal}\d+)(?:[eE][+-]?\d+)?)"
    made = [r"\s*"]
    place = 0
    for match in _PART.finditer(pattern.strip()):
        made.append(_literal(pattern.strip()[place : match.start()]))
        made.append(r"[^{}]*?" if match[1] == _SKIP else rf"\s*{number}\s*")
        place = match.end()
    made.append(_literal(pattern.strip()[place:]))
    return re.compile("".join([*made, r"\s*"]))


def _literal(text: str) -> str:
    """The text itself; a space in it stands for any number of spaces and tabs."""
    return r"\s*".join(re.escape(part) for part in re.split(r"\s+", text))


class LineReader:
    """Reads lines of one instrument.

    Parameters
    ----------
    instrument : Instrument

    Raises
    ------
    InputError
        The pattern cannot be used.
    """

    def __init__(self, instrument: Instrument) -> None:
        self.names = names = placeholders(instrument.pattern)
        self._expression = _expression(instrument.pattern, instrument.decimal)
        self._comma = instrument.decimal == ","
        self._channels = []
        by_name = {c.name: c for c in instrument.channels}
        for name in names:
            channel, kind = by_name[name], CHANNELS[name]
            slope, zero = 1.0, 0.0
            if kind is not None:
                zero = units.to_si(0.0, channel.unit, kind)
                slope = units.to_si(1.0, channel.unit, kind) - zero
            # si = slope (scale sent + offset) + zero
            self._channels.append(
                (name, slope * channel.scale, slope * channel.offset + zero),
            )

    def read(self, line: str) -> dict[str, float] | None:
        """Numbers of a line by channel in SI; None where it does not look like the pattern."""
        if len(line) > LONGEST:
            return None
        match = self._expression.fullmatch(line)
        if match is None:
            return None
        found = {}
        for (name, slope, zero), text in zip(self._channels, match.groups(), strict=True):
            plain = text.replace(",", ".") if self._comma else text
            value = slope * float(plain.replace(" ", "").replace("\t", "")) + zero
            if not math.isfinite(value):
                return None
            found[name] = value
        return found
