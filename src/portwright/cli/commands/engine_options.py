"""Options and arguments that engine commands share."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

JobArgument = Annotated[str, typer.Argument(metavar="JOB", help="Job number.")]
PortOption = Annotated[
    str, typer.Option("--port", help="Intake port; the one developed most without it.")
]
StageOption = Annotated[str, typer.Option("--stage", help="Stage; the last without it.")]
BeforeOption = Annotated[str, typer.Option("--before", help="Stage; the first without it.")]
AfterOption = Annotated[str, typer.Option("--after", help="Stage; the last without it.")]
SpeedOption = Annotated[str, typer.Option("--rpm", metavar="FROM:TO:STEP", help="Crank speeds.")]
WorkersOption = Annotated[
    int, typer.Option("--workers", min=0, help="Processes; 0 takes all cores.")
]
ClusterOption = Annotated[
    str,
    typer.Option(
        "--cluster",
        metavar="ADDRESS",
        help="Dask scheduler whose workers do it, like tcp://192.168.1.20:8786.",
    ),
]
SamplesOption = Annotated[
    int, typer.Option("--samples", min=0, help="Guesses behind the ranges; 0 for none.")
]


def show_progress(done: int, total: int) -> bool:
    """Tell on a terminal how far a simulation is; never stops it."""
    if sys.stderr.isatty():
        typer.echo(f"\r{done} of {total}" + ("\n" if done == total else ""), nl=False, err=True)
    return True
