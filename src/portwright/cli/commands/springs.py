"""Springs and clearances: show them, or record one that was measured."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import finding_json, print_json
from portwright.units import Kind


def _mm(value: float | None) -> float | None:
    return None if value is None else round(units.from_si(value, "mm", Kind.LENGTH), 4)


def springs(
    job: Annotated[str, typer.Argument(help="Job number.")],
    record: Annotated[
        list[str] | None,
        typer.Option(
            metavar="'CHECK=VALUE UNIT'",
            help="A reading: 'Valve to valve at overlap=1.45 mm', 'I1 installed height=40.5 mm', "
            "'intake springs coil bind height=26 mm'.",
        ),
    ] = None,
    instrument: Annotated[str, typer.Option("--with", help="What it was measured with.")] = "",
    date: Annotated[str, typer.Option(help="Day it was measured: 2026-03-18.")] = "",
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show springs and clearances, what was not checked first; or record what was measured."""
    from portwright.cli.work_parts import say_parts
    from portwright.services.display import Display
    from portwright.services.files import write_file
    from portwright.services.shop_figures import figures_of
    from portwright.services.shop_file import open_shop
    from portwright.services.spring_words import spring_parts, spring_pdf
    from portwright.services.springs import read_records, record_spring, spring_sheet

    with open_shop(shop) as archive:
        for what, value in read_records(record or []):
            record_spring(archive, job, what, value, instrument=instrument, date=date)
        contents, rules = archive.job(job), figures_of(archive)
        display = Display.of(archive.shop())
    sheet = spring_sheet(contents, rules)
    if out is not None:
        write_file(spring_pdf(contents, sheet, display, rules), out)
    if as_json:
        print_json(_json(sheet))
        return
    titles = ("Not checked yet", "Look at", "Clearances", "Springs")
    say_parts(spring_parts(contents, sheet, display, rules), titles)


def _json(sheet: Any) -> dict[str, Any]:
    def check(found: Any) -> dict[str, Any]:
        measured = found.found
        return {
            "checked": found.done,
            "value": None if measured is None else str(measured.value),
            "instrument": "" if measured is None else measured.instrument,
            "date": "" if measured is None else measured.date,
        }

    return {
        "job": sheet.job,
        "not_checked": list(sheet.open_names),
        "clearances": [
            {
                "name": c.check.name,
                **check(c.check),
                "least": c.least.text,
                "least_from": c.least.tag,
                "below_least": c.close,
            }
            for c in sheet.clearances
        ],
        "springs": [
            {
                "port": s.port,
                "installed_height": check(s.height),
                "retainer": check(s.retainer),
                "shim_needed_mm": _mm(s.shim_needed),
                "seat_load_n": None if s.seat_load is None else round(s.seat_load, 1),
                "open_load_n": None if s.open_load is None else round(s.open_load, 1),
                "to_coil_bind_mm": _mm(s.bind_margin),
            }
            for s in sheet.springs
        ],
        "findings": [finding_json(f) for f in sheet.findings],
    }
