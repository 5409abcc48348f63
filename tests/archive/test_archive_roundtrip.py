"""What goes into a shop file comes out of it, whatever it is."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from portwright.archive.archive import Archive
from portwright.errors import InputError
from portwright.model.contents import JobContents, ShopContents
from portwright.model.job import Job, Measurement
from portwright.model.quantity import AsTyped
from tests.archive import archive_values
from tests.archive.archive_strategies import shops
from tests.archive.conftest import Emptied

BOTH_ENGINES = True


def comes_back(archive: Archive, contents: ShopContents) -> None:
    """Save a shop into an empty one and read it; saving it again adds nothing."""
    first = archive.save(contents)
    assert archive.contents() == contents
    again = archive.save(contents)
    assert archive.contents() == contents
    assert first.conflicts == []
    assert again.conflicts == []
    assert again.added == {}


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(contents=shops())
def test_any_shop_comes_back_as_saved(empty_shop_file: Path, contents: ShopContents) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.shop"
        shutil.copyfile(empty_shop_file, path)
        with Archive.open(path) as archive:
            comes_back(archive, contents)


@pytest.mark.xdist_group("postgres")
@settings(
    max_examples=10,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],  # a server is too slow to shrink on
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
@given(contents=shops())
def test_any_shop_comes_back_from_a_server(emptied: Emptied, contents: ShopContents) -> None:
    with emptied() as archive:
        try:
            comes_back(archive, contents)
        except InputError as error:  # the one thing a server cannot hold
            assert "NUL" in error.message  # noqa: PT017 - most shops have none
            assert "\\x00" in repr(contents)
            assert archive.contents().jobs == ()


def test_one_of_everything_survives_closing(tmp_path: Path) -> None:
    path = tmp_path / "folder that is not there yet" / "a shop.shop"
    with Archive.create(path) as archive:
        report = archive.save(archive_values.shop())
    assert report.added["run"] == 3
    with Archive.open(path) as archive:
        assert archive.contents() == archive_values.shop()


def test_contents_of_one_shop_fill_another(archive: Archive, empty: Archive) -> None:
    empty.save(archive.contents())
    assert empty.contents() == archive.contents()


def test_minus_nothing_read_twice_is_stored_once(empty: Archive) -> None:
    measured = Measurement("I1", "seat sink", AsTyped("-0.0", "mm", -0.0))
    contents = ShopContents(jobs=(JobContents(Job("J-1"), measurements=(measured,)),))
    empty.save(contents)
    assert empty.save(contents).added == {}
