"""Manifold or pipe against the head: overlap, steps, sealing land, room, and what flow says."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from portwright.core.constants import Array
from portwright.core.line_up import Placement
from portwright.core.manifold import Edge, EdgeRoom, Meeting, edge_room, meet, rounded
from portwright.core.outline import Outline
from portwright.errors import (
    Finding,
    Severity,
    UnknownNameError,
    Where,
)
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.quantity import AsTyped
from portwright.services.line_up import (
    Laid,
    LineUp,
    TracedOpening,
    laid_by_holes,
    line_up_findings,
)
from portwright.services.plan_terms import Known, Origin, PlanTerm, read_numbers
from portwright.services.seat_plan import port_named
from portwright.services.shop_figures import Figures, shipped
from portwright.services.valves import latest
from portwright.units import Kind

_AS_IT_LIES = {
    LineUp.MIDDLES: "as the head's opening, not measured",
    LineUp.HOLES: "as the holes lay it",
}
_EPS = 1e-9  # lengths nearer than this are the same [m]
_OPENING = ("opening width", "opening height", "opening corner radius")
_RUNNER = ("runner width", "runner height", "runner corner radius")
_APERTURE = ("gasket opening width", "gasket opening height", "gasket opening corner radius")
_SIZES = {"head": _OPENING, "runner": _RUNNER, "gasket": _APERTURE}
OFFSETS = ("runner offset across", "runner offset up", "runner turn")
LANDS = tuple(f"land beyond {e.value}" for e in Edge)
METALS = tuple(f"metal beyond {e.value}" for e in Edge)
GROUPS = {
    "Head": (*_OPENING, *_RUNNER, *OFFSETS),
    "Gasket": (*_APERTURE, *LANDS),
    "Metal to the edge of the flange or the next hole": METALS,
}
TERMS = {
    name: PlanTerm(name, Kind.ANGLE if name == "runner turn" else Kind.LENGTH, (name,))
    for names in GROUPS.values()
    for name in names
}


@dataclass(frozen=True, slots=True)
class ManifoldFit:
    """How one port meets its manifold or pipe.

    Parameters
    ----------
    job, port, stage : str
    side : Side
    known : dict of str to Known
    head, runner, gasket : Outline or None
        Across, and up from the deck, about the middle of the head's opening. [m]
    meeting : Meeting or None
    rooms : dict of Edge to EdgeRoom
        Where the land is known.
    gasket_in_flow : float or None
        How far the gasket stands into the head's opening. [m]
    findings : tuple of Finding
    traced : tuple of str
        Parts that a traced outline stands for.
    line_up : LineUp
    placement : Placement
        Where the runner lies: turned about its middle, then shifted from the head's.
    laid : dict of str to Laid
        Parts laid on the head by their holes.
    holes : dict of str to ndarray, shape (2, 2)
        Those holes where they come to lie, the head's among them. [m]
    """

    job: str
    port: str
    stage: str
    side: Side
    known: dict[str, Known]
    head: Outline | None
    runner: Outline | None
    gasket: Outline | None
    meeting: Meeting | None
    rooms: dict[Edge, EdgeRoom]
    gasket_in_flow: float | None
    findings: tuple[Finding, ...]
    traced: tuple[str, ...] = ()
    line_up: LineUp = LineUp.MIDDLES
    placement: Placement = field(default_factory=Placement)
    laid: dict[str, Laid] = field(default_factory=dict)
    holes: dict[str, Array] = field(default_factory=dict)


def read_fit_numbers(texts: Sequence[str]) -> dict[str, AsTyped]:
    """Read numbers for one fit: "runner width=31.5 mm".

    Raises
    ------
    InputError, UnknownNameError, NumberError, UnitError
    """
    return read_numbers(texts, TERMS, "number of a manifold fit")


def manifold_fit(
    contents: JobContents,
    port: str = "",
    stage: str = "",
    given: Mapping[str, AsTyped] | None = None,
    figures: Figures | None = None,
    outlines: Mapping[str, TracedOpening] | None = None,
    line_up: LineUp = LineUp.MIDDLES,
) -> ManifoldFit:
    """Lay a port on its manifold or pipe.

    Parameters
    ----------
    port, stage : str
        "" takes the first port, the newest readings.
    given : mapping of str to AsTyped, optional
        Numbers for this fit only, by the names of ``TERMS``.
    figures : Figures, optional
        The shop's minima.
    outlines : mapping of str to TracedOpening, optional
        Traced "head", "runner" or "gasket", each about its own middle; they count before sizes.
    line_up : LineUp
        What is laid on what; the runner's turn and offsets move it further.

    Raises
    ------
    UnknownNameError, InputError, RangeError, GeometryError
    """
    chosen, rules, asked = port_named(contents, port), figures or shipped(), dict(given or {})
    known: dict[str, Known] = {}
    for name, term in TERMS.items():
        if name in asked:
            known[name] = Known(term, asked[name].si, Origin.ENTERED, str(asked[name]))
        elif (m := latest(contents, chosen.code, name, stage)) is not None:
            known[name] = Known(term, m.value.si, Origin.MEASURED, f"{m.quantity}: {m.value}")
        elif name in OFFSETS:
            known[name] = Known(term, 0.0, Origin.ASSUMED, _AS_IT_LIES[line_up])
    for name in asked:
        if name not in TERMS:
            raise UnknownNameError("number of a manifold fit", name, TERMS)
    traced = outlines or {}
    for name in (n for part, names in _SIZES.items() if part in traced for n in names):
        if name in known:
            known[name] = replace(known[name], note=f"{known[name].note}; the trace counts")
    laid = laid_by_holes(traced) if line_up is LineUp.HOLES else {}
    across, up, turn = (known[n].value for n in OFFSETS)
    lies = {part: one.placement for part, one in laid.items()}
    lies["runner"] = lies.get("runner", Placement()).then(turn, across, up)
    head = _outline(traced.get("head"), known, _OPENING)
    runner = _outline(traced.get("runner"), known, _RUNNER, lies["runner"], middle=not laid)
    gasket = _outline(traced.get("gasket"), known, _APERTURE, lies.get("gasket", Placement()))
    intake = chosen.side is Side.INTAKE
    meeting = None
    if head is not None and runner is not None:
        meeting = meet(runner, head) if intake else meet(head, runner)
    in_flow = None
    if head is not None and gasket is not None:
        in_flow = meet(head, gasket).facing.height
    rooms = {
        edge: edge_room(
            known[land].value,
            rules["sealing land least"].value.si,
            known[metal].value if metal in known else None,
            rules["flange metal least"].value.si,
        )
        for edge, land, metal in zip(Edge, LANDS, METALS, strict=True)
        if land in known
    }
    fit = ManifoldFit(
        contents.job.number,
        chosen.code,
        stage,
        chosen.side,
        known,
        head,
        runner,
        gasket,
        meeting,
        rooms,
        in_flow,
        tuple(line_up_findings(laid, chosen.code)),
        tuple(traced),
        line_up,
        lies["runner"],
        laid,
        {
            part: lies.get(part, Placement()).of(traced[part].holes)
            for part in (("head", *laid) if laid else ())
        },
    )
    return _with_findings(fit, rules)


def _outline(
    traced: TracedOpening | None,
    known: Mapping[str, Known],
    names: Sequence[str],
    placement: Placement | None = None,
    *,
    middle: bool = False,
) -> Outline | None:
    """What was traced, or else what the sizes give, where it lies.

    With ``middle`` it is the middle after the turn that goes to its place.
    """
    if traced is not None:
        found = traced.outline
    elif all(n in known for n in names):
        found = rounded(*(known[n].value for n in names))
    else:
        return None
    if placement is None:
        return found
    points = placement.of(found.points)
    if middle:
        low, high = points.min(axis=0), points.max(axis=0)
        points = points + np.array([placement.across, placement.up]) - 0.5 * (low + high)
    return Outline(points)


def _with_findings(fit: ManifoldFit, figures: Figures) -> ManifoldFit:
    found = list(fit.findings)

    def say(code: str, message: str, hint: str) -> None:
        found.append(Finding(code, Severity.WARNING, message, hint, Where(port=fit.port)))

    intake = fit.side is Side.INTAKE
    enters = "The head" if intake else "The pipe"
    if fit.meeting is not None:
        most, facing = figures["step most"], fit.meeting.facing
        if facing.height > most.value.si + _EPS:
            say(
                "step-in-flow",
                f"{enters}'s {facing.edge.value} stands {1e3 * facing.height:.2f} mm into the "
                f"flow; the shop's most is {most.text} ({most.tag}).",
                "Match there, or move the manifold; a step that faces the flow is worse than one "
                "behind it (common practice).",
            )
        larger, wide = figures["opening larger most"], fit.meeting.trailing
        if wide.height > larger.value.si + _EPS:
            say(
                "opening-much-larger",
                f"{enters}'s opening is up to {1e3 * wide.height:.2f} mm outside the other at the "
                f"{wide.edge.value}; usual is up to {larger.text} ({larger.tag}).",
                "The passage widens at the face. On an exhaust floor that is often wanted against "
                "reversion (common practice).",
            )
    for edge, room in fit.rooms.items():
        least = figures["sealing land least"]
        if room.seal < -_EPS:
            say(
                "narrow-land",
                f"The gasket keeps {1e3 * (room.seal + least.value.si):.2f} mm beyond the "
                f"{edge.value}; the shop's least is {least.text} ({least.tag}).",
                "It may not seal: another gasket, or weld before opening further.",
            )
    if fit.gasket_in_flow:
        say(
            "gasket-in-flow",
            f"The gasket stands {1e3 * fit.gasket_in_flow:.2f} mm into the head's opening.",
            "Trim it, or use one with a larger opening.",
        )
    return replace(fit, findings=tuple(found))
