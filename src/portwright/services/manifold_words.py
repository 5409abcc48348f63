"""How a port meets its manifold, drawn and as a sheet."""

from __future__ import annotations

from collections.abc import Sequence

from portwright.core.manifold import Edge
from portwright.core.outline import Outline
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.report.document import Grid
from portwright.services.display import Display
from portwright.services.manifold_fit import ManifoldFit, MountedRun
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

_PAPER = (
    "<style>text{font-family:sans-serif;font-size:2.6px;fill:#1b222c}.head{fill:#dfe8f4;stroke:#16437e;"
    "stroke-width:.35}.runner{fill:none;stroke:#8f4410;stroke-width:.35;stroke-dasharray:1.6 .9}"
    ".gasket{fill:none;stroke:#4b5563;stroke-width:.25;stroke-dasharray:.6 .6}"
    ".land{fill:none;stroke:#4b5563;stroke-width:.25}</style>"
)


def fit_drawing(fit: ManifoldFit, *, paper: bool = False) -> str:
    """Openings laid on one another, to scale; "" while none is known.

    Parameters
    ----------
    fit : ManifoldFit
    paper : bool
        With its own colours, for print.
    """
    known = {"head": fit.head, "runner": fit.runner, "gasket": fit.gasket}
    drawn = {name: o.points * 1e3 for name, o in known.items() if o is not None}
    if not drawn:
        return ""
    low = [min(float(p[:, i].min()) for p in drawn.values()) for i in (0, 1)]
    high = [max(float(p[:, i].max()) for p in drawn.values()) for i in (0, 1)]
    if fit.head is not None:
        _lands(fit, fit.head, low, high)
    parts = []
    if fit.head is not None and fit.rooms:
        x0, y0 = low
        parts.append(
            f'<rect class="land" x="{x0:.2f}" y="{-high[1]:.2f}" width="{high[0] - x0:.2f}" '
            f'height="{high[1] - y0:.2f}"/>'
        )
    for name, points in drawn.items():
        text = " ".join(f"{x:.2f},{-y:.2f}" for x, y in points)
        parts.append(f'<polygon class="{name}" points="{text}"/>')
    middle = 0.5 * (low[0] + high[0])
    parts.append(
        f'<text x="{middle:.2f}" y="{-high[1] - 2:.2f}" text-anchor="middle">roof</text>'
        f'<text x="{middle:.2f}" y="{-low[1] + 4:.2f}" text-anchor="middle">floor</text>'
    )
    about = (
        f"Openings of {fit.port} to scale: head full, manifold or pipe dashed, gasket dotted"
        + (", gasket face round them." if fit.rooms else ".")
    )
    margin = 6.0
    box = (
        f"{low[0] - margin:.2f} {-high[1] - margin:.2f} {high[0] - low[0] + 2 * margin:.2f} "
        f"{high[1] - low[1] + 2 * margin:.2f}"
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="{about}">{_PAPER if paper else ""}{"".join(parts)}</svg>'
    )


def _lands(fit: ManifoldFit, head: Outline, low: list[float], high: list[float]) -> None:
    """Widen the box to the gasket face on every side where it is known."""
    ends = {
        Edge.ROOF: float(head.points[:, 1].max()),
        Edge.FLOOR: float(head.points[:, 1].min()),
        Edge.LEFT: float(head.points[:, 0].min()),
        Edge.RIGHT: float(head.points[:, 0].max()),
    }
    for edge in fit.rooms:
        land = fit.known[f"land beyond {edge.value}"].value
        if edge in {Edge.ROOF, Edge.RIGHT}:
            axis = 1 if edge is Edge.ROOF else 0
            high[axis] = max(high[axis], 1e3 * (ends[edge] + land))
        else:
            axis = 1 if edge is Edge.FLOOR else 0
            low[axis] = min(low[axis], 1e3 * (ends[edge] - land))


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
    "Across and up are measured from the middle of the head's opening, up is away from the deck.",
    "Offset: with the manifold bolted on its dowels and its own gaskets, scribed through or blued.",
    "Milling moves the ports along the face: measure after the deck and the face are cut.",
)


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
            f"Traced on photos: {', '.join(fit.traced)}. Middles lie on one another but for the "
            "offsets; what stands out by less than about 0.5 mm may be the tracing."
        )
    if fit.gasket_in_flow is None:
        lines.append("Gasket opening: not known.")
    elif fit.gasket_in_flow > 0.0:
        lines.append(f"The gasket stands {say.cut(fit.gasket_in_flow)} into the head's opening.")
    else:
        lines.append("The gasket stays out of the flow.")
    return tuple(lines)


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
