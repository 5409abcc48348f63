"""Backups by themselves, and going back to one."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say, table


def backups(
    to: Annotated[
        Path | None,
        typer.Option("--to", help="Folder or stick where backups are made from now on."),
    ] = None,
    every: Annotated[float | None, typer.Option("--every", help="Hours between two.")] = None,
    keep: Annotated[int | None, typer.Option("--keep", help="Newest ones always kept.")] = None,
    off: Annotated[bool, typer.Option("--off", help="Make none by themselves.")] = False,
    now: Annotated[bool, typer.Option("--now", help="Make one now.")] = False,
    verify: Annotated[
        bool, typer.Option("--verify", help="Open and check every one in the folder.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Say where and how often backups are made while the app is served, and list them."""
    from dataclasses import replace

    from portwright.errors import PortwrightError
    from portwright.services import backups as service
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        plan = old = service.plan(archive)
        if off:
            plan = replace(plan, folder="")
        if to is not None:
            plan = replace(plan, folder=str(to.absolute()))
        plan = replace(plan, every_hours=every or plan.every_hours, keep=keep or plan.keep)
        if plan != old:
            service.set_plan(archive, plan)
        if now:
            service.make(archive)
        state = service.state(archive)
        found = service.kept(archive, Path(plan.folder)) if plan.on else []
    lines = []
    for backup in found:
        verdict = ""
        if verify:
            try:
                checked = service.check(backup.path)
                verdict = "sound" if checked.listed else "sound, without a checksum file"
            except PortwrightError as error:
                verdict = str(error)
        lines.append((backup.path.name, f"{backup.path.stat().st_size}", verdict))
    if as_json:
        names = ("name", "bytes", "verdict")
        listed = [dict(zip(names, line, strict=True)) for line in lines]
        print_json({"plan": plan, "state": state, "backups": listed})
        return
    if not plan.on:
        say("No backups are made by themselves. Name a folder: portwright backups --to FOLDER")
        return
    say(f"Every {plan.every_hours:g} h into {plan.folder} while the app is served.")
    if state.failed:
        say(f"The last attempt failed: {state.failed}")
    if lines:
        table(("backup", "bytes", "checked" if verify else ""), lines)


def move_shop(
    source: Annotated[Path, typer.Argument(help="Shop file, or postgresql://user@server/name.")],
    target: Annotated[Path, typer.Argument(help="New shop file, or an empty database.")],
    as_json: JsonOption = False,
) -> None:
    """Copy a whole shop between a file and a server, every row compared; the source stays."""
    from portwright.services.shop_file import move

    moved = move(source, target)
    if as_json:
        print_json(moved)
        return
    for name, number in moved.rows.items():
        say(f"{number:8} {name.replace('_', ' ')}")
    say("Every row is the same in both places.")


def restore(
    backup: Annotated[Path, typer.Argument(help="Backup, or a shop file from another computer.")],
    rehearse: Annotated[
        bool, typer.Option("--rehearse", help="Try it in a folder of its own; change nothing.")
    ] = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Put a checked backup in the place of the shop file; the present file is kept beside it."""
    from portwright.services import backups as service
    from portwright.services.shop_file import default_path

    target = shop or default_path()
    if rehearse:
        tried = service.rehearse(backup, target)
        if as_json:
            print_json(tried)
            return
        say(f"{backup} is sound (sha256 {tried.backup.sha256}).")
        say(f"Restored on trial and read back: {tried.jobs} jobs, {tried.readings} readings.")
        if tried.backup.older:
            say(f"It is of schema {tried.backup.schema} and was upgraded on trial.")
        for name, number in tried.missing.items():
            say(f"The present {target.name} has {number} more rows of {name}: they would be aside.")
        say("Nothing was changed.")
        return
    done = service.restore(backup, target)
    if as_json:
        print_json(done)
        return
    say(f"{target} is now what {backup.name} holds: {done.backup.rows['job']} jobs.")
    if done.upgraded_from:
        say(f"It was upgraded from schema {done.upgraded_from}; the backup is as it was.")
    if done.kept:
        say(f"The file that was there is kept as {done.kept}")
