"""Volumes and angles of a job for compression and milling, each with where it came from."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from portwright.core.chamber.compression import Clearance, cylinder_volume
from portwright.core.chamber.walls import AreaTable, StraightWalls, Walls
from portwright.errors import InputError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.services.engine_facts import fact_value
from portwright.services.plan_terms import Known, Origin, PlanTerm
from portwright.units import Kind, read

_FM, _OWN = "from memory", "Portwright's own figure"
MILL_TERMS = (
    PlanTerm(
        "chamber", Kind.VOLUME, ("chamber before mill",), None, "", "0.2 cc", f"burette, {_FM}"
    ),
    PlanTerm(
        "open area",
        Kind.AREA,
        ("chamber open area",),
        None,
        "",
        "0.5 cm2",
        f"traced outline, {_OWN}",
    ),
    PlanTerm(
        "swept volume",
        Kind.VOLUME,
        ("swept volume",),
        None,
        "",
        "0.1 cc",
        f"bore to 0.01 mm, {_OWN}",
    ),
    PlanTerm(
        "gasket volume",
        Kind.VOLUME,
        ("gasket volume",),
        None,
        "",
        "0.15 cc",
        f"compressed thickness, {_OWN}",
    ),
    PlanTerm(
        "deck volume",
        Kind.VOLUME,
        ("deck clearance volume",),
        None,
        "",
        "0.2 cc",
        f"depth micrometer 0.03 mm, {_FM}",
    ),
    PlanTerm("crown volume", Kind.VOLUME, ("piston crown",), None, "", "0.2 cc", f"burette, {_FM}"),
    PlanTerm(
        "sink volume",
        Kind.VOLUME,
        ("valve sink volume",),
        "0 cc",
        "the burette had these valves in",
    ),
    PlanTerm(
        "ring-land volume",
        Kind.VOLUME,
        ("ring-land volume", "ring land volume"),
        "0 cc",
        "left out unless it is given",
    ),
    PlanTerm("half V angle", Kind.ANGLE, ("half V angle",)),
    PlanTerm(
        "face tilt", Kind.ANGLE, ("intake face tilt",), None, "", "0.25 deg", f"protractor, {_FM}"
    ),
    PlanTerm("head gasket change", Kind.LENGTH, (), "0 mm", "same thickness as before"),
    PlanTerm("intake gasket change", Kind.LENGTH, (), "0 mm", "same thickness as before"),
    PlanTerm("tip rise", Kind.LENGTH, ("stem-tip rise",), "0 mm", "seats and tips not changed"),
    PlanTerm("pushrod angle", Kind.ANGLE, ("pushrod angle",), "0 deg", "along the bore"),
    PlanTerm(
        "rocker ratio", Kind.RATIO, ("rocker ratio",), "1.5 -", f"usual, {_FM}", fact="rocker_ratio"
    ),
    PlanTerm("head width", Kind.LENGTH, ("head width",)),
    PlanTerm("chamber distance", Kind.LENGTH, ("chamber distance",)),
    PlanTerm("port height", Kind.LENGTH, ("port height above deck",)),
    PlanTerm("cam sprocket radius", Kind.LENGTH, ("cam sprocket radius",)),
)
TERMS_BY_NAME = {t.name: t for t in MILL_TERMS}


def gather(contents: JobContents, given: Mapping[str, AsTyped] | None = None) -> dict[str, Known]:
    """Numbers of a job for a milling plan; what nobody knows is left out.

    Parameters
    ----------
    given : mapping of str to AsTyped, optional
        Numbers for this plan only, by the names of ``MILL_TERMS``.

    Raises
    ------
    UnknownNameError
        A name that is no term.
    """
    given = given or {}
    for name in given:
        if name not in TERMS_BY_NAME:
            raise UnknownNameError("number of a milling plan", name, TERMS_BY_NAME)
    return {t.name: known for t in MILL_TERMS if (known := _known(contents, t, given)) is not None}


def _known(contents: JobContents, term: PlanTerm, given: Mapping[str, AsTyped]) -> Known | None:
    spread = read(term.uncertainty, term.kind).si if term.uncertainty else 0.0
    if term.name in given:
        typed = given[term.name]
        return Known(term, typed.si, Origin.ENTERED, str(typed), spread)
    for measured in reversed(contents.measurements):
        if _is(measured, term):
            return Known(
                term,
                measured.value.si,
                Origin.MEASURED,
                f"{measured.quantity}: {measured.value}",
                spread,
            )
    if term.fact and (fact := fact_value(contents.job.facts, term.fact)) is not None:
        return Known(term, fact.si, Origin.SHEET, f"{term.fact}: {fact}".removesuffix(" -"), spread)
    derived = _FOLLOWS[term.name](contents) if term.name in _FOLLOWS else None
    if derived is not None:
        value, origin, note = derived
        return Known(term, value, origin, note, spread)
    if term.default is not None:
        return Known(term, read(term.default, term.kind).si, Origin.ASSUMED, term.why, spread)
    return None


def _is(measured: Measurement, term: PlanTerm) -> bool:
    if not any(measured.quantity.startswith(q) for q in term.quantities):
        return False
    return term.name != "open area" or _plane(measured) == 0.0


_DEPTH = re.compile(r"depth ([\d.,]+ ?[a-z]+)")
_V_ANGLE = re.compile(r"(\d+(?:\.\d+)?) ?(?:deg|°)[a-z]* V")


def _plane(measured: Measurement) -> float:
    """Depth of a traced outline below the deck, from its place. [m]"""
    found = _DEPTH.search(measured.place)
    return read(found[1], Kind.LENGTH).si if found else 0.0


_Derived = tuple[float, Origin, str]


def _swept(contents: JobContents) -> _Derived | None:
    facts = contents.job.facts
    bore, stroke = fact_value(facts, "bore"), fact_value(facts, "stroke")
    if bore is None or stroke is None:
        return None
    return cylinder_volume(bore.si, stroke.si), Origin.SHEET, f"bore {bore}, stroke {stroke}"


def _half_v(contents: JobContents) -> _Derived | None:
    words = contents.job.facts.get("architecture", "")
    found = _V_ANGLE.search(words)
    if found is None:
        return None
    return math.radians(float(found[1]) / 2.0), Origin.WORDS, f"architecture: {words}"


def _mean_chamber(contents: JobContents) -> _Derived | None:
    sets = chamber_sets(contents)
    if not sets:
        return None
    name, volumes = list(sets.items())[-1]
    mean = sum(volumes.values()) / len(volumes)
    return mean, Origin.MEASURED, f"mean of {len(volumes)} chambers, {name}"


_FOLLOWS = {"swept volume": _swept, "half V angle": _half_v, "chamber": _mean_chamber}


def chamber_sets(contents: JobContents) -> dict[str, dict[str, float]]:
    """Chamber volumes by the state they were measured in: a stage, or the words of the sheet."""
    sets: dict[str, dict[str, float]] = {}
    for m in contents.measurements:
        if m.quantity == "chamber volume":
            parts = [p.strip() for p in m.place.split(";") if not p.strip().startswith("head ")]
            sets.setdefault(m.stage or "; ".join(parts) or "no stage", {})[m.subject] = m.value.si
    return sets


def chambers_before(
    contents: JobContents, mean: float, name: str = ""
) -> tuple[str, dict[str, float]]:
    """Chambers a plan starts from, and the name of that set.

    Parameters
    ----------
    mean : float
        Chamber volume the plan starts from. [m3]
    name : str
        A set of :func:`chamber_sets`; "" takes the one whose mean is nearest to ``mean``.

    Raises
    ------
    UnknownNameError
        No such set.
    """
    sets = chamber_sets(contents)
    if name and name not in sets:
        raise UnknownNameError("set of chamber volumes", name, sets)
    if not sets:
        return "", {}

    def distance(key: str) -> float:
        return abs(sum(sets[key].values()) / len(sets[key]) - mean)

    chosen = name or min(sets, key=distance)
    return chosen, sets[chosen]


def walls_of(contents: JobContents, known: Mapping[str, Known], scale: float = 1.0) -> Walls:
    """Shape of the chamber: straight walls, or a table where deeper planes were traced.

    Parameters
    ----------
    scale : float
        Factor on every area, to see what its uncertainty does. [-]

    Raises
    ------
    InputError
        No open area.
    """
    if "open area" not in known:
        raise InputError(
            "The open area of the chamber is not known.",
            "Trace the outline on the deck and record 'chamber open area', or give it as "
            "open area.",
        )
    top = known["open area"].value
    deeper = {
        _plane(m): m.value.si
        for m in contents.measurements
        if m.quantity == "chamber open area" and _plane(m) > 0.0
    }
    if not deeper:
        return StraightWalls(top * scale)
    depths = (0.0, *sorted(deeper))
    return AreaTable(depths, tuple(scale * a for a in (top, *(deeper[d] for d in depths[1:]))))


def clearance_of(known: Mapping[str, Known], chamber: float) -> Clearance | None:
    """Volumes at top dead centre around a chamber, None where one of them is not known.

    Parameters
    ----------
    chamber : float
        [m3]
    """
    names = ("gasket volume", "deck volume", "crown volume", "sink volume", "ring-land volume")
    if any(n not in known for n in names):
        return None
    return Clearance(chamber, *(known[n].value for n in names))
