"""Every unit a person may type: its size, its kind, its spellings, and how numbers are read.

Sizes marked *definition* are exact by the international yard and pound agreement (1959), the SI
brochure or arithmetic on them; the others name what they rest on.  All from memory unless said.
"""

from __future__ import annotations

import math

import pytest

from portwright.errors import NumberError, UnitError
from portwright.units import (
    Kind,
    from_si,
    last_digit,
    parse_number,
    read,
    show,
    sign,
    spread_to_si,
    to_si,
    typed,
    unit,
    units_of,
)

INCH, FOOT, POUND, GRAVITY = 0.0254, 0.3048, 0.45359237, 9.80665
LBF = POUND * GRAVITY
CFM = FOOT**3 / 60.0

# name, kind, SI value of one unit, where that comes from
UNITS = [
    ("mm", Kind.LENGTH, 1e-3, "definition"),
    ("cm", Kind.LENGTH, 1e-2, "definition"),
    ("m", Kind.LENGTH, 1.0, "definition"),
    ("in", Kind.LENGTH, INCH, "definition, inch of 1959"),
    ("thou", Kind.LENGTH, INCH / 1000.0, "definition"),
    ("mm2", Kind.AREA, 1e-6, "definition"),
    ("cm2", Kind.AREA, 1e-4, "definition"),
    ("in2", Kind.AREA, INCH**2, "definition"),
    ("m2", Kind.AREA, 1.0, "definition"),
    ("cc/mm", Kind.AREA, 1e-3, "definition, volume per length of cut"),
    ("cc", Kind.VOLUME, 1e-6, "definition"),
    ("L", Kind.VOLUME, 1e-3, "definition"),
    ("in3", Kind.VOLUME, INCH**3, "definition"),
    ("m3", Kind.VOLUME, 1.0, "definition"),
    ("cfm", Kind.FLOW, CFM, "definition, cubic foot per minute: 0.4719 L/s"),
    ("L/s", Kind.FLOW, 1e-3, "definition"),
    ("m3/h", Kind.FLOW, 1.0 / 3600.0, "definition"),
    ("m3/min", Kind.FLOW, 1.0 / 60.0, "definition"),
    ("m3/s", Kind.FLOW, 1.0, "definition"),
    ("kg/s", Kind.MASS_FLOW, 1.0, "definition"),
    ("kg/h", Kind.MASS_FLOW, 1.0 / 3600.0, "definition"),
    ("g/s", Kind.MASS_FLOW, 1e-3, "definition"),
    ("inH2O", Kind.PRESSURE, INCH * 1000.0 * GRAVITY, "conventional water, 1000 kg/m3"),
    ("inH2O@4C", Kind.PRESSURE, INCH * 999.972 * GRAVITY, "water at 4 degC, 999.972 kg/m3"),
    ("inH2O@60F", Kind.PRESSURE, INCH * 999.001 * GRAVITY, "water at 60 degF, 999.001 kg/m3"),
    ("mmH2O", Kind.PRESSURE, GRAVITY, "conventional water"),
    ("inHg", Kind.PRESSURE, INCH * 13595.1 * GRAVITY, "conventional mercury, 13595.1 kg/m3"),
    ("kPa", Kind.PRESSURE, 1e3, "definition"),
    ("hPa", Kind.PRESSURE, 1e2, "definition"),
    ("bar", Kind.PRESSURE, 1e5, "definition"),
    ("psi", Kind.PRESSURE, LBF / INCH**2, "definition"),
    ("Pa", Kind.PRESSURE, 1.0, "definition"),
    ("K", Kind.TEMPERATURE, 1.0, "definition"),
    ("deg", Kind.ANGLE, math.pi / 180.0, "definition"),
    ("rad", Kind.ANGLE, 1.0, "definition"),
    ("g", Kind.MASS, 1e-3, "definition"),
    ("kg", Kind.MASS, 1.0, "definition"),
    ("lb", Kind.MASS, POUND, "definition, pound of 1959"),
    ("N", Kind.FORCE, 1.0, "definition"),
    ("lbf", Kind.FORCE, LBF, "definition, standard gravity"),
    ("N/mm", Kind.STIFFNESS, 1e3, "definition"),
    ("lbf/in", Kind.STIFFNESS, LBF / INCH, "definition"),
    ("m/s", Kind.SPEED, 1.0, "definition"),
    ("ft/s", Kind.SPEED, FOOT, "definition"),
    ("s", Kind.TIME, 1.0, "definition"),
    ("min", Kind.TIME, 60.0, "definition"),
    ("h", Kind.TIME, 3600.0, "definition"),
    ("rpm", Kind.TURNING_SPEED, 2.0 * math.pi / 60.0, "definition, in radians per second"),
    ("Nm", Kind.TORQUE, 1.0, "definition"),
    ("lbf ft", Kind.TORQUE, LBF * FOOT, "definition"),
    ("kW", Kind.POWER, 1e3, "definition"),
    ("hp", Kind.POWER, 550.0 * LBF * FOOT, "definition, 550 lbf ft/s"),
    ("PS", Kind.POWER, 75.0 * GRAVITY, "definition, 75 kgf m/s"),
    ("HB", Kind.HARDNESS, 1.0, "a number of its own scale"),
    ("%", Kind.RATIO, 0.01, "definition"),
    ("-", Kind.RATIO, 1.0, "definition"),
]
OFFSETS = {"degC", "degF"}
# Water columns at a temperature are rounded where they are tabulated; the rest is round-off.
ROUNDED = {"inH2O@4C": 2e-6, "inH2O@60F": 5e-6, "inHg": 1e-6}


