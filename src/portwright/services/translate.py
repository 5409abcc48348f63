"""What a sweep reads here and would read on another bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from portwright.archive.archive import Archive
from portwright.core.comparison import BandGain, Comparison, Gain, LiftGain, Verdict
from portwright.core.curve import Array, FlowCurve, make_curve
from portwright.core.lift_bands import band_weights, lift_bands
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.core.translation import BenchRelation, Predicted, relate_benches
from portwright.errors import Finding, InputError, Severity
from portwright.model.head import Side
from portwright.services.common_tests import (
    CommonTests,
    aligned,
    common_tests,
    covariance_of,
    set_up_of,
)
from portwright.services.compare import (
    RunComparison,
    archive_pressure,
    choose,
    describe_group,
    find_group,
    pressure_law,
)
from portwright.services.findings import CheckedJob, check_job
from portwright.services.reduce import ReducedRun
from portwright.services.set_ups import differences, total
from portwright.services.sweeps import port_named
from portwright.services.valves import valve_at

_NOT_STRAIGHT = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class BenchTranslation:
    """How the readings of one bench become those of another.

    Parameters
    ----------
    here, there : str
        Bench codes.
    side : Side
    tests : CommonTests
        What was tested on both, each with its own ratio.
    relation : BenchRelation
    findings : tuple of Finding
    """

    here: str
    there: str
    side: Side
    tests: CommonTests
    relation: BenchRelation
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Translated:
    """A sweep, or the mean of its repeats, as the other bench would read it.

    Parameters
    ----------
    translation : BenchTranslation
    label, job, port, stage : str
    runs : tuple of str
        Sweeps it stands on.
    lift : ndarray, shape (n,)
        [m]
    covered : ndarray of bool, shape (n,)
        False where the flow was never tested on both benches: nothing is extended. [-]
    here, there : ndarray, shape (n,)
        Effective area as read, and as it would read; NaN where not covered. [m2]
    low, high : ndarray, shape (n,)
        95 % interval of the true reading there. [m2]
    sweep_low, sweep_high : ndarray, shape (n,)
        95 % interval of one sweep there, with its own error. [m2]
    predicted : Predicted
        For the covered lifts.
    findings : tuple of Finding
    """

    translation: BenchTranslation
    label: str
    job: str
    port: str
    stage: str
    runs: tuple[str, ...]
    lift: Array
    covered: NDArray[np.bool_]
    here: Array
    there: Array
    low: Array
    high: Array
    sweep_low: Array
    sweep_high: Array
    predicted: Predicted
    findings: tuple[Finding, ...]


def learn_translation(
    archive: Archive, here: str, there: str, side: Side = Side.INTAKE
) -> BenchTranslation:
    """Learn how ``there`` reads what ``here`` reads, for one side of the head.

    Raises
    ------
    InputError
        The same bench twice, an unknown bench, or nothing tested on both.
    ShapeError, RangeError
        Too little for a curve against flow.
    """
    known = [b.code for b in archive.benches()]
    for bench in (here, there):
        if bench not in known:
            raise InputError(f"There is no bench {bench}.", f"Benches: {', '.join(known)}.")
    if here == there:
        raise InputError(
            f"A translation needs two different benches, not {here} twice.", "Name the other one."
        )
    tests = common_tests(archive, here, there, side)
    relation = relate_benches(tests.points)
    return BenchTranslation(here, there, side, tests, relation, tuple(_limits(tests, relation)))


def _limits(tests: CommonTests, relation: BenchRelation) -> list[Finding]:
    found = []
    if relation.heads == 0:
        found.append(
            Finding(
                "no-travelling-head",
                Severity.WARNING,
                "Only plates were tested on both benches. What adapter and inlet aid do to a head "
                "is not in them; uncertainty is added.",
                "Test one head at the same lifts on both benches.",
            )
        )
    elif relation.heads == 1:
        found.append(
            Finding(
                "one-travelling-head",
                Severity.NOTE,
                "One head was tested on both benches. How differently other heads would behave is "
                "taken from common practice.",
                "Each further head on both benches narrows the interval.",
            )
        )
    if relation.misfit < _NOT_STRAIGHT:
        found.append(
            Finding(
                "benches-differ-unevenly",
                Severity.WARNING,
                "The difference of the two benches does not follow one curve against flow: the "
                "points lie further off than their errors explain.",
                "Look for a range change, a leak or a damaged plate on one bench.",
                size=relation.misfit,
            )
        )
    for article in tests.articles:
        if article.differences:
            texts = "; ".join(d.text for d in article.differences)
            found.append(
                Finding(
                    "set-up-differs",
                    Severity.NOTE,
                    f"{article.name} counts less: {texts}.",
                    "",
                    size=total(article.differences),
                )
            )
    return found


def translate(archive: Archive, name: str, there: str, *, job: str = "") -> Translated:
    """What a run, or a port at a stage, would read on another bench.

    Parameters
    ----------
    name : str
        As for :func:`portwright.services.compare.compare_names`.
    there : str
        Bench code.
    job : str
        Job for "PORT:STAGE" names.

    Raises
    ------
    InputError, UnknownNameError, ShapeError, RangeError
    """
    number, run, port, stage = find_group(archive, name, job)
    checked = check_job(archive, number)
    return translate_runs(archive, checked, choose(checked, run, port, stage), there)


def translate_runs(
    archive: Archive, checked: CheckedJob, runs: Sequence[ReducedRun], there: str
) -> Translated:
    """As :func:`translate` for repeats already chosen.

    Raises
    ------
    InputError
        No sound sweep among them, or they are on ``there`` already.
    """
    codes = {r.run.code for r in checked.sound()}
    sound = [r for r in runs if r.run.code in codes and r.curve is not None]
    if not sound:
        raise InputError("No sound sweep is left to translate.", "Look at its findings.")
    first = sound[0].run
    if first.bench == there:
        raise InputError(
            f"{first.port} {first.stage} was swept on {there} already.", "Name another bench."
        )
    port = port_named(checked.contents, first.port)
    side = port.side if port else Side.INTAKE
    translation = learn_translation(archive, first.bench, there, side)
    curve = sound[0].curve
    grid = curve.lift if curve is not None else np.empty(0)
    rep = checked.repeatability.get(first.bench, SHOP_DEFAULT)
    mean = aligned(sound, grid, rep, first.bench)
    usual = translation.tests.set_ups[0]
    unlike = differences(set_up_of(sound[0]), usual, side) if usual is not None else ()
    log_here = np.log(mean.area)
    covered = translation.relation.covers(log_here)
    added = total(unlike)
    predicted = translation.relation.predict(
        log_here[covered], covariance_of(mean)[np.ix_(covered, covered)], added
    )
    target = checked.repeatability.get(there) or _figures(archive, checked, there)
    centre = np.full(grid.size, np.nan)
    centre[covered] = predicted.log_area
    one = target.common**2 + target.session**2 + target.reading**2
    intervals = []
    for extra in (0.0, one):
        low, high = predicted.interval(added=np.full(int(covered.sum()), extra))
        ends = np.full((2, grid.size), np.nan)
        ends[0, covered], ends[1, covered] = low, high
        intervals += [np.exp(centre + ends[0]), np.exp(centre + ends[1])]
    found = list(translation.findings)
    if unlike:
        found.append(
            Finding(
                "conditions-differ",
                Severity.WARNING,
                f"This sweep was not made as those on both benches: "
                f"{'; '.join(d.text for d in unlike)}. ± {100 * added:.1f} % is added.",
                "",
                size=added,
            )
        )
    if not np.all(covered):
        lifts = ", ".join(f"{v * 1e3:.2f}" for v in grid[~covered])
        found.append(
            Finding(
                "not-translated",
                Severity.WARNING,
                f"Not translated at {lifts} mm: no plate or head of that flow was on both benches.",
                "Test a plate or head of that flow on both; nothing is extended.",
                size=float((~covered).sum()),
            )
        )
    return Translated(
        translation,
        f"{first.port} {first.stage}",
        first.job,
        first.port,
        first.stage,
        tuple(r.run.code for r in sound),
        grid,
        covered,
        mean.area,
        np.exp(centre),
        intervals[0],
        intervals[1],
        intervals[2],
        intervals[3],
        predicted,
        tuple(found),
    )


def _figures(archive: Archive, checked: CheckedJob, bench: str) -> Repeatability:
    """Repeatability of a bench the job was not swept on, from a job that was."""
    newest = archive.runs_of_bench(bench, 1)
    if not newest or newest[0].job == checked.contents.job.number:
        return SHOP_DEFAULT
    return check_job(archive, newest[0].job).repeatability.get(bench, SHOP_DEFAULT)


def compare_translated(
    archive: Archive,
    before: tuple[CheckedJob, Sequence[ReducedRun]],
    after: tuple[CheckedJob, Sequence[ReducedRun]],
) -> RunComparison:
    """Compare sweeps of two benches, the earlier translated to the bench of the later.

    Gains, bands and verdicts carry the uncertainty of the translation.

    Parameters
    ----------
    before, after : tuple
        Checked job and the repeats chosen in it.

    Raises
    ------
    InputError
        Nothing sound, nothing tested on both benches, or no lifts in common.
    """
    sound = {r.run.code for r in after[0].sound()}
    later = [r for r in after[1] if r.run.code in sound and r.curve is not None]
    if not later:
        raise InputError("No sound sweep of the later side is left.", "Look at its findings.")
    bench = later[0].run.bench
    old = translate_runs(archive, before[0], before[1], bench)
    curve = _curve(old)
    lifts = [r.curve.lift for r in later if r.curve is not None]
    top = min(float(v[-1]) for v in lifts)
    bottom = max(float(v[0]) for v in lifts)
    keep = (curve.lift >= bottom - 1e-9) & (curve.lift <= top + 1e-9)
    grid = curve.lift[keep]
    if grid.size < 2:
        raise InputError(
            "The two sweeps share fewer than two lifts that can be translated.",
            "Sweep the same lifts.",
        )
    rep = after[0].repeatability.get(bench, SHOP_DEFAULT)
    new = aligned(later, grid, rep, bench)
    shape = valve_at(after[0].contents, later[0].run.port, later[0].run.stage)
    spans = () if shape is None else band_weights(grid, shape.head_diameter, lift_bands())
    rows = np.vstack([np.eye(grid.size), *(s.weight[None, :] for s in spans)])
    old_area = curve.area[keep]
    functional = _Both(
        _places(old, keep),
        rows * old_area / (rows @ old_area)[:, None],
        rows * new.area / (rows @ new.area)[:, None],
    )
    gains = _gains(old.predicted, functional, rows @ old_area, rows @ new.area, covariance_of(new))
    comparison = Comparison(
        lifts=tuple(
            LiftGain(float(x), g, True) for x, g in zip(grid, gains[: grid.size], strict=True)
        ),
        bands=tuple(
            BandGain(s.band, s.low, s.high, g)
            for s, g in zip(spans, gains[grid.size :], strict=True)
        ),
        over_cam=None,
        cam_weights=None,
        findings=(),
    )
    said = Finding(
        "translated",
        Severity.NOTE,
        f"{old.label} of {old.job} was swept on {old.translation.here}; it is shown as "
        f"{bench} would read it, with the uncertainty of that.",
        "",
    )
    groups = [describe_group(c, r) for c, r in (before, after)]
    if groups[0].label == groups[1].label:
        groups = [replace(g, label=f"{g.label} ({g.job})") for g in groups]
    return RunComparison(
        groups[0],
        groups[1],
        comparison,
        archive_pressure(archive),
        pressure_law(later[0]),
        "",
        (said, *old.findings),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Both:
    """How translated and later readings enter each gain."""

    place: NDArray[np.int64]
    before: Array
    after: Array


def _curve(old: Translated) -> FlowCurve:
    if int(old.covered.sum()) < 2:
        raise InputError(
            "Fewer than two lifts can be translated.",
            "Test plates or a head of that flow on both benches.",
        )
    return make_curve(old.lift[old.covered], old.there[old.covered])


def _places(old: Translated, keep: NDArray[np.bool_]) -> NDArray[np.int64]:
    found: NDArray[np.int64] = np.flatnonzero(keep[: int(old.covered.sum())])
    return found


def _gains(
    predicted: Predicted, both: _Both, before: Array, after: Array, new: Array
) -> list[Gain]:
    weights = np.zeros((before.size, predicted.log_area.size))
    weights[:, both.place] = both.before
    extra = np.einsum("mi,ij,mj->m", both.after, new, both.after)
    wide = predicted.interval(weights, extra, 0.95)
    narrow = predicted.interval(weights, extra, 0.90)
    out = []
    for k in range(before.size):
        ratio = float(np.log(after[k] / before[k]))
        # the interval is that of the earlier side, which enters with the other sign
        low, high = ratio - float(wide[1][k]), ratio - float(wide[0][k])
        if low > 0.0 or high < 0.0:
            verdict = Verdict.REAL
        elif ratio - float(narrow[1][k]) > 0.0 or ratio - float(narrow[0][k]) < 0.0:
            verdict = Verdict.PROBABLY
        else:
            verdict = Verdict.CANT_TELL
        out.append(
            Gain(
                before=float(before[k]),
                after=float(after[k]),
                gain=float(np.expm1(ratio)),
                low=float(np.expm1(low)),
                high=float(np.expm1(high)),
                deviation=(high - low) / 3.92,
                degrees_of_freedom=float("inf"),
                verdict=verdict,
            )
        )
    return out


def compare_names_translated(
    archive: Archive, before: str, after: str, *, job: str = ""
) -> RunComparison:
    """As :func:`compare_translated` for two names.

    Raises
    ------
    InputError, UnknownNameError, ShapeError, RangeError
    """
    sides = [find_group(archive, name, job) for name in (before, after)]
    checked = {number: check_job(archive, number) for number in {s[0] for s in sides}}
    old, new = (
        (checked[number], choose(checked[number], run, port, stage))
        for number, run, port, stage in sides
    )
    return compare_translated(archive, old, new)
