"""A milling plan as the sheet a machinist works from: cuts, datum, order, tolerances, doubts."""

from __future__ import annotations

import math

from portwright.model.contents import JobContents
from portwright.report.document import Grid
from portwright.services.display import Display
from portwright.services.milling import CUT_TOLERANCE
from portwright.services.milling_plan import ApexHeight, MillPlan, Result
from portwright.services.work_sheet import (
    Part,
    Place,
    Say,
    before_it_runs,
    belongs_to,
    cc,
    numbered,
    numbers_used,
    work_sheet_pdf,
)


def cc_with(result: Result) -> str:
    """A volume and the range that holds it 19 times of 20."""
    return f"{cc(result.value)} ± {2e6 * result.uncertainty:.1f} cc"


def ratio_with(result: Result | None) -> str:
    """A ratio and the range that holds it 19 times of 20."""
    if result is None:
        return "not known: a volume is missing"
    return f"{result.value:.2f} ± {2.0 * result.uncertainty:.2f}"


def machinist_sheet(
    contents: JobContents, plan: MillPlan, display: Display | None = None
) -> tuple[Part, ...]:
    """The plan as headed lines of plain words.

    Parameters
    ----------
    display : Display, optional
        Units of the words.
    """
    shown = display or Display()
    say = Say(shown)
    return (
        Part("What to cut", _cuts(plan, say)),
        *(
            (Part("Look at", tuple(f"{f.message} {f.hint}" for f in plan.findings)),)
            if plan.findings
            else ()
        ),
        Part("Datum", _datum(contents, say), place=Place.BESIDE),
        Part("Order of work", _order(plan, say), place=Place.BESIDE),
        Part("Tolerances", _tolerances(say), place=Place.BESIDE),
        Part("Compression", *_compression(plan, say), place=Place.BESIDE),
        Part("What else moves", _moves(plan, say)),
        *((Part("Instead, by an angle", _angles(plan, say)),) if plan.angles else ()),
        before_it_runs(contents, *_again(plan)),
        numbers_used(plan.known.values(), shown),
    )


def sheet_title(contents: JobContents) -> tuple[str, str]:
    """First line of the sheet, and what it belongs to."""
    return f"Deck cut, job {contents.job.number}", belongs_to(contents)


def sheet_pdf(contents: JobContents, plan: MillPlan, display: Display | None = None) -> bytes:
    """The sheet for the machinist on paper.

    Raises
    ------
    ReportError
        The page could not be set.
    """
    title, lead = sheet_title(contents)
    return work_sheet_pdf(title, lead, machinist_sheet(contents, plan, display))


def _cuts(plan: MillPlan, say: Say) -> tuple[str, ...]:
    lines = [
        (
            f"Deck, both ends and every head alike: {say.cut(plan.depth.value)} "
            f"(for {plan.target.aim.value}; {plan.target.note}). Known to "
            f"±{say.cut(2.0 * plan.depth.uncertainty)} until a chamber is filled again."
        )
    ]
    if plan.face_cut is not None and plan.manifold_drop is not None:
        lines += [_face_line(plan.face_cut, say), _drop_line(plan.manifold_drop, say)]
    if plan.uniform is not None:
        lines += _uniform_lines(plan, say)
    return tuple(lines)


def _face_line(cut: Result, say: Say) -> str:
    if cut.value < 0.0:
        return (
            f"Intake face: {say.cut(cut.value)} is missing, square to the face. Make it up with a "
            "thicker intake gasket; no cut puts it right."
        )
    return (
        f"Intake face, each side: {say.cut(cut.value)} square to the face, angle kept. It may come "
        "off the manifold instead, not off both."
    )


def _drop_line(drop: Result, say: Say) -> str:
    if drop.value < 0.0:
        return f"End rails: the manifold comes up by {say.cut(drop.value)}; thicker end seals."
    return f"End rails: the manifold comes down by {say.cut(drop.value)}; take that off its ends."


