"""Everything worth a look in a set of sweeps."""

from __future__ import annotations

from collections.abc import Sequence

from portwright.core.detection import conditions, shapes, wording
from portwright.core.detection.limits import DEFAULT_LIMITS, Limits
from portwright.core.detection.model import build, clusters
from portwright.core.detection.roughness import Roughness
from portwright.core.detection.search import Search, Verdict
from portwright.core.detection.swaps import SwapCandidates, misfiled_sides
from portwright.core.detection.sweeps import Group, SweepRecord, first_of_session, grouped
from portwright.core.repeatability import Repeatability
from portwright.errors import Finding


def find(
    records: Sequence[SweepRecord],
    repeatability: Repeatability,
    limits: Limits = DEFAULT_LIMITS,
    *,
    learned_here: bool = False,
) -> tuple[Finding, ...]:
    """Check all sweeps of a job against each other and each by itself.

    To check one run, pass it with its siblings and, for ports measured once, its sister ports;
    a run is judged by what surrounds it.

    Parameters
    ----------
    records : sequence of SweepRecord
        Sweeps of one job, in the order they were made.
    repeatability : Repeatability
        Of the shop, learned from as many repeats as there are.
    limits : Limits
        Shop limits.
    learned_here : bool
        Whether the repeatability was learned from these very sweeps, among others or not. A
        faulty sweep then widens the yardstick it is measured with, which is allowed for.

    Returns
    -------
    tuple of Finding
        First what was concluded from comparison, then conditions, then the shape of the curves;
        empty if nothing stands out. Findings about all repeats of a port name no run.

    Notes
    -----
    The comparison is a generalised likelihood-ratio test of the shapes in
    :mod:`portwright.core.detection.templates` within the model of
    :mod:`portwright.core.detection.model` (definition); rates measured on simulated jobs are in
    the theory pages.
    """
    groups = grouped(records)
    cold = {id(records[i]) for i in first_of_session(records)}
    verdicts, rough = _compare(groups, records, repeatability, limits, cold, learned_here)

    out: list[Finding] = []
    for verdict in verdicts:
        out += wording.verdict_findings(verdict, id(verdict.sweep) in cold)
    out += [
        wording.misfiled_port(group, side)
        for group, side in misfiled_sides(groups, repeatability, limits)
        if not any(v.sweep in group.sweeps for v in verdicts)
    ]
    out += [wording.rough(found) for found in rough]
    named = {(f.code, f.where.run, f.where.repeat, f.where.port, f.where.stage) for f in out}
    faulty = [v.sweep for v in verdicts] + [v.rival for v in verdicts if v.rival is not None]
    for sweep in records:
        leak = conditions.leak_check(sweep, limits)
        w = sweep.where
        if leak is not None and ("leak", w.run, w.repeat, w.port, w.stage) not in named:
            out.append(leak)
        out += conditions.coefficients(sweep, limits)
    for group in groups:
        out += conditions.missing(group, limits)
        out += conditions.pressure(group, limits)
        out += shapes.curve_shapes(group, faulty, rough, repeatability, limits)
    return tuple(out)


def _compare(
    groups: Sequence[Group],
    records: Sequence[SweepRecord],
    repeatability: Repeatability,
    limits: Limits,
    cold: set[int],
    learned_here: bool,
) -> tuple[list[Verdict], list[Roughness]]:
    usual = conditions.usual_leak(records)
    swaps = SwapCandidates(groups, repeatability, limits)
    verdicts: list[Verdict] = []
    rough: list[Roughness] = []
    for family in clusters(groups):
        sweeps = [sweep for group in family for sweep in group.sweeps]
        search = Search(
            build(family, repeatability, limits),
            repeatability,
            limits,
            leak_excess=[
                conditions.recorded_leak(s) - usual.get(s.bench, float("nan")) for s in sweeps
            ],
            cold=[id(s) in cold for s in sweeps],
            swaps=swaps,
            learned_here=learned_here,
        )
        verdicts += search.run()
        rough += search.rough
    return verdicts, rough
