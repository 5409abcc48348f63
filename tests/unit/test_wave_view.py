"""What the moving picture of a cycle is drawn from, and what is said of it."""

from __future__ import annotations

import numpy as np
import pytest

from portwright.services.display import Display
from portwright.services.engine_waves import PortWaves, wave_line
from portwright.ui.components.wave_view import wave_props


@pytest.fixture
def waves() -> PortWaves:
    """Twelve angles, runner of two cells and port of three; the valve opens at 360°."""
    angle = np.arange(0.0, 720.0, 60.0) + 1.0
    lift = np.where((angle > 350.0) & (angle < 600.0), 8e-3, 0.0)
    pressure = np.full((12, 5), 100e3)
    pressure[:, -1] = 1e3 * np.array([101, 102, 103, 104, 105, 106, 110, 60, 90, 130, 95, 96])
    return PortWaves(
        stage="S1",
        speed=6000.0,
        angle=angle,
        distance=np.array([-75.0, -25.0, 25.0, 75.0, 125.0]) * 1e-3,
        first=2,
        pressure=pressure,
        mach=np.full((12, 5), 0.25),
        section="throat",
        smallest=4,
        lift=lift,
    )


def test_the_words_name_opening_lowest_and_closing(waves: PortWaves) -> None:
    said = wave_line(waves)
    assert "is 110 kPa as it opens" in said
    assert "lowest 60 kPa at 421°" in said
    assert "130 kPa as it closes" in said


def test_pictures_stand_every_four_degrees_in_the_units_of_the_page(waves: PortWaves) -> None:
    drawn = wave_props([waves, waves], Display(length="mm"))
    assert len(drawn["angles"]) == 180
    pressure, mach = drawn["quantities"]
    assert np.shape(pressure["values"]) == (2, 180, 5)
    # 718° is nearest to the picture at 1°, the cycle being closed
    assert pressure["values"][0][179][-1] == 101.0
    assert (pressure["spec"]["y"]["min"], pressure["spec"]["y"]["max"]) == (60.0, 130.0)
    assert mach["unit"] == ""
    assert drawn["open"][0] == ""
    assert drawn["open"][105] == "8.0 mm"  # 420°
    assert drawn["heads"][0]["x"] == [-75.0, -25.0, 25.0, 75.0, 125.0]
    assert [m["text"] for m in drawn["marks"]] == ["port opening", "throat"]
