"""A section measured by the sizes of a shape: what follows from it, and keeping it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from portwright import units
from portwright.core.port import shapes
from portwright.core.port.limits import PortLimits
from portwright.core.port.shapes import area_uncertainty, outline_of, section_of
from portwright.errors import InputError, PortwrightError, RangeError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.services.jobs import today
from portwright.services.landmarks import LANDMARKS, landmark_in, place_of
from portwright.services.shop_file import ShopFile
from portwright.services.stations import STANDING, blocked_area, shape_of, size_error
from portwright.services.sweeps import port_named
from portwright.units import Kind

# Shapes, under names screens may use.
Shape = shapes.Shape
sizes_of = shapes.sizes_of


@dataclass(frozen=True, slots=True)
class SectionEntry:
    """A section as measured with calipers.

    Parameters
    ----------
    shape : Shape
        Chosen by the person who measured.
    sizes : dict of str to AsTyped
        By the names of :func:`~portwright.core.port.shapes.sizes_of`. [m]
    landmark : str
        One of the known landmarks, or "".
    distance : AsTyped or None
        From the opening along the centreline; None for a bare landmark. [m]
    standing : dict of str to AsTyped
        What stands in the section, by quantity: guide diameter and exposed guide length, blocked
        area. [m, m2]
    """

    shape: Shape
    sizes: Mapping[str, AsTyped]
    landmark: str = ""
    distance: AsTyped | None = None
    standing: Mapping[str, AsTyped] = field(default_factory=dict)

    @property
    def place(self) -> str:
        """Place its sizes are stored with."""
        at = "" if self.distance is None else f"distance {self.distance}"
        return "; ".join(t for t in (self.landmark, f"shape {self.shape.value}", at) if t)


@dataclass(frozen=True, slots=True)
class SectionFigures:
    """What follows from a section.

    Parameters
    ----------
    area, uncertainty : float
        What stands in it taken off; standard uncertainty. [m2]
    perimeter, hydraulic_diameter : float
        [m]
    centroid : tuple of float
        Across and up from the lower left corner of the box round it. [m]
    blocked : float
        Area taken off. [m2]
    """

    area: float
    uncertainty: float
    perimeter: float
    hydraulic_diameter: float
    centroid: tuple[float, float]
    blocked: float


def shape_named(text: str) -> Shape:
    """Shape of that name.

    Raises
    ------
    UnknownNameError
    """
    wanted = " ".join(text.split()).casefold()
    found = next((s for s in Shape if s.value.casefold() == wanted), None)
    if found is None:
        raise UnknownNameError("shape", text, (s.value for s in Shape))
    return found


def figures_of(entry: SectionEntry, limits: PortLimits | None = None) -> SectionFigures:
    """Area, perimeter, hydraulic diameter, centroid and uncertainty of a section.

    Raises
    ------
    ShapeError
        A size is missing.
    RangeError
        Sizes that do not fit together, or nothing left beside what stands in the section.
    """
    chosen = limits or PortLimits()
    sizes = {name: value.si for name, value in entry.sizes.items()}
    section = section_of(entry.shape, sizes)
    standing = {quantity: value.si for quantity, value in entry.standing.items()}
    blocked, blocked_error = blocked_area(standing, chosen)
    gross = float(section.area)
    if blocked >= gross:
        raise RangeError(
            f"What stands in the section ({blocked * 1e6:.0f} mm²) fills all of it "
            f"({gross * 1e6:.0f} mm²).",
            "Give the length of guide or boss in this plane only.",
        )
    error = size_error(entry.landmark, chosen)
    doubt = area_uncertainty(entry.shape, sizes, error, chosen.corner_error)
    perimeter = float(section.perimeter)
    x, y = section.centroid
    return SectionFigures(
        gross - blocked,
        math.hypot(doubt, blocked_error),
        perimeter,
        4.0 * (gross - blocked) / perimeter,
        (float(x), float(y)),
        blocked,
    )


# Sizes of the drawing before anything was measured. [m]
_DRAWN = {
    "diameter": 0.034,
    "width": 0.030,
    "height": 0.036,
    "corner radius": 0.006,
    "roof height": 0.011,
    "top left radius": 0.005,
    "top right radius": 0.008,
    "bottom right radius": 0.011,
    "bottom left radius": 0.007,
}


def drawing_of(shape: Shape, sizes: Mapping[str, AsTyped]) -> tuple[tuple[float, float], ...]:
    """Outline of a shape with the sizes known so far, else of usual ones. [m]"""
    known = {name: sizes[name].si for name in sizes_of(shape) if name in sizes}
    try:
        outline = outline_of(shape, {**_DRAWN, **known})
    except PortwrightError:
        outline = outline_of(shape, _DRAWN)
    return tuple((float(x), float(y)) for x, y in outline)


def record_section(
    shop: ShopFile, job: str, port: str, stage: str, entry: SectionEntry, reason: str = ""
) -> int:
    """Keep a section; sizes that are there already are corrected, their old rows kept.

    Returns
    -------
    int
        Numbers written.

    Raises
    ------
    UnknownNameError
        No such port, stage or landmark.
    InputError
        Neither landmark nor distance, sizes that do not fit, or a correction without a reason.
    """
    contents = shop.job(job)
    _check(contents, port, stage, entry)
    figures_of(entry)
    wanted = {f"section {name}": entry.sizes[name] for name in sizes_of(entry.shape)}
    new, changed = [], []
    for quantity, value in (*wanted.items(), *entry.standing.items()):
        present = _present(contents, port, stage, quantity, entry)
        if present is None:
            new.append(Measurement(port, quantity, value, entry.place, stage, "calipers", today()))
        elif present.value != value:
            changed.append((present, value))
    if changed and not reason.strip():
        raise InputError(
            change_words(contents, port, stage, entry),
            "Say why it changes; the old value is kept.",
        )
    for old, value in changed:
        shop.replace_measurement(job, old, value, reason.strip())
    if new:
        shop.add_measurements(job, new)
    return len(new) + len(changed)


def change_words(contents: JobContents, port: str, stage: str, entry: SectionEntry) -> str:
    """Numbers that are kept already and would change, in words; "" where none would."""
    said = []
    sizes = {f"section {name}": value for name, value in entry.sizes.items()}
    for quantity, value in (*sizes.items(), *entry.standing.items()):
        present = _present(contents, port, stage, quantity, entry)
        if present is not None and present.value != value:
            said.append(f"{present.quantity} is {present.value} already, now {value}")
    return "; ".join(said) + "." if said else ""


def _check(contents: JobContents, port: str, stage: str, entry: SectionEntry) -> None:
    if port_named(contents, port) is None:
        raise UnknownNameError("port", port, (p.code for p in contents.ports))
    if stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", stage, (s.code for s in contents.stages))
    if entry.landmark and entry.landmark not in LANDMARKS:
        raise UnknownNameError("landmark", entry.landmark, LANDMARKS)
    if entry.distance is None and not entry.landmark:
        raise InputError(
            "The section has no place.", "Give its distance from the opening, or a landmark."
        )
    if entry.distance is not None and entry.distance.si < 0.0:
        raise InputError("Distances count from the opening and are not below zero.")


def _present(
    contents: JobContents, port: str, stage: str, quantity: str, entry: SectionEntry
) -> Measurement | None:
    """The same number as stored before, None where there is none."""
    found = None
    for m in contents.measurements:
        if (m.subject, m.stage, m.quantity) != (port, stage, quantity):
            continue
        if quantity not in STANDING and shape_of(m) is not entry.shape:
            continue
        place = place_of(m)
        at = place.length("distance")
        if entry.distance is None or at is None:
            same = entry.distance is None and at is None
            same = same and landmark_in(place.words) == entry.landmark
        else:
            same = abs(at - entry.distance.si) < 0.05e-3
        found = m if same else found
    return found


@dataclass(frozen=True, slots=True)
class KeptSection:
    """A section already kept at a stage.

    Parameters
    ----------
    landmark : str
    distance : AsTyped or None
        [m]
    shape : Shape or None
        None where an area was measured.
    sizes, standing : dict of str to AsTyped
    """

    landmark: str
    distance: AsTyped | None
    shape: Shape | None
    sizes: Mapping[str, AsTyped]
    standing: Mapping[str, AsTyped]


def kept_sections(contents: JobContents, port: str, stage: str) -> tuple[KeptSection, ...]:
    """Sections of a port measured at exactly this stage, opening first, to show and to change."""
    places: dict[str, list[Measurement]] = {}
    for m in contents.measurements:
        wanted = m.quantity in STANDING or m.quantity.startswith("section ")
        if (m.subject, m.stage) == (port, stage) and wanted:
            place = place_of(m)
            at = place.length("distance")
            named = landmark_in(place.words)
            if at is not None or named:
                key = f"{at * 1e3:09.2f}" if at is not None else named
                places.setdefault(key, []).append(m)
    return tuple(_kept(places[key]) for key in sorted(places))


def _kept(found: list[Measurement]) -> KeptSection:
    place = place_of(found[-1])
    newest = next((m for m in reversed(found) if m.quantity.startswith("section ")), found[-1])
    shape = shape_of(newest)
    at = place.parts.get("distance", "")
    landmark = next((w for m in found if (w := landmark_in(place_of(m).words))), "")
    return KeptSection(
        landmark,
        units.read(at, Kind.LENGTH) if at else None,
        shape,
        {
            m.quantity.removeprefix("section "): m.value
            for m in found
            if shape is not None and shape_of(m) is shape and m.quantity not in STANDING
        },
        {m.quantity: m.value for m in found if m.quantity in STANDING},
    )
