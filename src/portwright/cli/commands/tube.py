"""The engine's gas solver on a plain tube."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright.cli.options import JsonOption
from portwright.cli.output import print_json, say, table


def tube(
    left: Annotated[str, typer.Option("--left", metavar="RHO,U,P", help="Gas left of it.")],
    right: Annotated[str, typer.Option("--right", metavar="RHO,U,P", help="Gas right of it.")],
    gamma: Annotated[float, typer.Option("--gamma", help="Ratio of specific heats.")] = 1.4,
    cells: Annotated[int, typer.Option("--cells", help="Number of cells.")] = 200,
    time: Annotated[float, typer.Option("--time", help="Time to march to, in seconds.")] = 0.25,
    length: Annotated[float, typer.Option("--length", help="Length in metres.")] = 1.0,
    as_json: JsonOption = False,
) -> None:
    """Open a diaphragm in the middle of a plain tube: the engine's own solver, to check it."""
    from portwright.services.engine_tube import run_tube

    done = run_tube(left, right, gamma=gamma, cells=cells, time=time, length=length)
    if as_json:
        print_json(
            {
                "summary": {
                    "cells": cells,
                    "gamma": gamma,
                    "length": length,
                    "time": done.time,
                    "steps": done.steps,
                    "mass": float(done.density.sum() * length / cells),
                    "momentum": float((done.density * done.velocity).sum() * length / cells),
                    "least_pressure": float(done.pressure.min()),
                    "most_pressure": float(done.pressure.max()),
                },
                "x": done.x,
                "density": done.density,
                "velocity": done.velocity,
                "pressure": done.pressure,
            }
        )
        return
    say(f"{cells} cells, {done.steps} steps to {done.time:g} s")
    step = max(1, cells // 20)
    rows = [
        tuple(f"{v:.6g}" for v in row)
        for row in zip(
            done.x[::step],
            done.density[::step],
            done.velocity[::step],
            done.pressure[::step],
            strict=True,
        )
    ]
    table(("x m", "density kg/m3", "velocity m/s", "pressure Pa"), rows)
