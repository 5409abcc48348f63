"""Who may come in, and who wrote what; at the computer with the shop file itself."""

from __future__ import annotations

import getpass
import sys
from typing import TYPE_CHECKING, Annotated

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say, table

if TYPE_CHECKING:
    from portwright.services.users import Role

users = typer.Typer(
    help="People with a passphrase and a role of their own, for tablets and other computers.",
    no_args_is_help=True,
)
_Name = Annotated[str, typer.Argument(help="Name of the person.")]
_Role = Annotated[str, typer.Option("--role", help="owner, porter, apprentice or guest.")]


def ask(what: str) -> str:
    """Passphrase from the keyboard, unseen; from a pipe, the first line."""
    if sys.stdin.isatty():
        return getpass.getpass(f"{what}: ")
    return sys.stdin.readline().rstrip("\n")


@users.command("list")
def list_users(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """List everybody with role and since when."""
    from portwright.services import users as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = service.users(archive)
    if as_json:
        print_json(found)
    elif found:
        table(("name", "role", "since"), [(u.name, u.role.value, u.since) for u in found])
    else:
        say("Nobody has a passphrase of their own; the shop passphrase lets in as owner.")


@users.command("add")
def add(name: _Name, role: _Role = "porter", shop: ShopOption = None) -> None:
    """Let a person in; asks for their passphrase."""
    from portwright.services import users as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        service.add(archive, name, _role(role), ask(f"Passphrase of {name}"))
    say(f"{name} may come in as {role}.")


def _role(name: str) -> Role:
    from portwright.errors import UnknownNameError
    from portwright.services.users import Role

    try:
        return Role(name)
    except ValueError as error:
        raise UnknownNameError("role", name, list(Role)) from error


@users.command("role")
def role(
    name: _Name,
    new: Annotated[str, typer.Argument(help="owner, porter, apprentice or guest.")],
    shop: ShopOption = None,
) -> None:
    """Give a person another role, which counts at once."""
    from portwright.services import users as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        service.set_role(archive, name, _role(new))
    say(f"{name} is {new} now.")


@users.command("passphrase")
def passphrase(
    name: Annotated[
        str, typer.Argument(help="Person; the shop's own passphrase if left out.")
    ] = "",
    shop: ShopOption = None,
) -> None:
    """Set a new passphrase without the old one, and end the sessions it opened."""
    from portwright.services import passphrase as door
    from portwright.services import users as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        if name:
            service.set_phrase(archive, name, ask(f"New passphrase of {name}"))
        else:
            door.set_passphrase(archive, ask("New shop passphrase"))
    say("Set. Devices have to log in again.")


@users.command("remove")
def remove(name: _Name, shop: ShopOption = None) -> None:
    """Let a person in no more; what they entered keeps their name."""
    from portwright.services import users as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        service.remove(archive, name)
    say(f"{name} is let in no more.")


@users.command("sessions")
def sessions(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """List the devices that are logged in."""
    from portwright.services import passphrase as door
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = door.sessions(archive)
    if as_json:
        print_json(
            [{"user": s.user, "device": s.device, "since": s.since, "ends": s.ends} for s in found]
        )
        return
    rows = [
        (
            s.user or "(shop passphrase)",
            s.device,
            f"{s.since:%Y-%m-%d %H:%M}",
            f"{s.ends:%Y-%m-%d %H:%M}",
        )
        for s in found
    ]
    table(("name", "device", "since (UTC)", "until"), rows)


@users.command("log-out")
def log_out(
    name: Annotated[str, typer.Argument(help="Person; everybody if left out.")] = "",
    shop: ShopOption = None,
) -> None:
    """End sessions at once, as after a lost tablet."""
    from portwright.services import passphrase as door
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        ended = door.end_sessions(archive, name or None)
    say(f"{ended} sessions ended.")


def audit(
    by: Annotated[str | None, typer.Option("--by", help="Only what this person wrote.")] = None,
    limit: Annotated[int, typer.Option("--limit", min=1, help="Lines, the newest first.")] = 50,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say who wrote what and when, newest first."""
    from portwright.services import users as users_
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = archive.changes(limit, by)
    if as_json:
        print_json(found)
        return
    for line in found:
        person = line.who or "(nobody named)"
        what = users_.change_words(line)
        say(f"{line.at[:19]}  {person}, {line.role} {line.device}".rstrip() + f": {what}")
