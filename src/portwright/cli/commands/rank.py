"""How good is it: rank a head, search the shop."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table

if TYPE_CHECKING:
    from portwright.services.classes import HeadClass
    from portwright.services.rank import Ranking

_SHOWN = 5  # lines of one job


def rank(
    job: Annotated[str, typer.Argument(help="Job number.")],
    port: Annotated[str, typer.Option("--port", help="One port; else the mean of the side.")] = "",
    stage: Annotated[str, typer.Option("--stage", help="Else the last stage swept.")] = "",
    name: Annotated[str, typer.Option("--class", help="A remembered class.")] = "",
    side: Annotated[str, typer.Option("--side", help="intake or exhaust.")] = "",
    valves: Annotated[int, typer.Option("--valves", help="Valves of one port.")] = 0,
    valve: Annotated[
        str, typer.Option("--valve", help="Valve size, from and to: '41 mm, 43 mm'.")
    ] = "",
    valve_angle: Annotated[
        str,
        typer.Option("--valve-angle", help="From the bore, from and to: '10 deg, 14 deg'."),
    ] = "",
    port_location: Annotated[
        str, typer.Option("--port-location", help="Like 'down draft' or 'spread port'.")
    ] = "",
    casting: Annotated[str, typer.Option("--casting", help="Part of the casting number.")] = "",
    words: Annotated[str, typer.Option("--words", help="All on the job sheet.")] = "",
    received: Annotated[
        bool, typer.Option("--received", help="Among heads as received, not finished.")
    ] = False,
    at: Annotated[str, typer.Option("--at", help="Key lifts: '8 mm, 0.25 L/D'.")] = "",
    by: Annotated[
        str, typer.Option("--by", help="flow, 'flow per valve area' or 'coefficient against L/D'.")
    ] = "flow per valve area",
    remember_as: Annotated[
        str, typer.Option("--remember", help="Keep this class and its key lifts.")
    ] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """How good a head is among its class, as a share with its interval and number of heads."""
    from portwright.errors import one_of
    from portwright.services.classes import HeadClass, class_named, remember
    from portwright.services.compare import archive_pressure
    from portwright.services.display import Display
    from portwright.services.rank import rank as work
    from portwright.services.rank_spots import Measure
    from portwright.services.shop_file import open_shop

    by_what = one_of(Measure, by, "measure")
    sizes, angles = _from_to(valve), _from_to(valve_angle)
    given: dict[str, Any] = {
        "side": side,
        "valves": valves or None,
        "valve_from": sizes[0],
        "valve_to": sizes[-1],
        "angle_from": angles[0],
        "angle_to": angles[-1],
        "location": port_location,
        "casting": casting,
        "words": words,
        "lifts": tuple(part.strip() for part in at.split(",") if part.strip()),
    }
    with open_shop(shop) as archive:
        chosen = class_named(archive, name) if name else HeadClass(finished=not received)
        chosen = replace(chosen, **{k: v for k, v in given.items() if v})
        found = work(archive, job, chosen, port=port, stage=stage, measure=by_what)
        if remember_as:
            remember(archive, chosen, remember_as)
        pressure = archive_pressure(archive)
        display = Display.of(archive.shop())
    if as_json:
        print_json(_json(found))
        return
    _say(found, pressure, display)


def _from_to(text: str) -> list[str]:
    """Parts of "41 mm, 43 mm"."""
    return [part.strip() for part in text.split(",")]


def find(
    words: Annotated[
        list[str], typer.Argument(help="Words and numbers: 44 mm intake over 150 at 11")
    ],
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Search the whole shop in words and numbers: 44 mm intake over 150 at 11."""
    from portwright.services.display import Display
    from portwright.services.find import find as work
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        display = Display.of(archive.shop())
        answer = work(archive, " ".join(words), display)
    if as_json:
        print_json(
            {
                "understood": answer.question.describe(display),
                "more": answer.more,
                "jobs": [
                    {
                        "job": f.job.number,
                        "opened": f.job.opened,
                        "customer": f.job.customer,
                        "casting": f.job.casting,
                        "lines": list(f.lines),
                    }
                    for f in answer.jobs
                ],
            }
        )
        return
    say(f"{answer.question.describe(display)}: {answer.count}")
    for item in answer.jobs:
        say()
        job = item.job
        say("  ".join(t for t in (job.number, job.opened, job.customer, job.casting) if t))
        for line in item.lines[:_SHOWN]:
            say(f"    {line}")
        if len(item.lines) > _SHOWN:
            say(f"    and {len(item.lines) - _SHOWN} more")


def _say(found: Ranking, pressure: float, display: Any) -> None:
    from portwright.services.rank_wording import (
        headline,
        place_sentence,
        share_cells,
        value_text,
    )

    say(f"{found.job} {found.label} on {found.bench}, among {found.head_class.describe()}.")
    best = headline(found)
    say(
        "No other head of this class was swept where this one was."
        if best is None
        else place_sentence(found, best, pressure, display)
    )
    rows = [
        (
            place.at,
            value_text(found.measure, place.value, pressure, display),
            *share_cells(place.standing),
        )
        for place in found.places
    ]
    if rows:
        say()
        table(("at", found.measure.value, "better than", "95 %", "heads", "reached it"), rows)
    if found.findings:
        say()
        say_findings(found.findings)


def _facts_json(of: HeadClass) -> dict[str, Any]:
    return {
        "side": of.side,
        "valves": of.valves,
        "valve_from": of.valve_from,
        "valve_to": of.valve_to,
        "valve_angle_from": of.angle_from,
        "valve_angle_to": of.angle_to,
        "port_location": of.location,
        "casting": of.casting,
        "words": of.words,
        "finished": of.finished,
    }


def _json(found: Ranking) -> dict[str, Any]:
    return {
        "job": found.job,
        "label": found.label,
        "bench": found.bench,
        "measure": found.measure.value,
        "class": found.head_class.describe(),
        "class_facts": _facts_json(found.head_class),
        "heads": len(found.members),
        "places": [
            {
                "at": p.at,
                "value_si": p.value,
                "share_below": p.standing.share_below if p.standing else None,
                "interval": [p.standing.low, p.standing.high] if p.standing else None,
                "heads": p.standing.count if p.standing else 0,
                "reached": p.standing.reached if p.standing else None,
                "reached_interval": [p.standing.reached_low, p.standing.reached_high]
                if p.standing
                else None,
                "reached_by": list(p.jobs),
            }
            for p in found.places
        ],
        "findings": [finding_json(f) for f in found.findings],
    }
