"""What follows from measurements of a port, and what is asked about them."""

from __future__ import annotations

import contextlib
import math
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement, Stage
from portwright.nomenclature import term
from portwright.services import jobs, measure, measuring_places, shop_file
from portwright.services.shop_file import ShopFile
from portwright.units import Kind, read

PORT = Port("I1", Side.INTAKE, cylinder=3)


def measured(quantity: str, text: str, stage: str = "S1", subject: str = "I1") -> Measurement:
    kind = measuring_places.kind_of(quantity)
    unit = {Kind.VOLUME: "cc", Kind.ANGLE: "deg"}.get(kind, "mm")
    return Measurement(subject, quantity, read(text, kind, unit), stage=stage)


def job_with(*items: Measurement) -> JobContents:
    return JobContents(
        Job("1"), ports=(PORT,), stages=(Stage("S0"), Stage("S1")), measurements=items
    )


def values(contents: JobContents, stage: str = "S1") -> dict[tuple[str, str], float]:
    return {(d.key, d.name): d.value for d in measure.derived(contents, PORT, stage)}


def test_every_quantity_is_in_the_glossary() -> None:
    for group in measuring_places.GROUPS:
        for quantity in group.quantities:
            assert term(quantity).name == quantity


def test_chamber_volume_belongs_to_the_cylinder() -> None:
    by_key = {g.key: g for g in measuring_places.GROUPS}
    assert measuring_places.subject_of(PORT, by_key["chamber"]) == "cyl 3"
    assert measuring_places.subject_of(PORT, by_key["throat"]) == "I1"


def test_areas_and_shares_follow() -> None:
    found = values(
        job_with(
            measured("valve head diameter", "42"),
            measured("stem diameter", "8"),
            measured("throat diameter", "36"),
            measured("pinch width", "25.2"),
            measured("pinch height", "36.5"),
            measured("pinch corner radius", "6"),
        )
    )
    # rounded rectangle w h - (4 - pi) r^2, circles pi/4 d^2, all exact
    pinch = (25.2 * 36.5 - (4 - math.pi) * 36.0) * 1e-6
    assert found["pinch", "area"] == pytest.approx(pinch, rel=1e-12)
    assert found["pinch", "of valve area"] == pytest.approx(
        pinch / (math.pi / 4 * 0.042**2), rel=1e-12
    )
    assert found["throat", "less the stem"] == pytest.approx(
        math.pi / 4 * (0.036**2 - 0.008**2), rel=1e-12
    )
    assert found["throat", "throat, of valve"] == pytest.approx(36 / 42, rel=1e-12)


def test_nothing_is_assumed_where_something_is_missing_or_impossible() -> None:
    found = values(
        job_with(
            measured("throat diameter", "36"),
            measured("pinch width", "25"),
            measured("opening width", "10"),
            measured("opening height", "10"),
            measured("opening corner radius", "9"),  # wider than half the side
        )
    )
    assert set(found) == {("throat", "throat area")}


def test_the_newest_earlier_value_stands_in() -> None:
    contents = job_with(measured("throat diameter", "36", "S0"))
    assert ("throat", "throat area") in values(contents, "S1")
    both = measure.pair(contents, "I1", "throat diameter", "S1")
    assert both.now is None
    assert both.before is not None


@pytest.mark.parametrize(
    ("quantity", "before", "now", "codes"),
    [
        ("throat diameter", "36.0", "37.4", []),
        ("throat diameter", "36.00", "35.96", []),  # within the repeatability of the gauge
        ("throat diameter", "36.0", "35.0", ["metal-grew-back"]),
        ("port volume", "112.0", "110.0", ["metal-grew-back"]),
        ("seat width", "1.6", "1.2", []),  # a seat may be cut narrower
        ("throat diameter", "", "1.42", ["unit-slip"]),
        ("throat diameter", "", "360", ["implausible-value"]),
        ("seat sink", "", "9", ["implausible-value"]),
    ],
)
def test_odd_values_are_asked_about(quantity: str, before: str, now: str, codes: list[str]) -> None:
    items = [measured(quantity, before, "S0")] if before else []
    latest = measured(quantity, now)
    found = measure.questions(job_with(*items, latest), latest)
    assert [f.code for f in found] == codes


@pytest.mark.parametrize(("throat", "asked"), [("36", False), ("41.5", True), ("28", True)])
def test_the_throat_has_to_suit_the_valve(throat: str, asked: bool) -> None:
    item = measured("throat diameter", throat)
    contents = job_with(measured("valve head diameter", "42"), item)
    assert ("throat-share" in {f.code for f in measure.questions(contents, item)}) is asked


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[ShopFile]:
    with shop_file.create_shop(tmp_path / "test.shop") as opened:
        jobs.new_job(opened, jobs.NewJob("J"))
        yield opened


def test_a_correction_is_a_new_row_with_a_reason(shop: ShopFile) -> None:
    first, second = (read(text, Kind.LENGTH, "mm") for text in ("36,0", "36,1"))

    def record(value: object, reason: str = "") -> Measurement:
        assert value in {first, second}
        chosen = first if value == first else second
        return measure.record(shop, "J", "I1", "throat diameter", "S0", chosen, reason)

    record(first)
    record(first)  # the same again is no correction
    with pytest.raises(InputError, match="36,0 mm already"):
        record(second)
    record(second, "measured again")
    (now,) = (m for m in shop.job("J").measurements if m.quantity == "throat diameter")
    assert str(now.value) == "36,1 mm"
    with contextlib.closing(sqlite3.connect(shop.path)) as raw:
        rows = raw.execute(
            "select typed, replaces is not null, reason from measurement order by id"
        ).fetchall()
    assert [("36,0" in typed, bool(later), why) for typed, later, why in rows] == [
        (True, False, ""),
        (False, True, "measured again"),
    ]
