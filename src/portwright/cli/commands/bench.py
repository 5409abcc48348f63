"""State of a bench, and foreign sheets."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright import units
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, plain, print_json, say, say_findings, table
from portwright.units import Kind


def bench(
    code: Annotated[str, typer.Argument(help="Bench, like B2.")],
    version: Annotated[
        int, typer.Option("--recompute", help="Show old sweeps under this calibration version.")
    ] = 0,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Whether a bench is still the bench it was: plates, alarms, repeatability, calibrations."""
    from portwright.services.bench_health import bench_health, recompute
    from portwright.services.gauge_study import studies
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = bench_health(archive, code)
        studied = [s for s in studies(archive, code) if s.turn is None]
        again = recompute(archive, code, version) if version else []
    if as_json:
        print_json(
            {
                "bench": code,
                "plates": [
                    {
                        "plate": p.plate,
                        "dates": list(p.dates),
                        "deviation": p.chart.value,
                        "centre": p.chart.centre,
                        "low": p.chart.low,
                        "high": p.chart.high,
                        "moving_average": p.chart.average,
                        "moving_average_low": p.chart.average_low,
                        "moving_average_high": p.chart.average_high,
                        "alarms": [a.value for a in p.chart.alarms],
                    }
                    for p in found.plates
                ],
                "calibrations": [plain(c) for c in found.calibrations],
                "repeatability": plain(found.repeatability),
                "refits": found.refits,
                "gauge_studies": [{**plain(s), "result": plain(s.result())} for s in studied],
                "recomputed": plain(again),
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    rows = []
    for plate in found.plates:
        c = plate.chart
        alarms = ", ".join(
            f"{a.value} {d}" for a, d in zip(c.alarms, plate.dates, strict=True) if a
        )
        last = f"{100 * c.value[-1]:+z.2f} %"
        limits = f"{100 * c.low[-1]:+z.2f} to {100 * c.high[-1]:+z.2f} %"
        rows.append((plate.plate, str(len(plate.dates)), last, limits, alarms or "none"))
    if rows:
        table(("plate", "sessions", "last", "limits", "alarms"), rows)
    rep = found.repeatability
    say(
        f"  refit {100 * rep.common:.2f} %, reading {100 * rep.reading:.2f} %,",
    )
    say(f"  another session {100 * rep.session:.2f} %, lift {1e3 * rep.lift_setting:.3f} mm")
    if studied and (result := studied[0].result()):
        say(f"  study of {studied[0].plan.begun}, {studied[0].plan.what}: {result.sentence()}")
    if again:
        say()
        say(f"Under calibration {version} (nothing is stored):")
        table(
            ("sweep", "taken with", "would change by"),
            [
                (f"{r.job}/{r.run}", str(r.stored), f"{100 * r.change:+z.2f} %")
                for r in again
                if r.stored != version
            ],
        )
    if found.findings:
        say()
        say_findings(found.findings)


def claims(
    job: Annotated[str, typer.Argument(help="Job number.")],
    answers: Annotated[
        list[str] | None,
        typer.Option(
            "--answer", help="Number of a question and what they said: '2=4.03 in, 7 in'."
        ),
    ] = None,
    sheet: Annotated[int, typer.Option("--sheet", help="Which foreign sheet is answered.")] = 1,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What another shop's sheet is worth: whether it is possible, and what to ask first."""
    from portwright.services.claims import answer, claim_numbered, numbered_answers
    from portwright.services.claims import claims as work
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = work(archive, job)
        if answers:
            claim = claim_numbered(found, sheet)
            answer(archive, job, claim, numbered_answers(claim, answers))
            found = work(archive, job)
    if as_json:
        print_json(plain([{**plain(c), "sentence": c.sentence()} for c in found]))
        return
    if not found:
        say(f"No foreign sheet is kept with {job}.")
    for claim in found:
        say(f"{claim.source}: {claim.port}")
        say(claim.sentence())
        table(
            ("lift mm", "claimed cfm", "area mm²", "on curtain", "on throat", ""),
            [
                (
                    units.show(f.lift, "mm", Kind.LENGTH, 2),
                    f"{units.from_si(f.flow, 'cfm', Kind.FLOW):.0f}",
                    f"{1e6 * f.area:.0f}",
                    f"{f.curtain_coefficient:.2f}",
                    f"{f.throat_coefficient:.2f}",
                    f.possible.value,
                )
                for f in claim.flows
            ],
        )
        if claim.questions:
            say("Ask:")
        for number, question in enumerate(claim.questions, start=1):
            say(f"  {number}. {question}")
        for question, text in claim.answers.items():
            say(f"  {question} {text}")
