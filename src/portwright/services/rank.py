"""How good is it: one head among all of its class the shop has had on its benches."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from portwright.archive.archive import Archive
from portwright.archive.overview import PortOverview, Wanted
from portwright.core.lift_bands import DEFAULT_EDGES
from portwright.core.ranking import Standing, standing
from portwright.core.repeatability import SHOP_DEFAULT
from portwright.core.translation import BenchRelation
from portwright.errors import Finding, InputError, Severity
from portwright.model.head import Side
from portwright.services.classes import HeadClass
from portwright.services.known_benches import relation_of
from portwright.services.overviews import OF_PORTS, RECORDED, STEPS, mean_of, refresh
from portwright.services.rank_spots import (
    TOP,
    Measure,
    Member,
    MemberTable,
    areas_at,
    by_measure,
    spot,
)

_RECORDED_DEVIATION = 0.02  # of a peak copied from an old sheet without its sweep, our choice
_SWEEP_VARIANCE = SHOP_DEFAULT.common**2 + SHOP_DEFAULT.reading**2
_SESSION_VARIANCE = SHOP_DEFAULT.session**2
_NAMED = 6  # heads named in one sentence
_USUAL = (TOP, "0.10 L/D", "0.20 L/D", "0.25 L/D")


@dataclass(frozen=True, slots=True)
class Place:
    """Where the head stands at one lift or over one band.

    Parameters
    ----------
    at : str
        As asked: "8 mm", "0.25 L/D", "L/D 0.10 to 0.20", "highest lift".
    value : float
        Of the head, by the chosen measure: flow as effective area [m2], else a ratio. [-]
    standing : Standing or None
        None where no member can be compared.
    jobs : tuple of str
        Members that measured as high or higher, best first.
    """

    at: str
    value: float
    standing: Standing | None
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """One head among its class.

    Parameters
    ----------
    job, label, bench : str
    measure : Measure
    head_class : HeadClass
    own : Member
    members : tuple of Member
    places : tuple of Place
    findings : tuple of Finding
    """

    job: str
    label: str
    bench: str
    measure: Measure
    head_class: HeadClass
    own: Member
    members: tuple[Member, ...]
    places: tuple[Place, ...]
    findings: tuple[Finding, ...]


def rank(
    archive: Archive,
    job: str,
    head_class: HeadClass,
    *,
    port: str = "",
    stage: str = "",
    measure: Measure = Measure.PER_VALVE_AREA,
    told: Callable[[str], object] = lambda _: None,
) -> Ranking:
    """Rank a head among those of its class, on the bench it was swept on.

    Heads swept on another bench are translated with their uncertainty; where that cannot be done
    they are left out and named.  Another shop's figures are never among them.

    Parameters
    ----------
    port : str
        One port; "" takes the mean of all ports of the side.
    stage : str
        "" takes the last stage swept.

    Raises
    ------
    InputError
        The head was not swept there, or its valve is not known.
    """
    refresh(archive, told)
    own_rows = [
        r
        for r in archive.port_overviews(Wanted(side=head_class.side, job=job))
        if r.place in OF_PORTS
        and (not port or r.port == port)
        and (r.stage == stage if stage else r.place == "last")
    ]
    if not own_rows:
        raise InputError(
            f"Job {job} has no sound sweep of {port or head_class.side + ' ports'}"
            f"{' at ' + stage if stage else ''}.",
            "Sweep it, or choose another port or stage.",
        )
    bench = max({r.bench for r in own_rows}, key=lambda b: sum(r.bench == b for r in own_rows))
    sized = [r for r in own_rows if r.bench == bench and r.valve_diameter]
    if not sized:
        raise InputError(
            f"The valve of {port or 'the ports'} of {job} is not known.",
            "Enter the valve head diameter.",
        )
    own = _member(mean_of(sized, ""))
    fitting = archive.port_overviews(head_class.wanted())
    rows = [r for r in fitting if r.job != job]
    members, shared, findings = _members(archive, rows, bench, Side(head_class.side))
    if len(rows) == len(fitting):
        findings.append(
            Finding(
                "not-of-the-class",
                Severity.NOTE,
                f"{job} itself does not fit this class as entered; it is compared with it all "
                "the same.",
                "Choose the class by the facts of the head, or enter them on the job sheet.",
            )
        )
    findings += _untold(archive, head_class, job)
    label = f"{port or 'all ' + head_class.side + ' ports'} {stage or 'as last swept'}"
    heads = MemberTable.of([own, *members])
    places = tuple(
        _place(at, heads, [m.job for m in members], shared, measure)
        for at in (*(head_class.lifts or _USUAL), *_bands())
    )
    return Ranking(
        job,
        label,
        bench,
        measure,
        head_class,
        own,
        tuple(members),
        tuple(p for p in places if p.standing is not None or p.at in head_class.lifts),
        tuple(findings),
    )


def _untold(archive: Archive, head_class: HeadClass, job: str) -> list[Finding]:
    """Heads that may belong to the class, but nobody entered what it is chosen by."""
    asked = [
        *(["valve angle"] if head_class.angle_from or head_class.angle_to else []),
        *(["port location"] if head_class.location else []),
    ]
    if not asked:
        return []
    count = archive.count_jobs(replace(head_class.wanted(), untold=True), job)
    if not count:
        return []
    return [
        Finding(
            "facts-not-entered",
            Severity.NOTE,
            f"{count} more {'job has' if count == 1 else 'jobs have'} such heads but no "
            f"{' or '.join(asked)} entered, and {'is' if count == 1 else 'are'} not counted.",
            "Enter it once on the job sheet, for every job of the casting.",
        )
    ]


def _bands() -> tuple[str, ...]:
    edges = (0.04, *DEFAULT_EDGES)
    return tuple(f"L/D {a:.2f} to {b:.2f}" for a, b in pairwise(edges))


def _member(row: PortOverview, *, translated: bool = False) -> Member:
    """A head as it is ranked."""
    recorded = row.place == RECORDED
    own = _SWEEP_VARIANCE / row.sweeps + _SESSION_VARIANCE / row.sessions
    return Member(
        job=row.job,
        bench=row.bench,
        translated=translated,
        recorded=recorded,
        areas=row.areas,
        top_lift=row.top_lift,
        top_area=row.top_area,
        diameter=row.valve_diameter or math.nan,
        valves=row.valve_count,
        deviation=_RECORDED_DEVIATION if recorded else math.sqrt(own),
    )


def _members(
    archive: Archive, rows: Sequence[PortOverview], bench: str, side: Side
) -> tuple[list[Member], float, list[Finding]]:
    """Members of the class as ``bench`` reads them, and what the translated share. [-]"""
    by_job: dict[str, dict[str, PortOverview]] = {}
    for row in rows:
        benches = by_job.setdefault(row.job, {})
        # of one head with two kinds of valves on a side, the kind swept more often counts
        if row.bench not in benches or row.sweeps > benches[row.bench].sweeps:
            benches[row.bench] = row
    members: list[Member] = []
    others: dict[str, list[Member]] = {}
    for benches in by_job.values():
        if bench in benches:
            members.append(_member(benches[bench]))
        else:
            here = max(benches, key=lambda b: benches[b].sweeps)
            others.setdefault(here, []).append(_member(benches[here], translated=True))
    findings = []
    shared = 0.0
    for other, found in others.items():
        relation = relation_of(archive, other, bench, side)
        if relation is None:
            findings.append(
                Finding(
                    "not-translated",
                    Severity.WARNING,
                    f"Left out: {len(found)} heads swept on {other}. Too little was tested on "
                    f"both {other} and {bench} to translate them.",
                    "Test plates and a travelling head on both.",
                )
            )
            continue
        translated, common = _translated(found, relation)
        beyond = [m.job for m in translated if not math.isfinite(m.top_area)]
        if beyond:
            findings.append(
                Finding(
                    "beyond-what-was-tested",
                    Severity.WARNING,
                    f"Left out at its highest lift, where {other} reads more or less than anything "
                    f"tested on both benches: {_listed(beyond)}.",
                    "Test a plate or a head of that size on both.",
                )
            )
        members += translated
        shared += common**2 * len(translated)
        shown = sum(_counts_somewhere(m) for m in translated)
        if shown:
            findings.append(
                Finding(
                    "translated",
                    Severity.NOTE,
                    f"{_heads(shown, 'was', 'were')} swept on {other} and shown as {bench} would "
                    f"read {'it' if shown == 1 else 'them'}, with the uncertainty of that.",
                    "",
                )
            )
    recorded = sum(m.recorded and _counts_somewhere(m) for m in members)
    if recorded:
        findings.append(
            Finding(
                "recorded-peaks",
                Severity.NOTE,
                f"{_heads(recorded, 'is', 'are')} known only by the peak on an old job sheet, "
                "which counts near its own lift alone.",
                "Import the flow sheets if they are kept.",
            )
        )
    return members, math.sqrt(shared / max(len(members), 1)), findings


def _counts_somewhere(member: Member) -> bool:
    """Whether anything is left of a head as the chosen bench would read it."""
    return math.isfinite(member.top_area) or bool(np.isfinite(member.areas).any())


def _heads(count: int, one: str, more: str) -> str:
    return f"1 head {one}" if count == 1 else f"{count} heads {more}"


def _listed(names: Sequence[str]) -> str:
    shown = ", ".join(names[:_NAMED])
    return shown if len(names) <= _NAMED else f"{shown} and {len(names) - _NAMED} more"


def _translated(found: Sequence[Member], relation: BenchRelation) -> tuple[list[Member], float]:
    """Members as the other bench reads; flows never tested on both become unknown."""
    size = STEPS.size + 1
    logs = np.log(np.array([[*m.areas, m.top_area] for m in found]))
    flat = logs.ravel()
    ok = np.isfinite(flat) & relation.covers(np.nan_to_num(flat))
    there, own, shared = relation.each(np.where(ok, flat, relation.centre))
    areas = np.where(ok, np.exp(there), np.nan).reshape(-1, size)
    scatter = own.reshape(-1, size)[:, -1]
    return [
        replace(
            m,
            areas=areas[k, :-1],
            top_area=float(areas[k, -1]),
            deviation=math.hypot(m.deviation, float(scatter[k])),
        )
        for k, m in enumerate(found)
    ], float(np.mean(shared))


def _place(
    at: str, heads: MemberTable, jobs: Sequence[str], shared: float, measure: Measure
) -> Place:
    """Where the first of the heads stands among the rest, whose jobs are named."""
    with np.errstate(invalid="ignore"):
        area, ratio = areas_at(spot(at), heads)
        values = by_measure(measure, area, ratio, heads)
    value = float(values[0])
    usable: NDArray[np.int64] = np.flatnonzero(np.isfinite(values[1:])) + 1
    if not math.isfinite(value) or usable.size == 0:
        return Place(at, value, None, ())
    found = standing(
        math.log(value),
        math.hypot(float(heads.deviation[0]), shared),
        np.log(values[usable]),
        heads.deviation[usable],
    )
    above = usable[values[usable] >= value]
    best = above[np.argsort(-values[above], kind="stable")][:20]
    return Place(at, value, found, tuple(jobs[k - 1] for k in best))


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """One head's curve by the chosen measure.

    Parameters
    ----------
    name : str
        Job number.
    ratio : list of float
        L/D. [-]
    value : list of float
        Effective area in mm2, or a ratio. [-]
    """

    name: str
    ratio: list[float]
    value: list[float]


def cloud(found: Ranking) -> tuple[Cloud, list[Cloud]]:
    """Curve of the head and of every member, against L/D; a recorded peak is one point."""
    return _curve(found.own, found.measure), [_curve(m, found.measure) for m in found.members]


def _curve(member: Member, measure: Measure) -> Cloud:
    ratio = np.append(STEPS, member.top_lift / member.diameter)
    area = np.append(member.areas, member.top_area)
    order = np.argsort(ratio)
    ratio, area = ratio[order], area[order]
    known = np.isfinite(area) & (ratio <= member.top_lift / member.diameter + 1e-9)
    values = by_measure(measure, area[known], ratio[known], MemberTable.of([member]))
    if measure is Measure.FLOW:
        values = values * 1e6
    return Cloud(member.job, ratio[known].tolist(), values.tolist())
