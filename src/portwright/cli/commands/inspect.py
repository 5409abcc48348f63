"""Inspection: show what was seen, or record it."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import print_json


def inspect(
    job: Annotated[str, typer.Argument(help="Job number.")],
    saw: Annotated[str, typer.Option(help="What is seen: 'chalky or white', crack, other.")] = "",
    at: Annotated[str, typer.Option(help="Where: 'cyl 5 exhaust seat'.")] = "",
    words: Annotated[str, typer.Option(help="The same in your words.")] = "",
    reading: Annotated[str, typer.Option(help="Number and unit: '0.4 mm'.")] = "",
    method: Annotated[str, typer.Option("--with", help="How it was seen or measured.")] = "",
    suspect: Annotated[str, typer.Option(help="What you suspect; kept apart.")] = "",
    out: OutOption = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Show what was seen on the parts and what it commonly means, or record one thing seen."""
    from portwright.cli.work_parts import say_parts
    from portwright.services.files import write_file
    from portwright.services.inspection import inspection, observe
    from portwright.services.inspection_words import inspection_parts, inspection_pdf
    from portwright.services.shop_figures import figures_of
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        if saw or at:
            observe(
                archive,
                job,
                at,
                saw,
                seen=words,
                reading=reading,
                method=method,
                suspicion=suspect,
            )
        contents, rules = archive.job(job), figures_of(archive)
    found = inspection(contents, rules)
    if out is not None:
        write_file(inspection_pdf(contents, found, rules), out)
    if as_json:
        print_json(found)
        return
    say_parts(inspection_parts(contents, found, rules))
