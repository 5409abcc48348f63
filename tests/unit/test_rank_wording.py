"""A share of a class is shown only where the class has heads enough."""

from __future__ import annotations

import pytest

from portwright.core.ranking import Standing
from portwright.services.rank_wording import share_cells


def standing(count: int) -> Standing:
    return Standing(0.784, 0.371, 0.992, count, 1, 0, 2)


@pytest.mark.parametrize("count", [1, 2])
def test_no_share_from_fewer_than_three_heads(count: int) -> None:
    assert share_cells(standing(count)) == ("too few", "–", str(count), "1")


def test_a_share_comes_with_interval_and_number_of_heads() -> None:
    assert share_cells(standing(3)) == ("78 %", "37 to 99 %", "3", "1")
    assert share_cells(None) == ("–", "–", "0", "–")
