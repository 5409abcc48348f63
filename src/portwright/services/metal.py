"""Wall left round the ports of a job."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from portwright import units
from portwright.core.port.limits import PortLimits
from portwright.core.port.metal import WallLimits, WallState, held_back, metal_to_take, wall_state
from portwright.errors import Finding, InputError, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Measurement
from portwright.services.display import Display
from portwright.services.landmarks import belongs_to, landmark_in, names_side, place_of
from portwright.services.port_limits import limits_of
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_JOBS_LOOKED_AT = 30  # jobs of one casting
_LIMIT = re.compile(r"shop minimum (?P<value>[^;]+)")


@dataclass(frozen=True, slots=True)
class Wall:
    """One place of a wall, through the stages.

    Parameters
    ----------
    subject : str
        Cylinder or port it was read on.
    place : str
        In the words of the sheet.
    landmark : str
        Landmark it lies at, "" where the words name none.
    side : Side or None
        Port side the words name.
    readings : tuple of (stage, thickness)
        In the order of work. [m]
    planned : float or None
        Cut meant to be taken from the first reading. [m]
    limits : WallLimits
        What must stay.
    held_back : bool
        The same cut was planned deeper on the sister cylinders.
    sister_plans : tuple of float
        What was planned there. [m]
    """

    subject: str
    place: str
    landmark: str
    side: Side | None
    readings: tuple[tuple[str, float], ...]
    planned: float | None
    limits: WallLimits
    held_back: bool = False
    sister_plans: tuple[float, ...] = ()

    @property
    def now(self) -> float:
        """Newest reading. [m]"""
        return self.readings[-1][1]

    @property
    def state(self) -> WallState:
        """What the newest reading allows."""
        return wall_state(self.now, self.limits)

    @property
    def first(self) -> float:
        """Reading before the work: the newest of the first stage. [m]"""
        stage = self.readings[0][0]
        return [value for at, value in self.readings if at == stage][-1]

    @property
    def sounded_since(self) -> bool:
        """Sounded at a later stage than the one the plan counts from."""
        return self.readings[-1][0] != self.readings[0][0]

    @property
    def after_plan(self) -> float | None:
        """What the first reading less the plan leaves, None without a plan. [m]"""
        return None if self.planned is None else self.first - self.planned

    @property
    def to_take(self) -> float:
        """Metal that may still go, the reading's error kept in hand. [m]"""
        return metal_to_take(self.now, self.limits)


def walls(
    contents: JobContents, limits: PortLimits | None = None, stage: str = ""
) -> tuple[Wall, ...]:
    """Every wall of a job that was read, thinnest over its limit first.

    Parameters
    ----------
    contents : JobContents
    limits : PortLimits, optional
        Used where the sheet names no limit of its own.
    stage : str
        Readings of later stages are left out; "" takes all.
    """
    chosen = limits or PortLimits()
    order = [s.code for s in contents.stages]
    until = order.index(stage) if stage in order else len(order)
    read: dict[tuple[str, str], list[Measurement]] = {}
    plans: dict[tuple[str, str], Measurement] = {}
    typed: dict[tuple[str, str], float] = {}
    for m in contents.measurements:
        key = (m.subject, place_of(m).words)
        if m.quantity == "planned cut":
            plans[key] = m
        elif m.quantity == "wall limit":
            typed[key] = m.value.si
        elif m.quantity == "wall thickness" and (
            m.stage not in order or order.index(m.stage) <= until
        ):
            read.setdefault(key, []).append(m)
    found = []
    for key, items in read.items():
        least = typed.get(key, _limit_of(items, chosen))
        found.append(_wall(key, items, plans, order, WallLimits(least, chosen.wall_error)))
    return tuple(sorted(found, key=lambda w: (w.now - w.limits.least, w.subject, w.place)))


def _wall(
    key: tuple[str, str],
    items: Sequence[Measurement],
    plans: dict[tuple[str, str], Measurement],
    order: Sequence[str],
    limits: WallLimits,
) -> Wall:
    subject, place = key
    items = sorted(items, key=lambda m: order.index(m.stage) if m.stage in order else -1)
    plan = plans.get(key)
    sisters = [p.value.si for (s, where), p in plans.items() if where == place and s != subject]
    planned = plan.value.si if plan else None
    side = next((s for s in Side if s.value in place.lower()), None) if names_side(place) else None
    return Wall(
        subject,
        place,
        landmark_in(place),
        side,
        tuple((m.stage, m.value.si) for m in items),
        planned,
        limits,
        planned is not None and held_back(planned, sisters, limits.reading_error),
        tuple(sisters),
    )


def _limit_of(items: Sequence[Measurement], limits: PortLimits) -> float:
    """Limit the sheet names beside the reading, else the shop's. [m]"""
    for m in reversed(items):
        named = _LIMIT.search(m.note)
        if named:
            try:
                return units.read(named["value"].strip(), Kind.LENGTH).si
            except InputError:
                continue
    return limits.wall_limit


def walls_of_port(contents: JobContents, port: Port, all_walls: Sequence[Wall]) -> tuple[Wall, ...]:
    """Walls that concern a port; readings that name neither side concern both ports."""

    def concerns(wall: Wall) -> bool:
        stand_in = Measurement(wall.subject, "wall thickness", _NOTHING, wall.place)
        return belongs_to(stand_in, port)

    return tuple(w for w in all_walls if concerns(w))


