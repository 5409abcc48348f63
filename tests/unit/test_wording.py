"""Verdicts in words, with no more digits than are known."""

from __future__ import annotations

import pytest

from portwright.core.comparison import Gain, Verdict
from portwright.services.wording import percent


@pytest.mark.parametrize(
    ("gain", "half", "verdict", "said"),
    [
        (0.0424, 0.0091, Verdict.REAL, "+4.2 ± 0.9 %"),
        (0.0016, 0.0122, Verdict.CANT_TELL, "+0.2 ± 1.2 %"),
        (-0.0004, 0.0051, Verdict.CANT_TELL, "+0.0 ± 0.5 %"),  # never minus nothing
        (0.0100, 0.0102, Verdict.PROBABLY, "+1.0 ± 1.0 %"),
        # real leaves out no change, and must look as if it did
        (-0.0104, 0.0098, Verdict.REAL, "-1.04 ± 0.98 %"),
        (0.00951, 0.00949, Verdict.REAL, "+1.0 ± 0.9 %"),
        (0.00991, 0.00986, Verdict.REAL, "+0.991 ± 0.986 %"),
    ],
)
def test_a_gain_keeps_the_digits_its_interval_allows(
    gain: float, half: float, verdict: Verdict, said: str
) -> None:
    found = Gain(1.0, 1.0 + gain, gain, gain - half, gain + half, half / 2.0, 20.0, verdict)
    assert percent(found) == said
