"""The import contracts cover the whole package and refuse what they forbid."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "src" / "portwright"


def layer_names() -> list[str]:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    contract = next(
        c for c in project["tool"]["importlinter"]["contracts"] if c["type"] == "layers"
    )
    return [
        name.strip().removeprefix("portwright.")
        for layer in contract["layers"]
        for name in re.split(r"[|:]", layer)
    ]


def test_every_part_of_the_package_has_a_layer() -> None:
    parts = {p.name for p in PACKAGE.iterdir() if (p / "__init__.py").exists()}
    parts |= {p.stem for p in PACKAGE.glob("*.py")} - {"__init__", "__main__"}
    assert parts <= set(layer_names())


def run_contracts(folder: Path) -> subprocess.CompletedProcess[str]:
    command = Path(sys.executable).parent / "lint-imports"
    return subprocess.run(
        [command, "--no-cache", "--no-logo"],
        cwd=folder,
        env={"PYTHONPATH": str(folder), "PYTHONUTF8": "1", "COLUMNS": "200"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )


@pytest.fixture
def bare_package(tmp_path: Path) -> Path:
    """Make a package with the real layers and contracts but nothing in them."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for name in layer_names():
        (tmp_path / "portwright" / name).mkdir(parents=True)
        (tmp_path / "portwright" / name / "__init__.py").touch()
    (tmp_path / "portwright" / "__init__.py").touch()
    return tmp_path


def test_an_empty_package_keeps_the_contracts(bare_package: Path) -> None:
    result = run_contracts(bare_package)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("core", "import portwright.services", "Layers"),
        ("io", "import portwright.archive", "Layers"),
        ("report", "import portwright.io", "Layers"),
        ("core", "import portwright.model", "Layers"),
        ("core", "import pint", "Only units.py knows pint"),
        ("services", "import pint", "Only units.py knows pint"),
        ("services", "import sqlalchemy", "Database rows stay inside the archive"),
        ("services", "import nicegui", "Only the app knows the web framework"),
        ("ui", "import portwright.archive", "Screens and commands go through services"),
        ("cli", "import portwright.core", "Screens and commands go through services"),
    ],
)
def test_a_forbidden_import_is_refused(
    bare_package: Path, module: str, line: str, contract: str
) -> None:
    (bare_package / "portwright" / module / "__init__.py").write_text(line, encoding="utf-8")
    result = run_contracts(bare_package)
    broken = [row for row in result.stdout.splitlines() if row.strip().endswith("BROKEN")]
    assert result.returncode == 1, result.stdout + result.stderr
    assert any(contract in row for row in broken), result.stdout
