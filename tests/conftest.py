"""Things several test folders need."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from portwright.archive.archive import Archive
from portwright.services.demo import create_demo

# no test is failed for being slow: the machine may be busy with something else
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


@pytest.fixture(scope="session")
def demo_file_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The fictional demo shop as a closed file, made once."""
    path = tmp_path_factory.mktemp("demo") / "demo.shop"
    create_demo(path).close()
    return path


@pytest.fixture
def demo_path(demo_file_once: Path, tmp_path: Path) -> Path:
    """A copy of the demo shop that a test may change."""
    return Path(shutil.copy(demo_file_once, tmp_path / "demo.shop"))


@pytest.fixture(scope="session")
def demo_archive(demo_file_once: Path) -> Iterator[Archive]:
    """The demo shop, open; tests only read from it."""
    with Archive.open(demo_file_once) as archive:
        yield archive