_NOTHING = units.typed(0.0, "mm", Kind.LENGTH)
_SEVERITY = {
    WallState.BELOW: Severity.FAULT,
    WallState.AT_LIMIT: Severity.FAULT,
    WallState.THIN: Severity.WARNING,
}


def wall_sentence(wall: Wall, display: Display) -> str:
    """What is left of a wall, in a sentence."""

    def shown(value: float) -> str:
        return display.length_text(value)

    text = f"{wall.subject}, {wall.place}: {shown(wall.now)} left, limit {shown(wall.limits.least)}"
    match wall.state:
        case WallState.BELOW:
            return f"{text}: below the limit."
        case WallState.AT_LIMIT:
            return f"{text}: at the limit, no metal here."
        case WallState.THIN:
            return f"{text}: within the error of the reading, no metal here."
        case WallState.FREE:
            return f"{text}: {shown(wall.to_take)} may go with the reading's error kept in hand."


def plan_sentence(wall: Wall, display: Display) -> str:
    """What the planned cut leaves, or what of it was taken; "" without a plan."""
    if wall.planned is None or wall.after_plan is None:
        return ""

    def shown(value: float) -> str:
        return display.length_text(value)

    planned = f"{shown(wall.planned)} planned"
    if wall.sounded_since:
        return f"{planned}, {shown(wall.first - wall.now)} taken since {wall.readings[0][0]}."
    left = f"{planned}, leaves {shown(wall.after_plan)}"
    match wall_state(wall.after_plan, wall.limits):
        case WallState.BELOW:
            return f"{left}: below the limit, plan less."
        case WallState.FREE:
            return f"{left}."
        case _:
            return f"{left}: at the limit within the reading's error, plan less or sound again."


def held_back_sentence(wall: Wall, display: Display) -> str:
    """Why a cut was smaller here than on the sisters, "" where it was not."""
    if not wall.held_back or wall.planned is None:
        return ""
    usual = sorted(wall.sister_plans)[len(wall.sister_plans) // 2]
    return (
        f"{wall.subject}, {wall.place}: held back by its wall. "
        f"{display.length_text(wall.planned)} planned where its sisters took "
        f"{display.length_text(usual)}."
    )


def metal_findings(
    contents: JobContents, limits: PortLimits | None = None, display: Display | None = None
) -> tuple[Finding, ...]:
    """Walls to be loud about: at, below or within reading error of the limit, or held back."""
    shown = display or Display()
    found = []
    for wall in walls(contents, limits):
        stage = wall.readings[-1][0]
        where = Where(job=contents.job.number, port=_port_of(contents, wall), stage=stage)
        severity = _SEVERITY.get(wall.state)
        if severity is not None:
            found.append(
                Finding(
                    "wall-at-limit",
                    severity,
                    wall_sentence(wall, shown),
                    "Take nothing more off here. Readings are spots: sound round it, and pressure "
                    "test before delivery.",
                    where,
                    size=wall.now - wall.limits.least,
                )
            )
        elif (
            wall.after_plan is not None
            and not wall_state(wall.after_plan, wall.limits).allows_cutting
            and not wall.sounded_since
        ):
            found.append(
                Finding(
                    "plan-to-the-limit",
                    Severity.WARNING,
                    f"{wall.subject}, {wall.place}: the planned cut leaves "
                    f"{shown.length_text(wall.after_plan)}, limit "
                    f"{shown.length_text(wall.limits.least)}.",
                    "Plan a smaller cut, or sound the wall again first.",
                    where,
                    size=wall.after_plan - wall.limits.least,
                )
            )
        text = held_back_sentence(wall, shown)
        if text:
            found.append(
                Finding("wall-held-back", Severity.NOTE, text, "Expect this port to differ.", where)
            )
    return tuple(found)


def _port_of(contents: JobContents, wall: Wall) -> str:
    """Port a wall belongs to, "" where its words do not tell; pushrods pass beside intakes."""
    if any(p.code == wall.subject for p in contents.ports):
        return wall.subject
    side = wall.side or (Side.INTAKE if "pushrod" in wall.place.lower() else None)
    for port in contents.ports:
        if port.side is side and f"cyl {port.cylinder}" == wall.subject:
            return port.code
    return ""


def earlier_thin_walls(
    shop: ShopFile, contents: JobContents, display: Display | None = None
) -> tuple[Finding, ...]:
    """Walls at their limit in other jobs of the same casting, newest job first."""
    casting = _plain(contents.job.casting)
    if not casting:
        return ()
    limits = limits_of(shop)
    others = [
        j for j in shop.jobs() if _plain(j.casting) == casting and j.number != contents.job.number
    ]
    found = []
    for job in others[:_JOBS_LOOKED_AT]:
        for finding in metal_findings(shop.job(job.number), limits, display):
            if finding.code == "wall-at-limit":
                message = f"Job {job.number}, same casting: {finding.message}"
                found.append(
                    replace(
                        finding,
                        severity=Severity.WARNING,
                        message=message,
                        hint="Sound the same place here before cutting.",
                    )
                )
    return tuple(found)


def _plain(casting: str) -> str:
    """Casting number without what people write differently."""
    return "".join(c for c in casting.casefold() if c.isalnum())


def loud_walls(
    shop: ShopFile, contents: JobContents, display: Display | None = None
) -> tuple[Finding, ...]:
    """Walls without metal to say on every screen of a casting: of this job, then earlier ones."""
    own = metal_findings(contents, limits_of(shop), display)
    return (
        *(f for f in own if f.code in {"wall-at-limit", "plan-to-the-limit"}),
        *earlier_thin_walls(shop, contents, display),
    )
