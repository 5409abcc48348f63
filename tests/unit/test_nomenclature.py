"""The glossary is complete, its words are found, and odd values are asked about."""

from __future__ import annotations

import pytest

from portwright.errors import UnknownNameError
from portwright.model.job import Measurement
from portwright.nomenclature import (
    SEARCH_WORDS,
    TERMS,
    measurement_findings,
    search_words,
    term,
    term_for_heading,
)
from portwright.units import Kind, read


def test_every_term_is_complete_and_of_a_known_kind() -> None:
    for row in TERMS:
        assert row.name
        assert row.symbol
        assert row.meaning.endswith(".")
        assert row.kind in {kind.value for kind in Kind}
        assert row.low < row.high
        assert row.tag in {"from memory", "common practice"}


def test_names_and_headings_are_used_once() -> None:
    names = [row.name for row in TERMS]
    headings = [heading for row in TERMS for heading in row.headings]
    assert len(set(names)) == len(names)
    assert len(set(headings)) == len(headings)


def test_terms_by_name_and_heading() -> None:
    assert term("Throat Diameter").symbol == "d_t"
    assert term("seat_sink") is term("seat sink")
    found = term_for_heading("ssr_corner_r")
    assert found is not None
    assert found.name == "short side corner radius"
    assert term_for_heading("bowl_diameter") is term("bowl diameter")
    assert term_for_heading("nothing known") is None
    with pytest.raises(UnknownNameError, match="throat diameter"):
        term("throat diametre")


@pytest.mark.parametrize("word", [w for group in SEARCH_WORDS for w in group[1]])
def test_every_other_word_leads_to_ours(word: str) -> None:
    ours = {group[0] for group in SEARCH_WORDS if word in group[1]}
    assert ours <= set(search_words(word.upper()))


def test_search_keeps_unknown_words() -> None:
    assert search_words(" Kestrin ") == ("Kestrin",)
    assert "recession" in search_words("seat sink")


def measured(quantity: str, text: str, kind: Kind = Kind.LENGTH) -> Measurement:
    return Measurement("I1", quantity, read(text, kind), stage="S0", place="apex")


def test_usual_values_pass_and_odd_ones_are_asked_about() -> None:
    assert measurement_findings(measured("throat diameter", "37.4 mm")) == ()
    (finding,) = measurement_findings(measured("throat diameter", "37.4 in"))
    assert finding.code == "implausible-value"
    assert "37.4 in" in finding.message
    assert "I1" in finding.message
    assert finding.where.stage == "S0"
    assert finding.size == pytest.approx(0.94996)
    assert "unit" in finding.hint


@pytest.mark.parametrize("at", ["low", "high"])
def test_the_ends_of_a_range_belong_to_it(at: str) -> None:
    text = {"low": "14 mm", "high": "70 mm"}[at]
    assert measurement_findings(measured("throat diameter", text)) == ()


def test_quantities_outside_the_glossary_are_left_alone() -> None:
    assert measurement_findings(measured("half V angle", "900 deg", Kind.ANGLE)) == ()
