"""Compiled code goes when its source has changed, and stays when it has not."""

from __future__ import annotations

from pathlib import Path

from portwright.core.gas1d.stale import clear_stale


def test_cached_code_goes_only_when_a_source_changed(tmp_path: Path) -> None:
    source = tmp_path / "a.py"
    source.write_text("x = 1\n", encoding="utf-8")
    cache = tmp_path / "__pycache__"
    cache.mkdir()
    compiled = [cache / "a.f-1.py311.nbi", cache / "a.f-1.py311.1.nbc"]
    for file in compiled:
        file.write_bytes(b"old")
    assert clear_stale(tmp_path) == 2
    for file in compiled:
        file.write_bytes(b"new")
    assert clear_stale(tmp_path) == 0
    assert all(file.exists() for file in compiled)
    source.write_text("x = 2\n", encoding="utf-8")
    assert clear_stale(tmp_path) == 2
    assert not any(file.exists() for file in compiled)
