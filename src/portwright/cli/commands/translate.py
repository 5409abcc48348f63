"""What a sweep would read on another bench."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table
from portwright.units import Kind

if TYPE_CHECKING:
    from portwright.services.translate import Translated


def translate(
    name: Annotated[str, typer.Argument(help="Run code, JOB/RUN, or PORT:STAGE with --job.")],
    to: Annotated[str, typer.Option("--to", help="Bench it would be read on.")],
    job: Annotated[str, typer.Option("--job", help="Job for PORT:STAGE names.")] = "",
    against: Annotated[
        str, typer.Option("--against", help="Compare with this run or stage of that bench.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What a sweep reads on its own bench and would read on another, plus or minus.

    Learned from plates and heads tested on both benches; flows never tested on both are refused.
    """
    from portwright.services.compare import archive_pressure
    from portwright.services.display import Display
    from portwright.services.shop_file import open_shop
    from portwright.services.translate import compare_names_translated, translate
    from portwright.services.translate_wording import best_lift, foundation, reads_there

    with open_shop(shop) as archive:
        found = translate(archive, name, to, job=job)
        beside = compare_names_translated(archive, name, against, job=job) if against else None
        pressure = archive_pressure(archive)
        display = Display.of(archive.shop())
    if as_json:
        from portwright.cli.commands.results import comparison_json

        known = _json(found, pressure)
        print_json(known | ({"against": comparison_json(beside)} if beside else {}))
        return
    say(reads_there(found, best_lift(found), pressure, display))
    say(foundation(found, pressure, display))
    say()
    rows = []
    for place, lift in enumerate(found.lift):
        row = [display.lift_text(float(lift)), *_texts(found, place, pressure, display.flow)]
        rows.append(row)
    benches = (found.translation.here, found.translation.there)
    table((f"lift {display.length}", *(f"{bench} {display.flow}" for bench in benches), "±"), rows)
    if beside is not None:
        from portwright.services.wording import band_name, percent, sentence

        say()
        say(sentence(beside, display.length))
        bands = [
            (band_name(b, display.length), percent(b.gain), b.gain.verdict.value)
            for b in beside.result.bands
        ]
        table(("lift band", "gain", "verdict"), bands)
    if found.findings:
        say()
        say_findings(found.findings, display.length)


def _texts(found: Translated, place: int, pressure: float, unit: str) -> list[str]:
    from portwright.services.translate_wording import flow_there
    from portwright.services.wording import decimals

    here, there, half = flow_there(found, place, pressure, unit)
    if not found.covered[place]:
        return [f"{here:.1f}", "not translated", ""]
    digits = decimals(half)
    return [f"{here:.1f}", f"{there:.{digits}f}", f"{half:.{digits}f}"]


def _json(found: Translated, pressure: float) -> dict[str, Any]:
    from portwright.services.translate_wording import flow_there

    t = found.translation
    lifts = []
    for place, lift in enumerate(found.lift):
        here, there, half = flow_there(found, place, pressure, "cfm")
        lifts.append(
            {
                "lift_mm": round(units.from_si(float(lift), "mm", Kind.LENGTH), 4),
                "here_cfm": round(here, 2),
                "there_cfm": there,
                "half_interval_cfm": half,
                "here_area_mm2": float(found.here[place]) * 1e6,
                "there_area_mm2": float(found.there[place]) * 1e6,
                "interval_area_mm2": [
                    float(found.low[place]) * 1e6,
                    float(found.high[place]) * 1e6,
                ],
                "one_sweep_interval_area_mm2": [
                    float(found.sweep_low[place]) * 1e6,
                    float(found.sweep_high[place]) * 1e6,
                ],
                "translated": bool(found.covered[place]),
            }
        )
    return {
        "job": found.job,
        "port": found.port,
        "stage": found.stage,
        "runs": list(found.runs),
        "here": t.here,
        "there": t.there,
        "heads": t.relation.heads,
        "plates": t.relation.plates,
        "slope": t.relation.slope,
        "tested_on_both": [
            {
                "name": a.name,
                "head": a.head,
                "here_area_mm2": a.here * 1e6,
                "there_area_mm2": a.there * 1e6,
                "ratio_deviation": a.deviation,
            }
            for a in t.tests.articles
        ],
        "lifts": lifts,
        "findings": [finding_json(f) for f in found.findings],
    }
