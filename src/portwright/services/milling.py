"""A milling plan: how deep, what compression follows, and what else moves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from portwright.archive.archive import Archive
from portwright.core.chamber.compression import chamber_for, compression_ratio, ratio_change
from portwright.core.chamber.moves import (
    cam_retard,
    height_split,
    pushrod_change,
    valve_to_piston_change,
)
from portwright.core.chamber.uniform import uniform_plan
from portwright.core.chamber.vface import LineUp, VFace, line_up
from portwright.core.chamber.walls import StraightWalls, Walls, volume_per_depth
from portwright.errors import (
    InputError,
    RangeError,
)
from portwright.model.contents import JobContents
from portwright.model.quantity import AsTyped
from portwright.services.compression import (
    TERMS_BY_NAME,
    chambers_before,
    clearance_of,
    gather,
    walls_of,
)
from portwright.services.engine_facts import fact_value
from portwright.services.milling_angle import AnglePlan, angle_plans
from portwright.services.milling_findings import milling_findings
from portwright.services.milling_plan import (
    AIM_KINDS,
    Aim,
    ApexHeight,
    MillPlan,
    Result,
    Target,
    Uniform,
)
from portwright.services.plan_terms import Known, Origin, read_numbers
from portwright.units import read

CUT_TOLERANCE = 0.02e-3
"""How near a mill comes to a depth, half width. (our own figure) [m]"""
_STEP = 1e-3  # share of an uncertainty by which a number is moved to see what follows
_ONE_CC = 1e-6


def target_of(
    contents: JobContents, aim: Aim | None = None, value: AsTyped | None = None
) -> Target:
    """What was asked for, else the target the job has on record: chamber first, then ratio.

    Raises
    ------
    InputError
        Nothing asked for and nothing on record.
    """
    if aim is not None and value is not None:
        return Target(aim, value.si, Origin.ENTERED, str(value).removesuffix(" -"))
    for m in reversed(contents.measurements):
        if m.quantity == "target chamber" and aim in {None, Aim.CHAMBER}:
            return Target(Aim.CHAMBER, m.value.si, Origin.MEASURED, f"{m.quantity}: {m.value}")
    ratio = fact_value(contents.job.facts, "compression")
    if ratio is not None and aim in {None, Aim.RATIO}:
        return Target(Aim.RATIO, ratio.si, Origin.SHEET, f"compression ratio aimed at: {ratio}")
    raise InputError(
        f"Job {contents.job.number} has no target for milling.",
        "Give one: a chamber volume, a compression ratio or a depth.",
    )


def plan_milling(
    shop: Archive,
    job: str,
    aim: Aim | None = None,
    value: AsTyped | None = None,
    given: Mapping[str, AsTyped] | None = None,
    chambers: str = "",
) -> MillPlan:
    """Plan one deck cut for the heads of a job.

    Parameters
    ----------
    aim : Aim, optional
        What to reach; None takes the target on record.
    value : AsTyped, optional
        Its size.
    given : mapping of str to AsTyped, optional
        Numbers for this plan only; nothing is stored.
    chambers : str
        Set of chamber volumes for the uniform plan; "" takes the one whose mean is nearest.

    Raises
    ------
    InputError
        A number that is missing or cannot be.
    """
    return plan_of(shop.job(job), aim, value, given, chambers)


def plan_of(
    contents: JobContents,
    aim: Aim | None = None,
    value: AsTyped | None = None,
    given: Mapping[str, AsTyped] | None = None,
    chambers: str = "",
) -> MillPlan:
    """As :func:`plan_milling`, for contents read before."""
    known = gather(contents, given)
    if "chamber" not in known:
        raise InputError(
            "The chamber volume before milling is not known.",
            "Fill the chambers with the burette, or give it as chamber.",
        )
    work = _Work(contents, known, target_of(contents, aim, value))
    face, depth = work.face(), work.depth()
    chamber_after = _spread(known, work.chamber_after)
    # the cutter's own spread comes on top of what the plan does not know
    cut = volume_per_depth(work.walls, depth) * CUT_TOLERANCE / math.sqrt(3.0)
    chamber_after = replace(chamber_after, uncertainty=math.hypot(chamber_after.uncertainty, cut))
    uniform = _uniform(contents, known, chamber_after.value, chambers)
    moved = line_up(face, depth, *work.gaskets) if face else None
    retard = known.get("cam sprocket radius")
    plan = MillPlan(
        contents.job.number,
        work.target,
        known,
        _spread(known, lambda k: _Work(contents, k, work.target).depth()),
        Result(known["chamber"].value, known["chamber"].uncertainty, "chamber"),
        chamber_after,
        _ratio(known, lambda k: k["chamber"].value),
        _ratio(known, work.chamber_after),
        work.per_tenth(depth),
        volume_per_depth(work.walls, depth),
        work.deshroud(depth),
        moved,
        face,
        _spread(known, lambda k: work.again(k).face_cut) if moved else None,
        _spread(known, lambda k: work.again(k).manifold_drop) if moved else None,
        pushrod_change(
            depth,
            work.gaskets[0],
            known["pushrod angle"].value,
            known["tip rise"].value,
            known["rocker ratio"].value,
        ),
        valve_to_piston_change(depth, work.gaskets[0]),
        cam_retard(depth, retard.value, 0.0, work.gaskets[0]) if retard else None,
        _apexes(contents, depth),
        uniform,
        work.angles(),
        (),
    )
    return replace(plan, findings=tuple(milling_findings(contents, plan)))


class _Work:
    """One evaluation of the plan with one set of numbers."""

    def __init__(self, contents: JobContents, known: Mapping[str, Known], target: Target) -> None:
        self.contents, self.known, self.target = contents, known, target
        self.walls: Walls = walls_of(contents, known)

    @property
    def gaskets(self) -> tuple[float, float]:
        """Head and intake gasket change. [m]"""
        return self.known["head gasket change"].value, self.known["intake gasket change"].value

    def face(self) -> VFace | None:
        """Angles of the bank, None where they are not known."""
        if "half V angle" not in self.known or "face tilt" not in self.known:
            return None
        return VFace(self.known["half V angle"].value, self.known["face tilt"].value)

    def depth(self) -> float:
        """Depth that reaches the target. [m]"""
        if self.target.aim is Aim.DEPTH:
            self.walls.volume(self.target.value)  # says so where the depth cannot be
            return self.target.value
        wanted = self.target.value
        if self.target.aim is Aim.RATIO:
            rest = clearance_of(self.known, self.known["chamber"].value)
            if rest is None or "swept volume" not in self.known:
                raise InputError(
                    "A compression ratio needs every volume, and one is missing.",
                    "Give swept, gasket, deck and crown volume, or aim at a chamber volume.",
                )
            wanted = chamber_for(self.known["swept volume"].value, wanted, rest.rest)
        before = self.known["chamber"].value
        if wanted > before:
            raise RangeError(
                f"The chamber has {before / _ONE_CC:.1f} cc and would need {wanted / _ONE_CC:.1f} "
                "cc: milling only makes it smaller.",
                "Open the chambers, fit a thicker gasket, or aim higher in compression.",
            )
        return self.walls.depth(before - wanted)

    def chamber_after(self, known: Mapping[str, Known]) -> float:
        """Chamber left by this plan's depth, should other numbers be the true ones. [m3]"""
        return known["chamber"].value - walls_of(self.contents, known).volume(self.depth())

    def again(self, known: Mapping[str, Known]) -> LineUp:
        """Line-up of this plan's depth, should other angles be the true ones."""
        other = _Work(self.contents, known, self.target)
        face = other.face()
        if face is None:
            raise InputError("The angles of the intake face are not known.", "Measure them.")
        return line_up(face, self.depth(), *other.gaskets)

    def angles(self) -> tuple[AnglePlan, ...]:
        """The same volume by an angle cut, for walls square to the deck."""
        if not isinstance(self.walls, StraightWalls):
            return ()
        return angle_plans(self.known, self.face(), self.walls.volume(self.depth()))

    def per_tenth(self, depth: float) -> float | None:
        """Change of the ratio by the next 0.1 mm. [-]"""
        rest = clearance_of(self.known, self.known["chamber"].value - self.walls.volume(depth))
        if rest is None or "swept volume" not in self.known:
            return None
        taken = -volume_per_depth(self.walls, depth) * 0.1e-3
        return ratio_change(self.known["swept volume"].value, rest.total, taken)

    def deshroud(self, depth: float) -> tuple[float, float] | None:
        """What opening the chamber by 1 cc costs at the end. [-], [m]"""
        rest = clearance_of(self.known, self.known["chamber"].value - self.walls.volume(depth))
        if rest is None or "swept volume" not in self.known:
            return None
        lost = ratio_change(self.known["swept volume"].value, rest.total, _ONE_CC)
        return lost, _ONE_CC / volume_per_depth(self.walls, depth)


