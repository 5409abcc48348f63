"""Quote and invoice on paper."""

from __future__ import annotations

from decimal import Decimal

from portwright.catalogue import Words, words
from portwright.model.job import Shop
from portwright.report.document import Document, Fact, Grid, Lines, section
from portwright.report.pdf import render
from portwright.services.billing import Bill
from portwright.services.shop_file import ShopFile
from portwright.services.shop_marks import logo_of, report_language


def bill_pdf(shop: ShopFile, bill: Bill, language: str = "") -> bytes:
    """A quote or invoice as PDF, a draft marked so.

    The customer it is addressed to stands on it; serial numbers do not.

    Raises
    ------
    ReportError, UnknownNameError
    """
    return render(bill_document(shop, bill, words(language or report_language(shop))))


def bill_document(shop: ShopFile, bill: Bill, say: Words) -> Document:
    """A quote or invoice as finished text."""
    facts, job = shop.shop() or Shop(name=""), shop.job(bill.job).job
    name = bill.kind.value
    title = say(f"bill.{name}", number=bill.number or say("bill.draft"))
    return Document(
        title=title,
        shop=facts.name,
        shop_line=", ".join(p for p in (facts.town, facts.porter) if p),
        facts=tuple(
            f
            for f in (
                Fact(say("fact.customer"), job.customer),
                Fact(say("bill.date"), say.date(bill.day)),
                Fact(say("bill.job"), bill.job),
                Fact(say("fact.vehicle"), job.vehicle),
            )
            if f.value
        ),
        sections=(
            *section(say("bill.lines"), _grid(bill, say)),
            *section(say("bill.terms"), Lines((say(f"bill.{name}-note"),))),
        ),
        language=say.language,
        logo=logo_of(shop),
    )


def _grid(bill: Bill, say: Words) -> Grid:
    def money(value: Decimal) -> str:
        return say.money(value, bill.currency)

    rows = [
        (
            line.name,
            say.number(f"{line.count} {'h' if line.source.startswith('hours:') else '×'}"),
            money(line.price),
            money(line.total),
        )
        for line in bill.lines
    ]
    if bill.taxes:
        rows.append((say("bill.net"), "", "", money(bill.net)))
    rows += [(say.number(f"{t.name} {t.percent} %"), "", "", money(a)) for t, a in bill.taxes]
    rows.append((say("bill.total"), "", "", money(bill.total)))
    headings = ("what", "count", "price", "amount")
    return Grid(
        tuple(say(f"bill.{h}") for h in headings), tuple(rows), numeric=(1, 2, 3), total=True
    )
