"""Cylinder volume of a slider-crank.

Bore = stroke = 86 mm, rod 145.5 mm, compression ratio 10: volumes in cm3 at angles in degrees,
COMPUTED from the plane geometry with an independent program.
"""

from __future__ import annotations

import numpy as np
import pytest

from portwright.core.gas1d import cylinder as cy

VOLUMES = [
    (0.0, 55.50636),
    (30.0, 98.24849),
    (60.0, 208.54611),
    (90.0, 343.03697),
    (120.0, 458.32472),
    (180.0, 555.06357),
]
PEAK_SPEED_RATIO, PEAK_ANGLE = 1.63839173, 74.71694


def _parameters() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    c = np.zeros(cy.CYLINDER_PARAMETERS)
    c[cy.BORE] = c[cy.STROKE] = 0.086
    c[cy.ROD] = 0.1455
    c[cy.CLEARANCE] = 0.25 * np.pi * 0.086**3 / 9.0
    return c


@pytest.mark.published
@pytest.mark.parametrize(("angle", "volume"), VOLUMES)
def test_volume(angle: float, volume: float) -> None:
    # Half a unit of the last printed digit.
    assert cy.cylinder_volume(angle, _parameters()) * 1e6 == pytest.approx(volume, abs=5e-6)


@pytest.mark.published
def test_peak_piston_speed() -> None:
    angle = np.arange(70.0, 80.0, 1e-3)
    position = np.array([cy.piston_position(float(a), 0.086, 0.1455) for a in angle])
    speed = np.gradient(position, np.deg2rad(angle))
    # Mean speed is two strokes per turn: stroke / pi per radian.
    ratio = speed / (0.086 / np.pi)
    k = int(np.argmax(ratio[1:-1])) + 1
    # Central differences over 0.001 degrees.
    assert ratio[k] == pytest.approx(PEAK_SPEED_RATIO, rel=1e-6)
    assert angle[k] == pytest.approx(PEAK_ANGLE, abs=0.02)
