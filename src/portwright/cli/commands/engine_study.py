"""Several things varied on an engine: every combination, or a search for the best."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from portwright.cli.commands.engine_json import numbers
from portwright.cli.commands.engine_options import (
    ClusterOption,
    JobArgument,
    PortOption,
    SpeedOption,
    StageOption,
    WorkersOption,
    show_progress,
)
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import finding_json, print_json, say, say_findings, table

if TYPE_CHECKING:
    from portwright.services.engine_study import Study

_SHOWN = 12

VaryOption = Annotated[
    list[str] | None,
    typer.Option(
        "--vary",
        metavar="NAME=FROM:TO:STEP",
        help="By how much, like 'lift=0:2:0.5 mm' or 'runner=-50:100'; may be repeated.",
    ),
]
GoalOption = Annotated[str, typer.Option("--goal", help="'mean torque' or 'peak power'.")]
AfreshOption = Annotated[
    bool, typer.Option("--afresh", help="Forget what was tried before on this engine.")
]


def sweep(
    job: JobArgument,
    vary: VaryOption = None,
    goal: GoalOption = "mean torque",
    stage: StageOption = "",
    port: PortOption = "",
    rpm: SpeedOption = "",
    workers: WorkersOption = 0,
    cluster: ClusterOption = "",
    afresh: AfreshOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Try every combination of lift, cam, lengths, sections or valve size within limits.

    Stopped with Ctrl+C and asked again, it goes on where it was.
    """
    found = _study(job, vary, None, goal, stage, port, rpm, workers, cluster, afresh, shop, as_json)
    _print(found, as_json=as_json)


def search(
    job: JobArgument,
    vary: VaryOption = None,
    tries: Annotated[
        int, typer.Option("--tries", min=10, max=5000, help="About how many combinations to try.")
    ] = 120,
    goal: GoalOption = "mean torque",
    stage: StageOption = "",
    port: PortOption = "",
    rpm: SpeedOption = "",
    workers: WorkersOption = 0,
    cluster: ClusterOption = "",
    afresh: AfreshOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Search for the best combination within limits, without trying every one.

    Stopped with Ctrl+C and asked again, it goes on where it was.
    """
    found = _study(
        job, vary, tries, goal, stage, port, rpm, workers, cluster, afresh, shop, as_json
    )
    _print(found, as_json=as_json)


def _study(
    job: str,
    vary: list[str] | None,
    tries: int | None,
    goal: str,
    stage: str,
    port: str,
    rpm: str,
    workers: int,
    cluster: str,
    afresh: bool,
    shop: Any,
    as_json: bool,
) -> Study:
    from portwright.errors import one_of
    from portwright.services.engine_knobs import read_ranges
    from portwright.services.engine_speeds import speeds
    from portwright.services.engine_study import Goal, study
    from portwright.services.shop_file import open_shop

    wanted = one_of(Goal, goal, "goal")
    try:
        with open_shop(shop) as archive:
            return study(
                archive,
                job,
                read_ranges(vary or []),
                tries=tries,
                goal=wanted,
                stage=stage,
                port=port,
                speeds=speeds(rpm),
                workers=workers or None,
                cluster=cluster,
                afresh=afresh,
                progress=None if as_json else show_progress,
            )
    except KeyboardInterrupt:
        typer.echo("Stopped. What was tried is kept: ask again to go on.", err=True)
        raise


def _print(found: Study, *, as_json: bool) -> None:
    from portwright.services.engine_knobs import KNOBS
    from portwright.services.engine_study_wording import NOTE, study_lines

    names = [r.name for r in found.ranges]
    if as_json:
        print_json(
            {
                "said": study_lines(found),
                "stage": found.heads.after.stage,
                "goal": found.goal.value,
                "rpm": found.speed,
                "torque_nm": numbers(found.plain, 1),
                "varied": [
                    {
                        "name": r.name,
                        "words": KNOBS[r.name].words,
                        "unit": KNOBS[r.name].unit,
                        "from": r.low,
                        "to": r.high,
                        "step": r.step,
                    }
                    for r in found.ranges
                ],
                "known_before": found.known,
                "as_good": {n: list(v) for n, v in found.as_good.items()},
                "tried": [
                    {
                        "values": dict(zip(names, c.values, strict=True)),
                        "torque_nm": numbers(c.torque, 1),
                        "gain_pct": numbers([c.gain], 2, 100.0)[0],
                    }
                    for c in found.tried
                ],
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    for line in study_lines(found):
        say(line)
    say()
    headings = (*(KNOBS[n].words for n in names), *(f"{n:.0f}" for n in found.speed), "change")
    rows = [
        (
            *(KNOBS[n].text(v) for n, v in zip(names, c.values, strict=True)),
            *("-" if t is None else f"{t:.0f}" for t in numbers(c.torque, 1)),
            "-" if numbers([c.gain], 2)[0] is None else f"{100.0 * c.gain:+z.1f} %",
        )
        for c in found.tried[:_SHOWN]
    ]
    say("Torque in Nm at crank speed in rpm, best first")
    table(headings, rows)
    say(NOTE)
    if found.findings:
        say()
        say_findings(found.findings)
