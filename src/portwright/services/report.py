"""The customer's two pages: gather a job's results and set them."""

from __future__ import annotations

import math
from pathlib import Path

from portwright import __version__, units
from portwright.archive.archive import Archive
from portwright.core.comparison import Verdict
from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.job import SheetKind, Shop
from portwright.report.pdf import render, write
from portwright.report.viewmodel import Fact, GainRow, GainTable, JobReport, WorkStep
from portwright.services.clearances import open_checks
from portwright.services.compare import RunComparison, archive_pressure, left_out_line
from portwright.services.display import Display
from portwright.services.findings import CheckedJob, check_job
from portwright.services.overview import StageStory, Step, story_of
from portwright.services.wording import percent
from portwright.units import Kind

_CHART_SIZE = (3.6, 2.6)  # [in]
_LABELS = {
    "summary": "In short",
    "charts": "Before and after",
    "came_in": "What came in",
    "steps": "What was done, and what each step did",
    "left_out": "Sweeps not used",
    "unchecked": "Not checked yet",
    "cautions": "Please note",
    "gain_heading": "Gain, 95 % interval",
    "verdict_heading": "Verdict",
}
_CAUTIONS = (
    (
        "The flow figures hold for this bench and the conditions printed under the table. Another "
        "bench or another set-up will read differently."
    ),
    "A gain on the bench is not a promise of power: the engine, manifold, cam and exhaust decide.",
    "Valve-train clearances, coil bind and valve to piston must be checked on the real engine.",
    "This report certifies nothing.",
    "Wall thickness readings are spot values. Pressure-test after welding and deep porting.",
    "Follow local codes and class rules; have qualified people do or check this work.",
)


def write_report(archive: Archive, job: str, out: Path, *, length: str = "") -> None:
    """Write a job's report as PDF.

    Parameters
    ----------
    length : str
        "mm" or "in"; "" takes the shop's own.

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    write(job_report(archive, job, length=length), out)


def report_bytes(archive: Archive, job: str, *, length: str = "") -> bytes:
    """Make the same PDF in memory, for the app."""
    return render(job_report(archive, job, length=length))


def job_report(archive: Archive, job: str, *, length: str = "") -> JobReport:
    """Everything the report says, as finished text.

    Raises
    ------
    UnknownNameError, InputError
        No such job, no flow runs, or a length unit that is not mm or in.
    """
    if length not in {"", "mm", "in"}:
        raise InputError(f"'{length}' is not a length unit for reports.", "Use mm or in.")
    checked = check_job(archive, job)
    shop = archive.shop() or Shop(name="")
    display = Display.of(shop)
    if length:
        display = display.inch() if length == "in" else display.metric()
    story = story_of(checked, archive_pressure(archive), display)
    if story.whole is None:
        raise InputError(
            f"Job {job} has sweeps at one stage only, so there is no before and after.",
            "Sweep again after the work.",
        )
    return JobReport(
        shop=shop.name,
        shop_line=", ".join(p for p in (shop.town, shop.porter) if p),
        title=f"Port work report {job}",
        facts=_facts(checked.contents, story),
        summary=_summary(story),
        came_in=_came_in(checked.contents),
        steps=tuple(
            WorkStep(f"{s.before} → {s.after}", s.change, _verdict_only(s)) for s in story.steps
        ),
        table=_table(story.whole, display),
        charts=_charts(story, display),
        chart_captions=_captions(story.whole),
        left_out=tuple(left_out_line(code, why) for code, why in story.left_out.items()),
        unchecked=tuple(open_checks(checked.contents)),
        cautions=_CAUTIONS,
        footer=f"Portwright {__version__} · method {_method(checked)} · "
        f"repeatability from {_source(checked, story.whole)}",
        labels=_LABELS,
    )


def _facts(contents: JobContents, story: StageStory) -> tuple[Fact, ...]:
    job = contents.job
    facts = (
        Fact("Customer", job.customer),
        Fact("Vehicle", job.vehicle),
        Fact("Casting", job.casting),
        Fact("Opened", job.opened),
        Fact("Delivered", job.delivered),
        Fact("Port shown", story.port),
        Fact("Goal", job.goal),
    )
    return tuple(f for f in facts if f.value)


def _verdict_only(step: Step) -> str:
    """Sentence of a step without its opening, which the table's first column says."""
    _, _, rest = step.sentence.partition(": ")
    return rest[:1].upper() + rest[1:]


