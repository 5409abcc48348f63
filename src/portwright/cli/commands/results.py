"""What the readings say: reduce, compare, findings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import ColumnOption, FlowAtOption, JsonOption, ShopOption
from portwright.cli.output import finding_json, plain, print_json, say, say_findings, table
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.coefficients import CoefficientTable
    from portwright.services.compare import RunComparison, RunGroup
    from portwright.services.reduce_sheet import ReducedSheet


def _gain_json(gain: Any) -> dict[str, Any]:
    return {
        "gain_pct": round(100.0 * gain.gain, 3),
        "interval_pct": [round(100.0 * gain.low, 3), round(100.0 * gain.high, 3)],
        "verdict": gain.verdict.value,
    }


def _group_json(group: RunGroup) -> dict[str, Any]:
    return {
        "label": group.label,
        "job": group.job,
        "port": group.port,
        "stage": group.stage,
        "bench": group.bench,
        "runs": group.runs,
        "left_out": group.left_out,
        "conditions": group.conditions,
    }


def comparison_json(result: RunComparison) -> dict[str, Any]:
    """A comparison as JSON values."""
    from portwright.services.wording import sentence

    def flow(area: float) -> float:
        return round(units.from_si(result.flow(area), "cfm", Kind.FLOW), 2)

    def mm(lift: float) -> float:
        return round(units.from_si(lift, "mm", Kind.LENGTH), 4)

    cam = result.result.over_cam
    return {
        "before": _group_json(result.before),
        "after": _group_json(result.after),
        "pressure_inH2O": round(units.from_si(result.pressure, "inH2O", Kind.PRESSURE), 3),
        "sentence": sentence(result),
        "lifts": [
            {
                "lift_mm": mm(g.lift),
                "before_cfm": flow(g.gain.before),
                "after_cfm": flow(g.gain.after),
                "before_area_mm2": round(g.gain.before * 1e6, 2),
                "after_area_mm2": round(g.gain.after * 1e6, 2),
                **_gain_json(g.gain),
            }
            for g in result.result.lifts
        ],
        "bands": [
            {
                "band": g.band.name,
                "meaning": g.band.meaning,
                "from_mm": mm(g.low),
                "to_mm": mm(g.high),
                **_gain_json(g.gain),
            }
            for g in result.result.bands
        ],
        "over_cam": None
        if cam is None or result.result.cam_weights is None
        else {
            "cam": result.cam,
            "weights": {
                "lift_mm": [mm(v) for v in result.result.cam_weights.lift],
                "weight": [round(float(v), 5) for v in result.result.cam_weights.weight],
                "seat": result.result.cam_weights.seat,
                "held": result.result.cam_weights.held,
            },
            **_gain_json(cam),
        },
        "findings": [finding_json(f) for f in result.findings],
    }


def _coefficients_json(found: CoefficientTable | None) -> dict[str, Any] | None:
    if found is None:
        return None
    square_inch = units.to_si(1.0, "in2", Kind.AREA)
    per_inch = [units.from_si(v * square_inch, "cfm", Kind.FLOW) for v in found.flow_per_valve_area]
    columns = {
        "lift_mm": [round(units.from_si(v, "mm", Kind.LENGTH), 4) for v in found.lift],
        "lift_over_diameter": [round(float(v), 4) for v in found.lift_over_diameter],
        **{
            f"on_{name}": [round(float(v), 4) for v in getattr(found.on, name)]
            for name in ("curtain", "valve_disc", "net_throat", "minimum_area")
        },
        "cfm_per_in2_of_valve": [round(v, 2) for v in per_inch],
    }
    return {
        "valve_diameter_mm": round(units.from_si(found.valve_diameter, "mm", Kind.LENGTH), 4),
        "assumed": list(found.assumed),
        "lifts": [
            dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)
        ],
    }


def compare(
    before: Annotated[str, typer.Argument(help="Run code, JOB/RUN, or PORT:STAGE with --job.")],
    after: Annotated[str, typer.Argument(help="The same, for after the cut.")],
    job: Annotated[str, typer.Option("--job", help="Job for PORT:STAGE names.")] = "",
    single: Annotated[
        bool, typer.Option("--single", help="Only these two sweeps, not their repeats.")
    ] = False,
    cam: Annotated[str, typer.Option("--cam", help="Cam card for the time-at-lift mean.")] = "",
    coefficients: Annotated[
        bool, typer.Option("--coefficients", help="Discharge coefficients of both sides as well.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Did that cut do anything: gain by lift and band, with its uncertainty.

    A run stands for all repeats of its port and stage; faulty ones are left out and named.
    """
    from portwright.services.coefficients import (
        coefficient_headings,
        coefficient_note,
        coefficient_rows,
        coefficient_tables,
    )
    from portwright.services.compare import compare_names
    from portwright.services.display import Display
    from portwright.services.shop_file import open_shop
    from portwright.services.wording import band_name, percent, sentence

    with open_shop(shop) as archive:
        result = compare_names(archive, before, after, job=job, single=single, cam=cam or None)
        display = Display.of(archive.shop())
        tables = coefficient_tables(archive, result) if coefficients else ()
    if as_json:
        made = comparison_json(result)
        if tables:
            sides = zip(("before", "after"), tables, strict=True)
            made["coefficients"] = {side: _coefficients_json(found) for side, found in sides}
        print_json(made)
        return
    length, flow = display.length, display.flow
    say(sentence(result, length))
    say()
    say(f"  before  {', '.join(result.before.runs)}")
    say(f"  after   {', '.join(result.after.runs)}")
    say(f"  flow in {flow} at {display.pressure_text(result.pressure)}, gain with 95 % interval")
    say()
    rows = [
        (
            display.lift_text(g.lift),
            display.flow_text(result.flow(g.gain.before)),
            display.flow_text(result.flow(g.gain.after)),
            percent(g.gain),
            g.gain.verdict.value,
        )
        for g in result.result.lifts
    ]
    table((f"lift {length}", "before", "after", "gain", "verdict"), rows)
    if result.result.bands:
        say()
        bands = [
            (band_name(b, length), percent(b.gain), b.gain.verdict.value, b.band.meaning)
            for b in result.result.bands
        ]
        table(("lift band", "gain", "verdict", "governed mostly by"), bands)
    for found in tables:
        if found is not None:
            say()
            say(f"discharge coefficients of {found.label}. {coefficient_note(found)}")
            table(coefficient_headings(display), coefficient_rows(found, display))
    if result.findings:
        say()
        say_findings(result.findings, length)


