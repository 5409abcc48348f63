"""Room for valves: against each other, the bore wall and the piston; estimates, never a check."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from portwright.core.constants import Array
from portwright.core.seat.room import (
    LargestPair,
    ValvePlace,
    largest_pair,
    piston_depth,
    piston_gap,
    shrouded_share,
    valves_gap,
    wall_gap,
)
from portwright.errors import Finding, PortwrightError, Severity
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.quantity import AsTyped
from portwright.services.engine_cam import lift_curve
from portwright.services.engine_description import describe_engine
from portwright.services.plan_terms import Known
from portwright.services.room_numbers import room_numbers
from portwright.services.shop_figures import Figures, shipped

MAP_LIFTS, MAP_POINTS = 5, 12
_OVERLAP = 90  # crank degrees looked at on both sides of dead centre
CHECK = "Check physically."


@dataclass(frozen=True, slots=True, eq=False)
class WallMap:
    """One valve against the bore wall.

    Parameters
    ----------
    side : Side
    lifts : ndarray, shape (n,)
        [m]
    gap : ndarray, shape (n, m)
        At angles round the head. [m]
    least : ndarray, shape (n,)
        [m]
    shrouded : ndarray, shape (n,)
        Share of the edge nearer to the wall than the shroud limit. [-]
    """

    side: Side
    lifts: Array
    gap: Array
    least: Array
    shrouded: Array


@dataclass(frozen=True, slots=True)
class Closest:
    """Smallest gap through overlap.

    Parameters
    ----------
    gap : float
        Zero or less where parts would meet. [m]
    crank_angle : float
        After top dead centre of overlap. [rad]
    per_degree : float or None
        Change for each crank degree the cam is advanced. [m]
    """

    gap: float
    crank_angle: float
    per_degree: float | None = None


@dataclass(frozen=True, slots=True)
class RoomPlan:
    """Room for the valves of one cylinder; None where something is not known.

    Parameters
    ----------
    job : str
    known : dict of str to Known
    pair : LargestPair or None
    shut_gap : float or None
        Between both heads, shut. [m]
    walls : tuple of WallMap
    overlap : Closest or None
        Valve to valve.
    pistons : dict of Side to Closest
    missing : dict of str to str
        What was not worked out, and what is missing for it.
    findings : tuple of Finding
    """

    job: str
    known: dict[str, Known]
    pair: LargestPair | None
    shut_gap: float | None
    walls: tuple[WallMap, ...]
    overlap: Closest | None
    pistons: dict[Side, Closest]
    missing: dict[str, str]
    findings: tuple[Finding, ...]


def room_plan(
    contents: JobContents,
    given: Mapping[str, AsTyped] | None = None,
    figures: Figures | None = None,
) -> RoomPlan:
    """Work out how much room the valves have.

    Parameters
    ----------
    given : mapping of str to AsTyped, optional
        Numbers for this plan only, by the names of ``TERMS``.
    figures : Figures, optional
        The shop's minima.

    Raises
    ------
    RangeError
        Numbers that cannot be.
    """
    rules = figures or shipped()
    lifts, no_cam = _cam_lifts(contents)
    known = room_numbers(contents, dict(given or {}), rules, lifts)
    missing: dict[str, str] = {}
    places = {side: place for side in Side if (place := _place(known, side, missing)) is not None}
    bore = known.get("bore")
    walls = []
    if bore is None:
        missing["the bore wall"] = "the bore"
    else:
        walls = [_wall(known, side, place, bore.value) for side, place in places.items()]
    pair = shut = overlap = None
    if len(places) == len(Side):
        one, other = places[Side.INTAKE], places[Side.EXHAUST]
        shut = valves_gap(one, 0.0, other, 0.0)
        if bore is not None:
            try:
                pair = largest_pair(
                    one,
                    other,
                    bore.value,
                    known["exhaust share"].value,
                    known["gap between valves"].value,
                    known["gap to the wall"].value,
                    (known["intake full lift"].value, known["exhaust full lift"].value)
                    if "intake full lift" in known and "exhaust full lift" in known
                    else (0.0, 0.0),
                )
            except PortwrightError as error:
                missing["the largest pair"] = str(error)
        if lifts:
            overlap = _overlap(known, one, other, lifts)
        else:
            missing["valve to valve at overlap"] = no_cam
    pistons = {
        side: found for side in Side if (found := _piston(known, side, lifts, missing)) is not None
    }
    if not lifts:
        missing["valve to piston"] = no_cam
    plan = RoomPlan(
        contents.job.number, known, pair, shut, tuple(walls), overlap, pistons, missing, ()
    )
    findings = _findings(plan, rules)
    return RoomPlan(plan.job, known, pair, shut, plan.walls, overlap, pistons, missing, findings)


def _cam_lifts(contents: JobContents) -> tuple[dict[Side, Array], str]:
    """Lift of both valves each quarter degree from firing dead centre."""
    try:
        engine = describe_engine(contents)
        return {side: lift_curve(engine, contents, side) for side in Side}, ""
    except PortwrightError as error:
        return {}, str(error)


def _place(known: Mapping[str, Known], side: Side, missing: dict[str, str]) -> ValvePlace | None:
    wanted = [f"{side.value} {w}" for w in ("valve diameter", "offset along", "offset across")]
    lacking = [w for w in wanted if w not in known]
    if lacking:
        missing[f"the {side.value} valve against wall and neighbour"] = ", ".join(lacking)
        return None
    values = [known[w].value for w in wanted]
    lean, towards = known[f"{side.value} lean"].value, known[f"{side.value} leans towards"].value
    low = known.get(f"{side.value} valve to deck")
    height = 0.0 if low is None else low.value + 0.5 * values[0] * math.sin(lean)
    margin = known[f"{side.value} margin"].value
    return ValvePlace(values[0], values[1], values[2], lean, towards, height, margin)


def _wall(known: Mapping[str, Known], side: Side, place: ValvePlace, bore: float) -> WallMap:
    full = known.get(f"{side.value} full lift")
    lifts = np.linspace(0.0, full.value if full else 0.0, MAP_LIFTS if full else 1)
    angles = np.linspace(0.0, 2.0 * math.pi, 30 * MAP_POINTS, endpoint=False)
    gap = wall_gap(place, bore, lifts, angles)
    limit = known["shroud share"].value * place.diameter
    every = gap[:, ::30]
    return WallMap(side, lifts, every, gap.min(axis=1), shrouded_share(gap, limit))


def _at_overlap(lift: Array, advance: float) -> tuple[Array, Array]:
    """Crank degrees about overlap dead centre, and lift there; advance moves the cam earlier."""
    angle = np.arange(-_OVERLAP, _OVERLAP + 1, dtype=float)
    step = 720.0 / len(lift)
    at = (360.0 + angle + advance) / step
    return angle, np.interp(at, np.arange(len(lift)), lift)


def _overlap(
    known: Mapping[str, Known],
    one: ValvePlace,
    other: ValvePlace,
    lifts: Mapping[Side, Array],
) -> Closest:
    advance = math.degrees(known["cam advance"].value)
    angle, first = _at_overlap(lifts[Side.INTAKE], advance)
    _, second = _at_overlap(lifts[Side.EXHAUST], advance)
    both = np.flatnonzero((first > 0.0) & (second > 0.0))
    if both.size == 0:
        return Closest(valves_gap(one, 0.0, other, 0.0), 0.0)
    gaps = [valves_gap(one, float(first[i]), other, float(second[i])) for i in both]
    at = int(np.argmin(gaps))
    return Closest(gaps[at], math.radians(float(angle[both[at]])))


def _piston(
    known: Mapping[str, Known],
    side: Side,
    lifts: Mapping[Side, Array],
    missing: dict[str, str],
) -> Closest | None:
    if side not in lifts:
        return None
    wanted = ["stroke", "rod", "gasket and deck clearance"]
    wanted += [f"{side.value} {w}" for w in ("valve to deck", "pocket depth")]
    lacking = [w for w in wanted if w not in known]
    if lacking:
        missing[f"{side.value} valve to piston"] = ", ".join(lacking)
        return None
    stroke, rod, above, deck, pocket = (known[w].value for w in wanted)
    advance = math.degrees(known["cam advance"].value)

    def closest(turned: float) -> tuple[float, float]:
        angle, lift = _at_overlap(lifts[side], turned)
        depth = piston_depth(np.radians(angle), stroke, rod)
        gap = piston_gap(depth, lift, deck, known[f"{side.value} lean"].value, above, pocket)
        at = int(np.argmin(gap))
        return float(gap[at]), math.radians(float(angle[at]))

    gap, where = closest(advance)
    slope = 0.5 * (closest(advance + 1.0)[0] - closest(advance - 1.0)[0])
    return Closest(gap, where, slope)


def _findings(plan: RoomPlan, rules: Figures) -> tuple[Finding, ...]:
    found: list[Finding] = []

    def hold(gap: float, rule: str, what: str, code: str) -> None:
        least = rules[rule]
        if gap < least.value.si - 1e-9:
            found.append(
                Finding(
                    code,
                    Severity.WARNING,
                    f"{what}: about {1e3 * gap:.1f} mm by these numbers; the shop's least is "
                    f"{least.text} ({least.tag}).",
                    CHECK,
                )
            )

    for wall in plan.walls:
        hold(
            float(wall.least.min()),
            "valve to bore least",
            f"{wall.side.value.capitalize()} valve edge to bore",
            "valve-to-bore",
        )
    if plan.overlap is not None:
        hold(
            plan.overlap.gap, "valve to valve least", "Valve to valve at overlap", "valve-to-valve"
        )
    for side, closest in plan.pistons.items():
        hold(
            closest.gap,
            f"{side.value} valve to piston least",
            f"{side.value.capitalize()} valve to piston",
            "valve-to-piston",
        )
    return tuple(found)
