"""Entry of the command line."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from portwright import __version__
from portwright.cli.commands import (
    air,
    backups,
    bench,
    calibrate,
    customer,
    cuts,
    engine,
    health,
    inspect,
    job,
    live,
    manifold,
    mill,
    port,
    port_entry,
    rank,
    repeatability,
    results,
    room,
    scan,
    seat,
    serve,
    shop,
    springs,
    tokens,
    trace,
    translate,
    tube,
    users,
)
from portwright.cli.exit_codes import exit_code
from portwright.cli.grouping import GroupedCommands
from portwright.cli.output import error_json, say
from portwright.errors import PortwrightError

app = typer.Typer(
    name="portwright",
    cls=GroupedCommands,
    help="Flow-bench results you can believe: import a sheet, see what a cut did, print it.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
app.command("demo")(shop.demo)
app.command("serve")(serve.serve)
app.command("import")(shop.import_file)
app.command("export")(shop.export)
app.command("backup")(shop.backup)
app.command("backups")(backups.backups)
app.command("move-shop")(backups.move_shop)
app.command("restore")(backups.restore)
app.add_typer(tokens.tokens, name="tokens")
app.add_typer(users.users, name="users")
app.command("audit")(users.audit)
app.command("upgrade")(shop.upgrade)
app.command("health")(health.health)
app.command("diagnose")(health.diagnose)
app.command("air")(air.air)
app.command("reduce")(results.reduce)
app.command("compare")(results.compare)
app.command("translate")(translate.translate)
app.command("cuts")(cuts.cuts)
app.command("repeatability")(repeatability.repeatability)
app.command("bench")(bench.bench)
app.command("calibrate")(calibrate.calibrate)
app.command("claims")(bench.claims)
app.command("review")(calibrate.review)
app.command("rank")(rank.rank)
app.command("find")(rank.find)
app.command("findings")(results.findings)
app.command("report")(shop.report)
app.add_typer(engine.app, name="engine")
app.add_typer(job.app, name="job")
app.command("say")(customer.speak)
app.command("share")(customer.share)
app.command("sheet")(customer.sheet)
app.command("label")(customer.label)
app.command("photos")(customer.photos)
app.command("tube")(tube.tube)
app.command("port")(port.port)
app.command("limits")(port.limits)
app.command("shape")(port_entry.shape)
app.command("wall")(port_entry.wall)
# a mark may be below zero, which is no option
app.command("pitot", context_settings={"ignore_unknown_options": True})(port_entry.pitot)
app.command("mill")(mill.mill)
app.command("seat")(seat.seat)
app.command("inspect")(inspect.inspect)
app.command("room")(room.room)
app.command("manifold")(manifold.manifold)
app.command("springs")(springs.springs)
app.command("trace")(trace.trace)
app.command("section")(scan.section)
app.command("scan")(scan.scan)
app.command("practice-bench")(live.practice_bench)
app.add_typer(live.app, name="instruments")
app.command("replay")(live.replay)


def _version(wanted: bool) -> None:
    if wanted:
        say(f"Portwright {__version__}")
        raise typer.Exit


@app.callback()
def main(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """Work on a shop file with flow-bench runs and measurements."""


def run() -> None:
    """Run the command line; errors become a sentence and an exit code."""
    # matrices here are small: threads of the linear algebra would only get in each other's way
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        # a Windows console or a pipe may not know every sign we print
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        app()
    except PortwrightError as error:
        _note(error)
        if "--json" in sys.argv:
            typer.echo(json.dumps(error_json(error), ensure_ascii=False), err=True)
        else:
            typer.echo(f"{error.message}", err=True)
            if error.hint:
                typer.echo(error.hint, err=True)
        sys.exit(int(exit_code(error)))
    except Exception as error:
        _note(error)
        raise


def _note(error: Exception) -> None:
    """Note what a command failed with in the log of the shop it was given, where there is one."""
    from portwright.services import shop_file, shop_log  # noqa: PLC0415 - help is quick without

    words = " ".join(sys.argv[1:]).replace("--shop=", "--shop ").split(" ")
    named = words[words.index("--shop") + 1 :][:1] if "--shop" in words else []
    place = Path(named[0]) if named else shop_file.default_path()
    known = {command.name for command in app.registered_commands}
    known |= {group.name for group in app.registered_groups}
    beside = shop_log.log_path(place).parent.parent
    if shop_file.is_there(place) and beside.is_dir():
        kept = shop_log.begin(place)
        unexpected = not isinstance(error, PortwrightError)
        event = shop_log.Event.UNEXPECTED if unexpected else shop_log.Event.COMMAND
        shop_log.note(event, error=error, place=next((w for w in words if w in known), ""))
        shop_log.end(kept)


if __name__ == "__main__":
    run()
