"""People, roles, sessions and the log of who wrote what."""

from __future__ import annotations

import asyncio
import contextlib
import sqlite3
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.errors import InputError, NotAllowedError, UnknownNameError
from portwright.model.job import Job, Note
from portwright.services import passphrase, users
from portwright.services.users import Role, Who, acting
from portwright.ui import work
from tests.archive import archive_values as values

PHRASE = "three or four words"


@pytest.fixture
def shop(tmp_path: Path) -> Archive:
    made = Archive.create(tmp_path / "a.shop")
    made.save(values.shop())
    return made


def _enter(shop: Archive) -> None:
    shop.add_run(values.run("R9", readings=0))
    shop.add_reading("J-1", "R9", values.reading("1", "20"))
    shop.add_note("J-1", Note("guide loose", "2026-02-10"))


def test_each_role_may_do_its_part_and_no_more(shop: Archive) -> None:
    with acting(Who("Ada", Role.APPRENTICE, "10.0.0.7")):
        _enter(shop)
        shop.save_setting("bench plan of run R9", {})
        shop.save_setting("instrument zero", {})
        for refused in (
            lambda: shop.update_job("J-1", {"goal": "more"}, shop.job_version("J-1")),
            lambda: shop.mark_run("J-1", "R9", "odd"),
            lambda: shop.save_setting("anything", 1),
            lambda: shop.add_job(Job("J-9")),
        ):
            with pytest.raises(NotAllowedError, match="Ada is here as apprentice"):
                refused()
    with acting(Who("Bo", Role.PORTER)):
        shop.add_job(Job("J-9"))
        with pytest.raises(NotAllowedError):
            users.add(shop, "Cy", Role.OWNER, PHRASE)
        with pytest.raises(NotAllowedError):
            passphrase.set_passphrase(shop, PHRASE)
    with acting(Who(role=Role.GUEST)):
        assert len(shop.jobs()) == 3
        with pytest.raises(NotAllowedError, match="may not change"):
            shop.add_note("J-1", Note("no", "2026-02-10"))
    assert len(shop.job("J-1").notes) == 2
    assert users.users(shop) == []


@pytest.mark.parametrize("beside", [work.in_thread, work.at_length, work.at_the_bench])
def test_work_in_another_thread_is_still_that_persons(
    shop: Archive, beside: Callable[..., Awaitable[object]]
) -> None:
    async def at_work(who: Who) -> None:
        with acting(who):
            await beside(shop.add_note, "J-1", Note("seat 3 chatters", "2026-02-10"))

    with pytest.raises(NotAllowedError, match="Cy is here as guest"):
        asyncio.run(at_work(Who("Cy", Role.GUEST)))
    asyncio.run(at_work(Who("Ada", Role.APPRENTICE)))
    assert [line.who for line in shop.changes()[:1]] == ["Ada"]


def test_what_was_written_is_in_the_log_with_the_name(shop: Archive) -> None:
    with acting(Who("Ada", Role.APPRENTICE, "10.0.0.7")):
        _enter(shop)
    shop.update_job("J-1", {"goal": "more"}, shop.job_version("J-1"))
    newest, *older = shop.changes()
    assert (newest.who, newest.role) == ("", "owner")
    assert newest.changes["job"]["changed"] == 1
    assert newest.changes["job"]["columns"] == ["goal"]
    assert [next(iter(line.changes)) for line in older[:3]] == ["note", "reading", "run"]
    assert {line.who for line in older[:3]} == {"Ada"}
    assert older[0].device == "10.0.0.7"
    assert len(shop.changes(by="Ada")) == 3
    with (
        contextlib.closing(sqlite3.connect(shop.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="never changed"),
    ):
        connection.execute("UPDATE change_log SET who = 'somebody else'")


def test_a_refused_or_failed_step_leaves_nothing_in_the_log(shop: Archive) -> None:
    before = shop.changes()
    with pytest.raises(UnknownNameError):
        shop.add_reading("J-1", "no such run", values.reading("1", "20"))
    with acting(Who(role=Role.GUEST)), pytest.raises(NotAllowedError):
        shop.add_job(Job("J-9"))
    assert shop.changes() == before


def test_sessions_belong_to_people_and_end_at_once(shop: Archive) -> None:
    users.add(shop, "Ada", Role.APPRENTICE, PHRASE)
    assert users.enters(shop, "Ada", PHRASE)
    assert not users.enters(shop, "Ada", "something else entirely")
    assert not users.enters(shop, "Nobody", PHRASE)
    assert not users.enters(shop, "", PHRASE)  # no shop passphrase is set
    token = passphrase.open_session(shop, user="Ada")
    own = passphrase.open_session(shop)
    assert users.at_session(shop, token, "10.0.0.7") == Who("Ada", Role.APPRENTICE, "10.0.0.7")
    assert users.at_session(shop, own) == Who()
    users.set_role(shop, "Ada", Role.PORTER)
    who = users.at_session(shop, token)
    assert who is not None
    assert who.role is Role.PORTER
    assert passphrase.end_sessions(shop, "Ada") == 1
    assert users.at_session(shop, token) is None
    assert users.at_session(shop, own) is not None
    again = passphrase.open_session(shop, user="Ada")
    users.set_phrase(shop, "Ada", "another few words")
    assert users.at_session(shop, again) is None
    last = passphrase.open_session(shop, user="Ada")
    users.remove(shop, "Ada")
    assert users.at_session(shop, last) is None
    with pytest.raises(InputError, match="fewer than"):
        users.add(shop, "Ada", Role.PORTER, "short")


def test_people_are_kept_at_the_computer_itself(shop: Archive) -> None:
    shop.close()
    runner, where = CliRunner(), ["--shop", str(shop.path)]
    added = runner.invoke(
        app, ["users", "add", "Ada", "--role", "apprentice", *where], input=PHRASE
    )
    assert added.exit_code == 0, added.output
    reset = runner.invoke(app, ["users", "passphrase", "Ada", *where], input="forgotten it again")
    assert reset.exit_code == 0
    assert "apprentice" in runner.invoke(app, ["users", "list", *where]).output
    with Archive.open(shop.path) as opened:
        assert users.enters(opened, "Ada", "forgotten it again")
    assert "Ada let in as apprentice" in runner.invoke(app, ["audit", *where]).output
    refused = runner.invoke(app, ["users", "role", "Ada", "king", *where])
    assert isinstance(refused.exception, UnknownNameError)
