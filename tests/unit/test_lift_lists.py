"""Lift lists: what the dial shows is what is stored."""

from __future__ import annotations

from dataclasses import replace

import pytest

from portwright.archive.archive import Archive
from portwright.errors import InputError
from portwright.services.lift_lists import (
    LiftList,
    fixed_steps,
    ld_steps,
    own_list,
    proposed,
    usual_steps,
)


def texts(chosen: LiftList) -> list[str]:
    return [t.text for t in chosen.lifts]


def test_even_steps_carry_no_rounding() -> None:
    chosen = fixed_steps("0.050", "0.050", "0.600", "in")
    assert len(chosen.lifts) == 12
    assert texts(chosen)[:3] == ["0.050", "0.100", "0.150"]
    assert texts(chosen)[-1] == "0.600"
    assert chosen.lifts[-1].si == pytest.approx(0.6 * 25.4e-3, rel=1e-15)


def test_steps_may_begin_anywhere_and_use_a_comma() -> None:
    assert texts(fixed_steps("0,5", "1,5", "5", "mm")) == ["0.5", "2.0", "3.5", "5.0"]
    assert texts(fixed_steps("1/16", "1/16", "1/4", "in")) == [
        "0.0625",
        "0.1250",
        "0.1875",
        "0.2500",
    ]


def test_usual_steps_are_twelve() -> None:
    assert [len(usual_steps(unit).lifts) for unit in ("mm", "in")] == [12, 12]


def test_shares_of_the_valve_are_rounded_to_the_dial() -> None:
    chosen = ld_steps(42.0e-3, "mm", 0.05, 0.35)
    assert texts(chosen) == ["2.10", "4.20", "6.30", "8.40", "10.50", "12.60", "14.70"]
    assert texts(ld_steps(42.0e-3, "in"))[0] == "0.083"  # 2.1 mm / 25.4


def test_an_own_list_is_sorted_and_read_with_either_mark() -> None:
    assert texts(own_list("4; 0,5 2.25, 1", "mm")) == ["0,5", "1", "2.25", "4"]
    assert texts(own_list("1 1.0 2", "mm")) == ["1.0", "2"]


@pytest.mark.parametrize("text", ["", "0 1", "-1", "1 x"])
def test_a_list_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        own_list(text, "mm")


@pytest.mark.parametrize("steps", [("1", "0", "5"), ("5", "1", "1"), ("1", "0.01", "5")])
def test_steps_that_do_not_rise_are_refused(steps: tuple[str, str, str]) -> None:
    with pytest.raises(InputError):
        fixed_steps(*steps, "mm")


def test_a_sweep_that_was_cut_short_is_not_what_is_proposed_first(demo_archive: Archive) -> None:
    contents = demo_archive.job("TH-26-041")
    whole = [r for r in contents.runs if r.port == "I2"][-1]
    cut = replace(whole, code="R999", date="2030-01-01", readings=whole.readings[:4])
    contents = replace(contents, runs=(*contents.runs, cut))
    first, second, *_ = proposed(contents, "I2", "S7", "mm")
    assert [len(found.lifts) for found in (first, second)] == [len(whole.readings), 4]
    assert second.name == "as in run R999"
