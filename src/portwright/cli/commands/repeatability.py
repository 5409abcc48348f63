"""The shop's own repeatability, from any table of repeated readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from portwright.cli.options import JsonOption
from portwright.cli.output import finding_json, plain, print_json, say, say_findings, table

if TYPE_CHECKING:
    from portwright.services.gauge_study import GaugeResult


def repeatability(
    file: Annotated[Path, typer.Argument(help="CSV or XLSX with repeated readings.")],
    value: Annotated[str, typer.Option("--value", help="Column of the readings.")] = "",
    group: Annotated[
        str, typer.Option("--group", help="Column that names what was read: port, day, person.")
    ] = "",
    person: Annotated[
        str,
        typer.Option("--person", help="Column that names who read it: a full gauge study."),
    ] = "",
    as_json: JsonOption = False,
) -> None:
    """How well a bench repeats: analysis of variance of any table of readings."""
    from portwright.services.study import gauge_of_file, repeatability_of_file

    if person:
        _say_gauge(gauge_of_file(file, value=value, port=group, person=person), as_json)
        return
    found = repeatability_of_file(file, value=value, group=group)
    a = found.anova
    if as_json:
        print_json(
            {
                "source": found.source,
                "value": found.value,
                "group": found.group,
                "n": found.values,
                "groups": found.groups,
                "mean": a.mean,
                "repeatability": a.within_deviation,
                "within_standard_deviation": a.within_deviation,
                "between_standard_deviation": a.between_deviation,
                "within_mean_square": a.within_square,
                "between_mean_square": a.between_square,
                "within_sum_of_squares": a.within_square * a.within_freedom,
                "between_sum_of_squares": a.between_square * a.between_freedom,
                "within_degrees_of_freedom": a.within_freedom,
                "between_degrees_of_freedom": a.between_freedom,
                "F": a.ratio,
                "p": a.probability,
                "smallest_difference": found.smallest_difference(),
                "group_means": found.means,
                "group_sizes": found.sizes,
                "findings": [finding_json(f) for f in found.findings],
            }
        )
        return
    say(
        f"{found.values} readings in {found.groups} groups of {found.source} "
        f"({found.value} by {found.group})."
    )
    say(f"  repeatability (within a group)   {a.within_deviation:.4g}")
    say(f"  between groups                   {a.between_deviation:.4g}")
    say(f"  mean                             {a.mean:.6g}")
    say()
    rows = [
        ("between", str(a.between_freedom), f"{a.between_square:.6g}"),
        ("within", str(a.within_freedom), f"{a.within_square:.6g}"),
    ]
    table(("", "degrees of freedom", "mean square"), rows)
    say(f"  F = {a.ratio:.4g}, p = {a.probability:.3g}")
    say()
    say(
        f"Two single readings differ by more than {found.smallest_difference():.3g} once in twenty "
        "times by chance alone."
    )
    alike = "differ really" if a.probability < 0.05 else "cannot be told apart"
    say(f"The groups {alike}.")
    say_findings(found.findings)


def _say_gauge(found: GaugeResult, as_json: bool) -> None:
    if as_json:
        print_json(plain(found) | {"sentence": found.sentence(), "advice": found.advice()})
        return
    say(found.sentence())
    say(found.advice())
    say()
    far = found.mean > found.ports + found.bench
    rows = (
        ("one person, one port, again", found.repeatability),
        ("from person to person", found.persons),
        ("both: bench and hands", found.bench),
        ("from port to port", found.ports),
    )
    table(
        ("standard deviation", "of the mean", "as read"),
        [
            # of readings that lie round zero a share of their mean says nothing
            (name, f"{100 * part / found.mean:.3f} %" if far else "–", f"{part:.4g}")
            for name, part in rows
        ],
    )
