"""Everything a customer reads, in one catalogue per language.

Texts have names; the English of each stands in ``locale/en.po``, every other language in a file of
its own beside it.  Catalogues are plain gettext files, read as they are: a translator needs no
tools of ours, and a text that is not translated yet appears in English.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from portwright.errors import UnknownNameError

if TYPE_CHECKING:
    from babel import Locale

ENGLISH = "en"
_FOLDER = "locale"
_NUMBER = re.compile(r"(?<![\w.:/-])([+-]?\d+)\.(\d+)(?![\w.:/-]|\d)")


@dataclass(frozen=True)
class Words:
    """One language: its texts, its decimal sign, its dates and its money.

    Parameters
    ----------
    language : str
        As in the name of the catalogue file: "en", "de".
    texts : mapping of str to str
        Text by name, gaps filled from English.
    """

    language: str
    texts: Mapping[str, str]

    def __call__(self, name: str, **parts: object) -> str:
        """The text of that name with its parts put in.

        Raises
        ------
        UnknownNameError
            No catalogue has it.
        """
        text = self.texts.get(name)
        if text is None:
            raise UnknownNameError("text", name, self.texts)
        return text.format(**parts) if parts else text

    def or_as_is(self, prefix: str, said: str) -> str:
        """The text named after a few English words, or those words where nobody translated them.

        Parameters
        ----------
        prefix : str
            First part of the name: "condition" for "condition.bore adapter".
        said : str
        """
        return self.texts.get(f"{prefix}.{said}", said)

    def number(self, text: str) -> str:
        """Decimal points of numbers made by Portwright as this language writes them."""
        sign = self.decimal
        return text if sign == "." else _NUMBER.sub(rf"\1{sign}\2", text)

    @property
    def decimal(self) -> str:
        """Decimal sign of the language."""
        return str(self.locale.number_symbols["latn"]["decimal"])

    def date(self, iso: str) -> str:
        """An ISO date in words; anything else as it is."""
        from babel.dates import format_date

        try:
            day = date.fromisoformat(iso[:10])
        except ValueError:
            return iso
        return format_date(day, "long", locale=self.locale)

    def money(self, amount: Decimal, currency: str) -> str:
        """An amount with its currency, to the smallest coin."""
        from babel.numbers import format_currency

        return format_currency(to_coin(amount, currency), currency, locale=self.locale)

    @property
    def locale(self) -> Locale:
        """How the language writes numbers, dates and money."""
        return _locale(self.language)


def to_coin(amount: Decimal, currency: str) -> Decimal:
    """An amount rounded to the smallest coin of a currency, halves up.

    Parameters
    ----------
    currency : str
        ISO 4217 code; one that is not known has two decimals.
    """
    from babel.numbers import get_currency_precision

    step = Decimal(1).scaleb(-get_currency_precision(currency))
    return amount.quantize(step, rounding=ROUND_HALF_UP)


@cache
def _locale(language: str) -> Locale:
    from babel import Locale

    # British order of day and month; a catalogue of another region names it: "pt_BR"
    return Locale.parse("en_GB" if language == ENGLISH else language)


@cache
def languages() -> dict[str, str]:
    """Languages there is a catalogue for, each with its own name for itself."""
    folder = resources.files("portwright").joinpath(_FOLDER)
    codes = sorted(
        entry.name.removesuffix(".po") for entry in folder.iterdir() if entry.name.endswith(".po")
    )
    return {code: str(_locale(code).get_language_name(code)) for code in codes}


@cache
def words(language: str = ENGLISH) -> Words:
    """One language, read once.

    Raises
    ------
    UnknownNameError
        There is no catalogue for it.
    """
    if language not in languages():
        raise UnknownNameError("language", language, languages())
    texts = catalogue(ENGLISH)
    return Words(language, texts if language == ENGLISH else texts | catalogue(language))


def catalogue(language: str) -> dict[str, str]:
    """Texts of one catalogue file as they stand there; those left empty are not in it."""
    from babel.messages.pofile import read_po

    file = resources.files("portwright").joinpath(_FOLDER, f"{language}.po")
    with file.open("rb") as stream:
        known = read_po(stream, locale=language)
    return {
        str(message.id): str(message.string) for message in known if message.id and message.string
    }
