"""The smallest passage against turned solids that share no formula with it.

Seat and valve are turned into closed meshes.  Points spread over both surfaces are joined pair by
pair; the mesh of the frustum that each pair sweeps has its area measured facet by facet.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree

from portwright.core.seat.gap import Passage, rest, smallest_passages
from portwright.core.seat.profile import Cut, SeatProfile, ValveProfile
from portwright.core.valve import ValveShape, minimum_area

MM, DEG = 1e-3, math.pi / 180.0
FACETS = 256
FACET_LOSS = 1.0 - math.sin(math.pi / FACETS) / (
    math.pi / FACETS
)  # of an N-gon's perimeter; a ring loses 4 times

SEAT = SeatProfile(
    39.6 * MM,
    Cut(45 * DEG, 1.2 * MM),
    35.4 * MM,
    (Cut(60 * DEG, 1.5 * MM), Cut(72 * DEG, 1.6 * MM)),
    (Cut(37 * DEG, 0.8 * MM), Cut(22 * DEG, 1.0 * MM)),
)
VALVE = ValveProfile(
    40.0 * MM,
    Cut(44.5 * DEG, 1.5 * MM),
    7.0 * MM,
    1.2 * MM,
    (Cut(30 * DEG, 1.4 * MM),),
    12 * DEG,
    14 * MM,
)


def solid(line: np.ndarray) -> trimesh.Trimesh:
    """A line turned about the stem, closed by its own way back through the metal."""
    return trimesh.creation.revolve(line / MM, sections=FACETS)


def seat_solid(seat: SeatProfile) -> trimesh.Trimesh:
    points = seat.outline().points
    back = [(points[-1, 0], points[0, 1]), tuple(points[0])]
    return solid(np.vstack([points, back]))


def valve_solid(valve: ValveProfile, lift: float) -> trimesh.Trimesh:
    points = valve.outline().points + np.array([0.0, lift])
    ends = [(0.0, points[0, 1])], [(0.0, points[-1, 1])]
    return solid(np.vstack([ends[0], points, ends[1]]))


def found_at(lift: float) -> tuple[Passage, trimesh.Trimesh, trimesh.Trimesh]:
    passage = smallest_passages(SEAT, VALVE, np.array([lift]))[0]
    shut = rest(SEAT, VALVE).height
    return passage, seat_solid(SEAT), valve_solid(VALVE, shut + lift)


def frustum(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Area of what a straight line sweeps, facet by facet."""
    return float(trimesh.creation.revolve(np.array([start, end]), sections=FACETS).area)


@pytest.mark.parametrize("lift", [0.6 * MM, 3.0 * MM, 7.0 * MM, 12.0 * MM])
def test_no_pair_of_surface_points_sweeps_less(lift: float) -> None:
    passage, seat, valve = found_at(lift)
    assert seat.is_watertight
    assert valve.is_watertight
    # its own frustum, as a mesh: smaller only by what flat facets cut off
    swept = frustum(passage.seat_point, passage.valve_point)
    assert swept == pytest.approx(passage.area, rel=4.1 * FACET_LOSS)
    halves = []
    for number, mesh in enumerate((seat, valve)):
        points, _ = trimesh.sample.sample_surface(mesh, 20_000, seed=number)
        halves.append(MM * np.column_stack([np.hypot(points[:, 0], points[:, 1]), points[:, 2]]))
    of_seat, of_valve = halves
    near = cKDTree(of_valve).query(of_seat, k=12)[1]
    pairs = of_valve[near]
    distance = np.linalg.norm(pairs - of_seat[:, None, :], axis=2)
    area = math.pi * (pairs[..., 0] + of_seat[:, None, 0]) * distance
    least = float(area.min())
    # facets stand up to their sagitta off the true surface of 20 mm radius, on both sides
    sagitta = 2.0 * 20.0 * MM * (1.0 - math.cos(math.pi / FACETS))
    both = passage.seat_point[0] + passage.valve_point[0]
    assert least >= passage.area - math.pi * both * sagitta
    # and the points come near it: they are spread about 0.1 mm apart in the half section
    assert least == pytest.approx(passage.area, rel=0.03)


def test_the_shut_valve_touches_and_does_not_enter() -> None:
    shut = rest(SEAT, VALVE)
    fixed = SEAT.outline().points[1:]
    moved = VALVE.outline().points[1:-1] + np.array([0.0, shut.height])
    radii = np.linspace(fixed[0, 0], moved[-1, 0], 20_001)
    radii = np.union1d(radii, moved[moved[:, 0] >= fixed[0, 0], 0])
    radii = np.union1d(radii, fixed[fixed[:, 0] <= moved[-1, 0], 0])
    gap = np.interp(radii, *moved.T) - np.interp(radii, *fixed.T)
    assert gap.min() == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("angle", [30.0, 45.0, 50.0, 55.0])
def test_one_angle_and_a_face_of_its_width_give_the_three_stages(angle: float) -> None:
    """Within 0.3 %: the published frustum stands square to the seat, the smallest leans."""
    width = 1.5 * MM
    face = Cut(angle * DEG, width / math.cos(angle * DEG))
    seat = SeatProfile(40 * MM, face, 35 * MM, (Cut(80 * DEG, 3.0 * MM),))
    valve = ValveProfile(40 * MM, face, 8 * MM, 1.5 * MM, under_angle=2 * DEG)
    lifts = np.linspace(0.25 * MM, 12 * MM, 48)
    true = np.array([p.area for p in smallest_passages(seat, valve, lifts)])
    published = minimum_area(ValveShape(40 * MM, 8 * MM, angle * DEG, width, 35 * MM), lifts)
    assert np.all(true <= published * (1.0 + 1e-9))
    np.testing.assert_allclose(true, published, rtol=3e-3)
