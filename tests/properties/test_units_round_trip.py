"""Whatever is typed in any unit comes back from SI as it was."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from portwright.errors import NumberError
from portwright.units import Kind, from_si, last_digit, parse_number, read, to_si, units_of

NAMED = st.sampled_from([(kind, name) for kind in Kind for name in units_of(kind)])
VALUES = st.floats(-1e6, 1e6, allow_nan=False)


@given(NAMED, VALUES)
def test_to_si_and_back(named: tuple[Kind, str], value: float) -> None:
    kind, name = named
    # offset scales lose the digits of 459.67 against the value; 1e-9 covers doubles there
    back = from_si(to_si(value, name, kind), name, kind)
    assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


@given(NAMED, VALUES, VALUES)
def test_order_is_kept(named: tuple[Kind, str], one: float, other: float) -> None:
    kind, name = named
    low, high = sorted((one, other))
    assert to_si(low, name, kind) <= to_si(high, name, kind)


@given(st.integers(-999_999, 999_999), st.integers(1, 6))
def test_point_and_comma_mean_the_same_unless_refused(whole: int, digits: int) -> None:
    text = f"{whole / 10**digits:.{digits}f}"
    comma = text.replace(".", ",")
    try:
        assert parse_number(comma) == parse_number(text)
    except NumberError:
        # only three digits behind the comma and no leading zero can be a group of thousands
        assert digits == 3
        assert abs(whole) >= 1000


@given(st.integers(0, 99), st.integers(0, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_are_exact(whole: int, top: int, bottom: int) -> None:
    assert parse_number(f"{whole} {top}/{bottom}") == whole + top / bottom


@given(NAMED, st.decimals(-9999, 9999, places=3, allow_nan=False))
def test_text_is_kept_as_typed(named: tuple[Kind, str], number: object) -> None:
    kind, name = named
    text = f"{number:f}"
    value = read(f"{text} {name}", kind)
    assert value.text == text
    assert value.unit == name
    assert value.si == to_si(float(text), name, kind)
    assert math.isclose(last_digit(text), 0.001)


@given(st.text(max_size=12))
def test_any_text_is_a_number_or_a_clear_refusal(text: str) -> None:
    try:
        value = parse_number(text)
    except NumberError as error:
        refused = error
    else:
        assert math.isfinite(value)
        return
    assert refused.hint
