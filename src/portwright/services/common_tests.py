"""What was tested on both of two benches: plates, and heads in one state."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.alignment import Aligned, align, common_lifts
from portwright.core.curve import Array
from portwright.core.gasflow import jet_velocity
from portwright.core.metering import REFERENCE_DENSITY
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.core.translation import CommonPoints
from portwright.core.uncertainty import sweep_budget
from portwright.errors import InputError
from portwright.model.bench import PlateCheck
from portwright.model.head import Side
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun
from portwright.services.set_ups import Difference, SetUp, across, differences, total, usual_set_up
from portwright.services.sweeps import port_named, session_of
from portwright.units import Kind, to_si

_PLATE_FLOW_AT = to_si(28.0, "inH2O", Kind.PRESSURE)
_LEAST_PLATE_SPREAD = 0.001  # a repeat of equal last digits does not show an exact bench


@dataclass(frozen=True, slots=True, eq=False)
class Article:
    """One thing tested on both benches.

    Parameters
    ----------
    name : str
    head : bool
        False for a plate.
    here, there : ndarray, shape (n,)
        Effective area on each bench. [m2]
    deviation : ndarray, shape (n,)
        Standard uncertainty of the ratio from measuring alone. [-]
    set_ups : tuple of SetUp
        Here and there; empty for a plate.
    differences : tuple of Difference
        What in its set-up is unlike the other heads.
    """

    name: str
    head: bool
    here: Array
    there: Array
    deviation: Array
    set_ups: tuple[SetUp, ...] = ()
    differences: tuple[Difference, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class CommonTests:
    """Everything tested on both benches.

    Parameters
    ----------
    articles : tuple of Article
    points : CommonPoints
    set_ups : tuple of SetUp or None
        Usual set-up here and there for the heads.
    """

    articles: tuple[Article, ...]
    points: CommonPoints
    set_ups: tuple[SetUp | None, SetUp | None]


class _Errors:
    """Covariance of many points, in which errors of one name are shared."""

    def __init__(self, size: int) -> None:
        self.alone = np.zeros((size, size))
        self.shared: dict[str, Array] = defaultdict(lambda: np.zeros(size))

    def add(self, rows: slice, side: Aligned) -> None:
        for share, matrix, budget in zip(side.share, side.matrix, side.budgets, strict=True):
            weight = share[:, None] * matrix
            for part in budget.components:
                if part.key:
                    self.shared[part.key][rows] += weight @ part.deviation
                else:
                    noise = weight * part.deviation
                    self.alone[rows, rows] += noise @ noise.T

    def covariance(self) -> Array:
        total_ = self.alone.copy()
        for vector in self.shared.values():
            total_ += np.outer(vector, vector)
        return total_


def aligned(
    runs: Sequence[ReducedRun], grid: Array, repeatability: Repeatability, bench: str
) -> Aligned:
    """Sweeps of one bench at common lifts, with their errors of measurement."""
    curves = [r.curve for r in runs if r.curve is not None]
    budgets = [
        sweep_budget(
            curve,
            repeatability,
            sweep=f"{run.run.job}/{run.run.code}",
            bench=bench,
            calibration=bench,
            calibration_uncertainty=0.0,  # what the bench itself is off by is the relation
            session=session_of(run.run),
        )
        for run, curve in zip(runs, curves, strict=True)
    ]
    return align(grid, curves, budgets)


def covariance_of(side: Aligned) -> Array:
    """Relative covariance of the mean of aligned sweeps, shape (n, n). [-]"""
    errors = _Errors(side.area.size)
    errors.add(slice(None), side)
    return errors.covariance()


def sweeps_of(
    checked: CheckedJob, bench: str, port: str, stage: str
) -> tuple[list[ReducedRun], SetUp | None]:
    """Sound sweeps of a port and stage on a bench, those of the set-up most of them share."""
    found = [
        r for r in checked.sound() if (r.run.bench, r.run.port, r.run.stage) == (bench, port, stage)
    ]
    usual = usual_set_up(set_up_of(r) for r in found)
    return [r for r in found if set_up_of(r) == usual], usual


def set_up_of(item: ReducedRun) -> SetUp:
    """Set-up of a sweep."""
    pressure = float(item.pressure[-1]) if item.pressure.size else 0.0
    return SetUp.of(item.run.conditions, round(pressure, 3))


def common_tests(archive: Archive, here: str, there: str, side: Side) -> CommonTests:
    """Plates, and heads of one side, that both benches have tested.

    Raises
    ------
    InputError
        Nothing was tested on both.
    """
    plates = _plates(archive.plate_checks(), here, there)
    heads: list[tuple[str, list[tuple[list[ReducedRun], SetUp, Repeatability]]]] = []
    checked: dict[str, CheckedJob] = {}
    for job, port, stage in archive.states_on_both(here, there):
        if job not in checked:
            checked[job] = check_job(archive, job)
        known = port_named(checked[job].contents, port)
        if known is None or known.side is not side:
            continue
        sides = []
        for bench in (here, there):
            runs, shared = sweeps_of(checked[job], bench, port, stage)
            if shared is not None:
                rep = checked[job].repeatability.get(bench, SHOP_DEFAULT)
                sides.append((runs, shared, rep))
        if len(sides) == 2:
            heads.append((f"{job} {port} {stage}", sides))
    if not plates and not heads:
        raise InputError(
            f"Nothing was tested on both {here} and {there}.",
            "Test the same plates and one travelling head on both benches.",
        )
    usual = [usual_set_up(s[k][1] for _, s in heads for _ in s[k][0]) for k in range(2)]
    return _together(plates, heads, (here, there), (usual[0], usual[1]), side)


@dataclass(frozen=True, slots=True)
class _Plate:
    name: str
    here: float
    there: float
    own: tuple[float, float]
    sessions: tuple[str, str]


def _plates(checks: Iterable[PlateCheck], here: str, there: str) -> list[_Plate]:
    """Each plate of each day here with the nearest day it was tested there."""
    found: dict[tuple[str, str], dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    squares: dict[str, list[float]] = defaultdict(list)
    for check in checks:
        if check.bench in {here, there}:
            found[check.bench, check.plate][check.date].append(math.log(check.measured.si))
    for (bench, _), days in found.items():
        for values in days.values():
            squares[bench] += list(np.square(np.array(values) - np.mean(values)))
    spread = {
        bench: max(
            (sum(values) / max(len(values) - _days(found, bench), 1)) ** 0.5, _LEAST_PLATE_SPREAD
        )
        for bench, values in squares.items()
    }
    out = []
    for (bench, plate), days in found.items():
        others = found.get((there, plate))
        if bench != here or not others:
            continue
        for day, values in days.items():
            near = min(others, key=lambda d: (_apart(d, day), d))
            out.append(
                _Plate(
                    f"plate {plate}" + (f" of {day}" if len(days) > 1 else ""),
                    float(np.mean(values)),
                    float(np.mean(others[near])),
                    (
                        spread[here] / len(values) ** 0.5,
                        spread[there] / len(others[near]) ** 0.5,
                    ),
                    (day, near),
                )
            )
    return out


def _days(found: dict[tuple[str, str], dict[str, list[float]]], bench: str) -> int:
    return sum(len(days) for (b, _), days in found.items() if b == bench)


def _apart(one: str, other: str) -> float:
    """Days between two ISO dates, roughly; what is not a date is far away."""
    try:
        a, b = np.datetime64(one[:10]), np.datetime64(other[:10])
        return abs(float((a - b) / np.timedelta64(1, "D")))
    except ValueError:
        return 1e6


def _together(
    plates: Sequence[_Plate],
    heads: Sequence[tuple[str, list[tuple[list[ReducedRun], SetUp, Repeatability]]]],
    benches: tuple[str, str],
    usual: tuple[SetUp | None, SetUp | None],
    side: Side,
) -> CommonTests:
    grids = [
        common_lifts(*([r.curve for r in runs if r.curve is not None] for runs, _, _ in sides))
        for _, sides in heads
    ]
    size = len(plates) + sum(g.size for g in grids)
    errors = (_Errors(size), _Errors(size))
    logs = np.empty((2, size))
    added, article = np.zeros(size), np.zeros(size, dtype=np.int64)
    articles: list[Article] = []
    velocity = float(jet_velocity(REFERENCE_DENSITY, _PLATE_FLOW_AT))
    session = [next((s[k][2].session for _, s in heads), SHOP_DEFAULT.session) for k in range(2)]
    for place, plate in enumerate(plates):
        logs[:, place] = np.array([plate.here, plate.there]) - np.log(velocity)
        for k, bench in enumerate(benches):
            errors[k].alone[place, place] += plate.own[k] ** 2
            errors[k].shared[f"session {bench} {plate.sessions[k]}"][place] += session[k]
        article[place] = place
    start = len(plates)
    for number, ((name, sides), grid) in enumerate(zip(heads, grids, strict=True)):
        rows = slice(start, start + grid.size)
        start += grid.size
        unlike: list[Difference] = []
        for k, (runs, set_up, rep) in enumerate(sides):
            part = aligned(runs, grid, rep, benches[k])
            errors[k].add(rows, part)
            logs[k, rows] = np.log(part.area)
            normal = usual[k]
            unlike += [] if normal is None else differences(set_up, normal, side)
        unlike += across(sides[0][1], sides[1][1], side)
        added[rows], article[rows] = total(unlike), len(plates) + number
        articles.append(
            Article(
                name,
                True,
                np.exp(logs[0, rows]),
                np.exp(logs[1, rows]),
                np.empty(0),
                (sides[0][1], sides[1][1]),
                tuple(unlike),
            )
        )
    covariances = [e.covariance() for e in errors]
    deviation = np.sqrt(np.diagonal(covariances[0] + covariances[1]))
    is_head = article >= len(plates)
    points = CommonPoints(logs[0], logs[1], covariances[0], covariances[1], article, is_head, added)
    plain = [
        Article(p.name, False, np.exp(logs[0, k : k + 1]), np.exp(logs[1, k : k + 1]), np.empty(0))
        for k, p in enumerate(plates)
    ]
    listed = [
        Article(a.name, a.head, a.here, a.there, deviation[article == k], a.set_ups, a.differences)
        for k, a in enumerate((*plain, *articles))
    ]
    return CommonTests(tuple(listed), points, usual)