def findings(
    name: Annotated[str, typer.Argument(metavar="RUN|JOB", help="Run code or job number.")],
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What looks wrong with a run, or with every run of a job."""
    from portwright.services.display import Display
    from portwright.services.findings import check_job, findings_of_run
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        if any(job.number == name for job in archive.jobs()):
            found = check_job(archive, name).findings
        else:
            run = archive.run(name)
            found = findings_of_run(check_job(archive, run.job), run.code)
    if as_json:
        print_json([finding_json(f) for f in found])
        return
    if not found:
        say(f"Nothing looks wrong with {name}.")
    say_findings(found, display.length)


def reduce(
    file: Annotated[Path, typer.Argument(help="Flow sheet, CSV or XLSX.", exists=False)],
    method: Annotated[str, typer.Option("--method", help="Reduction method.")] = "standard-1",
    at: Annotated[
        str, typer.Option("--at", help="Test pressure at which flow is shown.")
    ] = "28 inH2O",
    test_pressure: Annotated[
        str, typer.Option("--test-pressure", help="Where the sheet has none: '28 inH2O'.")
    ] = "",
    flow_at: FlowAtOption = "",
    column: ColumnOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Turn a flow sheet into effective area, without storing anything."""
    from portwright.services.display import Display
    from portwright.services.importing import ImportChoices
    from portwright.services.reduce_sheet import reduce_sheet

    choices = ImportChoices(
        test_pressure=test_pressure, flow_at=flow_at, columns=tuple(column or ())
    )
    result = reduce_sheet(file, choices, method=method, show_at=at, shop=shop)
    if as_json:
        print_json(_sheet_json(result))
        return
    display = Display()
    for run in result.runs:
        say(f"{run.code}  {run.port} {run.stage}   flow at {result.pressure}")
        table(
            ("lift mm", "area mm²", "cfm", "by square root", "± % (95 %)"),
            [
                (
                    display.lift_text(r.lift),
                    f"{r.area * 1e6:.1f}",
                    display.flow_text(r.flow),
                    display.flow_text(r.flow_square_root),
                    f"{200.0 * r.relative_uncertainty:.1f}",
                )
                for r in run.rows
            ],
        )
        say()
    for refusal in result.refused:
        say(f"row {refusal.row} not read: {refusal.reason} {refusal.hint}".rstrip())
    say_findings(result.findings)


def _sheet_json(result: ReducedSheet) -> dict[str, Any]:
    def cfm(flow: float) -> float:
        return round(units.from_si(flow, "cfm", Kind.FLOW), 3)

    return {
        "method": result.method,
        "pressure_pa": result.pressure.si,
        "runs": [
            {
                "run": run.code,
                "port": run.port,
                "stage": run.stage,
                "rows": [
                    {
                        "lift_mm": round(units.from_si(r.lift, "mm", Kind.LENGTH), 4),
                        "effective_area_mm2": round(r.area * 1e6, 3),
                        "isentropic_area_mm2": round(r.isentropic_area * 1e6, 3),
                        "flow_cfm": cfm(r.flow),
                        "flow_square_root_cfm": cfm(r.flow_square_root),
                        "relative_uncertainty": r.relative_uncertainty,
                    }
                    for r in run.rows
                ],
            }
            for run in result.runs
        ],
        "refused": plain(result.refused),
        "findings": [finding_json(f) for f in result.findings],
    }
