from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import psycopg
import pytest

from portwright.archive import server, tables
from portwright.archive.archive import Archive
from tests.archive import archive_values
from tests.archive.server import running


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


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run the tests of modules that say so on a file and on a server."""
    if "engine_kind" in metafunc.fixturenames:
        both = getattr(metafunc.module, "BOTH_ENGINES", False)
        marks = {mark.name for mark in metafunc.definition.iter_markers()}
        kinds: list[Any] = [] if "server_only" in marks else ["file"]
        if both and "file_only" not in marks:
            kinds.append(pytest.param("server", marks=pytest.mark.xdist_group("postgres")))
        metafunc.parametrize("engine_kind", kinds)


@dataclass
class Server:
    """A running PostgreSQL server with one database for each test."""

    address: str
    made: int = 0

    def database(self, like: str = "template0") -> str:
        """Address of a new database, a copy of another one."""
        self.made += 1
        name = f"shop{self.made}"
        with psycopg.connect(f"{self.address}/postgres", autocommit=True) as connection:
            connection.execute(f"CREATE DATABASE {name} TEMPLATE {like}")
        return f"{self.address}/{name}"


class Raw:
    """The stored shop itself, looked at past the program."""

    refused = (sqlite3.IntegrityError, psycopg.errors.RaiseException)

    def __init__(self, place: Path) -> None:
        self.on_server = server.is_address(place)
        address = server.address(place).replace("+psycopg", "") if self.on_server else ""
        self._connection: Any = psycopg.connect(address) if address else sqlite3.connect(place)

    def rows(self, statement: str) -> list[tuple[Any, ...]]:
        """What a statement gives."""
        found = self._connection.execute(statement)
        return list(found.fetchall()) if found.description else []

    def keep(self) -> None:
        """Make what was changed last."""
        self._connection.commit()

    def close(self) -> None:
        """Let go, taking back whatever was not refused."""
        self._connection.rollback()
        self._connection.close()


@pytest.fixture(scope="session")
def postgres() -> Iterator[Server]:
    """The server, with the databases of an empty and of a full shop in it."""
    with running(durable=False) as address:
        made = Server(address)
        Archive.create(Path(made.database())).close()
        with Archive.create(Path(made.database())) as full:
            full.save(archive_values.shop())
        yield made


Emptied = Callable[[], AbstractContextManager[Archive]]


@pytest.fixture(scope="module")
def emptied(postgres: Server) -> Emptied:
    """One database that is emptied before each use; making a new one takes ten times as long."""
    address = postgres.database("shop1")
    names = ", ".join(table.name for table in tables.metadata.sorted_tables)

    @contextmanager
    def opened() -> Iterator[Archive]:
        with psycopg.connect(address, autocommit=True) as connection:
            connection.execute("SET session_replication_role = replica")  # past the guards
            connection.execute(f"TRUNCATE {names} RESTART IDENTITY CASCADE".encode())
        with Archive.open(Path(address)) as archive:
            yield archive

    return opened


def _place(
    request: pytest.FixtureRequest, kind: str, model: str, like: str, folder: Path
) -> Path | str:
    if kind == "server":
        there: Server = request.getfixturevalue("postgres")
        return there.database(like)
    return Path(
        shutil.copyfile(request.getfixturevalue(model), folder / f"{model.partition('_')[0]}.shop")
    )


@pytest.fixture
def place(archive: Archive) -> Path:
    """Where the shop with one of everything is, for other programs to open."""
    if not archive.on_server:
        return archive.path
    url = archive._engine.url.set(drivername="postgresql")
    return Path(url.render_as_string(hide_password=False))


@pytest.fixture
def raw(place: Path) -> Iterator[Raw]:
    """The shop with one of everything, past the program."""
    made = Raw(place)
    yield made
    made.close()


@pytest.fixture
def empty(engine_kind: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Archive]:
    """A new shop."""
    place = _place(request, engine_kind, "empty_shop_file", "shop1", tmp_path)
    with Archive.open(Path(place)) as archive:
        yield archive


@pytest.fixture
def archive(engine_kind: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Archive]:
    """A shop with one of everything."""
    place = _place(request, engine_kind, "full_shop_file", "shop2", tmp_path)
    with Archive.open(Path(place)) as opened:
        yield opened
