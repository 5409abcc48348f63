"""Which cut did what."""

from __future__ import annotations

from typing import Annotated, Any

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table


def cuts(
    job: Annotated[str, typer.Argument(help="Job number.")],
    port: Annotated[str, typer.Argument(help="Port; else the one with most stages.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Which cut did what: each stage against the one before, and seat against port."""
    from portwright.services.attribution import port_history
    from portwright.services.display import Display
    from portwright.services.shop_file import open_shop
    from portwright.services.wording import band_name, percent

    with open_shop(shop) as archive:
        found = port_history(archive, job, port)
        display = Display.of(archive.shop())
    if as_json:
        from portwright.cli.commands.results import comparison_json

        print_json(
            {
                "job": found.job,
                "port": found.port,
                "bench": found.bench,
                "steps": [
                    {
                        "before": s.before,
                        "after": s.after,
                        "note": s.note,
                        "step": comparison_json(s.comparison),
                        "since_first": comparison_json(s.since_first),
                        "seat_and_port": _split_json(s.split),
                    }
                    for s in found.steps
                ],
                "seat_and_port": _split_json(found.whole),
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(f"{found.port} of {found.job} on {found.bench}, each stage against the one before")
    say()
    bands = found.steps[-1].since_first.result.bands
    heads = ("cut", *(band_name(b, display.length) for b in bands), "over the cam")
    rows = []
    for step in found.steps:
        by_name = {b.band.name: b.gain for b in step.comparison.result.bands}
        cells = [by_name.get(b.band.name) for b in bands]
        cam = step.comparison.result.over_cam
        gains = [*cells, cam]
        rows.append(
            (
                f"{step.before} to {step.after}",
                *("–" if g is None else f"{percent(g)} {_mark(g)}" for g in gains),
            )
        )
    last = found.steps[-1].since_first.result
    total = [*(b.gain for b in last.bands), last.over_cam]
    rows.append(("together", *("–" if g is None else f"{percent(g)} {_mark(g)}" for g in total)))
    table(heads, rows)
    say("  ! real, ? probably, nothing: can't tell")
    for step in found.steps:
        if step.note:
            say(f"  {step.after}: {step.note}")
    if found.whole is not None:
        say()
        say("Seat side and port side, first to last stage (two resistances in series)")
        table(
            ("lift", "seat side", "port side", "unexplained"),
            [
                (b.name, percent(b.seat), percent(b.port), f"{100 * b.rest:+z.1f} %")
                for b in found.whole.bands
            ],
        )
        fits = [100 * f.misfit for f in (found.whole.before, found.whole.after)]
        say(f"  the model fits the sweeps to {fits[0]:.1f} % before and {fits[1]:.1f} % after")
    if found.findings:
        say()
        say_findings(found.findings)


def _mark(gain: Any) -> str:
    return {"real": "!", "probably": "?"}.get(gain.verdict.value, " ")


def _split_json(split: Any) -> dict[str, Any] | None:
    if split is None:
        return None

    def gain(of: Any) -> dict[str, Any]:
        return {
            "gain_pct": round(100 * of.gain, 3),
            "interval_pct": [round(100 * of.low, 3), round(100 * of.high, 3)],
            "verdict": of.verdict.value,
        }

    return {
        "fit_error": [split.before.misfit, split.after.misfit],
        "valve_coefficient": [split.before.valve_coefficient, split.after.valve_coefficient],
        "port_area_mm2": [split.before.port_area * 1e6, split.after.port_area * 1e6],
        "bands": [
            {
                "band": b.name,
                "from_mm": b.low * 1e3,
                "to_mm": b.high * 1e3,
                "seat": gain(b.seat),
                "port": gain(b.port),
                "unexplained_pct": round(100 * b.rest, 3),
            }
            for b in split.bands
        ],
    }
