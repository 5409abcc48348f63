"""The job card: the clock, what waits for a yes, money to the coin, and no hour unbilled."""

from __future__ import annotations

import io
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from portwright.archive.archive import Archive
from portwright.catalogue import to_coin
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.model.entry import EntryKind, JobEntry
from portwright.model.job import Job, Shop
from portwright.services import (
    billing,
    card_entries,
    card_holds,
    card_work,
    job_card,
    money,
    shop_file,
)
from portwright.services.bill_paper import bill_pdf
from portwright.services.demo import DEMO_JOB
from portwright.services.exporting import export_shop, import_export

JOB = "J-1"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Archive]:
    with Archive.create(tmp_path / "a.shop") as archive:
        archive.save_shop(Shop("Shop (invented)", currency="EUR", labour_rate="95,00"))
        archive.add_job(Job(JOB, customer="A. Person (invented)"))
        card_work.add_operation(archive, JOB, "Guides", "3")
        card_work.add_operation(archive, JOB, "Valve job", "3,5")
        yield archive


def test_the_clock_survives_closing_the_file(shop: Archive) -> None:
    card_work.start(shop, JOB, "Guides", at="2026-03-01T08:00:00+00:00")
    shop.close()
    with Archive.open(shop.path) as again:
        card = job_card.job_card(again, JOB, at="2026-03-01T09:30:00+00:00")
        assert card.operation("Guides").actual == Decimal("1.5")
        assert card.operation("Guides").running_since
        card_work.start(again, JOB, "Guides")  # twice changes nothing
        card_work.stop(again, JOB, "Guides", at="2026-03-01T10:00:00+00:00")
        card_work.stop(again, JOB, "Guides")
        card = job_card.job_card(again, JOB)
    assert card.operation("Guides").actual == Decimal(2)
    assert not card.operation("Guides").running_since


def test_work_found_on_inspection_waits_for_the_yes(shop: Archive) -> None:
    card_work.add_operation(shop, JOB, "Weld crack", "4", found=True)
    with pytest.raises(InputError, match="waits for the customer's yes"):
        card_work.start(shop, JOB, "Weld crack")
    with pytest.raises(InputError, match="how the customer answered"):
        card_holds.answer(shop, JOB, "weld", "yes", "")
    card_holds.answer(shop, JOB, "weld", "no", "phone", day="2026-03-02")
    with pytest.raises(InputError, match="waits"):
        card_work.start(shop, JOB, "Weld crack")
    card_holds.answer(shop, JOB, "weld", "yes", "in writing", day="2026-03-03", who="A. Person")
    card_work.start(shop, JOB, "Weld crack")
    (hold,) = job_card.job_card(shop, JOB).holds
    assert (hold.answer, hold.answered, hold.how) == ("yes", "2026-03-03", "in writing")
    with pytest.raises(UnknownNameError):
        card_holds.answer(shop, JOB, "paint", "yes", "phone")


def test_an_invoice_does_not_close_over_unbilled_hours(shop: Archive) -> None:
    card_work.add_hours(shop, JOB, "Guides", "4.2")
    draft = billing.draft_invoice(shop, JOB)
    assert draft.unbilled == {"Guides": Decimal("1.2")}
    with pytest.raises(InputError, match=r"1\.2 h worked are not on this invoice: Guides 1\.2 h"):
        billing.close_bill(shop, draft)
    closed = billing.close_bill(shop, draft, reason="agreed price", day="2026-03-27")
    assert closed.number == "2026-001"
    assert closed.total == Decimal("617.50")  # 3 h and 3.5 h at 95.00
    rest = billing.draft_invoice(shop, JOB, billing.Basis.WORKED)
    assert [(line.name, line.count) for line in rest.lines] == [("Guides", Decimal("1.2"))]
    assert rest.unbilled == {}
    assert billing.close_bill(shop, rest, day="2026-03-28").number == "2026-002"
    assert job_card.job_card(shop, JOB).unbilled == 0
    assert billing.stored_bill(shop, JOB, "2026-001") == replace(closed, unbilled={})


def test_an_invoice_does_not_close_while_a_clock_runs(shop: Archive) -> None:
    card_work.start(shop, JOB, "Guides")
    with pytest.raises(InputError, match="clock still runs on Guides"):
        billing.close_bill(shop, billing.draft_invoice(shop, JOB), reason="tea")


def test_parts_and_taxes(shop: Archive) -> None:
    card_work.add_part(shop, JOB, "Intake valve", "6", "41,35")
    money.set_taxes(shop, "VAT 20 %; levy 1,5 %")
    draft = billing.draft_quote(shop, JOB)
    assert draft.net == Decimal("617.50") + Decimal("248.10")
    assert [amount for _, amount in draft.taxes] == [Decimal("173.12"), Decimal("12.98")]
    assert draft.total == Decimal("1051.70")
    text = " ".join(p.extract_text() for p in PdfReader(io.BytesIO(bill_pdf(shop, draft))).pages)
    assert "€1,051.70" in text
    assert "A. Person" in text
    with pytest.raises(InputError, match="not a tax"):
        money.set_taxes(shop, "twenty")


