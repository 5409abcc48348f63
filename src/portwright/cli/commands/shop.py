"""The shop file: make it, fill it, copy it, print from it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright.cli.options import ColumnOption, FlowAtOption, JsonOption, ShopOption
from portwright.cli.output import finding_json, plain, print_json, say, say_findings, table

if TYPE_CHECKING:
    from portwright.services.importing import ImportReport


def demo(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """Make the fictional demo shop if it is not there, and show what its cuts did."""
    from portwright.services.compare import left_out_line
    from portwright.services.demo import DEMO_JOB, open_demo
    from portwright.services.overview import stage_story
    from portwright.services.shop_file import demo_path, shown

    path = shop or demo_path()
    with open_demo(path) as archive:
        story = stage_story(archive, DEMO_JOB)
    if as_json:
        print_json(
            {
                "shop": str(path),
                "job": DEMO_JOB,
                "steps": [
                    {"before": s.before, "after": s.after, "change": s.change, "said": s.sentence}
                    for s in story.steps
                ],
                "left_out": story.left_out,
            }
        )
        return
    say(f"Demo shop (fictional, invented data): {shown(path)}")
    say(f"Job {DEMO_JOB}, port {story.port}: did each cut do anything?")
    say()
    for step in story.steps:
        say(f"{step.before} → {step.after}  {step.change}")
        say(f"    {step.sentence}")
    if story.left_out:
        say()
        say("Sweeps left out because something was wrong with them:")
        for code, why in story.left_out.items():
            say(f"    {left_out_line(code, why)}")
    say()
    say("Next:")
    say(f"  portwright findings {DEMO_JOB}")
    say(f"  portwright report {DEMO_JOB} --out report.pdf")


def import_file(
    files: Annotated[
        list[Path], typer.Argument(metavar="FILE...", help="CSV or XLSX sheets, or an export.")
    ],
    job: Annotated[str, typer.Option("--job", help="Job number the sheet belongs to.")] = "",
    bench: Annotated[str, typer.Option("--bench", help="Bench the sheet was made on.")] = "",
    port: Annotated[str, typer.Option("--port", help="Port, where the sheet names none.")] = "",
    stage: Annotated[str, typer.Option("--stage", help="Stage, where the sheet names none.")] = "",
    date: Annotated[str, typer.Option("--date", help="Date, where the sheet has none.")] = "",
    casting: Annotated[str, typer.Option("--casting", help="Casting number.")] = "",
    sheet: Annotated[
        str, typer.Option("--sheet", help="Kind of sheet, where headings fit several.")
    ] = "",
    test_pressure: Annotated[
        str, typer.Option("--test-pressure", help="Where the sheet has none: '28 inH2O'.")
    ] = "",
    flow_at: FlowAtOption = "",
    side: Annotated[
        str, typer.Option("--side", help="intake or exhaust, where the port's name does not tell.")
    ] = "",
    metering: Annotated[
        str, typer.Option("--metering", help="How the bench was read: direct, percent-of-range ...")
    ] = "",
    column: ColumnOption = None,
    usual_setup: Annotated[
        bool,
        typer.Option("--usual-setup", help="The bench's usual adapter, inlet aid and stub."),
    ] = False,
    preview: Annotated[
        bool, typer.Option("--preview", help="Only show what was understood.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Read sheets into the shop file; rows that cannot be read are listed, never lost."""
    from portwright.services.importing import ImportChoices, import_sheet, preview_sheet
    from portwright.services.shop_file import open_or_create

    choices = ImportChoices(
        job=job,
        bench=bench,
        port=port,
        stage=stage,
        date=date,
        casting=casting,
        sheet=sheet,
        test_pressure=test_pressure,
        flow_at=flow_at,
        side=side,
        metering=metering,
        columns=tuple(column or ()),
        usual_setup=usual_setup,
    )
    reports = []
    with open_or_create(shop) as archive:
        for file in files:
            if preview:
                reports.append(preview_sheet(archive, file, choices))
            else:
                reports.append(import_sheet(archive, file, choices))
    if as_json:
        print_json([_import_json(r) for r in reports])
        return
    for report_ in reports:
        say(f"{report_.file}: {report_.kind}, {report_.rows_understood} rows understood")
        if preview:
            rows = [(c.heading, c.meaning) for c in report_.columns]
            table(("heading", "understood as"), rows)
            for number, words in report_.rows:
                say(f"  row {number}: {words}")
        for refusal in report_.refused:
            say(f"  row {refusal.row} not read: {refusal.reason} {refusal.hint}".rstrip())
        for need in report_.needs:
            say(f"  missing: {need.reason} Give --{need.option.replace('_', '-')}.")
        for conflict in report_.conflicts:
            say(f"  {conflict}")
        added = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in report_.added.items())
        if not preview:
            say(f"  stored: {added or 'nothing new'}")
        say_findings(report_.findings)


def _import_json(report_: ImportReport) -> dict[str, Any]:
    return {
        "file": report_.file,
        "kind": report_.kind,
        "rows_understood": report_.rows_understood,
        "columns": [{"heading": c.heading, "understood_as": c.meaning} for c in report_.columns],
        "refused": plain(report_.refused),
        "needs": plain(report_.needs),
        "added": report_.added,
        "already_there": report_.already_there,
        "conflicts": report_.conflicts,
        "findings": [finding_json(f) for f in report_.findings],
    }


def export(
    target: Annotated[Path, typer.Argument(help="Folder, or a .zip file.")],
    shop: ShopOption = None,
) -> None:
    """Write the whole shop as plain CSV and JSON, complete enough to read back."""
    from portwright.services.exporting import export_shop
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        written = export_shop(archive, target)
    say(f"{len(written)} files in {target}")


def backup(
    target: Annotated[
        Path | None, typer.Option("--to", help="Folder or file; beside the shop file if left out.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Copy the shop file while it is in use, and check the copy."""
    from portwright.services import shop_file

    with shop_file.open_shop(shop) as archive:
        made = shop_file.backup(archive, target)
    if as_json:
        print_json({"path": str(made.path), "size": made.size, "sha256": made.sha256})
    else:
        say(f"{made.path}  {made.size} bytes, checked, sha256 {made.sha256}")


def upgrade(shop: ShopOption = None) -> None:
    """Bring an older shop file to this version; a copy of the old one is kept."""
    from portwright.services import shop_file

    path = shop or shop_file.default_path()
    kept = shop_file.upgrade(path)
    said = f" The old one is kept as {kept}." if kept else ""
    say(f"{shop_file.shown(path)} is of the newest schema.{said}")


def report(
    job: Annotated[str, typer.Argument(help="Job number.")],
    out: Annotated[Path, typer.Option("--out", help="File to write: .pdf, or .html for a page.")],
    length: Annotated[
        str, typer.Option("--length", help="mm or in; the shop's own if left out.")
    ] = "",
    language: Annotated[
        str, typer.Option("--language", help="en or de; the shop's own if left out.")
    ] = "",
    with_names: Annotated[
        bool, typer.Option("--with-names", help="Print the customer's name and serial numbers.")
    ] = False,
    shop: ShopOption = None,
) -> None:
    """Pages for the customer: what came in, what was found and done, what it gained."""
    from portwright.services.report import ReportChoices, write_report
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        write_report(archive, job, out, ReportChoices(length, language, with_names or None))
    say(f"{out} written")
