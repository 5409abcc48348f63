"""The same volume taken by an angle cut instead of a flat one, deeper on either side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from portwright.core.chamber.angle import (
    AngleCut,
    AngleLineUp,
    DeepSide,
    angle_for_volume,
    angle_line_up,
)
from portwright.core.chamber.vface import VFace
from portwright.errors import RangeError
from portwright.services.plan_terms import Known


@dataclass(frozen=True, slots=True)
class AnglePlan:
    """One angle cut that takes the volume of the plan.

    Parameters
    ----------
    cut : AngleCut
    centroid_depth : float
        Depth over the middle of the chamber. [m]
    moved : AngleLineUp or None
        None where face or port height are not known.
    """

    cut: AngleCut
    centroid_depth: float
    moved: AngleLineUp | None


def angle_plans(
    known: Mapping[str, Known], face: VFace | None, volume: float
) -> tuple[AnglePlan, ...]:
    """Angle cuts that take a volume, for both sides; empty where the sizes are not known.

    Parameters
    ----------
    known : mapping of str to Known
        "head width" and "chamber distance", the middle of the chamber from the intake edge of the
        deck, are needed; "port height" above the deck for the face.
    face : VFace or None
    volume : float
        Volume to take from each chamber. [m3]

    Raises
    ------
    RangeError
        The chamber lies beside the head.
    """
    if "head width" not in known or "chamber distance" not in known:
        return ()
    width, from_intake = known["head width"].value, known["chamber distance"].value
    if not 0.0 < from_intake < width:
        raise RangeError(
            "The middle of the chamber must lie between both edges of the deck.",
            "Measure 'chamber distance' from the intake edge of the deck.",
        )
    return tuple(
        plan
        for side in (DeepSide.EXHAUST, DeepSide.INTAKE)
        if (plan := _plan(known, face, volume, side)) is not None
    )


def _plan(
    known: Mapping[str, Known], face: VFace | None, volume: float, side: DeepSide
) -> AnglePlan | None:
    width, from_intake = known["head width"].value, known["chamber distance"].value
    centroid = from_intake if side is DeepSide.EXHAUST else width - from_intake
    area = known["open area"].value
    try:
        cut = AngleCut(angle_for_volume(area, centroid, volume), side, width)
    except RangeError:  # no sensible angle on this side; the other may have one
        return None
    height = known.get("port height")
    moved = angle_line_up(face, cut, 0.0, height.value) if face and height else None
    return AnglePlan(cut, cut.depth_at(centroid), moved)
