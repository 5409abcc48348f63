"""Is the bench still the bench it was: plate checks, set-up list, calibrations, repeatability."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import asdict, dataclass, replace

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.control_chart import Alarm, ControlChart, control_chart
from portwright.core.repeatability import SHOP_DEFAULT, Repeatability
from portwright.errors import Finding, InputError, Severity, UnknownNameError
from portwright.model.bench import Bench, Calibration, PlateCheck
from portwright.model.contents import ShopContents
from portwright.services.findings import learn_repeatability
from portwright.services.jobs import today
from portwright.services.reduce import reduce_runs
from portwright.units import Kind, read

_HISTORY = 400  # runs the repeatability is learned from
_LEAST_SPREAD = 0.001  # [-], equal last digits do not show an exact bench
_FEW = 3  # sessions below which a chart only begins
_KEPT = 200  # lists kept per bench
_STUDY = 5  # full refits of one port that make a study
# What is done before the first sweep of a session (common practice).
BEFORE_A_SESSION = (
    "motor warm, 10 to 20 minutes",
    "both gauges zeroed with the motor off",
    "spark plug and washer in, unused holes plugged",
    "plates clean, sharp edge towards the air",
    "bore adapter and inlet aid or stub as written on the sheet",
    "lift zero with the checking spring, approached from the same side",
    "leak read with the port blanked",
    "one plate read",
)


@dataclass(frozen=True, slots=True, eq=False)
class PlateChart:
    """Control chart of one plate.

    Parameters
    ----------
    plate : str
    dates : tuple of str
        Session of each point.
    chart : ControlChart
    """

    plate: str
    dates: tuple[str, ...]
    chart: ControlChart


@dataclass(frozen=True, slots=True)
class Checklist:
    """What was done before one session."""

    date: str
    done: tuple[str, ...]
    by: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class BenchHealth:
    """Everything known about the state of a bench.

    Parameters
    ----------
    bench : Bench
    plates : tuple of PlateChart
    calibrations : tuple of Calibration
    repeatability : Repeatability
    refits : int
        Most refits of one port in one state: the shop's own study so far.
    checklists : tuple of Checklist
        Newest first.
    findings : tuple of Finding
    """

    bench: Bench
    plates: tuple[PlateChart, ...]
    calibrations: tuple[Calibration, ...]
    repeatability: Repeatability
    refits: int
    checklists: tuple[Checklist, ...]
    findings: tuple[Finding, ...]


def bench_health(archive: Archive, code: str) -> BenchHealth:
    """Look a bench over.

    Raises
    ------
    UnknownNameError
        No such bench.
    """
    known = {b.code: b for b in archive.benches()}
    if code not in known:
        raise UnknownNameError("bench", code, known)
    runs = archive.runs_of_bench(code, _HISTORY)
    calibrations = archive.calibrations()
    repeatability = learn_repeatability(reduce_runs(runs, calibrations))
    counts: dict[tuple[str, str, str], int] = defaultdict(int)
    for run in runs:
        counts[run.job, run.port, run.stage] += 1
    session = repeatability.session
    charts = plate_charts([c for c in archive.plate_checks() if c.bench == code], session)
    refits = max(counts.values(), default=0)
    own = tuple(c for c in calibrations if c.bench == code)
    return BenchHealth(
        known[code],
        charts,
        own,
        repeatability,
        refits,
        tuple(checklists(archive, code)),
        tuple(_findings(code, charts, own, refits)),
    )


def plate_charts(
    checks: list[PlateCheck], session: float = SHOP_DEFAULT.session
) -> tuple[PlateChart, ...]:
    """One chart for each plate, sessions in order of their date."""
    by_plate: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for check in checks:
        off = check.measured.si / check.certified.si - 1.0
        by_plate[check.plate][check.date].append(off)
    sessions = [values for days in by_plate.values() for values in days.values()]
    squares = sum(float(np.sum((np.array(v) - np.mean(v)) ** 2)) for v in sessions)
    free = sum(len(v) - 1 for v in sessions)
    spread = max((squares / free) ** 0.5 if free else 0.0, _LEAST_SPREAD)
    out = []
    for plate, days in sorted(by_plate.items()):
        dates = tuple(sorted(days))
        means = np.array([float(np.mean(days[d])) for d in dates])
        counts = np.array([float(len(days[d])) for d in dates])
        out.append(PlateChart(plate, dates, control_chart(means, counts, spread, session)))
    return tuple(out)


def _findings(
    code: str, charts: tuple[PlateChart, ...], calibrations: tuple[Calibration, ...], refits: int
) -> list[Finding]:
    found = []
    for plate in charts:
        for date, alarm in zip(plate.dates, plate.chart.alarms, strict=True):
            if alarm is not Alarm.NONE:
                what = "jumped" if alarm is Alarm.STEP else "is drifting"
                found.append(
                    Finding(
                        f"plate-{alarm.value}",
                        Severity.WARNING,
                        f"Plate {plate.plate} {what} on {code} ({date}).",
                        "Clean the plate, zero again, look for a leak; if it stays, note what "
                        "changed and make a new calibration from that day.",
                    )
                )
    limit = 2.0 * max((c.relative_uncertainty for c in calibrations), default=0.01)
    off = [p for p in charts if abs(p.chart.centre) > limit]
    if off:
        worst = max(off, key=lambda p: abs(p.chart.centre))
        found.append(
            Finding(
                "bench-reads-off",
                Severity.WARNING,
                f"{code} reads its plates {100 * worst.chart.centre:+z.1f} % "
                f"(plate {worst.plate}); its calibration claims ± {100 * limit:.0f} %.",
                "Gains on this bench stay right; a figure set beside another bench needs "
                "translating.",
                size=worst.chart.centre,
            )
        )
    if not charts:
        found.append(
            Finding(
                "no-plate-checks",
                Severity.WARNING,
                f"No plate was ever read on {code}.",
                "Read three plates that span the work, at the start and end of a session.",
            )
        )
    elif max(len(p.dates) for p in charts) < _FEW:
        found.append(
            Finding(
                "few-plate-sessions",
                Severity.NOTE,
                f"The plates of {code} were read in fewer than {_FEW} sessions: the limits rest on "
                "common practice.",
                "Read them in each session.",
            )
        )
    if refits < _STUDY:
        found.append(
            Finding(
                "no-repeatability-study",
                Severity.NOTE,
                f"No port was refitted and swept {_STUDY} times on {code}; the most is {refits}.",
                "Run the study below once a year.",
            )
        )
    return found


def checklists(archive: Archive, code: str) -> list[Checklist]:
    """Lists ticked before sessions, newest first."""
    kept = archive.setting(f"checklists {code}") or []
    return [Checklist(k["date"], tuple(k["done"]), k.get("by", "")) for k in reversed(kept)]


def keep_checklist(archive: Archive, code: str, done: list[str], by: str = "") -> Checklist:
    """Keep what was done before today's session.

    Raises
    ------
    InputError
        Nothing was ticked, or something that is not on the list.
    """
    if not done or not set(done) <= set(BEFORE_A_SESSION):
        raise InputError("Tick what was done.", "Leave out what was not; that is an answer too.")
    made = Checklist(today(), tuple(d for d in BEFORE_A_SESSION if d in done), by.strip())
    kept = list(archive.setting(f"checklists {code}") or [])
    archive.save_setting(f"checklists {code}", [*kept, asdict(made)][-_KEPT:])
    return made


def add_plate_check(
    archive: Archive, code: str, plate: str, certified: str, measured: list[str], date: str = ""
) -> int:
    """Store readings of a plate and give their number.

    Parameters
    ----------
    certified : str
        Flow written on the plate, with its unit.
    measured : list of str
        Readings, cfm where no unit is typed.

    Raises
    ------
    UnitError, InputError
        Not a flow, or nothing read.
    """
    texts = [m for m in measured if m.strip()]
    if not plate.strip() or not texts:
        raise InputError("A plate check needs the plate and a reading.", "Type both.")
    true = read(certified, Kind.FLOW, "cfm")
    day = date or today()
    known = [c for c in archive.plate_checks() if (c.bench, c.plate, c.date) == (code, plate, day)]
    new = tuple(
        PlateCheck(day, code, plate.strip(), len(known) + k + 1, true, read(t, Kind.FLOW, "cfm"))
        for k, t in enumerate(texts)
    )
    archive.save(ShopContents(plate_checks=new))
    return len(new)


@dataclass(frozen=True, slots=True)
class Recomputed:
    """One sweep under its own and another calibration version.

    Parameters
    ----------
    job, run : str
    stored : int
        Version it was taken with.
    change : float
        Mean change of effective area under the other version. [-]
    """

    job: str
    run: str
    stored: int
    change: float


def recompute(archive: Archive, code: str, version: int) -> list[Recomputed]:
    """Old sweeps of a bench as another calibration version would have them; nothing is stored.

    Raises
    ------
    UnknownNameError
        No such version.
    """
    calibrations = archive.calibrations()
    known = [c.version for c in calibrations if c.bench == code]
    if version not in known:
        raise UnknownNameError("calibration version", str(version), map(str, known))
    runs = archive.runs_of_bench(code, _HISTORY)
    own = reduce_runs(runs, calibrations)
    other = reduce_runs([replace(r, calibration=version) for r in runs], calibrations)
    out = []
    for before, after in zip(own, other, strict=True):
        change = float("nan")
        if before.curve is not None and after.curve is not None:
            at = after.curve.at(before.curve.lift)
            both = np.isfinite(at)
            if both.any():
                change = float(np.mean(at[both] / before.curve.area[both]) - 1.0)
        out.append(Recomputed(before.run.job, before.run.code, before.run.calibration, change))
    return out


def study_steps(found: BenchHealth) -> tuple[tuple[bool, str], ...]:
    """The shop's own repeatability study, step by step, with what is done already."""
    listed = any(len(c.done) == len(BEFORE_A_SESSION) for c in found.checklists)
    return (
        (listed, "Go through the list before a session, all of it."),
        (found.refits >= 1, "Choose one port that stays as it is, best on the travelling head."),
        (
            found.refits >= _STUDY,
            (
                f"Take the head off, refit it, set the lift to zero, sweep: {_STUDY} times "
                f"(so far {found.refits})."
            ),
        ),
        (
            found.repeatability.session_degrees_of_freedom
            > SHOP_DEFAULT.session_degrees_of_freedom,
            "Do it again on another day; the second person of the shop counts as another day.",
        ),
        (bool(found.plates), "Read the plates at the start and at the end."),
    )
