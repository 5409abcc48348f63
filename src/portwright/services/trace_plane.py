"""A traced outline in the plane it lies in, as the upright picture shows it."""

from __future__ import annotations

import numpy as np

from portwright.core.constants import Array
from portwright.core.trace.camera import Camera
from portwright.core.trace.curve import joined, untangled
from portwright.core.trace.scale import Pose
from portwright.errors import GeometryError
from portwright.services.trace import Tracing, scale_of


def upright(tracing: Tracing) -> tuple[Array, Array]:
    """Outline and holes in their plane, right and up as the upright picture shows them.

    Parameters
    ----------
    tracing : Tracing

    Returns
    -------
    tuple of ndarray, shape (n, 2) and (k, 2)
        Outline and holes, across and up. [m]

    Raises
    ------
    GeometryError, RangeError, InputError
        Scale or outline are not complete.

    Notes
    -----
    A frame may be marked from any corner and either way round: right and up come from where a
    step to the right and a step up on the picture lead in the plane.
    """
    if len(tracing.outline) < 3:
        raise GeometryError("There is no outline yet.", "Trace it all round.")
    camera = Camera(float(tracing.width), float(tracing.height))
    to_plane = scale_of(tracing).to_plane(camera, tracing.errors, Pose())
    seen = joined(untangled(np.array(tracing.outline, dtype=np.float64)), tracing.join)
    middle = 0.5 * (seen.min(axis=0) + seen.max(axis=0))
    steps = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, -1.0]])
    origin, beside, above = to_plane(middle + steps)
    right = (beside - origin) / np.hypot(*(beside - origin))
    up = above - origin
    up = up - (up @ right) * right
    axes = np.column_stack((right, up / np.hypot(*up)))
    holes = np.array(tracing.holes, dtype=np.float64).reshape(-1, 2)
    return (to_plane(seen) - origin) @ axes, (to_plane(holes) - origin) @ axes