@pytest.mark.parametrize(("name", "kind", "size", "source"), UNITS)
def test_size_of_each_unit(name: str, kind: Kind, size: float, source: str) -> None:
    assert source
    assert to_si(1.0, name, kind) == pytest.approx(size, rel=ROUNDED.get(name, 1e-14))


def test_no_unit_is_left_out_above() -> None:
    checked = {(name, kind) for name, kind, _, _ in UNITS}
    assert {(n, k) for k in Kind for n in units_of(k) if n not in OFFSETS} == checked


ALIASES = [
    ("mm", Kind.LENGTH, ["millimetre", "millimeter", "MM", " mm "]),
    ("cm", Kind.LENGTH, ["centimetre", "centimeter"]),
    ("m", Kind.LENGTH, ["metre", "meter"]),
    ("in", Kind.LENGTH, ["inch", "inches", '"', "″", "IN"]),
    ("thou", Kind.LENGTH, ["0.001 in", "mil"]),
    ("mm2", Kind.AREA, ["mm²", "mm^2", "sq mm"]),
    ("cm2", Kind.AREA, ["cm²", "cm^2", "sq cm"]),
    ("in2", Kind.AREA, ["in²", "in^2", "sq in"]),
    ("m2", Kind.AREA, ["m²", "m^2"]),
    ("cc", Kind.VOLUME, ["cm3", "cm³", "ml", "mL"]),
    ("L", Kind.VOLUME, ["l", "litre", "liter"]),
    ("in3", Kind.VOLUME, ["in³", "in^3", "cu in"]),
    ("m3", Kind.VOLUME, ["m³", "m^3"]),
    ("cfm", Kind.FLOW, ["CFM", "ft3/min", "ft³/min"]),
    ("L/s", Kind.FLOW, ["l/s", "l/sec", "litre/s"]),
    ("m3/h", Kind.FLOW, ["m³/h"]),
    ("m3/min", Kind.FLOW, ["m³/min"]),
    ("m3/s", Kind.FLOW, ["m³/s"]),
    ("inH2O", Kind.PRESSURE, ["inH2O", "in H2O", "inch H2O", "in water", "inH₂O"]),
    ("mmH2O", Kind.PRESSURE, ["mm H2O", "mmH₂O"]),
    ("inHg", Kind.PRESSURE, ["in Hg", "inch Hg"]),
    ("hPa", Kind.PRESSURE, ["mbar"]),
    ("degC", Kind.TEMPERATURE, ["°C", "C", "celsius", "deg C"]),
    ("degF", Kind.TEMPERATURE, ["°F", "F", "fahrenheit", "deg F"]),
    ("K", Kind.TEMPERATURE, ["kelvin"]),
    ("deg", Kind.ANGLE, ["°", "degree", "degrees"]),
    ("g", Kind.MASS, ["gram"]),
    ("lb", Kind.MASS, ["lbs"]),
    ("ft/s", Kind.SPEED, ["ft/sec", "fps"]),
    ("s", Kind.TIME, ["sec"]),
    ("h", Kind.TIME, ["hour", "hours", "hr"]),
    ("rpm", Kind.TURNING_SPEED, ["1/min", "r/min"]),
    ("Nm", Kind.TORQUE, ["N·m", "N m"]),
    ("lbf ft", Kind.TORQUE, ["lb-ft", "ft-lb", "lbft", "ftlb"]),
    ("HB", Kind.HARDNESS, ["HBW"]),
    ("%", Kind.RATIO, ["pct", "percent"]),
    ("-", Kind.RATIO, ["", "fraction", "1"]),
]