def _ratio(
    known: dict[str, Known], chamber: Callable[[Mapping[str, Known]], float]
) -> Result | None:
    """Compression ratio with its uncertainty, None where a volume is not known."""
    if clearance_of(known, known["chamber"].value) is None or "swept volume" not in known:
        return None

    def ratio(k: Mapping[str, Known]) -> float:
        clearance = clearance_of(k, chamber(k))
        assert clearance is not None  # noqa: S101 - asked above
        return compression_ratio(k["swept volume"].value, clearance.total)

    return _spread(known, ratio)


def _spread(known: dict[str, Known], answer: Callable[[Mapping[str, Known]], float]) -> Result:
    """An answer with the uncertainty its numbers give it (GUM, first order).

    Each number is moved by a small part of its own uncertainty, so that no limit is crossed that
    the answer itself does not reach.
    """
    value, parts = answer(known), {}
    for name, item in known.items():
        if item.uncertainty > 0.0:
            step = _STEP * item.uncertainty
            moved = {**known, name: replace(item, value=item.value + step)}
            try:
                parts[name] = (answer(moved) - value) / _STEP
            except RangeError:  # at the end of what can be milled the other way still counts
                moved = {**known, name: replace(item, value=item.value - step)}
                parts[name] = (value - answer(moved)) / _STEP
    total = math.sqrt(sum(p**2 for p in parts.values()))
    mostly = max(parts, key=lambda n: abs(parts[n]), default="") if total > 0.0 else ""
    return Result(value, total, mostly)


