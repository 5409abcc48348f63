"""The fictional demo shop, made from the invented sheets that ship with Portwright."""

from __future__ import annotations

import contextlib
from pathlib import Path

from portwright.archive.archive import Archive
from portwright.errors import NotFoundError, SchemaTooOldError
from portwright.io.defaults import ImportDefaults
from portwright.refdata import demo_file, demo_names
from portwright.services.importing import import_together
from portwright.services.shop_file import create_shop, is_there, on_server, upgrade

DEMO_JOB = "TH-26-041"
_DEFAULTS = ImportDefaults(
    job=DEMO_JOB,
    port="I1",
    conditions_from_bench=True,
    cam="C-114 (FICTIONAL)",
    stage_names=(
        ("as received", "S0"),
        ("as delivered 2014", "S0"),
        ("finished", "S7"),
        ("before", "S0"),
        ("after", "S7"),
    ),
)

# The travelling head belongs to the shop, not to the customer's job.
_TRAVELLING = "flow_crossbench_reference_port.csv"
_TRAVELLING_DEFAULTS = ImportDefaults(
    job="REF-1", stage="reference", casting="REF-1 travelling head", conditions_from_bench=True
)


def fill_demo(archive: Archive) -> None:
    """Import every demo sheet into an open shop file."""
    with contextlib.ExitStack() as stack:
        files = {name: stack.enter_context(demo_file(name)) for name in demo_names()}
        travelling = files.pop(_TRAVELLING)
        import_together(archive, list(files.values()), _DEFAULTS)
        import_together(archive, [travelling], _TRAVELLING_DEFAULTS)


def create_demo(path: Path) -> Archive:
    """Make the demo shop in a new file.

    Raises
    ------
    ArchiveWriteError
    """
    archive = create_shop(path)
    try:
        fill_demo(archive)
    except BaseException:
        archive.close()
        if not on_server(path):
            path.unlink(missing_ok=True)
        raise
    return archive


def open_demo(path: Path) -> Archive:
    """Open the demo shop, making it on first use; in a database, where that is empty.

    One of an older schema is upgraded after a copy: nothing in it belongs to anybody.
    """
    if is_there(path):
        with contextlib.suppress(NotFoundError):
            try:
                return Archive.open(path)
            except SchemaTooOldError:
                upgrade(path)
                return Archive.open(path)
    return create_demo(path)
