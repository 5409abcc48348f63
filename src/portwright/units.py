"""Units at the edges: text to SI and SI to text, from a closed list.

The only module that knows pint.  Inside Portwright everything is SI float64.
A unit is never guessed: it is typed beside the number or declared for the column or field.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING

from portwright.errors import NumberError, UnitError
from portwright.model.quantity import AsTyped

if TYPE_CHECKING:
    import pint


class Kind(StrEnum):
    """What a number measures; each kind has its own closed list of units."""

    LENGTH = "length"
    AREA = "area"
    VOLUME = "volume"
    FLOW = "flow"
    MASS_FLOW = "mass flow"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    ANGLE = "angle"
    MASS = "mass"
    FORCE = "force"
    STIFFNESS = "stiffness"
    SPEED = "speed"
    TIME = "time"
    TURNING_SPEED = "turning speed"
    TORQUE = "torque"
    POWER = "power"
    HARDNESS = "hardness"
    RATIO = "ratio"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit a person may use.

    Parameters
    ----------
    name : str
        How it is written by Portwright.
    kind : Kind
    pint_name : str
        The same unit for pint.
    aliases : tuple of str
        Other spellings accepted, compared without spaces and case.
    decimals : int
        Digits shown after the point for a typical reading.
    note : str
        What the unit means where the name alone is not enough.
    """

    name: str
    kind: Kind
    pint_name: str
    aliases: tuple[str, ...] = ()
    decimals: int = 2
    note: str = ""


