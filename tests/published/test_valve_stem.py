"""Stems: fractional-inch sizes and the fourth power.

Source: the inch is 25.4 mm exactly (international yard and pound agreement, 1959), and the second
moment of area of a round bar is pi d^4 / 64 (definition).  The ratios are worked from these two
by rational arithmetic, printed to eight places; the tolerance is half of the last place.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from portwright.core.seat.body import stiffness_ratio

E = 2.0e11
INCH = Fraction(254, 10000)
CASES = (
    (0.008, float(INCH * Fraction(5, 16)), 1.03187002),
    (float(INCH * Fraction(11, 32)), float(INCH * Fraction(5, 16)), 1.4641),
    (0.007, float(INCH * Fraction(5, 16)), 0.60486326),
    (0.006, float(INCH * Fraction(5, 16)), 0.32649012),
)


@pytest.mark.parametrize(("stem", "other", "ratio"), CASES)
def test_bending_stiffness_goes_with_the_fourth_power(
    stem: float, other: float, ratio: float
) -> None:
    assert stiffness_ratio(stem, E, other, E) == pytest.approx(ratio, abs=0.5e-8)


def test_a_stem_of_half_the_modulus_is_half_as_stiff() -> None:
    assert stiffness_ratio(0.008, 0.5 * E, 0.008, E) == 0.5
