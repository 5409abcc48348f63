"""Amounts and hours as decimals, never binary fractions; and what the shop charges."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from portwright.errors import InputError
from portwright.services.shop_file import ShopFile

_TAXES, _BILL = "taxes", "invoice numbers"
_PLAIN = re.compile(r"[+-]?\d+([.,]\d+)?")
_MOST = Decimal(10) ** 9


def decimal_in(typed: str, what: str, *, least: Decimal | None = Decimal(0)) -> Decimal:
    """A number as typed, with a comma or a point.

    Parameters
    ----------
    what : str
        What it is, for the error.
    least : Decimal or None
        Nothing below it is taken.

    Raises
    ------
    InputError
    """
    text = typed.strip().replace("\u2212", "-")
    if not _PLAIN.fullmatch(text):
        raise InputError(
            f"'{typed}' is not a number of {what}.", "Type digits, with one comma or point."
        )
    value = Decimal(text.replace(",", "."))
    if (least is not None and value < least) or abs(value) > _MOST:
        raise InputError(f"{typed} is outside what {what} can be.", "Check the number.")
    return value


def hours_text(value: Decimal) -> str:
    """Hours to the tenth."""
    return f"{value:.1f}"


@dataclass(frozen=True, slots=True)
class Tax:
    """One tax on the sum of an invoice.

    Parameters
    ----------
    name : str
    percent : Decimal
    """

    name: str
    percent: Decimal


def taxes_of(shop: ShopFile) -> tuple[Tax, ...]:
    """Taxes the shop adds, none until they are set."""
    kept = shop.setting(_TAXES) or []
    return tuple(Tax(name, Decimal(percent)) for name, percent in kept)


def set_taxes(shop: ShopFile, typed: str) -> tuple[Tax, ...]:
    """Keep taxes typed as "VAT 20 %; levy 1,5 %", "" for none.

    Raises
    ------
    InputError
    """
    taxes = []
    for part in (p.strip() for p in typed.split(";")):
        if not part:
            continue
        found = re.fullmatch(r"(?P<name>.*?\D)\s+(?P<percent>[\d.,]+)\s*%?", part)
        if found is None:
            raise InputError(f"'{part}' is not a tax.", "Type its name and percent: VAT 20 %.")
        taxes.append(Tax(found["name"].strip(), decimal_in(found["percent"], "percent")))
    shop.save_setting(_TAXES, [[t.name, str(t.percent)] for t in taxes])
    return tuple(taxes)


def taxes_text(taxes: Sequence[Tax]) -> str:
    """Taxes as they are typed."""
    return "; ".join(f"{t.name} {t.percent} %" for t in taxes)


def rate_of(shop: ShopFile) -> Decimal | None:
    """What an hour costs before tax, None until it is set."""
    facts = shop.shop()
    if facts is None or not facts.labour_rate.strip():
        return None
    return decimal_in(facts.labour_rate, "money per hour")


def currency_of(shop: ShopFile) -> str:
    """ISO 4217 code of the shop's money."""
    facts = shop.shop()
    return (facts.currency if facts else "") or "EUR"


def next_number(shop: ShopFile, kind: str, year: str) -> str:
    """Next number of a quote or invoice, "2026-001", counted up for each year and never reused."""
    kept = dict(shop.setting(_BILL) or {})
    count = int(kept.get(f"{kind} {year}", 0)) + 1
    shop.save_setting(_BILL, kept | {f"{kind} {year}": count})
    return f"{year}-{count:03d}"
