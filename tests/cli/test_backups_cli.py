"""Backups and restore as a person types them."""

from __future__ import annotations

import json
from pathlib import Path

from typer.testing import CliRunner

from portwright.cli.main import app
from portwright.errors import CorruptArchiveError
from portwright.services.shop_file import open_shop

runner = CliRunner()


def test_set_make_check_rehearse_and_restore(demo_path: Path, tmp_path: Path) -> None:
    stick = tmp_path / "stick"
    shop = ["--shop", str(demo_path)]
    made = runner.invoke(app, ["backups", "--to", str(stick), "--now", *shop])
    assert made.exit_code == 0
    assert f"into {stick}" in made.output
    listed = runner.invoke(app, ["backups", "--verify", "--json", *shop])
    (backup,) = json.loads(listed.output)["backups"]
    assert backup["verdict"] == "sound"
    source = str(stick / backup["name"])
    before = demo_path.read_bytes()
    tried = runner.invoke(app, ["restore", source, "--rehearse", *shop])
    assert "Nothing was changed." in tried.output
    assert demo_path.read_bytes() == before
    demo_path.write_bytes(before[: len(before) // 2])
    done = runner.invoke(app, ["restore", source, *shop])
    assert done.exit_code == 0
    assert "is kept as" in done.output
    with open_shop(demo_path) as archive:
        assert archive.jobs()


def test_what_is_no_backup_is_refused_in_words(demo_path: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "sheet.csv"
    wrong.write_text("lift,flow\n" * 50, encoding="utf-8")
    before = demo_path.read_bytes()
    refused = runner.invoke(app, ["restore", str(wrong), "--shop", str(demo_path)])
    assert isinstance(refused.exception, CorruptArchiveError)
    assert demo_path.read_bytes() == before
