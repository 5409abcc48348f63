"""Classes of heads by facts, with the lifts a porter looks at in each."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from portwright.archive.archive import Archive
from portwright.archive.overview import Wanted
from portwright.errors import InputError, UnknownNameError
from portwright.model.head import Side
from portwright.services.head_facts import location_word
from portwright.services.overviews import HEAD_FIRST, HEAD_LAST, RECORDED
from portwright.units import Kind, read

_SETTING = "classes"
SAME_ANGLE = math.radians(0.25)  # a protractor's resolution and repeatability, common practice


@dataclass(frozen=True, slots=True)
class HeadClass:
    """Which heads are of a kind; empty fields do not narrow.

    Parameters
    ----------
    name : str
        As the shop calls it, "" while not remembered.
    side : str
        "intake" or "exhaust".
    valves : int or None
        Valves of one port.
    valve_from, valve_to : str
        Valve diameter as typed, "40 mm".
    casting : str
        Part of the casting number.
    words : str
        All on the job sheet: architecture, free tags.
    finished : bool
        The last stage of each port; False takes heads as received.
    angle_from, angle_to : str
        Valve angle from the bore axis as typed, "12 deg".
    location : str
        Port location.
    lifts : tuple of str
        The key lifts of this class as typed, "8 mm" or "0.25 L/D".
    """

    name: str = ""
    side: str = Side.INTAKE.value
    valves: int | None = None
    valve_from: str = ""
    valve_to: str = ""
    casting: str = ""
    words: str = ""
    finished: bool = True
    angle_from: str = ""
    angle_to: str = ""
    location: str = ""
    lifts: tuple[str, ...] = field(default=())

    def wanted(self) -> Wanted:
        """As a question to the shop file.

        Raises
        ------
        UnitError, InputError
            A valve size that is none.
        """
        low, high = _band("Valves", self.valve_from, self.valve_to, Kind.LENGTH, "mm")
        flat, steep = _band("Valve angles", self.angle_from, self.angle_to, Kind.ANGLE, "deg")
        if self.side not in set(Side):
            raise InputError(f"'{self.side}' is no side of a head.", "Take intake or exhaust.")
        return Wanted(
            side=self.side,
            places=(HEAD_LAST, RECORDED) if self.finished else (HEAD_FIRST,),
            valve_count=self.valves,
            # a size typed as 42 mm means the valves of that size, ground within a tenth or so
            valve_from=max(low - 0.15e-3, 0.0),
            valve_to=high + 0.15e-3,
            casting=self.casting.strip(),
            words=tuple(self.words.split()),
            angle_from=max(flat - SAME_ANGLE, 0.0) if self.angle_from.strip() else 0.0,
            angle_to=steep + SAME_ANGLE,
            location=location_word(self.location),
        )

    def describe(self) -> str:
        """In words."""
        parts = [f"{self.side} ports"]
        if self.valves:
            parts.append(f"{self.valves} valve{'s' if self.valves > 1 else ''} each")
        if self.valve_from or self.valve_to:
            parts.append(f"valves {self.valve_from or 'any'} to {self.valve_to or 'any'}")
        if self.angle_from or self.angle_to:
            low, high = _typed(self.angle_from), _typed(self.angle_to)
            band = low if low == high else f"{low} to {high}"
            parts.append(f"valve angle {band} from the bore")
        if self.location:
            parts.append(location_word(self.location))
        if self.casting:
            parts.append(f"casting {self.casting}")
        if self.words:
            parts.append(f"'{self.words}' on the job sheet")
        parts.append("finished" if self.finished else "as received")
        return ", ".join(parts)


def _band(what: str, low: str, high: str, kind: Kind, unit: str) -> tuple[float, float]:
    """From and to as typed, open where nothing is. [SI unit of the kind]"""
    least = read(low, kind, unit).si if low.strip() else 0.0
    most = read(high, kind, unit).si if high.strip() else float("inf")
    if most < least:
        raise InputError(f"{what} from {low} to {high} are none.", "Swap the two.")
    return least, most


def _typed(angle: str) -> str:
    return str(read(angle, Kind.ANGLE, "deg")) if angle.strip() else "any"


def classes(archive: Archive) -> list[HeadClass]:
    """Remembered classes by name."""
    kept: dict[str, Any] = archive.setting(_SETTING) or {}
    return [
        HeadClass(**{**facts, "name": name, "lifts": tuple(facts.get("lifts", ()))})
        for name, facts in sorted(kept.items())
    ]


def class_named(archive: Archive, name: str) -> HeadClass:
    """A remembered class.

    Raises
    ------
    UnknownNameError
    """
    for found in classes(archive):
        if found.name == name:
            return found
    raise UnknownNameError("class", name, (c.name for c in classes(archive)))


def remember(archive: Archive, chosen: HeadClass, name: str) -> HeadClass:
    """Keep a class with its key lifts under a name, over an older one of that name.

    Raises
    ------
    InputError
        No name, or facts that cannot be understood.
    """
    if not name.strip():
        raise InputError("The class has no name.", "Type one, like 'two-valve pushrod 42'.")
    chosen.wanted()
    kept: dict[str, Any] = dict(archive.setting(_SETTING) or {})
    facts = asdict(replace(chosen, name=""))
    del facts["name"]
    kept[name.strip()] = {**facts, "lifts": list(chosen.lifts)}
    archive.save_setting(_SETTING, kept)
    return replace(chosen, name=name.strip())
