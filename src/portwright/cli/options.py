"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ShopOption = Annotated[
    Path | None,
    typer.Option(
        "--shop",
        metavar="FILE",
        help="Shop file. Without it: $PORTWRIGHT_SHOP, else your own shop, else the demo.",
        show_default=False,
    ),
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON for other programs.")
]
JobOption = Annotated[
    str,
    typer.Option("--job", metavar="NUMBER", help="Job number.", show_default=False),
]
