"""Springs and clearances: nothing counts as checked without value, instrument and day."""

from __future__ import annotations

import json
import math
import re
from io import BytesIO
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.core.seat.spring import Spring, coil_bind_margin, shim_for
from portwright.errors import InputError, RangeError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.head import Port, Side
from portwright.model.job import Job, Measurement
from portwright.services import shop_file
from portwright.services.clearances import USUAL_CHECKS
from portwright.services.spring_words import spring_parts, spring_pdf
from portwright.services.springs import record_spring, spring_sheet
from portwright.units import Kind, read

MM = 1e-3


def made(subject: str, quantity: str, text: str, instrument: str = "tester") -> Measurement:
    kind = Kind.FORCE if "load" in quantity else Kind.LENGTH
    return Measurement(
        subject, quantity, read(text, kind), instrument=instrument, date="2026-03-18"
    )


def job(*measurements: Measurement) -> JobContents:
    ports = (Port("I1", Side.INTAKE, cylinder=1), Port("E1", Side.EXHAUST, cylinder=1))
    return JobContents(Job("1"), ports=ports, measurements=measurements)


BOUGHT = (
    made("intake springs", "target installed height", "40 mm"),
    made("intake springs", "spring seat load", "400 N"),
    made("intake springs", "full valve lift", "12 mm"),
    made("intake springs", "spring open load", "1000 N"),
    made("intake springs", "coil bind height", "26.5 mm"),
)


def test_a_spring_worked_by_hand() -> None:
    """600 N over 12 mm is 50 N/mm; 0.5 mm taller than bought is 25 N less."""
    spring = Spring.from_loads(40 * MM, 400.0, 12 * MM, 1000.0)
    assert spring.rate == pytest.approx(50e3)
    assert spring.at(40.5 * MM) == pytest.approx(375.0)
    assert shim_for(40.5 * MM, 40 * MM) == pytest.approx(0.5 * MM)
    assert coil_bind_margin(40 * MM, 12 * MM, 26.5 * MM) == pytest.approx(1.5 * MM)
    with pytest.raises(RangeError, match="stronger"):
        Spring.from_loads(40 * MM, 400.0, 12 * MM, 300.0)
    with pytest.raises(RangeError):
        coil_bind_margin(40 * MM, -1.0, 26 * MM)


def test_the_sheet_follows_from_height_and_spring() -> None:
    sheet = spring_sheet(job(*BOUGHT, made("I1", "installed height", "40.5 mm")))
    line = sheet.springs[0]
    assert line.shim_needed == pytest.approx(0.5 * MM)
    assert line.seat_load == pytest.approx(375.0)
    assert line.open_load == pytest.approx(975.0)
    assert line.bind_margin == pytest.approx(2.0 * MM)
    assert sheet.springs[1].seat_load is None
    shimmed = spring_sheet(
        job(
            *BOUGHT,
            made("I1", "installed height", "40.5 mm"),
            made("I1", "shim thickness", "0.5 mm"),
        )
    )
    assert shimmed.springs[0].shim_needed == pytest.approx(0.0, abs=1e-15)
    assert shimmed.springs[0].seat_load == pytest.approx(400.0)


def test_what_is_tight_is_said() -> None:
    tight = (
        *BOUGHT,
        made("I1", "installed height", "39.2 mm"),
        made("I1", "retainer clearance", "0.9 mm"),
    )
    assert [f.code for f in spring_sheet(job(*tight)).findings] == [
        "spring-too-short",
        "coil-bind",
        "retainer-close",
    ]
    odd = (made("intake springs", "spring open load", "100 N"), *BOUGHT[:3])
    codes = [
        f.code for f in spring_sheet(job(*odd, made("I1", "installed height", "40 mm"))).findings
    ]
    assert codes == ["spring-numbers"]


def test_everything_is_open_until_somebody_measures() -> None:
    sheet = spring_sheet(job())
    assert [c.check.words for c in sheet.clearances] == ["not checked yet"] * len(USUAL_CHECKS)
    assert "I1 installed height" in sheet.open_names
    first = spring_parts(job(), sheet)[0]
    assert first.title == "Not checked yet"
    assert first.loud
    assert all(name in first.lines[0] for name in USUAL_CHECKS)
    (page,) = PdfReader(BytesIO(spring_pdf(job(), sheet))).pages
    assert "NOT CHECKED YET" in page.extract_text()


def test_a_value_without_instrument_or_day_does_not_count() -> None:
    value = read("1.45 mm", Kind.LENGTH)
    bare = Measurement("", "clearance", value, place="Valve to valve at overlap")
    line = next(c for c in spring_sheet(job(bare)).clearances if "Valve to valve" in c.check.name)
    assert not line.check.done
    assert line.check.words == "1.45 mm on record without instrument and date: not checked yet"
    full = Measurement(
        "",
        "clearance",
        read("1.2 mm", Kind.LENGTH),
        place="Valve to valve at overlap",
        instrument="feeler",
        date="2026-03-18",
    )
    sheet = spring_sheet(job(full, bare))
    line = next(c for c in sheet.clearances if "Valve to valve" in c.check.name)
    assert line.check.done
    assert line.close
    assert [f.code for f in sheet.findings] == ["clearance-close"]


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "test.shop"
    with shop_file.create_shop(path) as opened:
        opened.add_job(Job("J-1"))
        opened.add_port("J-1", Port("I1", Side.INTAKE))
    return path


def test_a_check_is_recorded_with_instrument_and_day(shop: Path) -> None:
    value = read("1.45 mm", Kind.LENGTH)
    with shop_file.open_shop(shop) as opened:
        with pytest.raises(InputError, match="instrument"):
            record_spring(opened, "J-1", USUAL_CHECKS[3], value, instrument=" ", date="2026-03-18")
        with pytest.raises(InputError, match="no day"):
            record_spring(opened, "J-1", USUAL_CHECKS[3], value, instrument="clay", date="Monday")
        with pytest.raises(UnknownNameError):
            record_spring(
                opened, "J-1", "Valve to vale", value, instrument="clay", date="2026-03-18"
            )
        assert opened.job("J-1").measurements == ()
    runner = CliRunner()
    words = ["--with", "feeler", "--date", "2026-03-18", "--shop", str(shop)]
    record = ["--record", f"{USUAL_CHECKS[3]}=1,45 mm", "--record", "I1 installed height=40.5 mm"]
    assert runner.invoke(app, ["springs", "J-1", *record, *words]).exit_code == 0
    said = json.loads(runner.invoke(app, ["springs", "J-1", "--shop", str(shop), "--json"]).stdout)
    line = next(c for c in said["clearances"] if c["name"] == USUAL_CHECKS[3])
    assert (line["checked"], line["value"], line["instrument"]) == (True, "1,45 mm", "feeler")
    assert "I1 installed height" not in said["not_checked"]
    plain = runner.invoke(app, ["springs", "J-1", "--shop", str(shop)]).stdout
    assert re.search("Spring coil bind margin +1.3 mm +– +NOT CHECKED YET", plain)


anything = st.floats(allow_nan=True, allow_infinity=True)


@given(anything, anything, anything, anything, anything)
def test_springs_of_any_numbers(a: float, b: float, c: float, d: float, e: float) -> None:
    try:
        spring = Spring.from_loads(a, b, c, d)
        found = spring.at(e), shim_for(a, e), coil_bind_margin(a, c, e)
    except RangeError:
        return
    assert all(math.isfinite(v) for v in found)
