"""Openings traced on photographs, laid on one another at the face of the head."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.outline import Outline
from portwright.core.trace.camera import Camera
from portwright.core.trace.curve import joined, untangled
from portwright.core.trace.scale import Pose
from portwright.errors import GeometryError, InputError, NotFoundError, UnknownNameError
from portwright.services.display import Display
from portwright.services.shop_file import ShopFile
from portwright.services.trace import Traced, Tracing, area_text, scale_of
from portwright.services.trace_store import StoredTrace, Target, traces

PARTS = {"head": Target.OPENING, "runner": Target.RUNNER, "gasket": Target.GASKET}
# A face that is bolted on looks at the head: on its own photograph left and right are swapped.
_MIRRORED = ("runner",)


@dataclass(frozen=True, slots=True)
class OpeningTrace:
    """A traced opening that can stand for a part of a fit.

    Parameters
    ----------
    part : str
        "head", "runner" or "gasket".
    id, photo : int
        Stored trace and the photo it was traced on.
    stage : str
    traced : Traced
        Its sizes.
    """

    part: str
    id: int
    photo: int
    stage: str
    traced: Traced


def opening_traces(shop: ShopFile, job: str, port: str) -> tuple[OpeningTrace, ...]:
    """Traced openings of a port, in the order kept.

    Raises
    ------
    CorruptArchiveError
    """
    return tuple(
        OpeningTrace(part, kept.id, kept.tracing.photo, kept.stage, kept.traced)
        for kept, part in _of_port(shop, job, port)
    )


def _of_port(shop: ShopFile, job: str, port: str) -> list[tuple[StoredTrace, str]]:
    parts = {target: part for part, target in PARTS.items()}
    return [
        (kept, parts[kept.target])
        for kept in traces(shop, job)
        if kept.subject == port and kept.target in parts
    ]


def trace_words(one: OpeningTrace, display: Display) -> str:
    """A traced opening in a few words: "trace 12, S7: 1162 ± 14 mm2"."""
    stage = f", {one.stage}" if one.stage else ""
    return f"trace {one.id}{stage}: {area_text(one.traced, display)}"


def read_traces(texts: Iterable[str]) -> dict[str, int]:
    """Read which trace stands for which part: "head=12".

    Raises
    ------
    InputError, UnknownNameError
    """
    found = {}
    for text in texts:
        part, _, number = (word.strip() for word in text.partition("="))
        if part not in PARTS:
            raise UnknownNameError("part of a manifold fit", part, PARTS)
        if not number.isdecimal():
            raise InputError(f"'{text}' names no trace.", "Write it like head=12.")
        found[part] = int(number)
    return found


def traced_outlines(
    shop: ShopFile, job: str, port: str, chosen: Mapping[str, int]
) -> dict[str, Outline]:
    """Outlines of the chosen traces, each about its own middle. [m]

    Across to the right and up away from the deck, seen from outside the head. Photographs are
    taken upright, the deck below; that of a manifold or pipe is turned over here.

    Raises
    ------
    NotFoundError
        The port has no such trace.
    GeometryError
    """
    kept = {(part, trace.id): trace for trace, part in _of_port(shop, job, port)}
    found = {}
    for part, number in chosen.items():
        if (part, number) not in kept:
            raise NotFoundError(
                f"Port {port} has no traced outline {number} for the {part}.",
                f"Trace one, or choose {_offered(part, [n for p, n in kept if p == part])}.",
            )
        points = upright(kept[part, number].tracing)
        if part in _MIRRORED:
            points = points * np.array([-1.0, 1.0])
        found[part] = Outline(points - 0.5 * (points.min(axis=0) + points.max(axis=0)))
    return found


def _offered(part: str, numbers: Sequence[int]) -> str:
    if not numbers:
        return f"its sizes: no {part} is traced"
    return f"one of {', '.join(str(n) for n in numbers)}"


def upright(tracing: Tracing) -> Array:
    """Outline in its plane, right and up as the upright picture shows it.

    Parameters
    ----------
    tracing : Tracing

    Returns
    -------
    ndarray, shape (n, 2)
        Across and up. [m]

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
    plane: Array = (to_plane(seen) - origin) @ np.column_stack((right, up / np.hypot(*up)))
    return plane
