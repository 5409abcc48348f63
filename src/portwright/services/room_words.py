"""Room for valves, drawn from above and as a sheet."""

from __future__ import annotations

import math

import numpy as np

from portwright import units
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.report.document import Grid
from portwright.services.clearances import usual_checks
from portwright.services.display import Display
from portwright.services.room import CHECK, MAP_POINTS, Closest, RoomPlan, WallMap
from portwright.services.shop_figures import Figures, shipped
from portwright.services.work_sheet import (
    BELOW_LOUD,
    NOT_CHECKED_LOUD,
    Part,
    Place,
    Say,
    before_it_runs,
    belongs_to,
    numbered,
    numbers_used,
    sources,
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


def _place(closest: Closest, say: Say) -> str:
    """Where the gap is smallest, and what advancing the cam does to it."""
    degrees = math.degrees(closest.crank_angle)
    side = "after" if degrees >= 0.0 else "before"
    text = f"{abs(degrees):.0f}° {side} TDC of overlap"
    if closest.per_degree is not None:
        way = "less" if closest.per_degree < 0.0 else "more"
        text += f"; {say.cut(closest.per_degree)} {way} a degree of advance"
    return text


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
    """The plan as headed lines and tables."""
    shown, rules = display or Display(), figures or shipped()
    say = Say(shown)
    soft = rules["soft parts extra"]
    return (
        before_it_runs(contents, ESTIMATE),
        Part(
            "Room",
            _pair(plan, say),
            _room(contents, plan, rules, say),
            notes=(
                sources((name, rules[rule]) for name, rule, _ in _LINES),
                f"Valve to piston: {say.figure(soft)} more with soft parts ({soft.tag}).",
            ),
        ),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in plan.findings)),)
            if plan.findings
            else ()
        ),
        Part("Datum, tolerances", _datum(say), place=Place.UNDER_DRAWING),
        Part("Order of work", numbered(_ORDER), place=Place.UNDER_DRAWING),
        numbers_used(plan.known.values(), shown, Place.BY_DRAWING),
    )


_ORDER = (
    "Settle valve sizes and seats before the guides: spacing decides the pair.",
    "Head on the block with its own gasket, checking springs, degree wheel.",
    "Valve to piston every few degrees 20° either side of overlap, with clay or a dial.",
    "Valve to valve on overlap with a feeler.",
    "Valve to bore wall through the whole lift.",
    "Record each with instrument and date.",
)


def _datum(say: Say) -> tuple[str, ...]:
    """Where every number is measured from, and how well it must be known."""
    timing = f"{say.cut(0.05e-3)} to {say.cut(0.15e-3)}"
    return (
        (
            f"Offsets {say.tolerance(0.05e-3)} from the bore centre, along the crank and across, "
            "same signs: pins in the guides and a caliper, or the mill's readout (from memory)."
        ),
        (
            "Lean ±0.25° from the bore axis; towards: where the head moves as it opens, from along "
            "the crank."
        ),
        (
            f"Valve to deck {say.tolerance(0.03e-3)}: lowest edge of the shut valve above the deck "
            "face (from memory)."
        ),
        f"Valve timing ±1°: {timing} at the intake valve's gap to the piston (from memory).",
    )


# A line of the table: its name, the shop's figure, and the usual check it is an estimate of.
_LINES = (
    ("Valve to valve at rest", "valve gap at rest least", ""),
    ("Valve to valve at overlap", "valve to valve least", "Valve to valve at overlap"),
    ("Intake valve edge to bore", "valve to bore least", "Valve edge to bore"),
    ("Exhaust valve edge to bore", "valve to bore least", "Valve edge to bore"),
    ("Intake valve to piston", "intake valve to piston least", "Intake valve to piston"),
    ("Exhaust valve to piston", "exhaust valve to piston least", "Exhaust valve to piston"),
    ("Valve radial in pocket", "valve in pocket least", "Valve radial in pocket"),
)
_NOT_YET = "NOT WORKED OUT"


