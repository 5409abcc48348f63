"""The catalogue: complete, with the same parts in every language, and used in full."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.pofile import read_po

import portwright
from portwright.catalogue import catalogue, languages, to_coin, words
from portwright.errors import UnknownNameError

SOURCE = Path(portwright.__file__).parent
ENGLISH = catalogue("en")
OTHERS = sorted(set(languages()) - {"en"})
# Names put together at run time: only their beginning stands in the source.
BUILT = (
    "condition.",
    "cause.",
    "quantity.",
    "check.",
    "place.",
    "source.",
    "value.",
    "unit.",
    "engine-value.",
)


def parts_of(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name}


ENGLISH_PARTS = {name: parts_of(text) for name, text in ENGLISH.items()}


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated_with_the_same_parts(language: str) -> None:
    other = catalogue(language)
    assert set(other) == set(ENGLISH)
    assert {k: parts_of(v) for k, v in other.items()} == {
        k: parts_of(v) for k, v in ENGLISH.items()
    }


@pytest.mark.parametrize("language", OTHERS)
def test_the_translator_sees_the_english_of_today(language: str) -> None:
    with (SOURCE / "locale" / f"{language}.po").open("rb") as stream:
        for message in read_po(stream, locale=language):
            if message.id:
                assert list(message.auto_comments) == [ENGLISH[str(message.id)].strip()]


def test_every_text_is_used_and_every_name_exists() -> None:
    files = [p.read_text(encoding="utf-8") for p in SOURCE.glob("services/*.py")]
    source = "\n".join(
        text for text in files if "catalogue import" in text or "report_said" in text
    )
    named = set(re.findall(r"""\bsay\(\s*"([\w .'-]+)\"""", source))
    assert named <= set(ENGLISH)
    built = {re.escape(m).replace("X", ".*") for m in _built_names(source)}
    for name in ENGLISH:
        used = name in named or f'"{name}"' in source or name.startswith(BUILT)
        assert used or any(re.fullmatch(pattern, name) for pattern in built), name


def _built_names(source: str) -> set[str]:
    """Names like ``f"verdict.{verdict}"``, X for what is put in."""
    found = re.findall(r"""\bf"([\w-]+\.[^"\s]*\{[^"\s]*)\"""", source)
    return {re.sub(r"\{[^}]*\}", "X", text) for text in found}


def test_a_gap_is_filled_from_english_and_an_unknown_name_refused() -> None:
    assert words("de").or_as_is("condition", "tea break") == "tea break"
    with pytest.raises(UnknownNameError, match="text"):
        words()("no such text")
    with pytest.raises(UnknownNameError, match="language"):
        words("xx")


def test_numbers_are_written_as_the_language_does() -> None:
    german = words("de")
    assert german.number("+12.7 ± 1.5 %") == "+12,7 ± 1,5 %"
    assert german.number("1.00") == "1,00"
    assert german.number("run 2026-03-12.B2") == "run 2026-03-12.B2"
    assert words().number("12.7") == "12.7"


def test_dates_and_money() -> None:
    assert words("de").date("2026-03-27") == "27. März 2026"
    assert words().date("2026-03-27") == "27 March 2026"
    assert words().date("spring") == "spring"
    assert words("de").money(Decimal("1234.565"), "EUR").replace("\xa0", " ") == "1.234,57 €"
    assert to_coin(Decimal("0.5"), "JPY") == Decimal(1)
    assert to_coin(Decimal("0.005"), "EUR") == Decimal("0.01")
