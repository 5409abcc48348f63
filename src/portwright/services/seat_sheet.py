"""A valve and seat as the sheet a machinist works from."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from portwright import units
from portwright.core.seat.profile import Cut
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.report.document import Grid
from portwright.services.display import Display
from portwright.services.seat_drawing import seat_drawing
from portwright.services.seat_plan import TABLE_LIFTS, Alternative, SeatPlan
from portwright.services.shop_figures import Figures, shipped
from portwright.services.work_sheet import (
    Part,
    Place,
    Say,
    before_it_runs,
    belongs_to,
    numbered,
    numbers_used,
    work_sheet_pdf,
)
from portwright.units import Kind


def chosen(plan: SeatPlan, name: str) -> Alternative:
    """One alternative of a plan.

    Raises
    ------
    InputError
        It cannot be made; the reason is in the message.
    """
    for made in plan.alternatives:
        if made.name == name:
            return made
    raise InputError(f"There is no alternative {name}.", plan.refused.get(name, "Use A, B or C."))


def area_at(plan: SeatPlan, made: Alternative, share: float) -> float:
    """Smallest passage at a share of the valve diameter of the design. [m2]"""
    lift = share * plan.known["valve head diameter"].value
    return float(np.interp(lift, plan.lifts, made.area))


def percent_of_a(plan: SeatPlan, made: Alternative, share: float) -> float:
    """Its smallest passage over that of the design, less one, in percent."""
    base = area_at(plan, plan.alternatives[0], share)
    return 100.0 * (area_at(plan, made, share) / base - 1.0)


def mass_text(made: Alternative) -> str:
    """Mass with the range of the density, to the gram."""
    low, high = (1e3 * m for m in made.mass)
    return f"{low:.0f} g" if high - low < 1.0 else f"{low:.0f} to {high:.0f} g"


def stiffness_text(made: Alternative) -> str:
    """Stem stiffness over that of the design."""
    low, high = (100.0 * s for s in made.stiffness)
    return f"{low:.0f} %" if high - low < 1.0 else f"{low:.0f} to {high:.0f} %"


def force_text(made: Alternative, display: Display) -> str:
    """Force to open against the gas, from the inner to the outer edge of the seal."""
    if made.force is None:
        return "–"
    unit = "lbf" if display.length in {"in", "thou"} else "N"
    low, high = (units.from_si(f, unit, Kind.FORCE) for f in made.force)
    return f"{round(low, -1):.0f} to {round(high, -1):.0f} {unit}"


def sink_text(made: Alternative, say: Say) -> str:
    """How much deeper the new seat goes."""
    if made.sink is None:
        return "no metal"
    side = "deeper" if made.sink.seat >= 0.0 else "higher"
    return f"{say.cut(made.sink.seat)} {side}"


def side_by_side(plan: SeatPlan, display: Display) -> list[list[str]]:
    """Rows that compare the alternatives, the name of each row first."""
    say, made = Say(display), plan.alternatives
    rows: list[list[str]] = [["Differs in", *(a.words for a in made)]]
    for share in TABLE_LIFTS:
        cells = []
        for a in made:
            # the unit stands once, with the name of the row: three columns fit on a tablet upright
            text = units.show(area_at(plan, a, share), display.area, Kind.AREA)
            if a is not made[0]:
                text += f" ({percent_of_a(plan, a, share):+z.1f} %)"
            cells.append(text)
        rows.append([f"Passage [{units.sign(display.area)}] at lift/diameter {share:.2f}", *cells])

    def row(words: str, text: Callable[[Alternative], str]) -> None:
        rows.append([words, *(text(a) for a in made)])

    row(
        "Throat of valve",
        lambda a: f"{100.0 * a.seat.throat_diameter / a.valve.head_diameter:.1f} %",
    )
    row("Throat area", lambda a: display.area_text(a.throat))
    row("less the stem", lambda a: display.area_text(a.net_throat))
    row("Seat goes", lambda a: sink_text(a, say))
    row("Stem tip rises", lambda a: say.cut(a.sink.valve) if a.sink else "–")
    row("Valve mass, about", mass_text)
    row("Stem stiffness", stiffness_text)
    if made[0].force is not None:
        row("Force to open against the gas", lambda a: force_text(a, display))
    return rows


def seat_sheet(
    contents: JobContents,
    plan: SeatPlan,
    name: str = "A",
    display: Display | None = None,
    figures: Figures | None = None,
) -> tuple[Part, ...]:
    """One alternative as headed lines and tables.

    Raises
    ------
    InputError
        No such alternative.
    """
    shown, rules = display or Display(), figures or shipped()
    made, say = chosen(plan, name), Say(shown)
    doubts = tuple(f"{f.message} {f.hint}".strip() for f in made.cautions)
    return (
        Part("What to cut", *_cuts(made, say), place=Place.BY_DRAWING),
        Part("Valve", *_valve(made, say), place=Place.BY_DRAWING),
        *((Part("Think about", doubts),) if doubts else ()),
        Part("Datum", _datum(made, say), place=Place.BESIDE),
        Part("Order of work", numbered(_order(made, say)), place=Place.BESIDE),
        Part("Tolerances", _tolerances(rules, say), place=Place.BESIDE),
        Part("What else moves", _moves(made, say), place=Place.BESIDE),
        Part("What it does", *_does(plan, made, shown)),
        before_it_runs(contents, _AGAIN),
        numbers_used(plan.known.values(), shown),
    )


_AGAIN = "A new seat moves the valve: clearances on record were measured with the old one."


def seat_title(contents: JobContents, plan: SeatPlan, name: str) -> tuple[str, str]:
    """First line of the sheet, and what it belongs to."""
    return f"Valve and seat {plan.port} ({name}), job {contents.job.number}", belongs_to(contents)


def seat_pdf(
    contents: JobContents,
    plan: SeatPlan,
    name: str = "A",
    display: Display | None = None,
    figures: Figures | None = None,
) -> bytes:
    """The sheet on paper, with the drawing.

    Raises
    ------
    InputError, ReportError
    """
    shown = display or Display()
    made = chosen(plan, name)
    drawing = seat_drawing(plan, made, 0.1 * made.valve.head_diameter, shown, paper=True)
    title, lead = seat_title(contents, plan, name)
    return work_sheet_pdf(title, lead, seat_sheet(contents, plan, name, shown, figures), drawing)


def _degrees(cut: Cut) -> str:
    return f"{math.degrees(cut.angle):.4g}°"


def _cut_grid(rows: list[tuple[str, Cut]], say: Say) -> Grid:
    return Grid(
        ("Cut", "Angle", "Width"),
        tuple((name, _degrees(cut), say.cut(cut.width)) for name, cut in rows),
        numeric=(1, 2),
    )


def _cuts(made: Alternative, say: Say) -> tuple[tuple[str, ...], Grid]:
    seat = made.seat
    lines = [
        (
            f"Seat face outside diameter {say.cut(seat.outer_diameter)}, throat "
            f"{say.cut(seat.throat_diameter)}. Widths are along each face."
        )
    ]
    if made.sink is not None:
        lines.append(
            f"Depth: the seat face ends up {sink_text(made, say)} at its outer edge; the "
            f"{made.sink.decided_by} decides how deep."
        )
    else:
        lines.append(f"Not from this seat: {made.no_sink}")
    above = [(f"{i} above, from the seat outwards", c) for i, c in enumerate(seat.above, 1)]
    below = [(f"{i} below, from the seat inwards", c) for i, c in enumerate(seat.below, 1)]
    return tuple(lines), _cut_grid([*reversed(above), ("Seat face", seat.face), *below], say)


def _valve(made: Alternative, say: Say) -> tuple[tuple[str, ...], Grid]:
    valve = made.valve
    line = (
        f"Head {say.cut(valve.head_diameter)}, stem {say.cut(valve.stem_diameter)}, margin "
        f"{say.cut(valve.margin)}, {made.material.name.lower()}."
    )
    cuts = [(f"Back-cut {i}", c) for i, c in enumerate(valve.back_cuts, 1)]
    return (line,), _cut_grid([("Face", valve.face), *cuts], say)


def _datum(made: Alternative, say: Say) -> tuple[str, ...]:
    lines = [
        "Everything turns about the guide: guides first, the pilot in the finished bore.",
        (
            "Depth counts from the deck with a depth micrometer on the shut valve's edge; note it "
            "before the first cut."
        ),
    ]
    if made.room is not None:
        lines.append(
            f"Insert: {say.cut(made.room.land)} left outside the cuts, {say.cut(made.room.wall)} "
            f"round the throat, {say.cut(made.room.below)} below. Largest throat "
            f"{say.cut(made.room.largest_throat)}, largest seat {say.cut(made.room.largest_seat)}."
        )
    else:
        lines.append("Insert: size not known, so its limits were not looked at.")
    return tuple(lines)


def _order(made: Alternative, say: Say) -> list[str]:
    steps = [
        "Guides to size, wash, pilot in.",
        "Cut the seat face until it is clean all round, then measure the depth.",
    ]
    steps += [
        f"Cut {_degrees(c)} above until the seat ends at its outside." for c in made.seat.above[:1]
    ]
    steps += [f"Cut {_degrees(c)} above that." for c in made.seat.above[1:]]
    if made.seat.below:
        angles = ", ".join(_degrees(c) for c in made.seat.below)
        steps.append(f"Cut {angles} below until the seat is {say.cut(made.seat.face.width)} wide.")
    if made.seat.left_to_throat > 1e-6:
        steps.append("Blend what is left down to the throat by hand; stay off the seat.")
    steps += [
        "Blue the valve: an even band all round, where and as wide as above.",
        "Last cut after porting, so that the edge of the seat is clean.",
        "Vacuum test, then measure depth, installed height and stem-tip height and record them.",
    ]
    return steps


def _tolerances(rules: Figures, say: Say) -> tuple[str, ...]:
    runout = rules["seat runout most"]
    return (
        f"Seat runout {say.figure(runout)} at most ({runout.tag}).",
        f"Seat width {say.tolerance(0.1e-3)}, angle ±0.25° (repeatability, from memory).",
        f"Seat outside and throat diameter {say.tolerance(0.1e-3)} (from memory).",
        (
            f"Seat depth, all of a kind, alike within {say.cut(0.1e-3)}, better {say.cut(0.05e-3)} "
            "(from memory)."
        ),
    )


def _does(plan: SeatPlan, made: Alternative, display: Display) -> tuple[tuple[str, ...], Grid]:
    shares = [s for s in TABLE_LIFTS if s <= 0.25]
    rows = [("Smallest passage", *(display.area_text(area_at(plan, made, s)) for s in shares))]
    if made.name != "A":
        gains = (f"{percent_of_a(plan, made, s):+z.1f} %" for s in shares)
        rows.append(("Against A", *gains))
    lines = [
        (
            f"Throat {display.area_text(made.throat)}, less the stem "
            f"{display.area_text(made.net_throat)}: "
            f"{100 * made.seat.throat_diameter / made.valve.head_diameter:.1f} % of the valve. "
            "Geometry only: no chamber wall, no short side."
        ),
        f"Mass about {mass_text(made)} ({made.material.label}); grooves and tip not in it.",
    ]
    if made.name != "A":
        lines.append(f"Stem {stiffness_text(made)} as stiff in bending as that of A.")
    if made.force is not None:
        gas = plan.known["cylinder pressure"]
        lines.append(
            f"To open against {Say(display).number(gas.value, Kind.PRESSURE)} in the "
            f"cylinder ({gas.note}): {force_text(made, display)} at the valve, spring not counted."
        )
    headings = ("At lift over diameter", *(f"{s:.2f}" for s in shares))
    return tuple(lines), Grid(headings, tuple(rows), numeric=tuple(range(1, len(shares) + 1)))


def _moves(made: Alternative, say: Say) -> tuple[str, ...]:
    if made.sink is None:
        return ("Not known: there is no metal for this seat without a new insert.",)
    way = "up" if made.sink.valve >= 0.0 else "down"
    more = "more" if made.chamber_gain >= 0.0 else "less"
    return (
        (
            f"Stem tip {way} and installed height changed by {say.cut(made.sink.valve)}: shim or "
            "grind the tip, then measure."
        ),
        (
            f"Chamber about {abs(made.chamber_gain) * 1e6:.2f} cc {more} for this valve: give it "
            "to the deck plan as sink volume."
        ),
        "Lash, rocker sweep and valve to piston change with it. Check physically.",
    )