def test_numbers_carry_the_shops_letters_and_are_never_given_twice(shop: Archive) -> None:
    money.set_money(shop, prefix=" TH ", currency="eur")
    with ThreadPoolExecutor(4) as several:  # as many tablets closing at once
        drafts = [billing.draft_quote(shop, JOB) for _ in range(4)]
        closed = list(several.map(lambda d: billing.close_bill(shop, d, day="2026-04-01"), drafts))
    assert sorted(b.number for b in closed) == [f"TH-2026-00{k}" for k in (1, 2, 3, 4)]
    invoice = billing.close_bill(shop, billing.draft_invoice(shop, JOB), day="2027-01-02")
    assert invoice.number == "TH-2027-001"
    with pytest.raises(InputError, match="cannot stand before"):
        money.set_money(shop, rate="80", prefix="Tern Hollow, Ltd.")
    assert money.rate_of(shop) == Decimal(95), "nothing was kept of it"


def test_shops_brought_together_tell_repeated_numbers_and_count_on(
    shop: Archive, tmp_path: Path
) -> None:
    billing.close_bill(shop, billing.draft_invoice(shop, JOB), day="2026-04-01")
    other = shop_file.open_or_create(tmp_path / "other.shop")
    other.add_job(Job("K-9"))
    money.set_money(other, rate="80")
    card_work.add_part(other, "K-9", "Guides", "2", "10")
    theirs = billing.close_bill(other, billing.draft_invoice(other, "K-9"), day="2026-04-02")
    assert theirs.number == "2026-001"
    export_shop(other, tmp_path / "export")
    told = import_export(shop, tmp_path / "export").conflicts
    assert any("Invoice 2026-001 stands 2 times" in text for text in told)
    (finding,) = billing.repeated_numbers(shop, "K-9")
    assert f"jobs {JOB}, K-9" in finding.message
    assert billing.stored_bill(shop, "K-9", "2026-001") == replace(theirs, unbilled={})
    card_work.add_part(shop, JOB, "Gasket", "1", "5")
    later = billing.close_bill(shop, billing.draft_invoice(shop, JOB), day="2026-04-03")
    assert later.number == "2026-002"
    other.close()


AMOUNTS = st.tuples(st.decimals(0, 500, places=1), st.decimals(0, 999, places=2))


@given(st.lists(AMOUNTS, max_size=6))
def test_sums_are_exact_whatever_the_amounts(rows: list[tuple[Decimal, Decimal]]) -> None:
    lines = [to_coin(count * price, "EUR") for count, price in rows]
    assert sum(lines, Decimal(0)) * 100 == sum(int(line * 100) for line in lines)
    for line, (count, price) in zip(lines, rows, strict=True):
        assert abs(line - count * price) <= Decimal("0.005")


@pytest.mark.parametrize("typed", ["", "two", "1.000,5", "1e3", "-1", "9" * 11, "nan", "1,2,3"])
def test_what_is_no_amount_is_refused(typed: str) -> None:
    with pytest.raises(InputError):
        money.decimal_in(typed, "hours")


def test_entries_are_corrected_never_changed(shop: Archive) -> None:
    first = JobEntry("k1", EntryKind.HOURS, "2026-03-01", {"operation": "Guides", "hours": "1"})
    shop.add_entry(JOB, first)
    shop.add_entry(JOB, first)  # sent twice
    better = replace(first, key="k2", cells={"operation": "Guides", "hours": "2"}, replaces="k1")
    shop.add_entry(JOB, better)
    assert job_card.job_card(shop, JOB).operation("Guides").actual == 2
    with pytest.raises(ConflictError, match="changed by someone else"):
        shop.add_entry(JOB, replace(better, key="k3"))
    with pytest.raises(ConflictError, match="already an entry"):
        shop.add_entry(JOB, replace(first, cells={}))
    card_entries.take_back(shop, JOB, "k2")
    assert job_card.job_card(shop, JOB).operation("Guides").actual == 0


def test_the_demo_jobs_time_sheet_shows_what_was_never_billed(demo_archive: Archive) -> None:
    card = job_card.job_card(demo_archive, DEMO_JOB)
    assert len(card.operations) == 14
    assert (card.quoted, card.actual) == (Decimal("47.5"), Decimal("60.3"))
    assert card.unbilled == Decimal("11.1")  # rows of the sheet: actual less billed, none below 0
    draft = billing.draft_invoice(demo_archive, DEMO_JOB, billing.Basis.WORKED)
    assert draft.total == Decimal("11.1") * 95


def test_a_release_counts_until_it_is_taken_back(shop: Archive) -> None:
    assert not card_holds.is_released(shop.job(JOB))
    card_holds.release_names(shop, JOB, released=True, how="phone")
    assert card_holds.is_released(shop.job(JOB))
    card_holds.release_names(shop, JOB, released=False)
    assert not card_holds.is_released(shop.job(JOB))