def _uniform_lines(plan: MillPlan, say: Say) -> list[str]:
    uniform = plan.uniform
    if uniform is None:
        return []
    work = uniform.plan
    if work is None:
        return [f"Chambers all alike: not worked out. {uniform.refused}"]
    opened = [f"{n} by {cc(v)}" for n, v in work.to_open.items() if v >= 0.05e-6]
    return [
        (
            f"Or, for every chamber at {cc(work.target)}: mill {say.cut(work.cut)} instead, set by "
            f"{work.sets_cut} ({uniform.set_name}); face cut and end rails grow with it."
        ),
        f"Open for that: {', '.join(opened)}." if opened else "None needs opening for that.",
        "Differences below 0.2 cc are within the burette's repeatability (from memory).",
    ]


def _datum(contents: JobContents, say: Say) -> tuple[str, ...]:
    flat = [
        f"head {m.subject.removeprefix('head ')}: {m.value}"
        for m in contents.measurements
        if m.quantity == "deck flatness"
    ]
    flat = flat or [
        f"head {r.subject or r.cells.get('cyl', '')}: {r.cells.get('reading', '')} "
        f"{r.cells.get('unit', '')}"
        for r in contents.rows
        if r.cells.get("item", "") == "Deck flatness"
    ]
    return (
        (
            "Depth counts from the deck on which the chambers were filled. A skim to make it flat "
            "is part of the depth, and the lowest spot is where it starts."
        ),
        f"Deck flatness on record: {', '.join(flat)}."
        if flat
        else "Deck flatness: not measured. Measure it before setting up.",
        (
            "Height of the head, deck to a machined face on top, at four corners before and after: "
            "the difference is the depth, the same at all four within "
            f"{say.cut(2 * CUT_TOLERANCE)}."
        ),
        "Face cut: from the intake face as it is, at its own angle; angle to the deck unchanged.",
    )


def _order(plan: MillPlan, say: Say) -> tuple[str, ...]:
    steps = [
        "Finish seats, valves and chambers first: each changes the volume.",
        "Fill every chamber with its own valves and the plug that will be used.",
    ]
    even = plan.uniform.plan if plan.uniform else None
    if even is not None and any(v >= 0.05e-6 for v in even.to_open.values()):
        steps.append("To even them out, open the chambers named above, fill and trace them again.")
    left = 0.15e-3
    if plan.depth.value > left:
        steps += [
            f"Mill to {say.cut(left)} short of the depth. Fill one chamber again.",
            f"Last pass: what it has above the target, at {say.per_step(plan.per_depth)}.",
        ]
    else:
        steps.append("Mill in light passes and measure the height after each.")
    if plan.face_cut is not None and plan.face_cut.value > 0.0:
        steps.append("Intake faces next, by the depth that really came off the deck.")
    steps += [
        "Break the edges, keep the fire-ring land whole, wash.",
        "Fill all chambers once more and record them; trial-fit the manifold with its gaskets.",
    ]
    return numbered(steps)


def _tolerances(say: Say) -> tuple[str, ...]:
    return (
        f"Deck depth {say.tolerance(CUT_TOLERANCE)} (Portwright's own figure).",
        (
            f"Deck flat within {say.cut(0.05e-3)} overall (from memory; the gasket maker's limit "
            "comes first)."
        ),
        f"Intake face cut {say.tolerance(0.05e-3)}, angle ±0.1° (Portwright's own figures).",
        f"End rails {say.tolerance(0.2e-3)}: the seal takes it up (Portwright's own figure).",
        "Chambers alike within 0.5 cc, better 0.2 cc (from memory).",
    )


def _compression(plan: MillPlan, say: Say) -> tuple[tuple[str, ...], Grid, tuple[str, ...]]:
    grid = Grid(
        ("", "Before", "After"),
        (
            ("Chamber", cc_with(plan.chamber_before), cc_with(plan.chamber_after)),
            ("Ratio", ratio_with(plan.ratio_before), ratio_with(plan.ratio_after)),
        ),
    )
    notes = ["± holds the true value about 19 times of 20."]
    if plan.ratio_after is not None and plan.ratio_per_tenth is not None:
        notes.append(
            f"The next {say.cut(0.1e-3)} gives {plan.ratio_per_tenth:+z.2f}. Most of the doubt is "
            f"in: {plan.ratio_after.mostly}."
        )
    if plan.deshroud is not None:
        lost, deeper = plan.deshroud
        notes.append(
            f"Each 1 cc opened against shrouding costs {abs(lost):.2f} of the ratio, or "
            f"{say.cut(deeper)} more off the deck."
        )
    return (), grid, tuple(notes)


