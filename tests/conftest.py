"""Things several test folders need."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from portwright.archive.archive import Archive
from portwright.services.demo import create_demo

# No test is failed for being slow: the machine may be busy with something else.  A usual run tries
# the same numbers every time, so that only the change decides; a search tries many new ones.
settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("PORTWRIGHT_PROPERTIES", "same"))


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
