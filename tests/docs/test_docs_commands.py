"""Every command and exit code has its line in the documentation."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer

from portwright.cli.exit_codes import ExitCode
from portwright.cli.main import app

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reference" / "commands.md"
TEXT = PAGE.read_text(encoding="utf-8")
COMMANDS = sorted(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_is_documented(command: str) -> None:
    assert f"| `{command}" in TEXT


@pytest.mark.parametrize("code", list(ExitCode))
def test_each_exit_code_is_documented(code: ExitCode) -> None:
    assert f"| {code.value} |" in TEXT


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_explains_itself(command: str) -> None:
    help_text = typer.main.get_command(app).commands[command].help  # type: ignore[attr-defined]
    assert help_text
    assert help_text.strip().endswith((".", "!"))
