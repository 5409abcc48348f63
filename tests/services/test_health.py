"""How the shop's records are, and the bundle for helpers."""

from __future__ import annotations

import json
import shutil
import socket
import sqlite3
import zipfile
from collections import namedtuple
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from portwright.archive.archive import Archive
from portwright.cli.main import app
from portwright.errors import ConflictError, ReportError
from portwright.model.job import Job, Note, Shop
from portwright.services import backups, diagnose, passphrase, shop_log, tokens, users
from portwright.services.health import Health, Queue, State, examine, look
from portwright.services.users import Role, Who, acting
from tests.archive import archive_values as values

NAME = "Quixley"
PHRASE = "quixley has three words"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    path = tmp_path / "a.shop"
    with Archive.create(path) as shop:
        shop.save(values.shop())
    return path


def state_of(health: Health, name: str) -> State:
    return next(item.state for item in health.items if item.name == name)


def said_of(health: Health, name: str) -> str:
    return next(item.said for item in health.items if item.name == name)


def test_a_sound_shop_with_a_backup_is_good(place: Path, tmp_path: Path) -> None:
    with Archive.open(place) as shop:
        assert state_of(look(shop, place), "backup") is State.LOOK
        backups.set_plan(shop, backups.Plan(str(tmp_path / "stick")))
        backups.make(shop)
        found = look(shop, place, Queue(2, 0))
        assert found.state is State.GOOD, found
        assert "verified just now: checksum and every page" in said_of(found, "backup")
        assert said_of(found, "slow work") == "2 under way, 0 waiting."
        assert state_of(look(shop, place, Queue(8, 1)), "slow work") is State.LOOK
        late = datetime.now(UTC) + timedelta(days=2)
        assert state_of(look(shop, place, now=late), "backup") is State.LOOK


def test_a_damaged_or_lost_backup_is_bad(place: Path, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    with Archive.open(place) as shop:
        backups.set_plan(shop, backups.Plan(str(stick)))
        made = backups.make(shop)
        damaged = bytearray(made.path.read_bytes())
        damaged[-2000] ^= 1
        made.path.write_bytes(damaged)
        found = look(shop, place)
        assert state_of(found, "backup") is State.BAD
        assert "checksum differs" in said_of(found, "backup")
        shutil.rmtree(stick)
        assert state_of(look(shop, place), "backup") is State.BAD


def test_a_guard_that_was_taken_away_is_noticed(place: Path) -> None:
    with sqlite3.connect(place) as plain:
        plain.execute("DROP TRIGGER reading_no_update")
    plain.close()
    found = examine(place)
    assert state_of(found, "shop file") is State.BAD
    assert "reading_no_update" in said_of(found, "shop file")


def test_rows_that_belong_to_nothing_are_noticed(place: Path) -> None:
    with sqlite3.connect(place) as plain:
        plain.execute("DROP TRIGGER reading_no_update")
        plain.execute("UPDATE reading SET run_id = 9999 WHERE id = 1")
    plain.close()
    (item,) = [item for item in examine(place).items if item.name == "shop file"]
    assert "belong to nothing" in item.said
    assert item.facts["problems"] == 2


def test_a_file_that_cannot_be_opened_has_a_state_too(tmp_path: Path) -> None:
    path = tmp_path / "a.shop"
    path.write_bytes(b"SQLite format 3\x00 and no more")
    found = examine(path)
    assert found.state is State.BAD
    assert [item.name for item in found.items] == [
        "shop file",
        "room on the disk",
        "log",
        "versions",
    ]


def test_a_clock_set_back_is_noticed(place: Path) -> None:
    with Archive.open(place) as shop:
        past = datetime.now(UTC) - timedelta(days=1)
        assert state_of(look(shop, place, now=past), "clock") is State.BAD
        assert state_of(look(shop, place), "clock") is State.GOOD


def test_a_full_disk_is_noticed(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    for free, state in ((1000, State.BAD), (10**8, State.LOOK), (10**10, State.GOOD)):
        monkeypatch.setattr(shutil, "disk_usage", lambda _path, free=free: usage(10**11, 0, free))
        assert state_of(examine(place), "room on the disk") is state


def _shop_full_of_names(folder: Path) -> Path:
    """A shop with the same name in every place a person can type one, and in its log's errors."""
    path = folder / NAME / f"{NAME}.shop"
    path.parent.mkdir()
    kept = shop_log.begin(path)
    with Archive.create(path) as shop:
        shop.save_shop(Shop(name=NAME, town=NAME, porter=NAME))
        shop.add_job(Job(f"{NAME}-1", customer=NAME, vehicle=NAME, goal=NAME))
        shop.add_note(f"{NAME}-1", Note(NAME, "2026-02-10"))
        shop.add_attachment(f"{NAME}-1", NAME.encode(), f"{NAME}.jpg", "image/jpeg", caption=NAME)
        users.add(shop, NAME, Role.PORTER, PHRASE)
        passphrase.open_session(shop, user=NAME)
        tokens.make(shop, NAME, tokens.Scope.READ)
        shop.save_setting(f"bench plan of run {NAME}", {NAME: NAME})
        (folder / f"stick of {NAME}").mkdir()
        backups.set_plan(shop, backups.Plan(str(folder / f"stick of {NAME}")))
        backups.make(shop)
        with acting(Who(NAME, Role.PORTER, "192.168.77.78")):
            shop.add_note(f"{NAME}-1", Note(NAME, "2026-02-11"))
            with pytest.raises(ConflictError) as caught:
                shop.add_job(Job(f"{NAME}-1"))
        shop_log.note(shop_log.Event.UNEXPECTED, error=caught.value)
    shop_log.end(kept)
    return path


def test_nobody_can_be_found_in_the_bytes_of_a_bundle(tmp_path: Path) -> None:
    path = _shop_full_of_names(tmp_path)
    target = tmp_path / "bundle.zip"
    done = CliRunner().invoke(app, ["diagnose", "--shop", str(path), "--out", str(target)])
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(target) as bundle:
        names = bundle.namelist()
        inside = b"\n".join(bundle.read(name) for name in names)
    assert names == ["README.txt", "health.json", "packages.json", "log/0.jsonl"]
    assert b'"sound": true' in inside
    assert b'"verified": true' in inside
    assert b"ConflictError" in inside
    everything = (target.read_bytes() + b"\n".join(map(str.encode, names)) + inside).lower()
    home, host = str(Path.home()), socket.gethostname()
    for never in (NAME, PHRASE, "192.168.77", str(tmp_path), "$argon2"):
        assert never.lower().encode() not in everything, never
    assert len(home) < 4 or home.lower().encode() not in everything
    assert len(host) < 4 or host.lower().encode() not in everything


def test_a_bundle_never_overwrites(place: Path, tmp_path: Path) -> None:
    target = tmp_path / "bundle.zip"
    target.write_bytes(b"mine")
    with pytest.raises(ReportError, match="already a file"):
        diagnose.write(place, examine(place), target)
    assert target.read_bytes() == b"mine"


def test_health_on_the_command_line(place: Path) -> None:
    run = CliRunner()
    found = json.loads(run.invoke(app, ["health", "--json", "--shop", str(place)]).output)
    assert found["state"] == "look"
    assert [item["name"] for item in found["items"]][:2] == ["shop file", "backup"]
    assert "→ Name a folder" in run.invoke(app, ["health", "--shop", str(place)]).output
    place.write_bytes(b"gone")
    assert run.invoke(app, ["health", "--shop", str(place)]).exit_code == 5
