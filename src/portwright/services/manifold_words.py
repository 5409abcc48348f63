"""How a port meets its manifold, in words and as a sheet."""

from __future__ import annotations

import math
from collections.abc import Sequence

from portwright import units
from portwright.core.line_up import Placement
from portwright.core.manifold import Edge
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.report.document import Grid
from portwright.services.display import Display
from portwright.services.line_up import LineUp
from portwright.services.manifold_drawing import fit_drawing
from portwright.services.manifold_fit import ManifoldFit
from portwright.services.mounted import MountedRun
from portwright.services.shop_figures import Figures, shipped
from portwright.services.wording import sentence
from portwright.services.work_sheet import (
    Part,
    Place,
    Say,
    belongs_to,
    numbered,
    numbers_used,
    work_sheet_pdf,
)
from portwright.units import Kind


def fit_parts(
    contents: JobContents,
    fit: ManifoldFit,
    mounted: Sequence[MountedRun] = (),
    display: Display | None = None,
    figures: Figures | None = None,
) -> tuple[Part, ...]:
    """The fit as headed lines and tables."""
    shown, rules = display or Display(), figures or shipped()
    say = Say(shown)
    return (
        Part("How they meet", _meeting(fit, shown, say), place=Place.BY_DRAWING),
        Part("How far an edge can move", grid=_rooms(fit, say), place=Place.BY_DRAWING),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in fit.findings)),)
            if fit.findings
            else ()
        ),
        Part("Datum", _DATUM, place=Place.BESIDE),
        Part("Order of work", numbered(_order(fit)), place=Place.BESIDE),
        Part(
            "Tolerances",
            (
                (
                    f"Step facing the flow: {say.figure(rules['step most'])} at most "
                    f"({rules['step most'].tag})."
                ),
                (
                    f"Opening behind it larger by up to {say.figure(rules['opening larger most'])} "
                    f"({rules['opening larger most'].tag})."
                ),
                (
                    f"Gasket face left: {say.figure(rules['sealing land least'])} at least "
                    f"({rules['sealing land least'].tag})."
                ),
                (
                    f"Metal left: {say.figure(rules['flange metal least'])} at least "
                    f"({rules['flange metal least'].tag})."
                ),
            ),
        ),
        *(
            (Part("Mounted against bare", tuple(mounted_line(m, shown.length) for m in mounted)),)
            if mounted
            else ()
        ),
        numbers_used(fit.known.values(), shown),
    )


_DATUM = (
    (
        "Looking at the head's face with the deck below: across counts to the right, up away from "
        "the deck, from the middle of the head's opening to the middle of the other one as it "
        "lies. A turn counts anticlockwise."
    ),
    "Offset: with the manifold bolted on its dowels and its own gaskets, scribed through or blued.",
    "Milling moves the ports along the face: measure after the deck and the face are cut.",
)


_SHOWN = 0.005e-3  # moved by less reads as not moved [m]
_TURN_SHOWN = math.radians(0.05)

_NOT_YET = (
    "Not worked out: width, height and corner of head and runner are needed, or their openings "
    "traced on photos."
)


def _meeting(fit: ManifoldFit, display: Display, say: Say) -> tuple[str, ...]:
    if fit.meeting is None:
        return (_NOT_YET,)
    m = fit.meeting
    first, second = ("runner", "head") if fit.side is Side.INTAKE else ("head", "pipe")
    lines = [
        (
            f"{first.capitalize()} {display.area_text(m.upstream)}, {second} "
            f"{display.area_text(m.downstream)}, in common {display.area_text(m.overlap)} "
            f"({100.0 * m.overlap / min(m.upstream, m.downstream):.1f} % of the smaller)."
        ),
        *_line_up(fit, say),
    ]
    if m.facing.height > 0.0:
        edges = ", ".join(f"{e.value} {say.cut(h)}" for e, h in m.facing.by_edge.items() if h > 0.0)
        lines.append(
            f"The {second} stands in the flow over {100.0 * m.facing.share:.0f} % of its edge, at "
            f"most {say.cut(m.facing.height)} ({edges})."
        )
    else:
        lines.append(f"No edge of the {second} stands in the flow.")
    if m.trailing.height > 0.0:
        lines.append(
            f"The passage widens into the {second} by up to {say.cut(m.trailing.height)} at the "
            f"{m.trailing.edge.value}."
        )
    if fit.traced:
        lines.append(
            f"Traced on photos: {', '.join(fit.traced)}. What stands out by less than about 0.5 mm "
            "may be the tracing."
        )
    if fit.gasket_in_flow is None:
        lines.append("Gasket opening: not known.")
    elif fit.gasket_in_flow > 0.0:
        lines.append(f"The gasket stands {say.cut(fit.gasket_in_flow)} into the head's opening.")
    else:
        lines.append("The gasket stays out of the flow.")
    return tuple(lines)


