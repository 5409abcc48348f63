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
OutOption = Annotated[Path | None, typer.Option("--out", help="PDF file to write.")]
FlowAtOption = Annotated[
    str, typer.Option("--flow-at", help="Pressure the sheet's flow was converted to.")
]
ColumnOption = Annotated[
    list[str] | None,
    typer.Option(
        "--column",
        metavar="'HEADING=FIELD [UNIT]'",
        help="Say what a heading means: 'Lift=lift [mm]', 'Remark=ignore'.",
    ),
]
