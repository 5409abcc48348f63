"""Compression ratio and its terms.

COMPUTED: worked from the definition outside this program, every term given.  SEEN: ratios printed
in textbook examples read for this purpose.  Trade notes: arithmetic worked in shop notes.
"""

from __future__ import annotations

import math

import pytest

from portwright.core.chamber.compression import (
    Clearance,
    chamber_for,
    clearance_for,
    compression_ratio,
    cylinder_volume,
    ratio_change,
)

pytestmark = pytest.mark.published
MM, CC, INCH = 1e-3, 1e-6, 25.4e-3


def test_dished_piston() -> None:
    # COMPUTED: bore 101.6, stroke 88.392, gasket 104.14 x 1.016, deck 0.254, dish 5 cc
    swept = cylinder_volume(101.6 * MM, 88.392 * MM)
    gasket = cylinder_volume(104.14 * MM, 1.016 * MM)
    deck = cylinder_volume(101.6 * MM, 0.254 * MM)
    assert swept / CC == pytest.approx(716.6222, abs=5e-5)  # digits printed
    assert gasket / CC == pytest.approx(8.654037, abs=5e-7)
    assert deck / CC == pytest.approx(2.059259, abs=5e-7)
    clearance = Clearance(64 * CC, gasket, deck, 5 * CC)
    assert clearance.total / CC == pytest.approx(79.713296, abs=5e-7)
    assert compression_ratio(swept, clearance.total) == pytest.approx(9.98999585, abs=5e-9)
    taken = 64 * CC - chamber_for(swept, 10.5, clearance.rest)
    assert taken / CC == pytest.approx(4.279380, abs=5e-7)


def test_domed_piston() -> None:
    # COMPUTED: 86 x 86, chamber 45 cc, gasket 87 x 1.0, deck 0.2, dome 2 cc
    swept = cylinder_volume(86 * MM, 86 * MM)
    gasket = cylinder_volume(87 * MM, 1.0 * MM)
    deck = cylinder_volume(86 * MM, 0.2 * MM)
    clearance = Clearance(45 * CC, gasket, deck, -2 * CC)
    assert swept / CC == pytest.approx(499.557214, abs=5e-7)
    assert clearance.total / CC == pytest.approx(50.106440, abs=5e-7)
    assert compression_ratio(swept, clearance.total) == pytest.approx(10.96992039, abs=5e-9)


@pytest.mark.parametrize(
    ("swept", "clearance", "ratio", "digits"),
    [
        # SEEN in textbook examples; the tolerance is half the last digit printed
        (cylinder_volume(3.25 * INCH, 4.0 * INCH), 6.0 * INCH**3, 6.531, 1e-3),
        (245 * CC, 27.22 * CC, 10.000735, 5e-7),
        # the book takes 3.14 for pi and so does its printed ratio
        (0.25 * 3.14 * 0.25**2 * 0.45, 5e-3, 5.4156, 5e-5),
    ],
)
def test_textbook_ratios(swept: float, clearance: float, ratio: float, digits: float) -> None:
    assert compression_ratio(swept, clearance) == pytest.approx(ratio, abs=digits)


def test_otto_efficiency_of_the_large_cylinder() -> None:
    # SEEN: 49.1 % for 0.25 x 0.45 m and 5 L; 49.1208 % with the book's pi
    ratio = compression_ratio(0.25 * 3.14 * 0.25**2 * 0.45, 5e-3)
    assert 100 * (1 - ratio**-0.4) == pytest.approx(49.1208, abs=5e-5)


def test_deshrouding_costs_a_fifth_of_a_ratio_per_cc() -> None:
    # trade notes: 1 cc on 46 cc at 11.2 is "about -0.21"; the difference itself is -0.217
    swept = 46 * CC * (11.2 - 1.0)
    assert ratio_change(swept, 46 * CC, 1 * CC) == pytest.approx(-0.21, abs=0.01)


def test_valve_sink_of_a_42_mm_valve() -> None:
    # trade notes: 1.39 cc/mm and 0.035 cc per thou
    assert cylinder_volume(42 * MM, 1 * MM) / CC == pytest.approx(1.39, abs=0.005)
    assert cylinder_volume(42 * MM, INCH / 1000) / CC == pytest.approx(0.035, abs=0.0005)


def test_ratio_turned_round() -> None:
    assert clearance_for(400 * CC, 11.0) == pytest.approx(40 * CC, rel=1e-12)
    assert math.isclose(compression_ratio(400 * CC, 40 * CC), 11.0, rel_tol=1e-12)
