"""Shop files of older versions: refused, copied, upgraded, worked on."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
from pathlib import Path

import pytest

from portwright.archive import schema
from portwright.archive.archive import Archive
from portwright.errors import (
    ArchiveBusyError,
    ArchiveError,
    CorruptArchiveError,
    SchemaTooOldError,
)
from tests.archive import archive_values as values
from tests.archive.conftest import Server

SCHEMAS = Path(__file__).parent / "schemas"

NEXT_STEP = """
import sqlalchemy as sa
from alembic import op

revision = "{next}"
down_revision = "{newest}"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("casting", sa.Column("weight", sa.Float()))
    with op.batch_alter_table("job") as batch:  # rebuilds a table that others point at
        batch.alter_column("goal", server_default="none given")
    {more}
"""
NEWEST = schema.newest()
NEXT = f"{int(NEWEST) + 1:04d}"


def next_step(more: str = "") -> str:
    """The step to a later schema, with something more in it."""
    filled = NEXT_STEP.replace("{next}", NEXT).replace("{newest}", NEWEST)
    return filled.replace("{more}", more)


@pytest.fixture
def next_version(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A later Portwright, as far as the shop file is concerned."""
    location = tmp_path / "migrations"
    shutil.copytree(schema.LOCATION, location, ignore=shutil.ignore_patterns("__pycache__"))
    step = location / "versions" / f"{NEXT}_next.py"
    step.write_text(next_step(), encoding="utf-8")
    monkeypatch.setattr(schema, "LOCATION", location)
    return step


def schema_of(path: Path) -> str:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        return str(connection.execute("SELECT version_num FROM alembic_version").fetchone()[0])


def test_an_older_file_is_refused_with_the_way_out(archive: Archive, next_version: Path) -> None:
    archive.close()
    before = archive.path.read_bytes()
    with pytest.raises(SchemaTooOldError, match=rf"schema {NEWEST}.*portwright upgrade") as refused:
        Archive.open(archive.path)
    assert f'--shop "{archive.path}"' in refused.value.hint  # what is typed works as it stands
    assert archive.path.read_bytes() == before


