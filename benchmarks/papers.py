"""What the papers of the demo job cost: report, summary, pictures, clip.

``python benchmarks/papers.py`` prints the table and rewrites it in ``docs/benchmarks/papers.md``.
Processor time of one process, so that the figures hold whatever else the machine does; the first
report of a process also loads what it needs.
"""

from __future__ import annotations

import platform
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from portwright.report import share
from portwright.services.demo import DEMO_JOB, create_demo
from portwright.services.findings import check_job
from portwright.services.report import ReportChoices, report_html, report_pdf
from portwright.services.share import share_picture
from portwright.services.spoken import spoken_summary

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "papers.md"
BEGIN, END = "<!-- papers: begin -->", "<!-- papers: end -->"
TARGET = 2.0  # s for the report of the demo job


def cost(work: Callable[[], object]) -> float:
    """Processor time of one call. [s]"""
    begin = time.process_time()
    work()
    return time.process_time() - begin


def best(work: Callable[[], object], times: int = 3) -> float:
    """Least of a few calls. [s]"""
    return min(cost(work) for _ in range(times))


def table() -> str:
    """Measure everything once."""
    with tempfile.TemporaryDirectory() as folder, create_demo(Path(folder) / "d.shop") as shop:
        first = cost(lambda: report_pdf(shop, DEMO_JOB))
        checked = best(lambda: check_job(shop, DEMO_JOB))
        picture = share_picture(shop, DEMO_JOB)
        rows = {
            "check the job's sweeps, part of everything below": checked,
            "report as PDF, first in a process": first,
            "report as PDF": best(lambda: report_pdf(shop, DEMO_JOB)),
            "report as a page": best(lambda: report_html(shop, DEMO_JOB)),
            "report as PDF, German and inches": best(
                lambda: report_pdf(shop, DEMO_JOB, ReportChoices("in", "de"))
            ),
            "spoken summary": best(lambda: spoken_summary(shop, DEMO_JOB)),
            "still picture, once its figures are known": best(
                lambda: share.still_png(picture, "square")
            ),
            "frames of the clip, encoder apart": best(lambda: share.clip_mp4(picture), 1),
        }
    usual = rows["report as PDF"]
    lines = [
        f"Demo job, 12 ports; {platform.machine()}, Python {platform.python_version()}.",
        "",
        "| work | processor time, s | against the report |",
        "| --- | ---: | ---: |",
        *(f"| {name} | {value:.2f} | {value / usual:.2f} |" for name, value in rows.items()),
        "",
    ]
    for name, value in (("The first in a process", first), ("Every later one", usual)):
        said = "within" if value < TARGET else "past"
        lines.append(f"{name} is {said} the {TARGET:g} s wanted for the demo job.")
    return "\n".join(lines)


def main() -> None:
    """Print the table and put it in its page."""
    made = table()
    print(made)
    text = PAGE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    _, _, after = rest.partition(END)
    PAGE.write_text(f"{before}{BEGIN}\n{made}\n{END}{after}", encoding="utf-8")


if __name__ == "__main__":
    main()
