"""The app on a shop in a database: found, entered, kept; and what it says when that is gone."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from playwright.sync_api import expect
from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import InputError
from portwright.services import shop_file
from portwright.services.backups import restore
from portwright.services.demo import open_demo
from tests.archive.server import running
from tests.ui.bench_help import begin, stored, type_in
from tests.ui.conftest import Server, Tablet, free_port, plain_environment, ready, wait_for


@pytest.fixture(scope="module")
def database(demo_file: Path) -> Iterator[tuple[str, contextlib.ExitStack]]:
    """Address of a database with the demo shop, and what ends its server."""
    with contextlib.ExitStack() as server:
        address = server.enter_context(running(durable=False))
        with psycopg.connect(f"{address}/postgres", autocommit=True) as connection:
            for name in ("workshop", "bare"):
                connection.execute(f"CREATE DATABASE {name} TEMPLATE template0".encode())
        shop_file.move(demo_file, Path(f"{address}/workshop"))
        yield f"{address}/workshop", server


@pytest.fixture(scope="module")
def served(
    database: tuple[str, contextlib.ExitStack], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """The app as a person starts it, in a home of its own."""
    home, port = tmp_path_factory.mktemp("home"), free_port()
    words = ["serve", "--shop", database[0], "--port", str(port), "--no-browser"]
    command = [sys.executable, "-m", "portwright.cli.main", *words]
    log = home / "said"
    with log.open("wb") as out:
        environment = plain_environment() | {"HOME": str(home), "USERPROFILE": str(home)}
        program = subprocess.Popen(command, stdout=out, stderr=out, env=environment, cwd=home)
    try:
        wait_for(f"http://127.0.0.1:{port}/login", program)
        yield Server(Path(database[0]), None, port=port, log=log)  # type: ignore[arg-type]
    finally:
        program.kill()
        program.wait()
    assert (home / "Portwright" / "logs" / "workshop.log").is_file()
    assert [path.name for path in home.iterdir() if path.name.startswith("postgres")] == []


def test_what_belongs_to_a_file_is_not_done_to_a_database(
    database: tuple[str, contextlib.ExitStack],
    tmp_path: Path,
    demo_file: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Path, "home", lambda: tmp_path / "home")
    with pytest.raises(InputError, match="empty database"):
        restore(demo_file, Path(database[0]))
    run = CliRunner()
    copied = run.invoke(app, ["backup", "--shop", database[0]])
    assert copied.exit_code == 0, copied.output
    assert len(list((tmp_path / "home" / "Portwright" / "backups").glob("workshop-*.shop"))) == 1
    bare = database[0].replace("workshop", "bare")
    open_demo(Path(bare)).close()
    with open_demo(Path(bare)) as filled:  # opened, not filled again
        assert filled.on_server
        assert len(filled.jobs()) > 10
    assert [path.name for path in tmp_path.iterdir()] == ["home"]


def test_searched_entered_and_kept_then_gone(
    served: Server,
    database: tuple[str, contextlib.ExitStack],
    open_tablet: Callable[..., Tablet],
) -> None:
    page = open_tablet().page
    page.goto(f"{served.address}/find?words=bowl")
    ready(page)
    expect(
        page.get_by_text("Bowl blended").or_(page.get_by_text("bowl blended")).first
    ).to_be_visible()
    run = begin(page, served, lifts="1 2 3")
    type_in(page, "18.0")
    type_in(page, "35.1")
    assert list(stored(served.shop, run).values()) == ["18.0 cfm", "35.1 cfm"]
    page.goto(f"{served.address}/health")
    expect(page.get_by_text("The guards against changing raw rows are in place")).to_be_visible()
    database[1].close()
    page.goto(f"{served.address}/jobs")
    expect(page.get_by_text("The server with workshop.shop cannot be reached")).to_be_visible()
