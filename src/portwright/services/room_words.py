"""Room for valves, drawn from above and as a sheet."""

from __future__ import annotations

import math

import numpy as np

from portwright import units
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.services.clearances import open_checks
from portwright.services.display import Display
from portwright.services.room import CHECK, MAP_POINTS, Closest, RoomPlan, WallMap
from portwright.services.shop_figures import Figures, shipped
from portwright.services.work_sheet import (
    Part,
    Say,
    belongs_to,
    number_line,
    numbered,
    work_sheet_pdf,
)
from portwright.units import Kind

_PAPER = (
    "<style>text{font-family:sans-serif;font-size:3.4px;fill:#1b222c}.land{fill:none;stroke:#4b5563;"
    "stroke-width:.5}.head{fill:#dfe8f4;stroke:#16437e;stroke-width:.5}.runner{fill:#f6e3d4;"
    "stroke:#8f4410;stroke-width:.5}.gasket{fill:none;stroke:#4b5563;stroke-width:.3;"
    "stroke-dasharray:2 1}</style>"
)
ESTIMATE = (
    "Estimates from sizes on paper: no stretch, no wear, no slack. They say where to look, not "
    "what is there. " + CHECK
)


def room_drawing(plan: RoomPlan, *, paper: bool = False) -> str:
    """Bore and both valves seen from below, to scale; "" where a place is not known."""
    bore = plan.known.get("bore")
    names = [
        (s, [f"{s.value} {w}" for w in ("valve diameter", "offset along", "offset across")])
        for s in Side
    ]
    if bore is None or any(n not in plan.known for _, wanted in names for n in wanted):
        return ""
    radius = 0.5e3 * bore.value
    parts = [f'<circle class="land" cx="0" cy="0" r="{radius:.2f}"/>']
    parts.append(f'<line class="gasket" x1="{-radius:.2f}" y1="0" x2="{radius:.2f}" y2="0"/>')
    for (side, wanted), look in zip(names, ("head", "runner"), strict=True):
        size, x, y = (1e3 * plan.known[n].value for n in wanted)
        lean = plan.known[f"{side.value} lean"].value
        turn = math.degrees(plan.known[f"{side.value} leans towards"].value)
        parts.append(
            f'<ellipse class="{look}" rx="{0.5 * size * math.cos(lean):.2f}" '
            f'ry="{0.5 * size:.2f}" transform="translate({x:.2f} {-y:.2f}) rotate({-turn:.1f})"/>'
            f'<text x="{x:.2f}" y="{-y:.2f}" text-anchor="middle">{side.value}</text>'
        )
    edge = radius + 4.0
    about = "Bore and both valves from below, to scale, crank along the dashed line."
    box = f"{-edge:.2f} {-edge:.2f} {2 * edge:.2f} {2 * edge:.2f}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" '
        f'aria-label="{about}">{_PAPER if paper else ""}{"".join(parts)}</svg>'
    )


def closest_words(closest: Closest, say: Say) -> str:
    """A gap with where it is, to the tenth."""
    degrees = math.degrees(closest.crank_angle)
    side = "after" if degrees >= 0.0 else "before"
    gap = "they meet" if closest.gap <= 0.0 else f"about {say.cut(closest.gap)}"
    text = f"{gap} at {abs(degrees):.0f}° {side} top dead centre of overlap"
    if closest.per_degree is not None:
        way = "less" if closest.per_degree < 0.0 else "more"
        text += f"; {say.cut(closest.per_degree)} {way} for each degree of advance"
    return f"{text}. {CHECK}"


def map_headings() -> list[str]:
    """Directions of the shrouding map."""
    return [f"{round(360.0 * i / MAP_POINTS)}°" for i in range(MAP_POINTS)]


