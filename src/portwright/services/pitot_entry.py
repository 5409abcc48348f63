"""Pitot marks typed in at the bench: where in the section, what the probe says."""

from __future__ import annotations

from dataclasses import dataclass

from portwright import units
from portwright.core.port.limits import PortLimits
from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.services.jobs import today
from portwright.services.landmarks import LANDMARKS, landmark_in, place_of
from portwright.services.port_limits import limits_of
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import port_named
from portwright.services.velocity_maps import READ, plane_outline
from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class Plane:
    """Plane of a section at one lift.

    Parameters
    ----------
    port, stage : str
    landmark : str
        A known landmark, or "" for a plane at a distance.
    distance : AsTyped or None
        From the opening; None at a landmark. [m]
    lift : AsTyped or None
        Valve lift the marks were taken at. [m]
    """

    port: str
    stage: str
    landmark: str
    distance: AsTyped | None
    lift: AsTyped | None

    @property
    def words(self) -> str:
        """Words the marks are stored with."""
        return f"{self.landmark} plane" if self.landmark else "plane"


def check_plane(contents: JobContents, plane: Plane) -> None:
    """Refuse a plane that is nowhere.

    Raises
    ------
    UnknownNameError
        No such port, stage or landmark.
    InputError
        Neither landmark nor distance.
    """
    if port_named(contents, plane.port) is None:
        raise UnknownNameError("port", plane.port, (p.code for p in contents.ports))
    if plane.stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", plane.stage, (s.code for s in contents.stages))
    if plane.landmark and plane.landmark not in LANDMARKS:
        raise UnknownNameError("landmark", plane.landmark, LANDMARKS)
    if not plane.landmark and plane.distance is None:
        raise InputError("The plane has no place.", "Choose a landmark, or give its distance.")


def outline_at(
    contents: JobContents, plane: Plane, limits: PortLimits | None = None
) -> tuple[tuple[float, float], ...]:
    """Edge of the section of a plane, () where its sizes were not measured at the stage. [m]"""
    distance = None if plane.distance is None else plane.distance.si
    found = plane_outline(
        contents, plane.port, plane.stage, plane.landmark, distance, limits or PortLimits()
    )
    return () if found is None else tuple((float(x), float(y)) for x, y in found)


def marks_of(contents: JobContents, plane: Plane) -> tuple[Measurement, ...]:
    """Marks of a plane so far, the newest for each place, in the order they were begun."""
    newest: dict[str, Measurement] = {}
    for m in contents.measurements:
        if m.quantity in READ and (m.subject, m.stage) == (plane.port, plane.stage):
            place = place_of(m)
            at = place.length("distance")
            same = (
                landmark_in(place.words) == plane.landmark
                if plane.landmark
                else at is not None
                and plane.distance is not None
                and abs(at - plane.distance.si) < 0.5e-3
            )
            lift = place.length("lift")
            wanted = None if plane.lift is None else plane.lift.si
            lifts = (lift is None) == (wanted is None) and abs((lift or 0) - (wanted or 0)) < 1e-6
            if same and lifts:
                newest[m.place] = m
    return tuple(newest.values())


def record_mark(
    shop: ShopFile,
    job: str,
    plane: Plane,
    across: AsTyped,
    up: AsTyped,
    reading: AsTyped | None,
    *,
    unsteady: bool = False,
) -> Measurement:
    """Keep one mark; a later one at the same place replaces it in the map.

    Parameters
    ----------
    across, up : AsTyped
        From the lower left corner of the box round the section, seen along the air. [m]
    reading : AsTyped or None
        Velocity or probe pressure, below zero where air flows back; None where the needle gave
        none. [m/s or Pa]
    unsteady : bool
        The needle did not stand still: the mark has no number.

    Raises
    ------
    UnknownNameError, InputError
        As :func:`check_plane`; or a steady mark without a reading; or a mark outside the section.
    """
    contents = shop.job(job)
    check_plane(contents, plane)
    _check_inside(outline_at(contents, plane, limits_of(shop)), across, up)
    if reading is None:
        if not unsteady:
            raise InputError("The mark has no reading.", "Type it, or say that it was unsteady.")
        reading = units.typed(0.0, "m/s", Kind.SPEED)
    parts = [plane.words]
    if plane.distance is not None:
        parts.append(f"distance {plane.distance}")
    if plane.lift is not None:
        parts.append(f"lift {plane.lift}")
    parts += [f"across {across}", f"up {up}"]
    quantity = "local velocity" if _is_speed(reading) else "probe pressure"
    mark = Measurement(
        plane.port,
        quantity,
        reading,
        "; ".join(parts),
        plane.stage,
        "pitot probe",
        today(),
        "unsteady" if unsteady else "",
    )
    shop.add_measurements(job, [mark])
    return mark


def _is_speed(value: AsTyped) -> bool:
    return value.unit in units.units_of(Kind.SPEED)


def read_probe(text: str, default: str) -> AsTyped:
    """A velocity or a probe pressure, told apart by its unit; the default unit without one.

    Raises
    ------
    NumberError, UnitError
    """
    last: InputError | None = None
    for kind in (Kind.SPEED, Kind.PRESSURE):
        fits = default in units.units_of(kind)
        try:
            return units.read(text, kind, default if fits else None)
        except InputError as error:
            last = error if fits or last is None else last
    assert last is not None  # noqa: S101 - one of the two kinds was tried
    raise last


def _check_inside(outline: tuple[tuple[float, float], ...], across: AsTyped, up: AsTyped) -> None:
    if not outline:
        return
    wide, high = (max(p[k] for p in outline) for k in (0, 1))
    for name, value, most in (("across", across, wide), ("up", up, high)):
        if not -0.5e-3 <= value.si <= most + 0.5e-3:
            raise InputError(
                f"{value} {name} lies outside the section, which is {most * 1e3:.1f} mm.",
                "Distances count from the lower left corner.",
            )
