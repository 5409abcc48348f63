"""What the benchmark commands share: the page a table stands in, and the machine it was made on."""

from __future__ import annotations

import os
import platform
from pathlib import Path

BENCHMARKS = Path(__file__).resolve().parents[1] / "docs" / "benchmarks"


def put(page: Path, name: str, text: str) -> None:
    """Put a table between ``<!-- name: begin -->`` and ``<!-- name: end -->`` of a page."""
    before, begin, rest = page.read_text(encoding="utf-8").partition(f"<!-- {name}: begin -->")
    _, end, after = rest.partition(f"<!-- {name}: end -->")
    if not end:
        raise ValueError(f"{page} has no place for {name}")
    page.write_text(f"{before}{begin}\n{text}\n{end}{after}", encoding="utf-8")


def processors() -> str:
    """How many processors there are, and how much else wanted them."""
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    return f"{os.cpu_count()} processors that other programs used as well (load {load:.1f})"


def system() -> str:
    """System and kind of processor."""
    return f"{platform.system()} {platform.machine()}"
