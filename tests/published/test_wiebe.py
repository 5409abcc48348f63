"""Wiebe burn function, wall heat transfer and mechanical friction.

Parameters a = 5, m = 2 FROM MEMORY (Heywood 1988); values COMPUTED. Woschni constants FROM
MEMORY, both exponents circulate; values COMPUTED. Chen and Flynn form FROM MEMORY (SAE 650733);
values COMPUTED.
"""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.gas1d.cylinder import burned_share, wall_coefficient
from portwright.core.gas1d.engine import Burning, Rubbing

BURNED = [(0.25, 0.075151187), (0.5, 0.464738571), (0.75, 0.878686236), (1.0, 0.993262053)]
ANGLES = [(0.1, 0.276208), (0.5, 0.517549), (0.9, 0.772233)]
# The program scales the function to end at one; the table does not.
WHOLE = 1.0 - np.exp(-5.0)


@pytest.mark.published
@pytest.mark.parametrize(("y", "share"), BURNED)
def test_burned_share(y: float, share: float) -> None:
    got = burned_share(-20.0 + 50.0 * y, -20.0, 50.0, 5.0, 2.0) * WHOLE
    assert got == pytest.approx(share, abs=5e-10)  # half a unit of the last digit


@pytest.mark.published
@pytest.mark.parametrize(("share", "y"), ANGLES)
def test_angle_of_share(share: float, y: float) -> None:
    got = burned_share(y, 0.0, 1.0, 5.0, 2.0) * WHOLE
    # The printed angle has six digits, the slope there is at most 2.3.
    assert got == pytest.approx(share, abs=1.2e-6)


def test_half_burned_angle_is_where_half_is_burned() -> None:
    burning = Burning(half_burned=9.0, length=48.0)
    assert burned_share(9.0, burning.start, 48.0, 5.0, 2.0) == pytest.approx(0.5, abs=1e-12)


@pytest.mark.published
@pytest.mark.parametrize(("exponent", "expected"), [(-0.55, 944.4503), (-0.53, 1099.5113)])
def test_woschni(exponent: float, expected: float) -> None:
    got = wall_coefficient(0.1, 5e6, 2000.0, 25.0, 3.26, exponent)
    assert got == pytest.approx(expected, abs=5e-5)  # half a unit of the last digit


@pytest.mark.published
@pytest.mark.parametrize(
    ("pressure", "speed", "expected"), [(60e5, 10.0, 1.690), (80e5, 20.0, 2.960)]
)
def test_chen_flynn(pressure: float, speed: float, expected: float) -> None:
    got = Rubbing().mean_pressure(pressure, speed) * 1e-5
    assert got == pytest.approx(expected, abs=5e-4)  # half a unit of the last digit
