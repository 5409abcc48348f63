"""Measuring on a photograph of a job: scale, outline, area and what it is uncertain by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from portwright import units
from portwright.archive.attachments import Attachment
from portwright.core.trace import camera, curve, measure, scale
from portwright.errors import Finding, GeometryError, InputError, NotFoundError, Severity, Where
from portwright.io.pictures import open_picture, picture_size
from portwright.model.quantity import AsTyped
from portwright.services.display import Display
from portwright.services.guarded import careful
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

# Under names screens may use.
Join = curve.Join
PictureErrors = camera.PictureErrors

Points = tuple[tuple[float, float], ...]

SCREEN_ERROR = 1.5  # standard uncertainty of a finger or mouse under the magnifier [screen px]
LEAST_ERROR = 0.7  # of a point however far the picture is enlarged: its own blur [px]
LINE_ERROR = 0.25  # of a mark found from printed lines: ragged print, a sheet not quite flat [px]
_EDGE_SHARE = 1.0 / 3.0  # of the tracing error that all points share
_CIRCLE_MARKS = 5
_FEW_POINTS = 12
_MARKS_APART = 3.0  # misfit over the marking error from which a frame is doubted
_BESIDE = 0.01  # perspective error of an area from which a circle is doubted


class ScaleKind(StrEnum):
    """What gives the picture its scale."""

    BAR = "bar"
    CIRCLE = "circle"
    FRAME = "frame"
    FRAME_WITH_MIDDLES = "frame with middles"

    @property
    def marks(self) -> int:
        """How many marks it needs; a circle may have more."""
        return {"bar": 2, "circle": _CIRCLE_MARKS, "frame": 4}.get(self.value, 8)

    @property
    def sizes(self) -> int:
        """How many sizes it has."""
        return 1 if self in {ScaleKind.BAR, ScaleKind.CIRCLE} else 2


@dataclass(frozen=True, slots=True)
class Tracing:
    """What a person marked and traced on a photograph.

    Points count pixels right and down from the upper left corner of the upright picture.

    Parameters
    ----------
    photo : int
        Stored file.
    width, height : int
        Of the upright picture. [px]
    scale : ScaleKind
    marks : tuple of tuple of float
        In order round the frame or circle. [px]
    sizes : tuple of AsTyped
        Length of the bar, diameter of the circle, or the sides of the frame, the one marked first
        first. [m]
    size_limit : AsTyped
        Most by which a size may be off. [m]
    outline : tuple of tuple of float
        In order, either way round. [px]
    join : Join
        Course of the edge between points.
    errors : PictureErrors
    holes : tuple of tuple of float
        Two points by which a face is laid on its counterpart, of dowel or bolt holes. [px]
    hole_error : float
        Standard uncertainty of each of them, in each direction. [px]
    """

    photo: int
    width: int
    height: int
    scale: ScaleKind
    marks: Points
    sizes: tuple[AsTyped, ...]
    size_limit: AsTyped
    outline: Points
    join: Join
    errors: PictureErrors
    holes: Points = ()
    hole_error: float = LEAST_ERROR


@dataclass(frozen=True, slots=True)
class Traced:
    """What a tracing measures.

    Parameters
    ----------
    area, perimeter : float
        [m2, m]
    area_interval, perimeter_interval : float
        Half the 95 % interval. [m2, m]
    causes : tuple of tuple of str and float
        What makes the area uncertain, largest first, each as half a relative 95 % interval. [-]
    pixel : float
        Length of a pixel at the outline. [m]
    findings : tuple of Finding
    """

    area: float
    perimeter: float
    area_interval: float
    perimeter_interval: float
    causes: tuple[tuple[str, float], ...]
    pixel: float
    findings: tuple[Finding, ...]


def photos(shop: ShopFile, job: str) -> list[Attachment]:
    """Photographs kept with a job, in the order added."""
    kinds = {"image/jpeg", "image/png"}
    return [kept for kept in shop.attachments(job) if kept.media_type in kinds]


def photo(shop: ShopFile, job: str, number: int) -> Attachment:
    """One photograph of a job.

    Raises
    ------
    NotFoundError
        The job has no such photograph.
    """
    found = next((kept for kept in photos(shop, job) if kept.id == number), None)
    if found is None:
        raise NotFoundError(f"Job {job} has no photo {number}.", "Choose one of its photos.")
    return found


def size_of(shop: ShopFile, kept: Attachment) -> tuple[int, int]:
    """Width and height of a photograph turned upright. [px]

    Raises
    ------
    ImportFileError
        It cannot be read, or is larger than a camera makes it.
    """
    return careful(picture_size, shop.attachment_data(kept.id), kept.name)


def suggest(
    shop: ShopFile, kept: Attachment, inside: tuple[float, float], frame: Points = ()
) -> Points:
    """Suggest the outline round a point of a photograph, for a person to correct.

    Parameters
    ----------
    shop : ShopFile
    kept : Attachment
        The photograph.
    inside : tuple of float
        A point inside. [px]
    frame : tuple of tuple of float
        Marks of a frame in order round it, where one gives the scale: it is no outline. [px]

    Raises
    ------
    ImportFileError
        The photograph cannot be read.
    GeometryError
        Nothing stands out round that point.
    """
    from portwright.core.trace.suggest import suggest_outline

    picture = careful(open_picture, shop.attachment_data(kept.id), kept.name)
    within = np.array(frame, dtype=np.float64) if len(frame) >= 4 else None
    found = suggest_outline(picture.pixels, inside, within)
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in found.points)


def find_lines(shop: ShopFile, kept: Attachment, marks: Points) -> Points:
    """Find the lines or edges of a frame from marks near its corners: eight marks.

    Parameters
    ----------
    shop : ShopFile
    kept : Attachment
        The photograph.
    marks : tuple of tuple of float
        Four corners, or corners and middles, in order round the frame. [px]

    Returns
    -------
    tuple of tuple of float
        Corner, middle of the side, corner and so on, the first one marked first. [px]

    Raises
    ------
    ImportFileError
        The photograph cannot be read.
    GeometryError
        Marks are missing, or no line or edge runs between them.
    """
    from portwright.core.trace.frame_lines import frame_lines

    if len(marks) not in {4, 8}:
        raise GeometryError(
            f"There are {len(marks)} marks; lines or edges are looked for between four corners.",
            "Mark the four corners of the frame in order round it.",
        )
    picture = careful(open_picture, shop.attachment_data(kept.id), kept.name)
    found = frame_lines(picture.pixels, np.array(marks[:: len(marks) // 4], dtype=np.float64))
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in found.marks)


def hand_errors(
    outline_zoom: Sequence[float | None], mark_zoom: Sequence[float | None], base: PictureErrors
) -> PictureErrors:
    """Errors of points placed by hand at some enlargement.

    A hand is as steady on the screen whatever the picture; the figures are common practice, from
    memory.

    Parameters
    ----------
    outline_zoom, mark_zoom : sequence of float or None
        Screen pixels per picture pixel when each point was placed; None for a point the picture
        itself gave: a suggested outline, marks found from the lines of a frame.
    base : PictureErrors
        Gives everything else.
    """
    tracing = placing_error(outline_zoom, LEAST_ERROR)
    return PictureErrors(
        tracing=tracing,
        edge=max(base.edge, _EDGE_SHARE * tracing),
        marking=placing_error(mark_zoom, LINE_ERROR),
        lens=base.lens,
        tilt=base.tilt,
        height=base.height,
    )


def placing_error(zooms: Sequence[float | None], found: float = LEAST_ERROR) -> float:
    """Standard uncertainty of points placed by hand, root mean square. [px]

    Parameters
    ----------
    zooms : sequence of float or None
        Screen pixels per picture pixel when each was placed, None where no hand placed it.
    found : float
        Of a point that no hand placed. [px]
    """
    each = [
        found if zoom is None or zoom <= 0.0 else max(LEAST_ERROR, SCREEN_ERROR / zoom)
        for zoom in zooms
    ]
    return math.sqrt(sum(e * e for e in each) / len(each)) if each else LEAST_ERROR


def scale_of(tracing: Tracing) -> scale.Scale:
    """Scale of a tracing.

    Raises
    ------
    GeometryError, RangeError
        Marks missing, out of order or on one spot; a size that is missing or not above zero.
    """
    kind = tracing.scale
    few = len(tracing.marks) < kind.marks
    if few or (kind is not ScaleKind.CIRCLE and len(tracing.marks) != kind.marks):
        raise GeometryError(
            f"The scale has {len(tracing.marks)} of {kind.marks} marks.", "Mark the scale first."
        )
    if len(tracing.sizes) != kind.sizes:
        raise InputError("The size of the scale is missing.", "Type it.")
    made = {ScaleKind.BAR: scale.BarScale, ScaleKind.CIRCLE: scale.CircleScale}.get(
        kind, scale.FrameScale
    )
    return made(
        np.array(tracing.marks, dtype=np.float64),
        np.array([size.si for size in tracing.sizes]),
        # anywhere within the limits is as likely: JCGM 100:2008, 4.3.7
        np.full(len(tracing.sizes), tracing.size_limit.si / math.sqrt(3.0)),
    )


def trace(tracing: Tracing) -> Traced:
    """Area and perimeter of a tracing.

    Raises
    ------
    GeometryError, RangeError, InputError
        Scale or outline are not complete or make no sense; the message says what to do.
    """
    of = scale_of(tracing)
    if len(tracing.outline) < 3:
        raise GeometryError("There is no outline yet.", "Trace it all round.")
    picture = camera.Camera(float(tracing.width), float(tracing.height))
    outline = np.array(tracing.outline, dtype=np.float64)
    found = measure.measure_outline(outline, of, picture, tracing.errors, tracing.join)
    half = measure.COVERAGE_FACTOR
    causes = sorted(found.doubts.items(), key=lambda item: item[1].area, reverse=True)
    return Traced(
        found.area,
        found.perimeter,
        half * found.area_uncertainty,
        half * found.perimeter_uncertainty,
        tuple((cause.value, half * doubt.area) for cause, doubt in causes if doubt.area > 0.0),
        found.pixel,
        tuple(_findings(tracing, of, picture, found)),
    )


def _findings(
    tracing: Tracing, of: scale.Scale, picture: camera.Camera, found: measure.TracedSection
) -> list[Finding]:
    said = []

    def say(code: str, severity: Severity, message: str, hint: str, size: float) -> None:
        said.append(Finding(code, severity, message, hint, Where(), size))

    if len(tracing.outline) < _FEW_POINTS and tracing.join is Join.SMOOTH:
        say(
            "few-trace-points",
            Severity.NOTE,
            f"The outline has {len(tracing.outline)} points only.",
            "Add points where it bends.",
            float(len(tracing.outline)),
        )
    if tracing.scale is ScaleKind.BAR:
        tilt = math.degrees(tracing.errors.tilt)
        say(
            "tilt-not-corrected",
            Severity.NOTE,
            f"A bar cannot show a tilted camera; it is taken to be within {2.0 * tilt:.0f} degrees "
            "of square.",
            "Lay a frame or a ring beside the section to have tilt taken out.",
            tracing.errors.tilt,
        )
    beside = found.doubts[measure.Cause.PERSPECTIVE].area
    if beside > _BESIDE:
        say(
            "circle-beside-outline",
            Severity.WARNING,
            f"The camera was tilted and the circle lies beside the outline: up to "
            f"{100.0 * beside:.0f} % of the area, sign unknown.",
            "Put the circle round the outline or close to it, or use a frame.",
            beside,
        )
    if tracing.scale is ScaleKind.FRAME:
        lens = measure.COVERAGE_FACTOR * found.doubts[measure.Cause.LENS].area
        say(
            "lens-not-corrected",
            Severity.NOTE,
            f"Four marks cannot show the bend of the lens: ±{100.0 * lens:.1f} % of the area.",
            "Find the frame takes it out, of a printed frame as of a plain sheet.",
            lens,
        )
    if isinstance(of, scale.FrameScale):
        residual = of.perspective(picture, tracing.errors).residual
        if residual > _MARKS_APART * tracing.errors.marking:
            say(
                "marks-off-frame",
                Severity.WARNING,
                f"The marks miss a flat rectangle of these sides by {residual:.1f} pixels.",
                "Check each mark, both sides, and that the sheet lies flat.",
                residual,
            )
        outside = _outside(np.array(tracing.outline), np.array(tracing.marks))
        if outside > 0.0:
            say(
                "outline-outside-frame",
                Severity.WARNING,
                f"{100.0 * outside:.0f} % of the outline lies outside the frame, where perspective "
                "is only guessed on from it.",
                "Use a frame that goes round the outline.",
                outside,
            )
    return said


def _outside(outline: NDArray[np.float64], marks: NDArray[np.float64]) -> float:
    """Share of points outside the corners of a frame."""
    corners = marks[:: len(marks) // 4]
    side = np.roll(corners, -1, axis=0) - corners
    offset = outline[:, np.newaxis] - corners
    turn = np.sign(side[:, 0] * offset[..., 1] - side[:, 1] * offset[..., 0])
    return float(np.mean(np.any(turn != turn.sum(axis=1, keepdims=True) / 4.0, axis=1)))


def known_decimals(interval: float, unit: str, kind: Kind) -> int:
    """Digits behind the point that a 95 % interval leaves known: two of the interval's own."""
    shown = interval / units.to_si(1.0, unit, kind)
    if not shown > 0.0 or not math.isfinite(shown):
        return 0
    return max(0, 1 - math.floor(math.log10(shown)))


def area_text(traced: Traced, display: Display) -> str:
    """Area with its interval: "1042 ± 21 mm²"."""
    return _with_interval(traced.area, traced.area_interval, display.area, Kind.AREA)


def perimeter_text(traced: Traced, display: Display) -> str:
    """Perimeter with its interval."""
    return _with_interval(traced.perimeter, traced.perimeter_interval, display.length, Kind.LENGTH)


def _with_interval(value: float, interval: float, unit: str, kind: Kind) -> str:
    digits = known_decimals(interval, unit, kind)
    value_text, interval_text = (units.show(v, unit, kind, digits) for v in (value, interval))
    return f"{value_text} ± {interval_text} {units.sign(unit)}"