def _summary(story: StageStory) -> tuple[str, ...]:
    whole = story.whole
    if whole is None:  # pragma: no cover - checked by the caller
        return ()
    lines = [f"Port {story.port}, as received against as delivered: {_verdict_only(whole)}"]
    undecided = [s for s in story.steps if _all_undecided(s.comparison)]
    if undecided:
        names = ", ".join(f"{s.before} to {s.after}" for s in undecided)
        lines.append(f"No difference could be told for {names}; that work is not counted as gain.")
    return tuple(lines)


def _all_undecided(comparison: RunComparison) -> bool:
    return all(b.gain.verdict is Verdict.CANT_TELL for b in comparison.result.bands)


def _came_in(contents: JobContents) -> tuple[str, ...]:
    """What inspection noted, grouped so that a page holds it."""
    noted: dict[str, list[str]] = {}
    for row in contents.rows:
        if row.kind is not SheetKind.INSPECTION:
            continue
        cells = row.cells
        verdict = cells.get("verdict", "")
        if verdict.lower() in {"", "pass"}:
            continue
        reading = " ".join(p for p in (cells.get("reading", ""), cells.get("unit", "")) if p != "-")
        text = f"{cells.get('item', '')}: {reading}".strip(": ") + f" ({verdict})"
        noted.setdefault(text, []).append(cells.get("cyl", ""))
    by_item: dict[str, list[str]] = {}
    for text, places in noted.items():
        by_item.setdefault(text.partition(":")[0], []).append(
            f"{'/'.join(p for p in places if p)} {text.partition(': ')[2]}".strip()
        )
    return tuple(f"{item}: {'; '.join(texts)}" for item, texts in by_item.items())


def _table(step: Step, display: Display) -> GainTable:
    comparison = step.comparison
    flow = f"{display.flow} at {display.pressure_text(comparison.pressure)}"
    conditions = [f"{k} {v}" for k, v in comparison.after.conditions.items()]
    conditions += [
        f"before: runs {', '.join(comparison.before.runs)}",
        f"after: runs {', '.join(comparison.after.runs)}",
        "flow in reference air, 20 degC, 101.325 kPa, dry",
    ]
    conditions += [
        f.message for f in comparison.findings if f.code in {"conditions-differ", "pressure-moved"}
    ]
    return GainTable(
        title=f"{comparison.after.port}: {step.before} against {step.after}, flow in {flow}",
        lift_heading=f"Lift, {display.length}",
        before_heading=f"{step.before}, {display.flow}",
        after_heading=f"{step.after}, {display.flow}",
        rows=tuple(
            GainRow(
                display.lift_text(g.lift),
                display.flow_text(comparison.flow(g.gain.before)),
                display.flow_text(comparison.flow(g.gain.after)),
                percent(g.gain),
                g.gain.verdict.value,
            )
            for g in comparison.result.lifts
        ),
        conditions=tuple(conditions),
    )


def _charts(story: StageStory, display: Display) -> tuple[str, ...]:
    from portwright.report.figures import BandPoint, Line, flow_chart, gain_chart

    whole = story.whole
    if whole is None:  # pragma: no cover - checked by the caller
        return ()
    comparison = whole.comparison

    def lift(value: float) -> float:
        return units.from_si(value, display.length, Kind.LENGTH)

    def flow(area: float) -> float:
        return units.from_si(comparison.flow(area), display.flow, Kind.FLOW)

    lifts = comparison.result.lifts
    xs = [0.0, *(lift(g.lift) for g in lifts)]
    lines = (
        Line(whole.before, xs, [0.0, *(flow(g.gain.before) for g in lifts)]),
        Line(whole.after, xs, [0.0, *(flow(g.gain.after) for g in lifts)]),
    )
    points = [
        BandPoint(
            lift(g.lift),
            100.0 * g.gain.gain,
            100.0 * g.gain.low,
            100.0 * g.gain.high,
            g.gain.verdict is Verdict.REAL,
        )
        for g in lifts
        if math.isfinite(g.gain.gain)
    ]
    x_label = f"valve lift [{display.length}]"
    pressure = display.pressure_text(comparison.pressure)
    return (
        flow_chart(lines, x_label, f"flow [{display.flow} at {pressure}]", _CHART_SIZE),
        gain_chart(points, x_label, "gain [%]", _CHART_SIZE),
    )


def _captions(step: Step) -> tuple[str, ...]:
    return (
        f"Flow of {step.comparison.after.port} against lift, mean of the sweeps used.",
        "Gain with its 95 % interval; a filled point is real, an open one is not certain.",
    )


def _method(checked: CheckedJob) -> str:
    return ", ".join(sorted({r.method.name for r in checked.reduced}))


def _source(checked: CheckedJob, step: Step) -> str:
    return checked.repeatability[step.comparison.after.bench].source.partition(";")[0]
