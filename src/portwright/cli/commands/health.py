"""How the shop's records are, and a bundle for whoever helps."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from portwright.cli.exit_codes import ExitCode
from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import plain, print_json, say


def health(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """Check the shop file, its newest backup, room, clock and versions; exit code 5 when bad."""
    from portwright.services import health as service
    from portwright.services.shop_file import default_path

    found = service.examine(shop or default_path())
    if as_json:
        print_json({"state": found.state, **plain(found)})
    else:
        for item in found.items:
            say(f"{item.state.value:5} {item.name:18} {item.said}")
            if item.hint:
                say(f"{'':24} → {item.hint}")
    if found.state is service.State.BAD:
        raise typer.Exit(ExitCode.SHOP_FILE)


def diagnose(
    out: Annotated[Path, typer.Option("--out", help="New .zip file to write.")],
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Write a bundle for whoever helps: health, versions and log, without a name in it."""
    from portwright.services import diagnose as service
    from portwright.services.health import examine
    from portwright.services.shop_file import default_path

    place = shop or default_path()
    made = service.write(place, examine(place), out)
    if as_json:
        print_json(made)
        return
    say(f"{made.path}  {made.size} bytes: {', '.join(made.files)}")
    say("It has no names, notes or readings in it; look inside before you send it.")
