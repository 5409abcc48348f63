"""What a head is by its casting: valve angle and port location, by which it is ranked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from portwright.archive.archive import Archive
from portwright.errors import InputError, UnknownNameError
from portwright.io.head_fields import read_angle
from portwright.model.contents import JobContents
from portwright.model.head import ONE_HEAD, Casting, Head, Port, Side
from portwright.model.quantity import AsTyped
from portwright.nomenclature import search_words
from portwright.services.valves import latest

PORT_LOCATIONS = ("side draft", "down draft", "raised port", "spread port", "siamesed port")
"""Words of the trade for where a port comes in or goes out; a shop may use its own."""

MEASURED = "valve lean"  # the same angle, as measured on a port to see whether valves have room
Thing = TypeVar("Thing", Casting, Head)


@dataclass(frozen=True, slots=True)
class SideFacts:
    """What is known of the ports of one side.

    Parameters
    ----------
    valve_angle : AsTyped or None
        Of the stem from the bore axis. [rad]
    port_location : str
        As the shop calls it.
    """

    valve_angle: AsTyped | None = None
    port_location: str = ""

    def describe(self) -> str:
        """In words, "" where nothing is known."""
        angle = f"valves {self.valve_angle} from the bore" if self.valve_angle else ""
        return ", ".join(t for t in (angle, self.port_location) if t)


def of_side(thing: Casting | Head, side: Side) -> SideFacts:
    """What a casting or a head says of one side itself."""
    if side is Side.INTAKE:
        return SideFacts(thing.intake_valve_angle, thing.intake_port_location)
    return SideFacts(thing.exhaust_valve_angle, thing.exhaust_port_location)


def location_word(text: str) -> str:
    """The word ports are compared by: "Downdraught" is "down draft", own words stay."""
    plain = " ".join(text.split()).casefold()
    return next((w for w in search_words(plain) if w in PORT_LOCATIONS), plain)


def facts_of(
    contents: JobContents, castings: Mapping[str, Casting], side: Side, port: Port | None = None
) -> SideFacts:
    """What is known of a side: of the head itself, as measured on the port, of its casting.

    Parameters
    ----------
    castings : mapping of str to Casting
        By number.
    port : Port or None
        None takes what all heads of the job agree on.
    """
    whole, every = _whole_and_each(contents)
    heads = [h for h in every if port is None or not port.head or h.code == port.head]
    numbers = [h.casting or contents.job.casting for h in heads] or [contents.job.casting]
    said = [of_side(h, side) for h in heads] or [SideFacts()]
    known = [of_side(castings[n], side) if n in castings else SideFacts() for n in numbers]
    lean = latest(contents, port.code, MEASURED) if port else None
    measured = SideFacts(lean.value if lean else None)
    given = of_side(whole, side)
    found = [_first_said(own, given, measured, cast) for own, cast in zip(said, known, strict=True)]
    first = found[0]
    angles = {f.valve_angle.si if f.valve_angle else None for f in found}
    locations = {location_word(f.port_location) for f in found}
    return SideFacts(
        first.valve_angle if len(angles) == 1 else None,
        first.port_location if len(locations) == 1 else "",
    )


def facts_in_words(archive: Archive, contents: JobContents) -> dict[str, str]:
    """What a job page says: "Valve angle", "Port location", each with its sides; unknown ones not.

    Heads that differ are told one by one.
    """
    castings = castings_by_number(archive)
    whole, heads = _whole_and_each(contents)
    angles: dict[str, list[str]] = {}
    locations: dict[str, list[str]] = {}
    for head in heads:
        for side in Side:
            facts = facts_of(replace(contents, heads=(whole, head)), castings, side)
            if facts.valve_angle:
                angles.setdefault(f"{side.value} {facts.valve_angle}", []).append(head.code)
            if facts.port_location:
                locations.setdefault(f"{side.value} {facts.port_location}", []).append(head.code)

    def said(found: Mapping[str, Sequence[str]]) -> str:
        return ", ".join(
            text if len(codes) == len(heads) else f"{text} ({', '.join(codes)})"
            for text, codes in found.items()
        )

    named = {"Valve angle": said(angles), "Port location": said(locations)}
    return {name: text for name, text in named.items() if text}


def _whole_and_each(contents: JobContents) -> tuple[Head, tuple[Head, ...]]:
    """What is said of all heads of a job together, and each of them.

    An older job's list says something of its heads without naming one.
    """
    named = tuple(h for h in contents.heads if h.code != ONE_HEAD)
    whole = next((h for h in contents.heads if h.code == ONE_HEAD), Head(ONE_HEAD))
    return whole, named or (whole,)


def _first_said(*said: SideFacts) -> SideFacts:
    return SideFacts(
        next((f.valve_angle for f in said if f.valve_angle), None),
        next((f.port_location for f in said if f.port_location), ""),
    )


def lean_reminder(archive: Archive, contents: JobContents) -> str:
    """That valves are known to stand at an angle, for plans that ask for lean and direction."""
    angle = facts_in_words(archive, contents).get("Valve angle", "")
    if not angle:
        return ""
    return (
        f"Valve angle of this head: {angle}. Without lean and which way, a valve counts as upright."
    )


def castings_by_number(archive: Archive) -> dict[str, Casting]:
    """Castings the shop wrote something about."""
    return {c.number: c for c in archive.castings()}


def known_locations(archive: Archive) -> list[str]:
    """Port locations to choose from: the trade's words, then the shop's own."""
    return list(dict.fromkeys([*PORT_LOCATIONS, *archive.port_locations()]))


@dataclass(frozen=True, slots=True)
class Subject:
    """What facts are written of.

    Parameters
    ----------
    thing : Casting or Head
    version : int
        Of the casting, or of the job the head belongs to; named again when writing.
    """

    thing: Casting | Head
    version: int

    @property
    def name(self) -> str:
        """In words."""
        if isinstance(self.thing, Casting):
            return f"casting {self.thing.number}, every job of it"
        if self.thing.code == ONE_HEAD:
            return "this job alone"
        return f"head {self.thing.code} of this job alone"


def subjects(archive: Archive, contents: JobContents) -> list[Subject]:
    """What facts of a job may be written of: its castings, then its heads."""
    known = castings_by_number(archive)
    numbers = [contents.job.casting, *(h.casting for h in contents.heads)]
    found = [
        Subject(known.get(n, Casting(n)), archive.casting_version(n))
        for n in dict.fromkeys(n for n in numbers if n)
    ]
    version = archive.job_version(contents.job.number)
    heads = contents.heads or (Head(ONE_HEAD, contents.job.casting),)
    return [*found, *(Subject(head, version) for head in heads)]


def write(
    archive: Archive,
    job: str,
    subject: Subject,
    angles: Mapping[Side, str],
    locations: Mapping[Side, str],
) -> None:
    """Write the facts of a casting or head; sides that are not given stay as they are.

    Parameters
    ----------
    angles : mapping of Side to str
        As typed, "" to take one back.
    locations : mapping of Side to str

    Raises
    ------
    UnitError, InputError, RangeError
        An angle that is none; nothing is written.
    ConflictError
        Someone else wrote it in the meantime.
    """
    changes: dict[str, AsTyped | str | None] = {}
    for side, text in angles.items():
        name = f"{side.value}_valve_angle"
        try:
            changes[name] = read_angle(text)
        except InputError as error:
            raise type(error)(f"{side.value.capitalize()}: {error.message}", error.hint) from error
    for side, text in locations.items():
        changes[f"{side.value}_port_location"] = " ".join(text.split())
    if isinstance(subject.thing, Casting):
        archive.write_casting(_with(subject.thing, changes), subject.version)
    else:
        archive.write_head(job, _with(subject.thing, changes), subject.version)


def _with(thing: Thing, changes: Mapping[str, Any]) -> Thing:
    return replace(thing, **changes)


def subject_named(found: Sequence[Subject], head: str) -> Subject:
    """A head by its code; "" is the casting, or the only head where there is no casting.

    Raises
    ------
    UnknownNameError
        No such head.
    InputError
        Neither a casting number nor a single head.
    """
    heads = {s.thing.code: s for s in found if isinstance(s.thing, Head)}
    if head:
        if head not in heads:
            raise UnknownNameError("head", head, heads)
        return heads[head]
    if not isinstance(found[0].thing, Head):
        return found[0]
    if len(heads) == 1:
        return found[0]
    raise InputError("The job has no casting number and several heads.", "Say which head.")
