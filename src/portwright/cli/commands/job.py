"""The job card at the command line: hours, questions, parts, quote and invoice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from portwright.cli.options import JsonOption, OutOption, ShopOption
from portwright.cli.output import print_json, say, say_findings, table

if TYPE_CHECKING:
    from portwright.services.billing import Bill
    from portwright.services.shop_file import ShopFile

app = typer.Typer(
    help="The job card: work and hours, questions to the customer, parts, quote, invoice.",
    no_args_is_help=True,
)
JobArgument = Annotated[str, typer.Argument(help="Job number.")]
WorkArgument = Annotated[str, typer.Argument(help="Name of the work on the card.")]
CloseOption = Annotated[
    bool, typer.Option("--close", help="Give it its number; it is not changed after.")
]


@app.command("card")
def card(job: JobArgument, shop: ShopOption = None, as_json: JsonOption = False) -> None:
    """Work in order with its hours, and what waits for the customer's yes."""
    from portwright.services.job_card import job_card
    from portwright.services.money import hours_text
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        found = job_card(archive, job)
    if as_json:
        print_json(found)
        return
    rows = [
        (
            o.name,
            hours_text(o.quoted),
            hours_text(o.actual),
            hours_text(o.unbilled),
            "running" if o.running_since else "waits" if o.waits_for else "",
        )
        for o in found.operations
    ]
    sums = (found.quoted, found.actual, found.unbilled)
    table(
        ("work", "quoted h", "worked h", "not billed h", ""),
        [*rows, ("together", *(hours_text(v) for v in sums), "")],
    )
    for hold in found.waiting:
        say(f"Waits for the customer's yes: {hold.question}")


@app.command("add")
def add(
    job: JobArgument,
    work: Annotated[str, typer.Argument(help="What is to be done.")],
    hours: Annotated[str, typer.Option("--hours", help="Hours quoted.")] = "",
    found: Annotated[
        bool, typer.Option("--found", help="Found on inspection: waits for the customer's yes.")
    ] = False,
    shop: ShopOption = None,
) -> None:
    """Put work on the card, or more quoted hours for it."""
    from portwright.services.card_work import add_operation
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        add_operation(archive, job, work, hours, found=found)
    say(f"{work}: on the card")


@app.command("start")
def start(job: JobArgument, work: WorkArgument, shop: ShopOption = None) -> None:
    """Start the clock on some work."""
    from portwright.services import card_work
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        card_work.start(archive, job, work)
    say(f"{work}: running")


@app.command("stop")
def stop(job: JobArgument, work: WorkArgument, shop: ShopOption = None) -> None:
    """Stop the clock on some work."""
    from portwright.services import card_work, job_card
    from portwright.services.money import hours_text
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        card_work.stop(archive, job, work)
        worked = job_card.job_card(archive, job).operation(work).actual
    say(f"{work}: {hours_text(worked)} h worked")


@app.command("hours")
def hours(
    job: JobArgument,
    work: WorkArgument,
    worked: Annotated[str, typer.Argument(metavar="HOURS", help="Like 1.5.")],
    shop: ShopOption = None,
) -> None:
    """Add hours that were worked without the clock."""
    from portwright.services.card_work import add_hours
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        add_hours(archive, job, work, worked)
    say(f"{work}: {worked} h added")


@app.command("part")
def part(
    job: JobArgument,
    name: Annotated[str, typer.Argument(help="What was used.")],
    price: Annotated[str, typer.Option("--price", help="Of one, before tax.")],
    count: Annotated[str, typer.Option("--count", help="How many.")] = "1",
    shop: ShopOption = None,
) -> None:
    """Put parts on the card."""
    from portwright.services.card_work import add_part
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        add_part(archive, job, name, count, price)
    say(f"{count} x {name}: on the card")


@app.command("ask")
def ask(
    job: JobArgument,
    question: Annotated[str, typer.Argument(help="What the customer has to decide.")],
    work: Annotated[str, typer.Option("--work", help="Work that waits; all if left out.")] = "",
    shop: ShopOption = None,
) -> None:
    """Put a question; the work waits for the yes."""
    from portwright.services import card_holds
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        card_holds.ask(archive, job, question, work)
    say("Waits for the customer's yes")


@app.command("answer")
def answer(
    job: JobArgument,
    question: Annotated[str, typer.Argument(help="Some words of the question.")],
    said: Annotated[str, typer.Argument(metavar="yes|no", help="What the customer said.")],
    how: Annotated[str, typer.Option("--how", help="phone, 'in writing' or 'in person'.")],
    day: Annotated[str, typer.Option("--day", help="Day, today if left out.")] = "",
    who: Annotated[str, typer.Option("--who", help="Who answered.")] = "",
    shop: ShopOption = None,
) -> None:
    """Record what the customer said, when and how."""
    from portwright.services import card_holds
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        card_holds.answer(archive, job, question, said, how, day=day, who=who)
    say(f"{said} recorded")


@app.command("release")
def release(
    job: JobArgument,
    said: Annotated[str, typer.Argument(metavar="yes|no", help="May they be shown?")],
    how: Annotated[str, typer.Option("--how", help="How the customer said so.")] = "",
    shop: ShopOption = None,
) -> None:
    """Record whether the customer's name and serial numbers may be shown."""
    from portwright.errors import InputError
    from portwright.services.card_holds import release_names
    from portwright.services.shop_file import open_shop

    if said not in {"yes", "no"}:
        raise InputError(f"'{said}' is no answer.", "Say yes or no.")
    with open_shop(shop) as archive:
        release_names(archive, job, released=said == "yes", how=how)
    say(f"Name and serial numbers: {'released' if said == 'yes' else 'held back'}")


