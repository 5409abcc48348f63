"""Photos and other kept files leave the shop with an export and come back unchanged."""

from __future__ import annotations

from pathlib import Path

import pytest

from portwright.archive.archive import Archive
from portwright.errors import ImportFileError
from portwright.model.job import Job
from portwright.services import passphrase, shop_file, tokens
from portwright.services.exporting import export_shop, import_export

PHOTO = b"\xff\xd8\xff not a real photo \x00\x01" * 50
TRACE = b"\x1f\x8b raw trace"


@pytest.fixture
def shop(tmp_path: Path) -> Archive:
    opened = shop_file.open_or_create(tmp_path / "a.shop")
    for number in ("J-1", "J-2"):
        opened.add_job(Job(number))
    opened.add_attachment(
        "J-1", PHOTO, "../../seat, I1.jpg", "image/jpeg", subject="I1", stage="S0", caption="=burnt"
    )
    opened.add_attachment("J-2", PHOTO, "same.jpg", "image/jpeg")
    opened.add_attachment("J-2", TRACE, "R1", "application/gzip", subject="R1")
    return opened


def kept(shop: Archive) -> list[tuple[str, str, str, str, str, str, bytes]]:
    return [
        (
            job.number,
            a.name,
            a.media_type,
            a.subject,
            a.stage,
            a.caption,
            shop.attachment_data(a.id),
        )
        for job in sorted(shop.jobs(), key=lambda j: j.number)
        for a in shop.attachments(job.number)
    ]


@pytest.mark.parametrize("target", ["folder", "packed.zip"])
def test_kept_files_come_back_the_same(shop: Archive, tmp_path: Path, target: str) -> None:
    export_shop(shop, tmp_path / target)
    other = shop_file.open_or_create(tmp_path / "b.shop")
    assert import_export(other, tmp_path / target).added["kept file"] == 3
    assert kept(other) == kept(shop)
    assert "kept file" not in import_export(other, tmp_path / target).added
    assert kept(other) == kept(shop)


def test_files_stay_inside_the_export_and_are_written_once(shop: Archive, tmp_path: Path) -> None:
    export_shop(shop, tmp_path / "out" / "export")
    assert len(list((tmp_path / "out" / "export" / "files").iterdir())) == 2
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["export"]


@pytest.mark.parametrize("harm", ["changed", "gone"])
def test_a_damaged_file_is_named(shop: Archive, tmp_path: Path, harm: str) -> None:
    export_shop(shop, tmp_path / "out")
    photo = next((tmp_path / "out" / "files").glob("*.jpg"))
    if harm == "gone":
        photo.unlink()
    else:
        photo.write_bytes(PHOTO[:-1])
    other = shop_file.open_or_create(tmp_path / "b.shop")
    with pytest.raises(ImportFileError, match=r"seat, I1\.jpg is missing or damaged"):
        import_export(other, tmp_path / "out")


def test_settings_go_along_but_nothing_that_opens_the_shop(shop: Archive, tmp_path: Path) -> None:
    passphrase.set_passphrase(shop, "nine swans on the ice")
    token = tokens.make(shop, "till", tokens.Scope.READ)
    shop.save_setting("invented rule", {"wall": "2.5 mm"})
    files = export_shop(shop, tmp_path / "out")
    text = "".join(f.read_text(encoding="utf-8", errors="replace") for f in files)
    assert "argon2" not in text
    assert token not in text
    other = shop_file.open_or_create(tmp_path / "b.shop")
    assert import_export(other, tmp_path / "out").added["setting"] >= 1
    assert other.setting("invented rule") == {"wall": "2.5 mm"}
    assert not passphrase.is_set(other)
    other.save_setting("invented rule", {"wall": "3 mm"})
    assert "invented rule" in " ".join(import_export(other, tmp_path / "out").conflicts)
    assert other.setting("invented rule") == {"wall": "3 mm"}


def test_a_shop_without_kept_files_has_no_list(tmp_path: Path) -> None:
    empty = shop_file.open_or_create(tmp_path / "a.shop")
    empty.add_job(Job("J-1"))
    names = {path.name for path in export_shop(empty, tmp_path / "out")}
    assert "files.csv" not in names
