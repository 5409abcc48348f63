"""Power correction against figures worked out from the printed formulas."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from portwright.core.engine.power_correction import (
    CorrectionStandard,
    correction_standard,
    correction_standards,
)
from portwright.errors import UnknownNameError

# COMPUTED from the formulas, which are SEEN-2nd (J1349 1990, ISO 1585 exponents, DIN 70020) or
# FROM MEMORY (J1349 2004); pressure of dry air.
ROWS = list(
    csv.DictReader(
        (Path(__file__).parent / "data" / "power_correction.csv")
        .read_text(encoding="utf-8")
        .splitlines()
    )
)
COLUMNS = {
    "SAE J1349 (1990)": "J1349_1990_cf",
    "SAE J1349 (2004)": "J1349_2004_cf",
    "ISO 1585": "ISO1585_SI_alpha",
    "DIN 70020": "DIN70020",
}


@pytest.mark.published
@pytest.mark.parametrize("name", COLUMNS)
def test_factor_in_dry_air(name: str) -> None:
    standard = correction_standard(name)
    for row in ROWS:
        factor = standard.factor(1e3 * float(row["Pd_kPa"]), float(row["T_K"]))
        # round-off only: the same closed formula
        assert factor == pytest.approx(float(row[COLUMNS[name]]), rel=1e-12)


def test_humidity_counts_only_where_the_standard_takes_dry_air() -> None:
    # 2.3 kPa of water vapour at 20 degC, half of it: 1.2 % of 99 kPa
    damp = {s.name: s.factor(99e3, 293.15, 0.5) / s.factor(99e3, 293.15) for s in _all()}
    assert damp["DIN 70020"] == 1.0
    assert 1.010 < damp["ISO 1585"] < 1.016
    assert 1.010 < damp["SAE J1349 (1990)"] < 1.016


def test_a_factor_outside_the_standards_range_is_said() -> None:
    iso = correction_standard("iso 1585")
    assert iso.findings(1.05) == ()
    assert iso.findings(1.09)[0].code == "correction-outside-range"


def test_every_standard_has_a_label_and_unknown_names_are_refused() -> None:
    assert all(s.label for s in _all())
    with pytest.raises(UnknownNameError, match="ISO"):
        correction_standard("ISO 1586")


def _all() -> tuple[CorrectionStandard, ...]:
    return correction_standards()