def _uniform(
    contents: JobContents, known: Mapping[str, Known], target: float, name: str
) -> Uniform | None:
    chosen, volumes = chambers_before(contents, known["chamber"].value, name)
    if not volumes:
        return None
    areas = {
        m.subject: m.value.si
        for m in contents.measurements
        if m.quantity == "chamber open area" and m.subject in volumes and "depth" not in m.place
    }
    common = known["open area"]

    def own(subject: str) -> Known:
        use_own = common.origin is Origin.MEASURED and subject in areas
        return replace(common, value=areas[subject]) if use_own else common

    walls = {s: walls_of(contents, {**known, "open area": own(s)}) for s in volumes}
    try:
        return Uniform(chosen, volumes, uniform_plan(volumes, walls, target))
    except RangeError as error:  # the flat cut stands, and the sheet says why this does not
        return Uniform(chosen, volumes, None, str(error))


def _apexes(contents: JobContents, depth: float) -> tuple[ApexHeight, ...]:
    """Short side to deck of every port that has it."""
    order = {s.code: i for i, s in enumerate(contents.stages)}
    found: dict[str, list[tuple[int, str, float]]] = {}
    for m in contents.measurements:
        if m.quantity == "short side to deck":
            found.setdefault(m.subject, []).append((order.get(m.stage, -1), m.stage, m.value.si))
    made = []
    for port, items in found.items():
        readings = sorted(items)
        (_, first, before), (_, last, after) = readings[0], readings[-1]
        split = height_split(before, after, depth) if len(readings) > 1 else None
        made.append(ApexHeight(port, first, last if split else "", before, before - depth, split))
    return tuple(made)


def read_aim(aim: Aim, text: str) -> AsTyped:
    """Read a target as typed: cc, a bare ratio, mm or thou with their unit.

    Raises
    ------
    NumberError, UnitError
    """
    default = {Aim.CHAMBER: "cc", Aim.RATIO: "-", Aim.DEPTH: None}[aim]
    return read(text, AIM_KINDS[aim], default)


def read_given(texts: Iterable[str]) -> dict[str, AsTyped]:
    """Read numbers for one plan as typed: "name=number unit".

    Raises
    ------
    InputError, UnknownNameError, NumberError, UnitError
    """
    return read_numbers(texts, TERMS_BY_NAME, "number of a milling plan")
