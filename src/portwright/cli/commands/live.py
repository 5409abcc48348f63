"""The practice bench, instruments, and what a trace gives under another settle rule."""

from __future__ import annotations

import math
import os
import sys
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say, table

if TYPE_CHECKING:
    from portwright.services.display import Display
    from portwright.services.replay import SideBySide, TwoBenches

HabitsOption = Annotated[
    str, typer.Option("--habits", help="How it behaves: steady, hunting, slow or cold.")
]


def practice_bench(
    habits: HabitsOption = "steady",
    lifts: Annotated[
        str, typer.Option("--lifts", help="It turns the valve itself: '1 2 3 4', in mm.")
    ] = "",
    every: Annotated[float, typer.Option("--every", min=1.0, help="Seconds at each lift.")] = 15.0,
    rate: Annotated[float, typer.Option("--rate", help="Lines a second.")] = 20.0,
    tcp_port: Annotated[int, typer.Option("--tcp-port", min=0, max=65535)] = 9870,
    terminal: Annotated[
        Path | None,
        typer.Option("--terminal", help="Also make a serial port of this name (not on Windows)."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Same number, same unrest.")] = 1,
    size: Annotated[
        float, typer.Option("--size", min=0.1, max=10.0, help="Size of its port, 1 as usual.")
    ] = 1.0,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.0, help="End after so long; 0 for never.")
    ] = 0.0,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print where it can be reached, and nothing else.")
    ] = False,
) -> None:
    """Run a bench to practise on, over TCP and as a serial port where the system has such."""
    from portwright.errors import UnknownNameError
    from portwright.services import practice_bench as practice
    from portwright.services.lift_lists import own_list

    if habits not in practice.HABITS:
        raise UnknownNameError("kind of practice bench", habits, practice.HABITS)
    made = practice.Practice(practice.HABITS[habits], rate, seed, size * 1.15e-3)
    turns = [str(t) for t in own_list(lifts, "mm").lifts] if lifts else []
    stop = threading.Event()
    tcp = practice.TcpOutlet(tcp_port, made.command)
    outlets: list[practice.Outlet] = [tcp]
    if terminal is None and hasattr(os, "openpty"):
        terminal = Path(tempfile.mkdtemp(prefix="portwright-")) / "bench"
    if terminal is not None:
        outlets.append(practice.TerminalOutlet(terminal))
    text = practice.practice_description(tcp.port)
    if as_json:
        print_json(
            {"host": "127.0.0.1", "tcp_port": tcp.port, "terminal": terminal, "description": text}
        )
        sys.stdout.flush()
    else:
        say(f"The practice bench answers at 127.0.0.1, port {tcp.port}.")
        if terminal is not None:
            say(f"It is also the serial port {terminal}.")
        say("In the app: Bench, Instruments, begin with 'practice', keep it.")
        say(f"Type here what you would do at the bench: {practice.COMMANDS}.")
    console = practice.Console(made, outlets, stop, say)
    console.start()
    if turns:
        console.turn(turns, every)
    most = round(seconds * rate) if seconds > 0.0 else None
    try:
        practice.run(made, outlets, stop, most)
    except KeyboardInterrupt:
        say("The practice bench is off.")
    finally:
        stop.set()
        for outlet in outlets:
            outlet.close()


app = typer.Typer(
    help="Instruments at the bench: what they send and what their lines mean.",
    no_args_is_help=True,
)