def map_rows(wall: WallMap, display: Display) -> list[list[str]]:
    """Shrouding map: lift, gap round the head, share of the edge that is shrouded."""
    unit = display.small_length
    digits = 0 if unit == "thou" else 1
    rows = []
    for lift, gaps, share in zip(wall.lifts, wall.gap, wall.shrouded, strict=True):
        cells = [units.show(float(g), unit, Kind.LENGTH, digits) for g in gaps]
        rows.append([display.lift_text(float(lift)), *cells, f"{100.0 * float(share):.0f} %"])
    return rows


def room_parts(
    contents: JobContents,
    plan: RoomPlan,
    display: Display | None = None,
    figures: Figures | None = None,
) -> tuple[Part, ...]:
    """The plan as headed lines of plain words."""
    shown, rules = display or Display(), figures or shipped()
    say = Say(shown)
    missing = tuple(
        f"{what.capitalize()}: not worked out. Needs {why.rstrip('.')}."
        for what, why in plan.missing.items()
    )
    return (
        Part("Room", _room(plan, say)),
        *((Part("Not worked out", missing),) if missing else ()),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in plan.findings)),)
            if plan.findings
            else ()
        ),
        Part("Datum", _DATUM),
        Part("Order of work", numbered(_ORDER)),
        Part(
            "Tolerances",
            tuple(
                f"{name.capitalize()}: {rules[name].text} ({rules[name].tag})."
                for name in (
                    "intake valve to piston least",
                    "exhaust valve to piston least",
                    "valve in pocket least",
                    "valve to bore least",
                    "valve to valve least",
                    "soft parts extra",
                )
            ),
        ),
        Part("Before it runs", (*open_checks(contents), ESTIMATE)),
        Part("Numbers used", tuple(number_line(k) for k in plan.known.values())),
    )


_DATUM = (
    (
        "Offsets from the bore centre: pins in both guides and a caliper, or the mill's readout "
        "(0.05 mm, from memory). Along the crank, across it; the sign is yours, the same for both."
    ),
    (
        "Lean from the bore axis; towards is the direction the head moves in as it opens, counted "
        "from along the crank."
    ),
    "Valve to deck: lowest edge of the shut valve above the deck face.",
)
_ORDER = (
    "Settle valve sizes and seats before the guides: spacing decides the pair.",
    "Head on the block with its own gasket, checking springs, degree wheel.",
    "Valve to piston every few degrees 20° either side of overlap, with clay or a dial.",
    "Valve to valve on overlap with a feeler.",
    "Valve to bore wall through the whole lift.",
    "Record each with instrument and date.",
)


def _room(plan: RoomPlan, say: Say) -> tuple[str, ...]:
    lines = []
    if plan.shut_gap is not None:
        lines.append(f"Between both heads, shut: about {say.cut(plan.shut_gap)}.")
    if plan.pair is not None:
        lines.append(
            f"Largest pair on these centres: intake {say.cut(plan.pair.intake)}, exhaust "
            f"{say.cut(plan.pair.exhaust)}; {plan.pair.limited_by} stops them."
        )
    for wall in plan.walls:
        at = int(np.argmin(wall.least))
        lines.append(
            f"{wall.side.value.capitalize()} valve edge to bore wall: about "
            f"{say.cut(float(wall.least[at]))} at {say.cut(float(wall.lifts[at]))} lift; "
            f"{100.0 * float(wall.shrouded.max()):.0f} % of its edge is near enough to be "
            f"shrouded. {CHECK}"
        )
    if plan.overlap is not None:
        lines.append(f"Valve to valve: {closest_words(plan.overlap, say)}")
    for side, closest in plan.pistons.items():
        lines.append(f"{side.value.capitalize()} valve to piston: {closest_words(closest, say)}")
    return tuple(lines) or ("Nothing can be worked out yet.",)


def room_pdf(
    contents: JobContents,
    plan: RoomPlan,
    display: Display | None = None,
    figures: Figures | None = None,
) -> bytes:
    """The sheet on paper, with the drawing.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    title = f"Room for valves, job {plan.job}"
    parts = room_parts(contents, plan, display, figures)
    return work_sheet_pdf(title, belongs_to(contents), parts, room_drawing(plan, paper=True))