def test_an_older_file_is_copied_then_upgraded_then_works(
    archive: Archive, next_version: Path
) -> None:
    archive.close()
    done = Archive.upgrade(archive.path)
    assert (done.from_schema, done.to_schema) == (NEWEST, NEXT)
    assert done.copy is not None
    assert done.copy.path.parent == archive.path.parent
    assert done.copy.path.name.startswith(f"full schema {NEWEST} 2")
    assert schema_of(done.copy.path) == NEWEST
    assert schema_of(archive.path) == NEXT
    with Archive.open(archive.path) as upgraded:
        assert upgraded.contents() == values.shop()
        upgraded.add_reading("J-1", "R1", values.reading("4", "80"))
        assert len(upgraded.run("J-1/R1").readings) == 4
    with (
        contextlib.closing(sqlite3.connect(archive.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="never changed"),
    ):
        connection.execute("UPDATE reading SET flow = 1")
    assert Archive.upgrade(archive.path).copy is None


@pytest.mark.parametrize(
    ("more", "kind"),
    [
        ("raise RuntimeError('power cut')", RuntimeError),
        ("op.execute('DROP TABLE no_such_table')", ArchiveError),
        ("op.execute('DROP TABLE port')", CorruptArchiveError),
    ],
)
def test_an_upgrade_that_fails_changes_nothing(
    archive: Archive, next_version: Path, more: str, kind: type[Exception]
) -> None:
    archive.close()
    next_version.write_text(next_step(more), encoding="utf-8")
    with pytest.raises(kind):
        Archive.upgrade(archive.path)
    assert schema_of(archive.path) == NEWEST
    assert len(list(archive.path.parent.glob(f"full schema {NEWEST} *"))) == 1
    with contextlib.closing(sqlite3.connect(archive.path)) as connection:
        columns = connection.execute("SELECT name FROM pragma_table_info('casting')").fetchall()
        assert ("weight",) not in columns
        assert connection.execute("SELECT count(*) FROM port").fetchone() == (4,)


@pytest.mark.parametrize("stored", sorted(SCHEMAS.glob("*.shop")), ids=lambda path: path.stem)
def test_every_schema_ever_released_can_be_opened_and_worked_on(
    stored: Path, tmp_path: Path
) -> None:
    path = tmp_path / stored.name
    shutil.copyfile(stored, path)
    done = Archive.upgrade(path)
    assert done.from_schema == stored.stem
    with Archive.open(path) as archive:
        jobs = {job.job.number: job for job in archive.contents().jobs}
        assert {number: len(job.runs) for number, job in jobs.items()} == {"J-1": 1, "J-2": 2}
        run = jobs["J-1"].runs[0]
        assert [str(r.flow) for r in run.readings] == ["21.5 cfm", "40.5 cfm"]
        assert run.left_out == "cold bench"
        assert str(run.readings[0].test_pressure) == "28,0 inH2O"
        assert jobs["J-1"].measurements[0].value.si == pytest.approx(0.0381, rel=1e-12)
        assert archive.attachment_data(archive.attachments("J-1")[0].id) == b"pixels"
        archive.add_reading("J-1", "R1", values.reading("9", "99"))
        archive.save(values.shop())


def test_stored_files_are_of_schemas_there_are() -> None:
    stored = [path.stem for path in sorted(SCHEMAS.glob("*.shop"))]
    assert stored
    assert set(stored) <= set(schema.names())


def test_serving_an_older_file_asks_before_it_is_upgraded(
    archive: Archive, next_version: Path
) -> None:
    from portwright.cli.commands.serve import bring_up

    archive.close()
    asked: list[str] = []

    def no(question: str) -> bool:
        asked.append(question)
        return False

    for answer in (None, no):
        with pytest.raises(SchemaTooOldError):
            bring_up(archive.path, answer)
    assert schema_of(archive.path) == NEWEST
    assert "A complete copy is made first" in asked[0]
    bring_up(archive.path, lambda _: True)
    assert schema_of(archive.path) == NEXT
    assert len(list(archive.path.parent.glob(f"full schema {NEWEST} *"))) == 1
    bring_up(archive.path.with_name("none yet.shop"), no)
    assert len(asked) == 1


def test_the_demo_is_upgraded_by_itself(archive: Archive, next_version: Path) -> None:
    from portwright.services.demo import open_demo

    archive.close()
    with open_demo(archive.path) as upgraded:
        assert upgraded.contents() == values.shop()
    assert len(list(archive.path.parent.glob(f"full schema {NEWEST} *"))) == 1


def _on_server(postgres: Server, next_version: Path, more: str = "") -> str:
    """A server with a shop of the present schema, met by a later Portwright."""
    address = postgres.database("shop2")
    next_version.write_text(next_step(more), encoding="utf-8")
    return address


MORE = """
    from portwright.archive.migrations.guard import never

    op.create_table("extra", sa.Column("id", sa.Integer(), primary_key=True))
    op.execute("INSERT INTO extra VALUES (1)")
    never("extra")
""".strip()


@pytest.mark.xdist_group("postgres")
def test_a_shop_on_a_server_is_copied_then_upgraded_in_its_place(
    postgres: Server, next_version: Path, tmp_path: Path
) -> None:
    address = _on_server(postgres, next_version, MORE)
    with pytest.raises(SchemaTooOldError, match=rf"schema {NEWEST}.*portwright upgrade"):
        Archive.open(Path(address))
    done = Archive.upgrade(Path(address), tmp_path / "copies")
    assert (done.from_schema, done.to_schema) == (NEWEST, NEXT)
    assert done.copy is not None
    assert schema_of(done.copy.path) == NEWEST
    with Archive.open(Path(address)) as upgraded:
        assert upgraded.contents() == values.shop()
        upgraded.add_reading("J-1", "R1", values.reading("4", "80"))
        with pytest.raises(ArchiveError, match="extra rows are never"), upgraded._writing() as c:
            c.exec_driver_sql("DELETE FROM extra")
    assert Archive.upgrade(Path(address), tmp_path / "copies").copy is None
    Archive.upgrade(done.copy.path)  # the copy is a whole shop of its own
    with Archive.open(done.copy.path) as copy:
        assert copy.contents() == values.shop()


@pytest.mark.xdist_group("postgres")
def test_a_failing_step_leaves_a_server_as_it_was(
    postgres: Server, next_version: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = _on_server(postgres, next_version, 'op.execute("SELECT 1 FROM nowhere")')
    with pytest.raises(ArchiveError):
        Archive.upgrade(Path(address), tmp_path)
    monkeypatch.undo()
    with Archive.open(Path(address)) as archive:
        assert archive.contents() == values.shop()


@pytest.mark.xdist_group("postgres")
def test_a_server_in_use_is_not_upgraded(
    postgres: Server, next_version: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    address = _on_server(postgres, next_version)
    monkeypatch.undo()
    with Archive.open(Path(address)) as working:
        assert working.jobs()
        monkeypatch.setattr(schema, "LOCATION", next_version.parents[1])
        with pytest.raises(ArchiveBusyError, match="have the shop"):
            Archive.upgrade(Path(address), tmp_path)
    assert list(tmp_path.glob("*.shop")) == []