# Water columns differ by 0.2 % with the water temperature they assume, so the name says which.
_UNITS = (
    Unit("mm", Kind.LENGTH, "millimeter", ("millimetre", "millimeter"), 2),
    Unit("cm", Kind.LENGTH, "centimeter", ("centimetre", "centimeter"), 3),
    Unit("m", Kind.LENGTH, "meter", ("metre", "meter"), 4),
    Unit("in", Kind.LENGTH, "inch", ("inch", "inches", '"', "″"), 4),
    Unit("thou", Kind.LENGTH, "thou", ("0.001in", "mil"), 1, "thousandth of an inch"),
    Unit("mm2", Kind.AREA, "millimeter**2", ("mm²", "mm^2", "sqmm"), 0),
    Unit("cm2", Kind.AREA, "centimeter**2", ("cm²", "cm^2", "sqcm"), 2),
    Unit("in2", Kind.AREA, "inch**2", ("in²", "in^2", "sqin"), 3),
    Unit("m2", Kind.AREA, "meter**2", ("m²", "m^2"), 6),
    Unit("cc/mm", Kind.AREA, "centimeter**3/millimeter", (), 2, "volume per millimetre milled"),
    Unit("cc", Kind.VOLUME, "centimeter**3", ("cm3", "cm³", "ml"), 1),
    Unit("L", Kind.VOLUME, "liter", ("litre", "liter"), 3),
    Unit("in3", Kind.VOLUME, "inch**3", ("in³", "in^3", "cuin"), 2),
    Unit("m3", Kind.VOLUME, "meter**3", ("m³", "m^3"), 6),
    Unit("cfm", Kind.FLOW, "foot**3/minute", ("ft3/min", "ft³/min"), 1),
    Unit("L/s", Kind.FLOW, "liter/second", ("l/sec", "litre/s"), 1),
    Unit("m3/h", Kind.FLOW, "meter**3/hour", ("m³/h",), 1),
    Unit("m3/min", Kind.FLOW, "meter**3/minute", ("m³/min",), 3),
    Unit("m3/s", Kind.FLOW, "meter**3/second", ("m³/s",), 5),
    Unit("kg/s", Kind.MASS_FLOW, "kilogram/second", (), 5),
    Unit("kg/h", Kind.MASS_FLOW, "kilogram/hour", (), 1),
    Unit("g/s", Kind.MASS_FLOW, "gram/second", (), 2),
    Unit(
        "inH2O",
        Kind.PRESSURE,
        "inch_H2O",
        ("inchH2O", "inwater", "inH₂O"),
        1,
        "conventional water, 1000 kg/m3 at standard gravity: 249.089 Pa",
    ),
    Unit("inH2O@4C", Kind.PRESSURE, "inch_H2O_4C", (), 1, "water at 4 degC: 249.082 Pa"),
    Unit("inH2O@60F", Kind.PRESSURE, "inch_H2O_60F", (), 1, "water at 60 degF: 248.840 Pa"),
    Unit("mmH2O", Kind.PRESSURE, "millimeter_H2O", ("mmH₂O",), 0, "conventional water"),
    Unit("inHg", Kind.PRESSURE, "inch_Hg", ("inchHg",), 2, "conventional mercury: 3386.389 Pa"),
    Unit("kPa", Kind.PRESSURE, "kilopascal", (), 2),
    Unit("hPa", Kind.PRESSURE, "hectopascal", ("mbar",), 1),
    Unit("bar", Kind.PRESSURE, "bar", (), 3),
    Unit("psi", Kind.PRESSURE, "psi", (), 2),
    Unit("Pa", Kind.PRESSURE, "pascal", (), 0),
    Unit("degC", Kind.TEMPERATURE, "degC", ("°C", "C", "celsius"), 1),
    Unit("degF", Kind.TEMPERATURE, "degF", ("°F", "F", "fahrenheit"), 1),
    Unit("K", Kind.TEMPERATURE, "kelvin", ("kelvin",), 1),
    Unit("deg", Kind.ANGLE, "degree", ("°", "degree", "degrees"), 2),
    Unit("rad", Kind.ANGLE, "radian", (), 4),
    Unit("g", Kind.MASS, "gram", ("gram",), 1),
    Unit("kg", Kind.MASS, "kilogram", (), 3),
    Unit("lb", Kind.MASS, "pound", ("lbs",), 3),
    Unit("N", Kind.FORCE, "newton", (), 0),
    Unit("lbf", Kind.FORCE, "pound_force", (), 0),
    Unit("N/mm", Kind.STIFFNESS, "newton/millimeter", (), 1),
    Unit("lbf/in", Kind.STIFFNESS, "pound_force/inch", (), 0),
    Unit("m/s", Kind.SPEED, "meter/second", (), 1),
    Unit("ft/s", Kind.SPEED, "foot/second", ("ft/sec", "fps"), 0),
    Unit("s", Kind.TIME, "second", ("sec",), 1),
    Unit("min", Kind.TIME, "minute", (), 1),
    Unit("h", Kind.TIME, "hour", ("hour", "hours", "hr"), 1),
    Unit("rpm", Kind.TURNING_SPEED, "revolution/minute", ("1/min", "r/min"), 0),
    Unit("Nm", Kind.TORQUE, "newton*meter", ("N·m", "N m"), 1),
    Unit("lbf ft", Kind.TORQUE, "pound_force*foot", ("lb-ft", "ft-lb", "lbft", "ftlb"), 1),
    Unit("kW", Kind.POWER, "kilowatt", (), 1),
    Unit("hp", Kind.POWER, "horsepower", (), 1, "mechanical horsepower, 745.700 W"),
    Unit("PS", Kind.POWER, "metric_horsepower", (), 1, "metric horsepower, 735.499 W"),
    Unit("HB", Kind.HARDNESS, "dimensionless", ("HBW",), 0, "Brinell"),
    Unit("%", Kind.RATIO, "percent", ("pct", "percent"), 1),
    Unit("-", Kind.RATIO, "dimensionless", ("", "fraction", "1"), 3),
)


def _key(text: str) -> str:
    return re.sub(r"\s+", "", text).casefold()


def _index() -> dict[Kind, dict[str, Unit]]:
    table: dict[Kind, dict[str, Unit]] = {kind: {} for kind in Kind}
    for unit in _UNITS:
        for spelling in (unit.name, *unit.aliases):
            if table[unit.kind].setdefault(_key(spelling), unit) is not unit:
                raise AssertionError(f"two {unit.kind} units are both written {spelling}")
    return table


