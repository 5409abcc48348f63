"""Several parts of a shop to one: the same thing in two sheets becomes one thing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar, cast

from portwright.errors import InputError
from portwright.io.calibrations import same_constants
from portwright.model.bench import Calibration
from portwright.model.contents import JobContents, ShopContents
from portwright.model.head import Cam
from portwright.model.job import Stage
from portwright.model.run import Run

UNNAMED_CAM = "not named"
"""Card name of a lift table that came without its card."""

Thing = TypeVar("Thing")


def merge_contents(*parts: ShopContents) -> ShopContents:
    """One value with everything the parts hold.

    Things with the same name become one; where two parts fill the same field the earlier part
    wins.  Calibrations that turn readings into flow in the same way become one version, others
    get their own version number.

    Raises
    ------
    InputError
        One run number is used for two different runs.
    """
    if not parts:
        return ShopContents()
    merged = parts[0]
    for part in parts[1:]:
        merged = _merge_two(merged, part)
    return merged


def _merge_two(one: ShopContents, two: ShopContents) -> ShopContents:
    calibrations, versions = _calibrations(one.calibrations, two.calibrations)
    jobs = tuple(_renumbered(job, versions) for job in two.jobs)
    return ShopContents(
        shop=_filled(one.shop, two.shop),
        castings=unique(one.castings + two.castings, lambda c: c.number),
        benches=unique(one.benches + two.benches, lambda b: b.code),
        calibrations=calibrations,
        plate_checks=one.plate_checks + two.plate_checks,
        jobs=_jobs(one.jobs, jobs),
        source="; ".join(dict.fromkeys(s for s in (one.source, two.source) if s)),
    )


def _filled(one: Thing, two: Thing) -> Thing:
    """The first thing, its blanks filled from the second."""
    if one is None or two is None:
        return two if one is None else one
    changes: dict[str, Any] = {}
    for item in fields(cast("Any", one)):
        mine, theirs = getattr(one, item.name), getattr(two, item.name)
        if isinstance(mine, dict):
            changes[item.name] = {**theirs, **mine}
        elif mine in {None, ""} or mine == ():
            changes[item.name] = theirs
    return cast("Thing", replace(cast("Any", one), **changes))


def unique(things: Iterable[Thing], name: Callable[[Thing], str]) -> tuple[Thing, ...]:
    """Things of the same name become one, blanks filled from the later."""
    found: dict[str, Thing] = {}
    for thing in things:
        found[name(thing)] = _filled(found[name(thing)], thing) if name(thing) in found else thing
    return tuple(found.values())


def _calibrations(
    one: Sequence[Calibration], two: Sequence[Calibration]
) -> tuple[tuple[Calibration, ...], dict[tuple[str, int], int]]:
    """Calibrations of both, and the version each of the second's now has."""
    kept = list(one)
    versions: dict[tuple[str, int], int] = {}
    for calibration in two:
        key = (calibration.bench, calibration.version)
        at = next((i for i, c in enumerate(kept) if same_constants(c, calibration)), None)
        if at is not None:
            earliest = min(kept[at].valid_from, calibration.valid_from)
            kept[at] = replace(kept[at], valid_from=earliest)
            versions[key] = kept[at].version
            continue
        used = {c.version for c in kept if c.bench == calibration.bench}
        version = calibration.version if calibration.version not in used else max(used) + 1
        kept.append(replace(calibration, version=version))
        versions[key] = version
    return tuple(kept), versions


def _renumbered(job: JobContents, versions: dict[tuple[str, int], int]) -> JobContents:
    runs = tuple(
        replace(run, calibration=versions.get((run.bench, run.calibration), run.calibration))
        for run in job.runs
    )
    return replace(job, runs=runs)


def _jobs(one: Sequence[JobContents], two: Sequence[JobContents]) -> tuple[JobContents, ...]:
    found = {job.job.number: job for job in one}
    for job in two:
        number = job.job.number
        found[number] = _merge_job(found[number], job) if number in found else job
    return tuple(found.values())


def _merge_job(one: JobContents, two: JobContents) -> JobContents:
    return JobContents(
        job=_filled(one.job, two.job),
        heads=unique(one.heads + two.heads, lambda h: h.code),
        ports=unique(one.ports + two.ports, lambda p: p.code),
        stages=merge_stages(one.stages, two.stages),
        measurements=one.measurements + two.measurements,
        cams=_cams(one.cams + two.cams),
        rows=one.rows + two.rows,
        notes=one.notes + two.notes,
        entries=unique(one.entries + two.entries, lambda e: e.key),
        engine_runs=unique(one.engine_runs + two.engine_runs, lambda r: r.key),
        runs=unique_runs(one.runs + two.runs),
    )


def merge_stages(one: Sequence[Stage], two: Sequence[Stage]) -> tuple[Stage, ...]:
    """Stages of both in order of work: a new one goes right after the stage it followed."""
    order = list(one)
    place = -1
    for stage in two:
        at = next((i for i, known in enumerate(order) if known.code == stage.code), None)
        if at is None:
            at = place + 1 if place >= 0 else len(order)
            order.insert(at, stage)
        else:
            order[at] = _filled(order[at], stage)
        place = at
    return tuple(order)


def _cams(cams: Sequence[Cam]) -> tuple[Cam, ...]:
    """Cams by card; a lift table without a card belongs to the only card there is."""
    named = {cam.card for cam in cams if cam.card != UNNAMED_CAM}
    if len(named) == 1:
        cams = [replace(cam, card=next(iter(named))) for cam in cams]
    return unique(cams, lambda c: c.card)


def unique_runs(runs: Iterable[Run]) -> tuple[Run, ...]:
    """Runs by number; the same run met twice is one.

    Raises
    ------
    InputError
        One run number is used for two different runs.
    """
    found: dict[str, Run] = {}
    for run in runs:
        if found.setdefault(run.code, run) != run:
            raise InputError(
                f"Run {run.code} is there twice with different readings.",
                "Give each sweep its own run number; repeats are numbered in a column repeat.",
            )
    return tuple(found.values())