def _moves(plan: MillPlan, say: Say) -> tuple[str, ...]:
    lines = []
    if plan.line_up is not None:
        moved = plan.line_up
        gap = "closes" if moved.closing >= 0.0 else "opens"
        place = "lower" if moved.port_drop >= 0.0 else "higher"
        lines.append(
            f"Nothing cut at the intake: the gap {gap} by {say.cut(moved.closing)} and the head's "
            f"ports sit {say.cut(moved.port_drop)} {place} than the manifold's along the face."
        )
        if (riding := moved.riding_step) is not None:
            side = "lower" if riding >= 0.0 else "higher"
            lines.append(
                f"Manifold left to settle on both faces, its ends free: the "
                f"ports sit {say.cut(riding)} {side}."
            )
    else:
        lines.append(
            "Intake face: not worked out. The half V angle or the tilt of the face is not known, "
            "or the engine is no V."
        )
    lines += [
        (
            f"Pushrods: about {say.cut(plan.pushrod)} "
            f"{'shorter' if plan.pushrod <= 0 else 'longer'}. A guide: measure with the parts."
        ),
        (
            f"Valves to pistons: {say.cut(plan.piston)} "
            f"{'less' if plan.piston <= 0 else 'more'} along the bore. Check physically."
        ),
        (
            "Installed height and stem-tip height do not change with the deck; a deeper seat or a "
            "ground valve adds to both."
        ),
        "Flat-to-piston clearance does not change with the deck; it changes with the gasket.",
    ]
    if plan.cam_retard is not None:
        late = math.degrees(plan.cam_retard)
        word = "later" if late >= 0.0 else "earlier"
        lines.append(
            f"Overhead cam: {abs(late):.2f}° of cam {word} ({abs(2 * late):.2f}° of crank). Degree "
            "it again."
        )
    lines += [_apex_line(a, say) for a in plan.apexes] or [
        "Short side to deck: not measured. Without it grinding and milling cannot be told apart."
    ]
    return tuple(lines)


def _angles(plan: MillPlan, say: Say) -> tuple[str, ...]:
    lines = []
    for made in plan.angles:
        cut = made.cut
        lines.append(
            f"Deeper on the {cut.deep_side.value}: {math.degrees(cut.angle):.2f}°, nothing at the "
            f"other edge, {say.cut(cut.extra_depth)} at the deep one, "
            f"{say.cut(made.centroid_depth)} over the chambers. Valve tops turn that much towards "
            f"the {cut.deep_side.value}."
        )
        if made.moved is None:
            lines.append("Intake face not worked out: it needs face tilt and port height.")
            continue
        up = made.moved.line_up
        wedge = "outwards" if made.moved.face_turn > 0.0 else "inwards"
        sign, drop = "cut" if up.face_cut >= 0.0 else "missing", up.manifold_drop
        lines.append(
            f"Intake face at the middle of the port: {say.cut(up.face_cut)} {sign}, and a wedge of "
            f"{math.degrees(cut.angle):.2f}°, as the face now leans further {wedge} at its top; "
            f"manifold {'down' if drop >= 0.0 else 'up'} {say.cut(drop)}."
        )
    return (
        *lines,
        "Spot faces, dowels, pushrod angle, exhaust flange and water holes move as well.",
    )


def _apex_line(apex: ApexHeight, say: Say) -> str:
    if apex.split is None:
        return (
            f"{apex.port}, short side to deck: {say.cut(apex.before)} at {apex.first}; this cut "
            f"leaves {say.cut(apex.expected)}, and less than that was ground."
        )
    return (
        f"{apex.port}, short side to deck from {apex.first} to {apex.last}: "
        f"{say.cut(apex.split.milled)} milled, {say.cut(apex.split.ground)} "
        f"{'ground' if apex.split.ground >= 0.0 else 'more than milling leaves'}."
    )


def _again(plan: MillPlan) -> tuple[str, ...]:
    if plan.depth.value <= 0.0:
        return ()
    return (
        (
            "Clearances on record hold only for the deck they were measured on: check valve to "
            "piston, pushrod length and rocker sweep again after this cut."
        ),
    )