_BY_KIND = _index()


@lru_cache(maxsize=1024)  # a sheet repeats few spellings many times
def _lookup(name: str, kind: Kind) -> Unit | None:
    return _BY_KIND[kind].get(_key(name))


def units_of(kind: Kind) -> tuple[str, ...]:
    """Names of the units accepted for a kind."""
    return tuple(u.name for u in _UNITS if u.kind is kind)


def unit(name: str, kind: Kind) -> Unit:
    """Unit of a kind by name or alias.

    Raises
    ------
    UnitError
        Not in the closed list for this kind.
    """
    found = _lookup(name, kind)
    if found is None:
        raise UnitError(
            f"'{name}' is not a unit of {kind}.", f"Use one of: {', '.join(units_of(kind))}."
        )
    return found


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint  # noqa: PLC0415  loads slowly, and help does not need it

    return pint.UnitRegistry()


@cache
def _linear(name: str, kind: Kind) -> tuple[float, float]:
    """Slope and offset of ``si = slope * value + offset``."""
    registry = _registry()
    pint_name = unit(name, kind).pint_name
    zero = registry.Quantity(0.0, pint_name).to_base_units().magnitude
    # a power of two apart, so that the slope of an offset scale loses no digits
    far = registry.Quantity(1024.0, pint_name).to_base_units().magnitude
    if kind is Kind.TURNING_SPEED:
        return 2.0 * math.pi / 60.0, 0.0
    return float(far - zero) / 1024.0, float(zero)


def to_si(value: float, name: str, kind: Kind) -> float:
    """Value in the named unit to SI. [SI unit of its kind]"""
    slope, offset = _linear(unit(name, kind).name, kind)
    return slope * value + offset


def from_si(value: float, name: str, kind: Kind) -> float:
    """SI value to the named unit."""
    slope, offset = _linear(unit(name, kind).name, kind)
    return (value - offset) / slope


def spread_to_si(value: float, name: str, kind: Kind) -> float:
    """A difference or uncertainty in the named unit to SI, without the zero offset."""
    return _linear(unit(name, kind).name, kind)[0] * value


_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?|[+-]?\.\d+")
_FRACTION = re.compile(r"(?P<sign>[+-]?)((?P<whole>\d+)[ -]+)?(?P<top>\d+)/(?P<bottom>\d+)")


def parse_number(text: str) -> float:
    """Read a number typed by a person: 7.25, 7,25, 11/32, 1 5/8, 1e-3.

    A comma is a decimal mark.  Where a single comma is followed by exactly three digits it could
    as well group thousands, so the text is refused unless the number starts with 0.

    Raises
    ------
    NumberError
        Not a number, or could mean two numbers.
    """
    clean = text.strip().replace("\u00a0", " ").replace("\u2212", "-")
    if not clean:
        raise NumberError("A number is missing.", "Type a number, for example 7.25.")
    fraction = _FRACTION.fullmatch(clean)
    if fraction:
        return _read_fraction(fraction, text)
    plain = clean.replace(" ", "")
    if "," in plain:
        plain = _comma_to_point(plain, text)
    if not _NUMBER.fullmatch(plain):
        raise NumberError(f"'{text.strip()}' is not a number.", "Type it like 7.25, 7,25 or 11/32.")
    value = float(plain)
    if not math.isfinite(value):
        raise NumberError(f"'{text.strip()}' is too large a number.", "Check the exponent.")
    return value


def _read_fraction(match: re.Match[str], text: str) -> float:
    bottom = int(match["bottom"])
    if bottom == 0:
        raise NumberError(f"'{text.strip()}' divides by zero.", "Type it like 11/32.")
    value = int(match["whole"] or 0) + Fraction(int(match["top"]), bottom)
    return float(-value if match["sign"] == "-" else value)