@pytest.mark.parametrize(("name", "kind", "spellings"), ALIASES)
def test_every_spelling_means_its_unit(name: str, kind: Kind, spellings: list[str]) -> None:
    assert {unit(spelling, kind).name for spelling in spellings} == {name}


def test_no_spelling_is_left_out_above() -> None:
    listed = {(n, k, s.replace(" ", "").casefold()) for n, k, found in ALIASES for s in found}
    known = {
        (name, kind, alias.replace(" ", "").casefold())
        for kind in Kind
        for name in units_of(kind)
        for alias in unit(name, kind).aliases
    }
    assert known <= listed


# What a general unit library reads into these is something else entirely: centifermi, milliard
# barn, coulomb, farad, an angle.  The closed list per kind is there for them.
@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("mb", Kind.PRESSURE),
        ("scfm", Kind.FLOW),
        ("psi", Kind.LENGTH),
        ("mm", Kind.PRESSURE),
        ("degC", Kind.LENGTH),
        ("furlong", Kind.LENGTH),
        ("", Kind.LENGTH),
    ],
)
def test_units_outside_the_list_are_refused_with_the_list(text: str, kind: Kind) -> None:
    with pytest.raises(UnitError) as refused:
        unit(text, kind)
    assert all(name in refused.value.hint for name in units_of(kind))


@pytest.mark.parametrize(
    ("value", "name", "kelvin"),
    [
        (20.0, "degC", 293.15),
        (0.0, "degC", 273.15),
        (68.0, "degF", 293.15),
        (32.0, "degF", 273.15),
        (-40.0, "degF", 233.15),
        (-40.0, "degC", 233.15),
        (300.0, "K", 300.0),
    ],
)
def test_temperatures(value: float, name: str, kelvin: float) -> None:
    # 1e-9 K: round-off of the Fahrenheit slope over some hundred degrees
    assert to_si(value, name, Kind.TEMPERATURE) == pytest.approx(kelvin, abs=1e-9)


def test_a_difference_in_temperature_has_no_offset() -> None:
    assert spread_to_si(1.8, "degF", Kind.TEMPERATURE) == pytest.approx(1.0, rel=1e-12)
    assert spread_to_si(1.0, "degC", Kind.TEMPERATURE) == pytest.approx(1.0, rel=1e-12)


NUMBERS = [
    ("7.25", 7.25),
    ("7,25", 7.25),
    ("+0.17", 0.17),
    ("-3.40", -3.4),
    ("\u22123.40", -3.4),
    (".5", 0.5),
    ("1e-3", 1e-3),
    ("2.5E2", 250.0),
    ("11/32", 11 / 32),
    ("1 5/8", 1.625),
    ("1-5/8", 1.625),
    ("-1 1/2", -1.5),
    ("0,125", 0.125),
    ("0,1250", 0.125),
    ("1234,5", 1234.5),
    ("1,234.5", 1234.5),
    ("1.234,5", 1234.5),
    ("1,234,567.8", 1234567.8),
    ("12 345", 12345.0),
    ("12\u00a0345,5", 12345.5),
    ("1.234", 1.234),
    ("1234,567", 1234.567),
]


