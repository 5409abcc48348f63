"""Tokens for other programs."""

from __future__ import annotations

from typing import Annotated

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say, table

tokens = typer.Typer(
    help="Tokens with which other programs use the shop over HTTP.", no_args_is_help=True
)
_Name = Annotated[str, typer.Argument(help="Name of the token.")]


@tokens.command("add")
def add(
    name: _Name,
    scope: Annotated[str, typer.Option("--scope", help="read, enter or write.")] = "read",
    days: Annotated[int, typer.Option("--days", help="How long it works.")] = 365,
    shop: ShopOption = None,
) -> None:
    """Make a token and print it once."""
    from portwright.errors import UnknownNameError
    from portwright.services import tokens as service
    from portwright.services.shop_file import open_shop

    if scope not in list(service.Scope):
        raise UnknownNameError("scope", scope, list(service.Scope))
    with open_shop(shop) as archive:
        say(service.make(archive, name, service.Scope(scope), days))


@tokens.command("list")
def list_tokens(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """List the tokens, never what they are."""
    from portwright.services import tokens as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = service.tokens(archive)
    if as_json:
        print_json(found)
    else:
        rows = [(t.name, t.scope.value, t.made, t.ends) for t in found]
        table(("name", "scope", "made", "ends"), rows)


@tokens.command("revoke")
def revoke(name: _Name, shop: ShopOption = None) -> None:
    """Let a token work no more, at once."""
    from portwright.services import tokens as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        service.revoke(archive, name)
    say(f"{name} works no more.")