def _line_up(fit: ManifoldFit, say: Say) -> tuple[str, ...]:
    """How the parts were laid on one another, and where that leaves the runner."""
    other = "runner" if fit.side is Side.INTAKE else "pipe"
    if fit.line_up is LineUp.MIDDLES:
        moved = _moved(fit.placement, say)
        return (
            f"Laid with the middles of the openings on one another; the {other} then {moved}."
            if moved
            else f"Laid with the middles of the openings on one another, the {other} not moved or "
            "turned.",
        )
    lines = []
    for part, laid in fit.laid.items():
        name = other if part == "runner" else part
        lies = _moved(laid.placement, say) or "where the head's opening is, not turned"
        lines.append(
            f"Laid by two holes: the {name}'s middle comes to lie {lies}, the turn known to "
            f"±{_degrees(laid.turn_interval)}. Holes {say.about(laid.apart_head)} apart on the "
            f"head, {say.about(laid.apart)} on the {name}."
        )
    if "gasket" in fit.traced and "gasket" not in fit.laid:
        lines.append("The gasket has no holes marked: it lies by its middle.")
    by_hand = _moved(Placement().then(*(fit.known[n].value for n in _BY_HAND)), say)
    if by_hand:
        lines.append(f"On top of the holes by hand: {by_hand}.")
    return tuple(lines)


_BY_HAND = ("runner turn", "runner offset across", "runner offset up")


def _moved(placement: Placement, say: Say) -> str:
    """How it is moved and turned: "0.80 mm up, turned 1.2° clockwise"; "" if not at all."""
    words = []
    for value, ways in ((placement.across, "to the right|to the left"), (placement.up, "up|down")):
        if abs(value) >= _SHOWN:
            more, less = ways.split("|")
            words.append(f"{say.cut(value)} {more if value > 0.0 else less}")
    if abs(placement.turn) >= _TURN_SHOWN:
        way = "anticlockwise" if placement.turn > 0.0 else "clockwise"
        words.append(f"turned {_degrees(placement.turn)} {way}")
    return ", ".join(words)


def _degrees(angle: float) -> str:
    return f"{units.show(abs(angle), 'deg', Kind.ANGLE, 1)}°"


def _rooms(fit: ManifoldFit, say: Say) -> Grid:
    rows = []
    for edge in Edge:
        room, seal, metal = fit.rooms.get(edge), "not measured", "not measured"
        if room is not None:
            seal = f"none: already lacks {say.cut(room.seal)}"
            if room.seal >= 0.0:
                seal = f"{say.cut(room.seal)} before it has less than its least"
            if room.metal is not None:
                metal = f"weld first beyond {say.cut(room.metal)}"
                if room.metal < 0.0:
                    metal = f"{say.cut(room.metal)} is missing already: weld first"
        rows.append((edge.value.capitalize(), seal, metal))
    return Grid(("Edge", "By the gasket face", "By the metal behind it"), tuple(rows), wide=(1, 2))


def _order(fit: ManifoldFit) -> tuple[str, ...]:
    scribed = "manifold" if fit.side is Side.INTAKE else "pipe flange"
    return (
        "Deck and intake face first.",
        f"Bolt up the {scribed} with its gaskets, scribe both openings, take it off.",
        "Open only where both lines and the gasket face allow.",
        "Blend back into the port over at least as much length as the opening is wide.",
        "Bolt up again and feel for steps through the runner.",
        "Flow it bare and mounted, same day, same bench.",
    )


def mounted_line(run: MountedRun, length_unit: str = "mm") -> str:
    """What a configuration did, in a sentence."""
    if run.comparison is None:
        return f"{run.configuration}: not compared. {run.refused}"
    return f"{run.configuration}: {sentence(run.comparison, length_unit)}"


def fit_pdf(
    contents: JobContents,
    fit: ManifoldFit,
    mounted: Sequence[MountedRun] = (),
    display: Display | None = None,
    figures: Figures | None = None,
) -> bytes:
    """The sheet on paper, with the drawing.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    title = f"Manifold fit {fit.port}, job {fit.job}"
    parts = fit_parts(contents, fit, mounted, display, figures)
    return work_sheet_pdf(title, belongs_to(contents), parts, fit_drawing(fit, paper=True))