@app.command("list")
def list_instruments(shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """List the instruments of the shop and the examples to begin with."""
    from portwright.services import instruments, shop_file

    with shop_file.open_shop(shop) as opened:
        known = [d.instrument for d in instruments.described(opened)]
    if as_json:
        print_json({"instruments": known, "examples": instruments.examples()})
        return
    rows = [
        (i.name, str(i.connection), ", ".join(c.name.replace("_", " ") for c in i.channels))
        for i in known
    ]
    if rows:
        table(("Instrument", "At", "Sends"), rows)
    else:
        say("No instrument is described yet.")
    say(f"Examples: {', '.join(instruments.examples())}.")


@app.command("example")
def show_example(name: Annotated[str, typer.Argument(help="Name of the example.")]) -> None:
    """Print an example description, to be changed and kept."""
    from portwright.services import instruments

    say(instruments.example(name))


@app.command("keep")
def keep_instrument(
    file: Annotated[Path, typer.Argument(help="Description, a TOML file; - for the keyboard.")],
    shop: ShopOption = None,
) -> None:
    """Check a description and keep it with the shop."""
    from portwright.errors import ImportFileError
    from portwright.services import instruments, shop_file

    try:
        text = sys.stdin.read() if str(file) == "-" else file.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise ImportFileError(f"{file} cannot be read: {error}.", "Choose a text file.") from error
    with shop_file.open_or_create(shop) as opened:
        made = instruments.keep(opened, text)
    say(f"{made.name} is kept.")


@app.command("forget")
def forget_instrument(
    name: Annotated[str, typer.Argument(help="Name of the instrument.")], shop: ShopOption = None
) -> None:
    """Take an instrument out of the shop file."""
    from portwright.services import instruments, shop_file

    with shop_file.open_shop(shop) as opened:
        instruments.forget(opened, name)
    say(f"{name} is taken out.")


@app.command("try")
def try_instrument(
    name: Annotated[str, typer.Argument(help="Name of the instrument.")],
    shop: ShopOption = None,
    lines: Annotated[int, typer.Option("--lines", min=1, help="End after so many.")] = 10,
    wait: Annotated[float, typer.Option("--wait", help="Give up after so many seconds.")] = 20.0,
) -> None:
    """Listen to an instrument and say what its lines mean."""
    from portwright.services import instruments, shop_file
    from portwright.services.display import Display

    with shop_file.open_shop(shop) as opened:
        made = instruments.named(opened, name)
        display = Display.of(opened.shop())
    for line in instruments.listened(made, lines, wait):
        said = instruments.understood(made, line, display)
        words = "; ".join(f"{n} {v}" for n, v in said.values.items())
        say(f"{line}   {words or 'not understood: it does not look like the pattern'}")


def replay(
    run: Annotated[str, typer.Argument(metavar="RUN", help="A sweep taken live.")],
    settle: Annotated[
        str,
        typer.Option(
            "--settle",
            metavar="RULE",
            help="Another settle rule: strict-1, fixed-10s, or 'standard-1 shortest=5s'.",
        ),
    ] = "strict-1",
    against: Annotated[
        str, typer.Option("--against", metavar="RUN", help="The same port on another bench.")
    ] = "",
    export: Annotated[
        Path | None,
        typer.Option("--export", help="Write the raw lines to this file."),
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take a stored sweep again with another settle rule, both results side by side."""
    from portwright.services import live_trace, settle_rules, shop_file
    from portwright.services import replay as again
    from portwright.services.display import Display

    rule = settle_rules.read_rule(settle)
    with shop_file.open_shop(shop) as opened:
        display = Display.of(opened.shop())
        if against:
            both = again.two_benches(opened, run, against, rule)
            _say_benches(both, display, as_json=as_json)
        else:
            _say_side_by_side(again.side_by_side(opened, run, rule), display, as_json=as_json)
        if export is not None:
            traces = live_trace.load(opened, opened.run(run).job, run)
            live_trace.export(traces, export)
            if not as_json:
                say(f"{sum(t.lines for t in traces)} lines are in {export}.")


def _percent(value: float, digits: int = 2) -> str:
    return f"{100.0 * value:+z.{digits}f} %" if math.isfinite(value) else "–"


def _seconds(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "–"


def _say_side_by_side(found: SideBySide, display: Display, *, as_json: bool) -> None:
    if as_json:
        print_json(
            {
                "run": found.run.code,
                "rule": found.rule,
                "pressure_pa": found.pressure,
                "lines": found.lines,
                "mean_change_pct": 100.0 * found.mean_change,
                "not_taken": found.not_taken,
                "lifts": [
                    {
                        "lift_mm": round(r.lift.si * 1e3, 4),
                        "stored_m3_s": r.stored,
                        "other_m3_s": r.other,
                        "change_pct": 100.0 * r.change,
                        "stored_waited_s": r.stored_waited,
                        "other_waited_s": r.other_waited,
                        "other_error_pct": 100.0 * r.other_error,
                        "unsteady": r.unsteady,
                    }
                    for r in found.rows
                ],
            }
        )
        return
    say(
        f"{found.run.code}, {found.run.port} {found.run.stage}, flow at "
        f"{display.pressure_text(found.pressure)}, {found.lines} lines"
    )
    headings = ("Lift", "Stored", "waited s", found.rule.name, "waited s", "Change", "± of it")
    rows = [
        (
            str(r.lift),
            f"{display.flow_text(r.stored)}",
            _seconds(r.stored_waited),
            f"{display.flow_text(r.other)}{' unsteady' if r.unsteady else ''}",
            _seconds(r.other_waited),
            _percent(r.change),
            _percent(2.0 * r.other_error).lstrip("+"),
        )
        for r in found.rows
    ]
    table(headings, rows)
    say(f"Flow in {display.flow}. Mean change {_percent(found.mean_change)}.")
    if found.not_taken:
        say(f"{found.rule.name} takes nothing at {', '.join(found.not_taken)}.")


def _say_benches(both: TwoBenches, display: Display, *, as_json: bool) -> None:
    if as_json:
        print_json(
            {
                "first": both.first.run.code,
                "second": both.second.run.code,
                "rule": both.first.rule,
                "sentence": both.sentence(),
                "findings": both.findings,
                "lifts": [
                    {
                        "lift_mm": round(s.lift.si * 1e3, 4),
                        "as_stored_pct": 100.0 * s.as_stored,
                        "by_settling_pct": 100.0 * s.by_settling,
                        "left_pct": 100.0 * s.settled,
                        "error_pct": 100.0 * s.error,
                    }
                    for s in both.shares
                ],
            }
        )
        return
    rows = [
        (str(s.lift), _percent(s.as_stored), _percent(s.by_settling), _percent(s.settled))
        for s in both.shares
    ]
    table(("Lift", "As stored", "By settling", "Left"), rows)
    say(both.sentence())
    for finding in both.findings:
        say(finding)
