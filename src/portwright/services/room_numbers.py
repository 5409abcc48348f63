"""Numbers the room for valves rests on, and where each comes from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from portwright.core.constants import Array
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.quantity import AsTyped
from portwright.services.engine_facts import fact_value
from portwright.services.plan_terms import Known, Origin, PlanTerm, read_numbers
from portwright.services.shop_figures import Figures
from portwright.services.valves import latest
from portwright.units import Kind

_ENGINE = (
    PlanTerm("bore", Kind.LENGTH, fact="bore"),
    PlanTerm("stroke", Kind.LENGTH, fact="stroke"),
    PlanTerm("rod", Kind.LENGTH, fact="rod"),
    PlanTerm("gasket and deck clearance", Kind.LENGTH, ("gasket and deck clearance",)),
)


def _valve_terms(side: Side) -> tuple[PlanTerm, ...]:
    name = side.value
    return (
        PlanTerm(f"{name} valve diameter", Kind.LENGTH, ("valve head diameter",)),
        PlanTerm(f"{name} margin", Kind.LENGTH, ("margin",)),
        PlanTerm(f"{name} offset along", Kind.LENGTH, ("valve offset along",)),
        PlanTerm(f"{name} offset across", Kind.LENGTH, ("valve offset across",)),
        PlanTerm(f"{name} lean", Kind.ANGLE, ("valve lean",)),
        PlanTerm(f"{name} leans towards", Kind.ANGLE, ("valve leans towards",)),
        PlanTerm(f"{name} valve to deck", Kind.LENGTH, ("valve to deck",)),
        PlanTerm(f"{name} pocket depth", Kind.LENGTH, ("pocket depth",)),
        PlanTerm(f"{name} full lift", Kind.LENGTH),
    )


_WANTED = (
    PlanTerm("gap between valves", Kind.LENGTH),
    PlanTerm("gap to the wall", Kind.LENGTH),
    PlanTerm("exhaust share", Kind.RATIO),
    PlanTerm("shroud share", Kind.RATIO),
    PlanTerm("cam advance", Kind.ANGLE),
)


GROUPS = {
    "": _WANTED[:3],
    "Intake valve": _valve_terms(Side.INTAKE),
    "Exhaust valve": _valve_terms(Side.EXHAUST),
    "Engine": (*_ENGINE, *_WANTED[3:]),
}


TERMS = {t.name: t for terms in GROUPS.values() for t in terms}


def read_room_numbers(texts: Sequence[str]) -> dict[str, AsTyped]:
    """Read numbers for one plan: "intake offset along=-20 mm".

    Raises
    ------
    InputError, UnknownNameError, NumberError, UnitError
    """
    return read_numbers(texts, TERMS, "number of the room for valves")


def room_numbers(
    contents: JobContents,
    given: dict[str, AsTyped],
    rules: Figures,
    lifts: Mapping[Side, Array],
) -> dict[str, Known]:
    """Every number of a plan that is known: given, measured, on the job sheet, or assumed.

    Parameters
    ----------
    contents : JobContents
    given : dict of str to AsTyped
        For this plan only.
    rules : Figures
        The shop's minima.
    lifts : mapping of Side to ndarray
        Valve lifts over the crank, empty without a cam. [m]
    """
    first = {side: next((p.code for p in contents.ports if p.side is side), "") for side in Side}
    found: dict[str, Known] = {}
    for name, term in sorted(TERMS.items(), key=lambda t: t[0] == "exhaust share"):
        side = next((s for s in Side if name.startswith(f"{s.value} ")), None)
        side = None if name == "exhaust share" else side
        port = first[side] if side else ""
        measured = next(
            (m for q in term.quantities if (m := latest(contents, port, q)) is not None), None
        )
        if name in given:
            found[name] = Known(term, given[name].si, Origin.ENTERED, str(given[name]))
        elif measured is not None:
            note = f"{measured.quantity} {port}: {measured.value}"
            found[name] = Known(term, measured.value.si, Origin.MEASURED, note)
        elif term.fact and (fact := fact_value(contents.job.facts, term.fact)) is not None:
            found[name] = Known(term, fact.si, Origin.SHEET, f"{term.fact}: {fact}")
        elif (default := _default(name, side, rules, lifts, found)) is not None:
            value, why = default
            found[name] = Known(term, value, Origin.ASSUMED, why)
    return found


_ZERO = {
    "cam advance": "as on the card",
    " lean": "upright; a valve that leans needs its angle",
    "leans towards": "along the crank",
    " margin": "a sharp edge",
}


def _default(
    name: str,
    side: Side | None,
    rules: Figures,
    lifts: Mapping[Side, Array],
    found: Mapping[str, Known],
) -> tuple[float, str] | None:
    figures = {
        "gap between valves": "valve gap at rest least",
        "gap to the wall": "valve to bore least",
        "shroud share": "shroud share",
    }
    if name in figures:
        return rules[figures[name]].value.si, rules[figures[name]].tag
    if name == "exhaust share":
        sizes = [found.get(f"{s.value} valve diameter") for s in Side]
        if sizes[0] and sizes[1]:
            return sizes[1].value / sizes[0].value, "as the valves are"
        return 0.83, "from memory: 0.74 to 0.88"
    if side is not None and name.endswith("full lift") and side in lifts:
        return float(lifts[side].max()), "highest of the cam table, lash taken off"
    why = next((why for ending, why in _ZERO.items() if name.endswith(ending)), None)
    return None if why is None else (0.0, why)
