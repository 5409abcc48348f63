"""A shop goes out as plain files and comes back the same."""

from __future__ import annotations

import csv
import dataclasses
import json
import shutil
from pathlib import Path

import pytest

from portwright.errors import ArchiveWriteError, ImportFileError
from portwright.io.defaults import ImportDefaults
from portwright.io.export import JSON_NAME, export_contents, read_export
from portwright.io.export_tables import FIELD_SI, SI_ENDING
from portwright.io.preview import contents, understand, understand_all
from portwright.io.tables import read_table
from portwright.model import bench, head, job, run
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Job, Note
from portwright.refdata import demo_file, demo_names
from portwright.units import Kind


@pytest.fixture(scope="module")
def demo() -> ShopContents:
    tables = []
    for name in demo_names():
        with demo_file(name) as path:
            tables.append(read_table(path))
    return contents(*understand_all(tables, ImportDefaults(job="TH-26-041", port="I1")))


def cells(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def test_demo_shop_comes_back_the_same(demo: ShopContents, tmp_path: Path) -> None:
    written = export_contents(demo, tmp_path / "new" / "folder")
    assert written[-1].name == JSON_NAME
    assert all(path.exists() for path in written)
    assert not list((tmp_path / "new" / "folder").glob("*.part"))
    assert read_export(tmp_path / "new" / "folder") == demo
    assert read_export(written[-1]) == demo


def test_zip_of_an_export(demo: ShopContents, tmp_path: Path) -> None:
    export_contents(demo, tmp_path / "export")
    packed = Path(shutil.make_archive(str(tmp_path / "all"), "zip", tmp_path, "export"))
    assert read_export(packed) == demo


def test_a_person_finds_typed_text_beside_si(demo: ShopContents, tmp_path: Path) -> None:
    export_contents(demo, tmp_path)
    first = cells(tmp_path / "readings.csv")[0]
    assert (first["lift"], first["lift_m"]) == ("0.050 in", "0.00127")
    assert (first["air_temperature"], first["air_temperature_K"]) == ("24 degC", "297.15")
    measured = cells(tmp_path / "measurements.csv")[0]
    assert (measured["value"], measured["unit"], measured["si_unit"]) == ("108", "deg", "rad")
    assert len(cells(tmp_path / "runs.csv")) == sum(len(j.runs) for j in demo.jobs)


def test_exported_readings_can_be_imported_as_a_sheet(demo: ShopContents, tmp_path: Path) -> None:
    export_contents(demo, tmp_path)
    benches = tuple(
        bench.BenchWithCalibrations(
            b, tuple(c for c in demo.calibrations if c.bench == b.code and c.version == 1)
        )
        for b in demo.benches
    )
    table = read_table(tmp_path / "readings.csv")
    seen = understand(table, ImportDefaults(benches=benches))
    # rows of B1's second calibration have no percent and B1's first one no flow
    direct = [r for r in seen.refused if "B1" not in table.rows[r.row - 2]]
    assert direct == []
    again = {r.code: r for j in seen.found.jobs for r in j.runs}
    for found in (r for j in demo.jobs for r in j.runs if r.bench == "B2"):
        assert again[found.code].readings == found.readings


NASTY = ["=1+1", "@cmd", "+x", "-x", "'=1", "''@", "a,b", 'say "so"', "two\nlines", "Ω — ´", "\t"]


def test_nasty_text_is_harmless_in_a_spreadsheet_and_whole_in_json(tmp_path: Path) -> None:
    notes = tuple(Note(text, "2026-01-01") for text in NASTY)
    shop = ShopContents(jobs=(JobContents(Job("=J", facts={"=f": "=v"}), notes=notes),))
    export_contents(shop, tmp_path)
    assert read_export(tmp_path) == shop
    shown = [row["text"] for row in cells(tmp_path / "notes.csv")]
    assert not [text for text in shown if text[0] in "=@+-\t"]
    assert shown[NASTY.index("a,b")] == "a,b"


def test_every_number_as_typed_has_its_si_unit() -> None:
    numbers = {
        field.name
        for module in (bench, head, job, run)
        for kind in vars(module).values()
        if dataclasses.is_dataclass(kind)
        for field in dataclasses.fields(kind)
        if "AsTyped" in str(field.type)
    }
    assert numbers == FIELD_SI.keys() | {"value"}
    assert SI_ENDING.keys() == set(Kind)


def broken(change: str) -> str:
    return json.dumps({"format": "portwright-export", "version": 1, "contents": json.loads(change)})


DAMAGE = [
    ("", "damaged"),
    ("[1, 2", "damaged"),
    ("[]", "not an export"),
    ('{"format": "other"}', "not an export"),
    ('{"format": "portwright-export", "version": 2}', "newer Portwright"),
    ('{"format": "portwright-export", "version": "x"}', "newer Portwright"),
    ('{"format": "portwright-export", "version": 1}', "damaged"),
    (broken('{"jobs": 3}'), "ShopContents.jobs"),
    (broken('{"jobs": [{"job": {}}]}'), "incomplete"),
    (broken('{"jobs": [{"job": {"number": 7}}]}'), "ShopContents.jobs.0..job.number"),
    (broken('{"colour": "red"}'), "unknown fields: colour"),
    (broken('{"benches": [{"code": "B", "bore_adapter": {"text": "1", "unit": "m", "si": "x"}}]}'),
     "damaged"),
    (broken('{"jobs": [{"job": {"number": "1"}, "ports": [{"code": "I1", "side": "top"}]}]}'),
     "damaged"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says"), DAMAGE)
def test_damaged_exports_are_refused(tmp_path: Path, text: str, says: str) -> None:
    (tmp_path / JSON_NAME).write_text(text, encoding="utf-8")
    with pytest.raises(ImportFileError, match=says) as refused:
        read_export(tmp_path)
    assert refused.value.hint


def test_folder_without_export_and_file_that_is_no_zip(tmp_path: Path) -> None:
    with pytest.raises(ImportFileError, match="no readable export"):
        read_export(tmp_path)
    fake = tmp_path / "a.zip"
    fake.write_bytes(b"not a zip")
    with pytest.raises(ImportFileError, match="no readable export"):
        read_export(fake)
    other = Path(shutil.make_archive(str(tmp_path / "b"), "zip", tmp_path, "a.zip"))
    with pytest.raises(ImportFileError, match=r"holds no portwright\.json"):
        read_export(other)


def test_folder_that_cannot_be_written(demo: ShopContents, tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder", encoding="utf-8")
    with pytest.raises(ArchiveWriteError, match="cannot be written"):
        export_contents(demo, in_the_way)
    assert in_the_way.read_text(encoding="utf-8") == "not a folder"
