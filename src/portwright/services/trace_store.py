"""Keeping what was traced: the sizes as measurements, the outline itself beside the photograph."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields, replace
from enum import StrEnum
from typing import Any

from portwright import units
from portwright.archive.attachments import Attachment
from portwright.errors import CorruptArchiveError, Finding, InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.nomenclature import measurement_findings
from portwright.services.display import Display
from portwright.services.jobs import today
from portwright.services.landmarks import LANDMARKS, place_of
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import port_named
from portwright.services.trace import (
    LEAST_ERROR,
    Join,
    PictureErrors,
    Points,
    ScaleKind,
    Traced,
    Tracing,
    area_text,
    known_decimals,
    trace,
)
from portwright.units import Kind

MEDIA_TYPE = "application/x-portwright-trace+json"
_VERSION = 1
_INSTRUMENT = "photo trace"
_SAME_PLACE = 0.05e-3  # distances are noted to 0.1 mm at best [m]


class Target(StrEnum):
    """What an outline is."""

    SECTION = "section"  # across the port at a distance from the opening: a mould slice
    OPENING = "opening"  # of the port in the manifold face
    RUNNER = "runner"  # opening of the manifold or pipe that meets the port
    GASKET = "gasket"  # opening of the gasket between them
    CHAMBER = "chamber"  # outline of the chamber on the deck


# What is bolted on is no section of the port: its area has a name of its own.
_BESIDE_THE_PORT = {Target.RUNNER: "runner opening area", Target.GASKET: "gasket opening area"}


@dataclass(frozen=True, slots=True)
class Belongs:
    """Where a traced outline belongs.

    Parameters
    ----------
    job, port, stage : str
    target : Target
    distance : AsTyped or None
        Along the centreline from the opening, for a section. [m]
    landmark : str
        Landmark at a section, "" for none.
    """

    job: str
    port: str
    stage: str
    target: Target
    distance: AsTyped | None = None
    landmark: str = ""


@dataclass(frozen=True, slots=True)
class StoredTrace:
    """A tracing as it was kept.

    Parameters
    ----------
    id : int
        Stored file.
    subject, stage : str
    target : Target
    place : str
    tracing : Tracing
    traced : Traced
        Worked out anew from the stored points.
    """

    id: int
    subject: str
    stage: str
    target: Target
    place: str
    tracing: Tracing
    traced: Traced


def present(shop: ShopFile, belongs: Belongs) -> Measurement | None:
    """Area that is stored for this place already.

    Raises
    ------
    InputError, UnknownNameError
        Port or stage do not exist, or a section has no distance.
    """
    contents = shop.job(belongs.job)
    subject, quantity, place = _where(contents, belongs)
    return _stored(contents, belongs, Measurement(subject, quantity, _NOTHING, place))


_NOTHING = AsTyped("0", "mm2", 0.0)


def store(
    shop: ShopFile, belongs: Belongs, tracing: Tracing, reason: str = ""
) -> tuple[Measurement, ...]:
    """Keep a tracing: its sizes as measurements, and every mark and point.

    A size that is stored for this place already is corrected, its old row kept.

    Returns
    -------
    tuple of Measurement
        Area, and perimeter for a section or opening.

    Raises
    ------
    InputError
        A section without distance, or a correction without a reason.
    GeometryError, UnknownNameError, ConflictError
    """
    if len(tracing.holes) == 1:
        raise InputError(
            "One hole is marked; a face is laid on another one by two.",
            "Mark the second one, or remove the first.",
        )
    traced = trace(tracing)
    contents = shop.job(belongs.job)
    subject, quantity, place = _where(contents, belongs)
    note = f"{area_text(traced, Display())} (95 %), traced on photo {tracing.photo}"
    made = [_measured(subject, quantity, place, belongs.stage, traced.area, traced.area_interval)]
    if belongs.target in {Target.SECTION, Target.OPENING}:
        length = _measured(
            subject,
            "section perimeter",
            place,
            belongs.stage,
            traced.perimeter,
            traced.perimeter_interval,
        )
        made.append(length)
    made = [replace(m, note=note) for m in made]
    old = [_stored(contents, belongs, m) for m in made]
    taken = next((m for m in old if m is not None), None)
    if taken is not None and not reason.strip():
        raise InputError(
            f"{taken.quantity} of {taken.subject} at this place is {taken.value} already.",
            "Say why it changes; the old value is kept.",
        )
    shop.add_attachment(
        belongs.job,
        _text(tracing, belongs, place).encode(),
        f"{belongs.target} trace on photo {tracing.photo}.json",
        MEDIA_TYPE,
        subject=subject,
        stage=belongs.stage,
        caption=" ".join((quantity, place)).strip(),
    )
    for before, new in zip(old, made, strict=True):
        if before is not None and before.value != new.value:
            why = f"{reason.strip()}; {note}"
            shop.replace_measurement(belongs.job, before, new.value, why)
    shop.add_measurements(
        belongs.job, [new for before, new in zip(old, made, strict=True) if before is None]
    )
    return tuple(made)


def questions(stored: tuple[Measurement, ...]) -> tuple[Finding, ...]:
    """What to ask about stored sizes: far from usual ones."""
    return tuple(finding for m in stored for finding in measurement_findings(m))


def traces(shop: ShopFile, job: str) -> list[StoredTrace]:
    """Tracings kept with a job, in the order added.

    Raises
    ------
    CorruptArchiveError
        One of them cannot be read.
    """
    return [_read(shop, kept) for kept in shop.attachments(job) if kept.media_type == MEDIA_TYPE]


def _where(contents: JobContents, belongs: Belongs) -> tuple[str, str, str]:
    """Subject, quantity and place of the area."""
    port = port_named(contents, belongs.port)
    if port is None:
        raise UnknownNameError("port", belongs.port, (p.code for p in contents.ports))
    if belongs.stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", belongs.stage, (s.code for s in contents.stages))
    if belongs.target is Target.CHAMBER:
        if port.cylinder is None:
            raise InputError(
                f"Nobody noted which cylinder port {port.code} belongs to.",
                "Write it on the job sheet first.",
            )
        return f"cyl {port.cylinder}", "chamber open area", ""
    if belongs.target in _BESIDE_THE_PORT:
        return port.code, _BESIDE_THE_PORT[belongs.target], ""
    if belongs.target is Target.OPENING:
        return port.code, "section area", "port opening; distance 0 mm"
    if belongs.distance is None:
        raise InputError(
            "A section needs its distance from the opening.",
            "Measure along the centreline; the profile of the port is drawn from it.",
        )
    if belongs.distance.si < 0.0:
        raise InputError("The distance from the opening cannot be below zero.", "Type it again.")
    if belongs.landmark and belongs.landmark not in LANDMARKS:
        raise UnknownNameError("landmark", belongs.landmark, LANDMARKS)
    parts = (belongs.landmark, f"distance {belongs.distance}")
    return port.code, "section area", "; ".join(part for part in parts if part)


def _measured(
    subject: str, quantity: str, place: str, stage: str, value: float, interval: float
) -> Measurement:
    """A measurement with no more digits than are known."""
    unit, kind = ("mm", Kind.LENGTH) if "perimeter" in quantity else ("mm2", Kind.AREA)
    text = units.show(value, unit, kind, known_decimals(interval, unit, kind))
    typed = AsTyped(text, unit, units.to_si(float(text), unit, kind))
    return Measurement(subject, quantity, typed, place, stage, _INSTRUMENT, today())


def _stored(contents: JobContents, belongs: Belongs, new: Measurement) -> Measurement | None:
    """The same size at the same place and stage."""
    found = None
    distance = place_of(new).length("distance")
    for item in contents.measurements:
        if (item.subject, item.quantity, item.stage) != (new.subject, new.quantity, belongs.stage):
            continue
        at = place_of(item).length("distance")
        same = (
            item.place == new.place
            if distance is None or at is None
            else abs(at - distance) < _SAME_PLACE
        )
        if same:
            found = item
    return found


def _text(tracing: Tracing, belongs: Belongs, place: str) -> str:
    kept: dict[str, Any] = asdict(tracing)
    return json.dumps(
        {"version": _VERSION, "target": belongs.target, "place": place, "tracing": kept},
        ensure_ascii=False,
        indent=1,
    )


def _read(shop: ShopFile, kept: Attachment) -> StoredTrace:
    try:
        found = json.loads(shop.attachment_data(kept.id))
        if found["version"] > _VERSION:
            raise CorruptArchiveError(
                f"{kept.name} was traced with a newer Portwright.", "Update Portwright."
            )
        tracing = _tracing(found["tracing"])
        target, place = Target(found["target"]), str(found["place"])
    except (ValueError, KeyError, TypeError) as error:
        raise CorruptArchiveError(
            f"{kept.name} cannot be read.", "Restore a backup copy, or trace it again."
        ) from error
    return StoredTrace(kept.id, kept.subject, kept.stage, target, place, tracing, trace(tracing))


def _tracing(found: dict[str, Any]) -> Tracing:
    older: dict[str, Any] = {"holes": (), "hole_error": LEAST_ERROR}  # before holes could be marked
    plain = {f.name: (older | found)[f.name] for f in fields(Tracing)}
    return Tracing(
        **plain
        | {
            "scale": ScaleKind(found["scale"]),
            "marks": _points(found["marks"]),
            "sizes": tuple(AsTyped(**size) for size in found["sizes"]),
            "size_limit": AsTyped(**found["size_limit"]),
            "outline": _points(found["outline"]),
            "join": Join(found["join"]),
            "errors": PictureErrors(**found["errors"]),
            "holes": _points(plain["holes"]),
        }
    )


def _points(found: list[list[float]]) -> Points:
    return tuple((float(x), float(y)) for x, y in found)
