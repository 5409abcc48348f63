from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from portwright.archive.archive import Archive
from tests.archive import archive_values


@pytest.fixture(scope="session")
def empty_shop_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("empty") / "empty.shop"
    Archive.create(path).close()
    return path


@pytest.fixture(scope="session")
def full_shop_file(tmp_path_factory: pytest.TempPathFactory, empty_shop_file: Path) -> Path:
    path = tmp_path_factory.mktemp("full") / "full.shop"
    shutil.copyfile(empty_shop_file, path)
    with Archive.open(path) as archive:
        archive.save(archive_values.shop())
    return path


@pytest.fixture
def empty(tmp_path: Path, empty_shop_file: Path) -> Iterator[Archive]:
    """A new shop file."""
    path = tmp_path / "empty.shop"
    shutil.copyfile(empty_shop_file, path)
    with Archive.open(path) as archive:
        yield archive


@pytest.fixture
def archive(tmp_path: Path, full_shop_file: Path) -> Iterator[Archive]:
    """A shop file with one of everything."""
    path = tmp_path / "full.shop"
    shutil.copyfile(full_shop_file, path)
    with Archive.open(path) as opened:
        yield opened
