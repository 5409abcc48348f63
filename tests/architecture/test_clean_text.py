"""No tracked file leads outside the repository: no machine paths, no package hosts.

The patterns are written so that this file does not match them.
"""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PATTERNS = {
    "path of one machine": re.compile(
        r"(?<![\w.)\]}*])/(?:[w]ork|[t]mp|[o]pt|[r]oot|[h]ome|[U]sers)(?:/|\b(?!\w))"
        r"|\b[A-Z]:[\\/]+[U]sers"
    ),
    "package host": re.compile(
        r"p[y]pi\.org|p[y]thonhosted|a[n]aconda\.org|n[p]mjs|c[r]ates\.io|p[r]oxy\.golang"
    ),
    "folder outside the repository": re.compile(r"\.\./s[h]ared"),
    "note about how the text was made": re.compile(
        r"\bA[I]\b|\bL[L]M\b|\bi[s]sue #?\d+\b|\bf[a]rm-\w", re.ASCII
    ),
}
INDEX_OPTION = re.compile(
    r"^\s*--(?:index-url|extra-index-url|find-links|trusted-host)", re.MULTILINE
)


def tracked_files() -> list[Path]:
    """Files git knows; without git (an unpacked archive) the source folders."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    if listed.returncode == 0 and listed.stdout:
        return [ROOT / name for name in listed.stdout.split("\0") if (ROOT / name).is_file()]
    folders = ("src", "tests", "docs", "requirements", "benchmarks", ".ci")
    inside = [path for name in folders for path in (ROOT / name).rglob("*") if path.is_file()]
    return [path for path in [*ROOT.glob("*.*"), *inside] if "__pycache__" not in path.parts]


def text_of(path: Path) -> str:
    """Text of a file, empty for a binary one."""
    content = path.read_bytes()
    return "" if b"\0" in content[:8192] else content.decode("utf-8", errors="replace")


def complaints(text: str) -> list[str]:
    """Every forbidden passage of a text, with its line number."""
    return [
        f"line {number}: {what}: {found[0]}"
        for number, line in enumerate(text.split("\n"), start=1)
        for what, pattern in PATTERNS.items()
        for found in pattern.finditer(line)
    ]


def test_no_tracked_file_leads_outside() -> None:
    files = tracked_files()
    assert len(files) > 20, "the list of files must not come out empty"
    hits = {
        path.relative_to(ROOT).as_posix(): found
        for path in files
        if path.is_file() and (found := complaints(text_of(path)))
    }
    assert not hits


def test_the_lock_files_name_no_index() -> None:
    locks = sorted((ROOT / "requirements").glob("*.txt"))
    assert [lock.name for lock in locks] == ["run.txt", "test.txt"]
    for lock in locks:
        text = text_of(lock)
        assert "://" not in text
        assert not INDEX_OPTION.search(text)


@pytest.mark.parametrize(
    "text",
    [
        "data in /" + "work/sheets",
        "see '/" + "tmp'",
        'path = "/' + 'home/someone/x"',
        "C:" + "\\Users\\someone",
        "from https://py" + "pi.org/simple",
        "read .." + "/shared/demo",
        "as is" + "sue 12 says",
        "written by A" + "I",
    ],
)
def test_a_forbidden_passage_is_noticed(text: str) -> None:
    assert complaints(f"first line\n{text}\n")[0].startswith("line 2: ")


@pytest.mark.parametrize(
    "text", ["and/or optional", "lift/optimum", "kg/work", "src/tmp_files", "paid", "the issue is"]
)
def test_an_innocent_passage_is_left_alone(text: str) -> None:
    assert complaints(text) == []
