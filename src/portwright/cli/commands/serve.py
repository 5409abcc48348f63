"""Start the shop app."""

from __future__ import annotations

import getpass
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from portwright.cli.options import ShopOption


def serve(
    shop: ShopOption = None,
    port: Annotated[int, typer.Option(min=1, max=65535, help="Port of this computer.")] = 8080,
    lan: Annotated[
        bool,
        typer.Option("--lan", help="Let tablets of the shop's network in; needs a passphrase."),
    ] = False,
    set_passphrase: Annotated[
        bool,
        typer.Option("--set-passphrase", help="Ask for a new shop passphrase before starting."),
    ] = False,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the browser at the start.")
    ] = True,
) -> None:
    """Serve the shop app to the browser, on this computer only unless --lan is given."""
    # the web framework takes seconds to load; other commands need not wait for it
    typer.echo("Starting the app ...")
    from portwright.services import passphrase, shop_file
    from portwright.ui.app import run_app

    bring_up(shop or shop_file.default_path(), _agreed if sys.stdin.isatty() else None)
    if set_passphrase:
        with shop_file.open_or_create(shop) as opened:
            passphrase.set_passphrase(opened, _ask())
        typer.echo("The passphrase is set.")

    def say_where() -> None:
        typer.echo(f"Portwright is at http://127.0.0.1:{port} (stop with Ctrl-C).")
        if lan:
            typer.echo("Other devices: this computer's address in your network, same port.")

    run_app(shop, port=port, lan=lan, open_browser=browser, when_up=say_where)


def bring_up(place: Path, agreed: Callable[[str], bool] | None) -> None:
    """Upgrade a shop of an older version after a copy, where somebody is there to agree.

    Raises
    ------
    SchemaTooOldError
        Nobody is asked, or the answer was no.
    """
    from portwright.errors import NotFoundError, SchemaTooOldError
    from portwright.services import shop_file

    try:
        shop_file.open_shop(place).close()
    except NotFoundError:
        return  # made on first use
    except SchemaTooOldError as error:
        question = f"{error.message} Upgrade it now? A complete copy is made first."
        if agreed is None or not agreed(question):
            raise
        typer.echo(f"Upgraded. The old one is kept as {shop_file.upgrade(place)}")


def _agreed(question: str) -> bool:
    return typer.confirm(question, default=False)


def _ask() -> str:
    """Passphrase from the keyboard, unseen; from a pipe, the first line."""
    if sys.stdin.isatty():
        return getpass.getpass("New shop passphrase: ")
    return sys.stdin.readline().rstrip("\n")
