"""A new calibration of a bench, and old sheets confirmed row by row."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import plain, print_json, say, table
from portwright.errors import InputError
from portwright.units import Kind


def calibrate(
    code: Annotated[str, typer.Argument(help="Bench, like B2.")],
    why: Annotated[str, typer.Option("--why", help="What changed: plate 4 replaced.")],
    since: Annotated[
        str, typer.Option("--from", help="Day from which it holds; today without it.")
    ] = "",
    based_on: Annotated[
        int, typer.Option("--based-on", help="Version it begins from; the newest without it.")
    ] = 0,
    ranges: Annotated[
        list[str] | None,
        typer.Option("--range", help="Range and its flow at 100 percent: 4=69.3 cfm. Repeatable."),
    ] = None,
    points: Annotated[
        str,
        typer.Option(
            "--points",
            help="Rows shown = true: '37.9 = 39.1; 66.9 = 69.6'; of a flow element its pressure "
            "drop = flow.",
        ),
    ] = "",
    from_plates: Annotated[
        bool, typer.Option("--from-plates", help="Take those rows from the newest plate session.")
    ] = False,
    bore: Annotated[str, typer.Option("--bore", help="Bore of the metering orifice.")] = "",
    pipe: Annotated[str, typer.Option("--pipe", help="Pipe diameter of an ISO orifice.")] = "",
    coefficient: Annotated[
        str, typer.Option("--coefficient", help="Discharge coefficient of the metering plate.")
    ] = "",
    uncertainty: Annotated[
        str, typer.Option("--uncertainty", help="Standard uncertainty of the bench in percent.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep new constants of a bench as a new version; older sweeps keep theirs."""
    from portwright.services.bench_health import recompute
    from portwright.services.calibrate import NewCalibration, add_calibration, points_from_plates
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        if from_plates:
            if points:
                raise InputError("Points are given twice.", "Give --points or --from-plates.")
            points, _ = points_from_plates(archive, code)
        new = NewCalibration(
            why,
            since,
            based_on,
            _ranges(ranges or []),
            points,
            bore,
            pipe,
            coefficient,
            uncertainty,
        )
        made = add_calibration(archive, code, new)
        again = recompute(archive, code, made.version)
    known = [r.change for r in again if math.isfinite(r.change)]
    if as_json:
        print_json({"calibration": plain(made), "recomputed": plain(again)})
        return
    say(f"{made.key} from {made.valid_from}: {made.reason}")
    if known:
        say(
            f"{len(known)} old sweeps would read {100 * min(known):+z.2f} to "
            f"{100 * max(known):+z.2f} % under it; they keep their own version."
        )
        say(f"See them: portwright bench {code} --recompute {made.version}")


def _ranges(texts: list[str]) -> dict[int, str]:
    found = {}
    for text in texts:
        number, _, flow = text.partition("=")
        if not number.strip().isdigit() or not flow.strip():
            raise InputError(f"'{text}' is no range.", "Type the number and its flow: 4=69.3 cfm.")
        found[int(number)] = flow.strip()
    return found


def review(
    run: Annotated[str, typer.Argument(help="Sweep of an old sheet: run code or JOB/RUN.")],
    rows: Annotated[
        str, typer.Option("--rows", help="Rows to confirm: 1-4,6; 'all' for those still open.")
    ] = "",
    by: Annotated[str, typer.Option("--by", help="Who compared them with the paper.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """An old sheet row by row: as written, as flow, and who compared it with the paper."""
    from portwright.services.display import Display
    from portwright.services.review import chosen_rows, confirm
    from portwright.services.review import review as work
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        found = work(archive, run)
        if rows:
            open_ = [r.position for r in found.rows if not r.confirmed]
            wanted = "" if rows.strip().casefold() == "all" else rows
            found = confirm(archive, run, chosen_rows(open_, wanted), by)
    if as_json:
        print_json(
            {
                "job": found.run.job,
                "run": found.run.code,
                "calibration": found.calibration,
                "pressure_pa": found.pressure,
                "open": found.open,
                "rows": [{**plain(r), "row": r.position + 1} for r in found.rows],
            }
        )
        return
    say(f"{found.run.job}/{found.run.code}, {found.run.date}, bench {found.run.bench}")
    say(found.calibration)
    table(
        ("row", "lift", "sheet", "range", "100 % is", "flow", "by root", "± 95 %", "confirmed"),
        [
            (
                str(r.position + 1),
                r.lift,
                r.shown,
                str(r.range_number or "–"),
                r.full_scale or "–",
                _flow(r.flow, display.flow),
                _flow(r.square_root, display.flow),
                f"{100 * r.half:.1f} %" if r.half else "–",
                r.confirmed or "not yet",
            )
            for r in found.rows
        ],
    )
    say(
        f"  flow in {display.flow} at {display.pressure_text(found.pressure)}; the sheet's own "
        "numbers stay as they are"
    )
    say(
        f"{found.open} of {len(found.rows)} rows are not compared with the paper yet."
        if found.open
        else "All rows were compared with the paper."
    )


def _flow(value: float, unit: str) -> str:
    return units.show(value, unit, Kind.FLOW) if math.isfinite(value) else "–"
