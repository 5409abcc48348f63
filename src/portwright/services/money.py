"""Amounts and hours as decimals, never binary fractions; and what the shop charges."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from portwright.errors import InputError
from portwright.model.job import Shop
from portwright.services.shop_file import ShopFile

_TAXES, _PREFIX = "taxes", "invoice prefix"
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


def taxes_in(typed: str) -> tuple[Tax, ...]:
    """Taxes typed as "VAT 20 %; levy 1,5 %", "" for none.

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
    return tuple(taxes)


def set_taxes(shop: ShopFile, typed: str) -> tuple[Tax, ...]:
    """Keep taxes as typed; see :func:`taxes_in`."""
    taxes = taxes_in(typed)
    shop.save_setting(_TAXES, [[t.name, str(t.percent)] for t in taxes])
    return taxes


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


def bill_prefix(shop: ShopFile) -> str:
    """What the shop puts before the numbers of its quotes and invoices, "" for nothing."""
    return str(shop.setting(_PREFIX) or "")


def prefix_in(typed: str) -> str:
    """What may stand before numbers, as typed.

    Raises
    ------
    InputError
        Longer than twelve, or other than letters, digits and strokes.
    """
    text = typed.strip()
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9/_-]{0,11}|", text):
        raise InputError(
            f"'{typed}' cannot stand before invoice numbers.",
            "Use up to twelve letters, digits or strokes, like TH.",
        )
    return text


def series_of(shop: ShopFile, year: str) -> str:
    """Beginning of the numbers of a year: "TH-2026-"; they count from 001 and are never reused."""
    prefix = bill_prefix(shop)
    return f"{prefix}-{year}-" if prefix else f"{year}-"


def set_money(
    shop: ShopFile,
    *,
    rate: str | None = None,
    currency: str | None = None,
    taxes: str | None = None,
    prefix: str | None = None,
) -> None:
    """Keep what quotes and invoices go by, as typed; None leaves a thing as it is.

    Raises
    ------
    InputError
        One of them is none; nothing was kept then.
    """
    facts = shop.shop() or Shop("")
    if rate is not None:
        if rate.strip():
            decimal_in(rate, "money per hour")
        facts = replace(facts, labour_rate=rate.strip())
    if currency is not None:
        if not re.fullmatch(r"[A-Za-z]{3}|", currency.strip()):
            raise InputError(f"'{currency}' is no currency.", "Use three letters: EUR, GBP, USD.")
        facts = replace(facts, currency=currency.strip().upper())
    before = None if prefix is None else prefix_in(prefix)
    if taxes is not None:
        set_taxes(shop, taxes)
    if before is not None:
        shop.save_setting(_PREFIX, before)
    if (rate, currency) != (None, None):
        shop.save_shop(facts)