@pytest.mark.parametrize(("text", "value"), NUMBERS)
def test_numbers_as_people_type_them(text: str, value: float) -> None:
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "missing"),
        ("  ", "missing"),
        ("abc", "not a number"),
        ("1.2.3", "not a number"),
        ("1,2,3", "more than one comma"),
        ("1,234", "could mean 1.234 or 1234"),
        ("-2,500", "could mean -2.500 or -2500"),
        ("12,34.5", "not a number"),
        ("3/0", "divides by zero"),
        ("1/2/3", "not a number"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("1e999", "too large"),
        ("--1", "not a number"),
        ("5.", "not a number"),
        ("12..5", "not a number"),
    ],
)
def test_what_is_no_number_or_could_be_two_is_refused(text: str, says: str) -> None:
    with pytest.raises(NumberError, match=says) as refused:
        parse_number(text)
    assert refused.value.hint


@pytest.mark.parametrize(
    ("text", "kind", "default", "shown", "name", "si"),
    [
        ("11/32 in", Kind.LENGTH, None, "11/32", "in", 0.00873125),
        ("1 5/8 in", Kind.LENGTH, None, "1 5/8", "in", 0.041275),
        ('5/16"', Kind.LENGTH, None, "5/16", "in", 0.0079375),
        ("7,25", Kind.LENGTH, "mm", "7,25", "mm", 0.00725),
        ("7.25 mm", Kind.LENGTH, "in", "7.25", "mm", 0.00725),
        ("28 inH2O", Kind.PRESSURE, None, "28", "inH2O", 6974.48948),
        ("49%", Kind.RATIO, "-", "49", "%", 0.49),
        ("-0.02 mm", Kind.LENGTH, None, "-0.02", "mm", -2e-5),
        ("68 °F", Kind.TEMPERATURE, None, "68", "degF", 293.15),
        ("1e-3 m3/s", Kind.FLOW, None, "1e-3", "m3/s", 1e-3),
    ],
)
def test_number_with_its_unit(
    text: str, kind: Kind, default: str | None, shown: str, name: str, si: float
) -> None:
    value = read(text, kind, default)
    assert (value.text, value.unit) == (shown, name)
    assert value.si == pytest.approx(si, rel=1e-9)  # the expected figures have ten digits


def test_a_number_without_unit_is_never_guessed() -> None:
    with pytest.raises(UnitError, match="has no unit"):
        read("28", Kind.PRESSURE)


def test_a_number_that_was_none_is_recorded_short() -> None:
    assert typed(0.1 + 0.2, "mm", Kind.LENGTH).text == "0.3"
    assert typed(1.0, "inch", Kind.LENGTH).unit == "in"


def test_shown_with_the_digits_a_reading_has() -> None:
    assert show(0.00725, "mm", Kind.LENGTH) == "7.25"
    assert show(0.00725, "in", Kind.LENGTH) == "0.2854"
    assert show(0.0082, "cfm", Kind.FLOW, 0) == "17"
    assert show(math.nan, "mm", Kind.LENGTH) == "–"


def test_back_from_si() -> None:
    assert from_si(0.0254, "in", Kind.LENGTH) == pytest.approx(1.0, rel=1e-14)
    assert from_si(293.15, "degF", Kind.TEMPERATURE) == pytest.approx(68.0, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("17.9", 0.1),
        ("17,90", 0.01),
        ("28", 1.0),
        ("-3.40", 0.01),
        ("11/32", 1 / 32),
        ("1e-3", 1e-3),
        ("2.50e2", 1.0),
    ],
)
def test_last_digit_typed(text: str, step: float) -> None:
    assert last_digit(text) == pytest.approx(step, rel=1e-12)


def test_area_signs_come_out_right_on_a_windows_console_and_in_its_files() -> None:
    written = [sign(name) for name in ("mm2", "cm2", "in2", "m2")]
    assert written == ["mm²", "cm²", "in²", "m²"]
    for page in ("cp437", "cp850", "cp1252"):
        assert [w.encode(page).decode(page) for w in written] == written
    assert sign("thou") == "thou"
