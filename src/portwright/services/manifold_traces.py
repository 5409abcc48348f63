"""Openings traced on photographs, laid on one another at the face of the head."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.core.outline import Outline
from portwright.core.trace.measure import COVERAGE_FACTOR
from portwright.errors import InputError, NotFoundError, UnknownNameError
from portwright.services.display import Display
from portwright.services.line_up import TracedOpening
from portwright.services.shop_file import ShopFile
from portwright.services.trace import Traced, area_text
from portwright.services.trace_plane import upright
from portwright.services.trace_store import StoredTrace, Target, traces

PARTS = {"head": Target.OPENING, "runner": Target.RUNNER, "gasket": Target.GASKET}
# A face that is bolted on looks at the head: on its own photograph left and right are swapped.
_MIRRORED = ("runner",)
_TURNED_OVER = np.array([-1.0, 1.0])


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
    holes : int
        Dowel or bolt holes marked with it.
    """

    part: str
    id: int
    photo: int
    stage: str
    traced: Traced
    holes: int


def opening_traces(shop: ShopFile, job: str, port: str) -> tuple[OpeningTrace, ...]:
    """Traced openings of a port, in the order kept.

    Raises
    ------
    CorruptArchiveError
    """
    return tuple(
        OpeningTrace(
            part, kept.id, kept.tracing.photo, kept.stage, kept.traced, len(kept.tracing.holes)
        )
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
    """A traced opening in a few words: "trace 12, S7: 1162 ± 14 mm², two holes"."""
    stage = f", {one.stage}" if one.stage else ""
    holes = ", two holes" if one.holes == 2 else ""
    return f"trace {one.id}{stage}: {area_text(one.traced, display)}{holes}"


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
) -> dict[str, TracedOpening]:
    """Openings of the chosen traces, each about its own middle.

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
        found[part] = _opening(kept[part, number], mirrored=part in _MIRRORED)
    return found


def _opening(kept: StoredTrace, *, mirrored: bool) -> TracedOpening:
    points, holes = upright(kept.tracing)
    if mirrored:
        points, holes = points * _TURNED_OVER, holes * _TURNED_OVER
    middle = 0.5 * (points.min(axis=0) + points.max(axis=0))
    traced = kept.traced
    return TracedOpening(
        Outline(points - middle),
        holes - middle,
        traced.pixel * kept.tracing.hole_error,
        # an area is twice as uncertain as a length
        0.5 * traced.area_interval / (COVERAGE_FACTOR * traced.area),
    )


def _offered(part: str, numbers: Sequence[int]) -> str:
    if not numbers:
        return f"its sizes: no {part} is traced"
    return f"one of {', '.join(str(n) for n in numbers)}"
