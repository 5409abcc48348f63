"""Source files stay short enough to read in one sitting."""

from __future__ import annotations

import statistics
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONGEST = 700
MEDIAN = 150
TRIVIAL = 5  # package markers do not count towards the median


def line_counts(paths: list[Path]) -> dict[Path, int]:
    return {path: len(path.read_text(encoding="utf-8").splitlines()) for path in paths}


def too_long(counts: dict[Path, int]) -> dict[Path, int]:
    return {path: count for path, count in counts.items() if count > LONGEST}


@pytest.fixture(scope="module")
def source() -> dict[Path, int]:
    return line_counts(sorted((ROOT / "src").rglob("*.py")))


def test_no_file_is_too_long(source: dict[Path, int]) -> None:
    assert not too_long({**source, **line_counts([ROOT / "start.py"])})


def test_the_median_file_is_short(source: dict[Path, int]) -> None:
    counts = [count for count in source.values() if count > TRIVIAL]
    assert statistics.median(counts) < MEDIAN


def test_one_line_over_the_limit_is_noticed(tmp_path: Path) -> None:
    fits, exceeds = tmp_path / "fits.py", tmp_path / "exceeds.py"
    fits.write_text("x = 1\n" * LONGEST, encoding="utf-8")
    exceeds.write_text("x = 1\n" * (LONGEST + 1), encoding="utf-8")
    assert list(too_long(line_counts([fits, exceeds]))) == [exceeds]