def _comma_to_point(plain: str, text: str) -> str:
    if "." in plain:
        decimal = max(plain.rfind(","), plain.rfind("."))
        grouping = "," if plain[decimal] == "." else "."
        whole, rest = plain[:decimal], plain[decimal + 1 :]
        if not re.fullmatch(rf"[+-]?\d{{1,3}}(\{grouping}\d{{3}})+", whole) or not rest.isdigit():
            raise NumberError(f"'{text.strip()}' is not a number.", "Type it like 1234.5.")
        return whole.replace(grouping, "") + "." + rest
    if plain.count(",") > 1:
        raise NumberError(
            f"'{text.strip()}' has more than one comma.", "Type it without grouping: 1234567."
        )
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", plain):
        point = plain.replace(",", ".")
        joined = plain.replace(",", "")
        raise NumberError(
            f"'{text.strip()}' could mean {point} or {joined}.",
            f"Type {point} or {joined}.",
        )
    return plain.replace(",", ".")


_WITH_UNIT = re.compile(
    r"(?P<number>[+\-\u2212]?[\d.,]*\d(?:[eE][+-]?\d+)?(?:[ -]+\d+/\d+|/\d+)?)"
    r"\s*(?P<unit>[^\d\s].*|)"
)


def read(text: str, kind: Kind, default_unit: str | None = None) -> AsTyped:
    """Read "number unit" as typed; the unit may be left out where a default is declared.

    Parameters
    ----------
    text : str
        What was typed, "1.25 in", "11/32 in", "28 inH2O", "7,25".
    kind : Kind
        What is measured.
    default_unit : str, optional
        Unit of the field or column.

    Raises
    ------
    NumberError, UnitError
    """
    match = _WITH_UNIT.fullmatch(text.strip())
    number, name = (match["number"], match["unit"].strip()) if match else (text.strip(), "")
    if not name:
        if default_unit is None:
            raise UnitError(
                f"'{text.strip()}' has no unit.",
                f"Add one of: {', '.join(units_of(kind))}.",
            )
        name = default_unit
    value = parse_number(number)
    found = unit(name, kind)
    return AsTyped(number.strip(), found.name, to_si(value, found.name, kind))


def typed(value: float, name: str, kind: Kind) -> AsTyped:
    """Record a value that came as a number and not as text."""
    found = unit(name, kind)
    return AsTyped(f"{value:.12g}", found.name, to_si(value, found.name, kind))


# As people write them. The raised two is in code pages 437, 850 and 1252, so it comes out right on
# a Windows console and in a file that a command's output is sent to; the lowered two is in none of
# them and is for screens only.
_SIGNS = {
    "mm2": "mm²",
    "cm2": "cm²",
    "in2": "in²",
    "m2": "m²",
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "inH2O": "inH₂O",
    "mmH2O": "mmH₂O",
}


def sign(name: str) -> str:
    """A unit as written for people: mm², °C; its own name where there is no other."""
    return _SIGNS.get(name, name)


def show(si: float, name: str, kind: Kind, decimals: int | None = None) -> str:
    """SI value as text in a unit, with the digits a reading of that kind has."""
    found = unit(name, kind)
    if not math.isfinite(si):
        return "–"
    digits = found.decimals if decimals is None else decimals
    return f"{from_si(si, found.name, kind):z.{digits}f}"


def last_digit(text: str) -> float:
    """Size of one step of the last digit typed, 0.1 for "17.9" and 1/32 for "11/32"."""
    clean = text.strip().lstrip("+-\u2212")
    fraction = re.search(r"/(\d+)$", clean)
    if fraction:
        return 1.0 / int(fraction[1])
    mantissa, _, exponent = clean.replace(",", ".").lower().partition("e")
    _, _, decimals = mantissa.rpartition(".") if "." in mantissa else ("", "", "")
    return float(10.0 ** (-len(decimals) + int(exponent or 0)))