@app.command("money")
def money_settings(
    rate: Annotated[str | None, typer.Option("--rate", help="An hour, before tax.")] = None,
    currency: Annotated[
        str | None, typer.Option("--currency", help="Three letters: EUR, GBP, USD.")
    ] = None,
    taxes: Annotated[
        str | None, typer.Option("--taxes", help="Like 'VAT 20 %'; '' for none.")
    ] = None,
    prefix: Annotated[
        str | None, typer.Option("--prefix", help="Before the numbers of quotes and invoices.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What every quote and invoice of the shop goes by; shown, or set with the options."""
    from portwright.services import money
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        money.set_money(archive, rate=rate, currency=currency, taxes=taxes, prefix=prefix)
        found = {
            "rate": money.rate_of(archive),
            "currency": money.currency_of(archive),
            "taxes": money.taxes_text(money.taxes_of(archive)),
            "prefix": money.bill_prefix(archive),
        }
    if as_json:
        print_json(found)
        return
    for name, value in found.items():
        say(f"{name:9} {'not set' if value in {None, ''} else value}")


@app.command("quote")
def quote(
    job: JobArgument,
    out: OutOption = None,
    close: CloseOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Quote for the hours and parts on the card."""
    from portwright.services import billing
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        bill = billing.draft_quote(archive, job)
        bill = billing.close_bill(archive, bill) if close else bill
        _tell(archive, bill, out, as_json=as_json)


@app.command("invoice")
def invoice(
    job: JobArgument,
    worked: Annotated[
        bool, typer.Option("--worked", help="Bill the hours worked, not those quoted.")
    ] = False,
    reason: Annotated[
        str, typer.Option("--reason", help="Why hours that were worked are not billed.")
    ] = "",
    out: OutOption = None,
    close: CloseOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Invoice; hours worked that are not on it are named before it closes."""
    from portwright.services import billing
    from portwright.services.shop_file import open_shop

    basis = billing.Basis.WORKED if worked else billing.Basis.QUOTED
    with open_shop(shop) as archive:
        bill = billing.draft_invoice(archive, job, basis)
        bill = billing.close_bill(archive, bill, reason=reason) if close else bill
        _tell(archive, bill, out, as_json=as_json)


def _tell(archive: ShopFile, bill: Bill, out: Path | None, *, as_json: bool) -> None:
    from portwright.catalogue import words
    from portwright.services.bill_paper import bill_pdf
    from portwright.services.billing import repeated_numbers
    from portwright.services.files import write_file
    from portwright.services.money import hours_text

    if out is not None:
        write_file(bill_pdf(archive, bill), out)
    if as_json:
        print_json(bill)
        return
    money = words().money
    rows = [(li.name, str(li.count), money(li.total, bill.currency)) for li in bill.lines]
    rows += [(t.name, f"{t.percent} %", money(a, bill.currency)) for t, a in bill.taxes]
    title = f"{bill.kind.value} {bill.number or '(draft)'}"
    table((title, "", ""), [*rows, ("total", "", money(bill.total, bill.currency))])
    if bill.unbilled:
        say(f"{hours_text(bill.unbilled_hours)} h worked are on no invoice:")
        for name, value in bill.unbilled.items():
            say(f"  {name} {hours_text(value)} h")
    say_findings(repeated_numbers(archive, bill.job))
    if out is not None:
        say(f"{out} written")


@app.command("head")
def head(
    job: JobArgument,
    of: Annotated[
        str, typer.Option("--head", help="One head of this job; else its casting, for every job.")
    ] = "",
    intake_angle: Annotated[
        str | None, typer.Option("--intake-valve-angle", help="From the bore axis, like '12 deg'.")
    ] = None,
    exhaust_angle: Annotated[
        str | None, typer.Option("--exhaust-valve-angle", help="The same; '' takes it back.")
    ] = None,
    intake_location: Annotated[
        str | None, typer.Option("--intake-port-location", help="Like 'down draft'.")
    ] = None,
    exhaust_location: Annotated[
        str | None, typer.Option("--exhaust-port-location", help="Like 'spread port'.")
    ] = None,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Valve angle and port location, by which heads are ranked; shown, or written if given."""
    from portwright.model.head import Side
    from portwright.services import head_facts
    from portwright.services.shop_file import open_shop

    angles = {Side.INTAKE: intake_angle, Side.EXHAUST: exhaust_angle}
    places = {Side.INTAKE: intake_location, Side.EXHAUST: exhaust_location}
    new_angles = {side: text for side, text in angles.items() if text is not None}
    new_places = {side: text for side, text in places.items() if text is not None}
    with open_shop(shop) as archive:
        if new_angles or new_places:
            chosen = head_facts.subject_named(head_facts.subjects(archive, archive.job(job)), of)
            head_facts.write(archive, job, chosen, new_angles, new_places)
        found = head_facts.subjects(archive, archive.job(job))
    if as_json:
        print_json([s.thing for s in found])
        return
    rows = [
        (s.name, side.value, str(said.valve_angle or "–"), said.port_location or "–")
        for s in found
        for side in Side
        for said in [head_facts.of_side(s.thing, side)]
    ]
    table(("of", "side", "valve angle", "port location"), rows)