def _room(contents: JobContents, plan: RoomPlan, rules: Figures, say: Say) -> Grid:
    """Every gap: estimate, where, the shop's least, and whether somebody measured it."""
    found = _estimates(plan, rules, say)
    checks = {check.name: check for check in usual_checks(contents)}
    rows = []
    for name, rule, checked in _LINES:
        about, where = found.get(name, (_NOT_YET, _why_not(plan, name)))
        check = checks.get(checked)
        if check is None:
            state = ""
        elif check.done and check.found is not None:
            state = f"{check.found.value}, {check.found.instrument}, {check.found.date}"
        else:
            state = NOT_CHECKED_LOUD
        rows.append((name, about, where, say.figure(rules[rule]), state))
    headings = ("Gap", "Estimate", "Where", "The shop's least", "Measured")
    return Grid(headings, tuple(rows), wide=(1, 1, 2, 2, 2, 4, 4))


def _why_not(plan: RoomPlan, name: str) -> str:
    """What an estimate needs that is not known."""
    if name == "Valve radial in pocket":
        return "no estimate: by clay or with the pocket cutter's size"
    side = name.split(maxsplit=1)[0].lower()
    both = [
        f"the {s.value} valve against wall and neighbour"
        for s in Side
        if side in {s.value, "valve"}
    ]
    names = [name.lower(), "valve to piston"] if "piston" in name else [name.lower(), *both]
    names += ["the bore wall"] if "bore" in name else []
    lacking = [_shorter(plan.missing[n].rstrip(".")) for n in names if n in plan.missing]
    return f"needs {'; '.join(dict.fromkeys(lacking))}" if lacking else ""


def _shorter(lacking: str) -> str:
    """Both offsets of a valve as one thing, so that a line of the table stays short."""
    for side in Side:
        lacking = lacking.replace(
            f"{side.value} offset along, {side.value} offset across", f"{side.value} offsets"
        )
    return lacking


def _estimates(plan: RoomPlan, rules: Figures, say: Say) -> dict[str, tuple[str, str]]:
    """Each estimate, loud where it is close, with where it is smallest."""
    least = {name: rules[rule].value.si for name, rule, _ in _LINES}
    found: dict[str, tuple[str, str]] = {}

    def add(name: str, gap: float, where: str) -> None:
        text = "they meet" if gap <= 0.0 else f"about {say.about(gap)}"
        found[name] = (f"{text} {BELOW_LOUD}" if gap < least[name] else text, where)

    if plan.shut_gap is not None:
        add("Valve to valve at rest", plan.shut_gap, "both shut")
    if plan.overlap is not None:
        add("Valve to valve at overlap", plan.overlap.gap, _place(plan.overlap, say))
    for wall in plan.walls:
        at = int(np.argmin(wall.least))
        add(
            f"{wall.side.value.capitalize()} valve edge to bore",
            float(wall.least[at]),
            f"at {say.about(float(wall.lifts[at]))} lift; "
            f"{100.0 * float(wall.shrouded.max()):.0f} % of its edge shrouded",
        )
    for side, closest in plan.pistons.items():
        name = f"{side.value.capitalize()} valve to piston"
        add(name, closest.gap, _place(closest, say))
    return found


def _pair(plan: RoomPlan, say: Say) -> tuple[str, ...]:
    if plan.pair is not None:
        return (
            (
                f"Largest pair on these centres: intake {say.about(plan.pair.intake)}, exhaust "
                f"{say.about(plan.pair.exhaust)}; {plan.pair.limited_by} stops them."
            ),
        )
    why = plan.missing.get("the largest pair")
    return (f"Largest pair: {_NOT_YET}. {why}",) if why else ()


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
    # what is close is marked in the table
    parts = [p for p in room_parts(contents, plan, display, figures) if p.title != "Look at"]
    return work_sheet_pdf(title, belongs_to(contents), parts, room_drawing(plan, paper=True))
