"""The customer's report: gather what the shop file knows about a job and set it.

A section appears only where something was recorded; nothing is computed that no screen shows.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from portwright import __version__
from portwright.archive.archive import Archive
from portwright.catalogue import words
from portwright.errors import InputError
from portwright.model.job import Shop
from portwright.report.document import Document, section
from portwright.report.page import document_html, page_file
from portwright.report.pdf import render, write_bytes
from portwright.services.card_holds import is_released
from portwright.services.compare import archive_pressure
from portwright.services.display import Display
from portwright.services.findings import check_job
from portwright.services.overview import story_of
from portwright.services.privacy import without_names
from portwright.services.report_engine import engine
from portwright.services.report_flow import before_and_after, left_out, steps
from portwright.services.report_found import came_in, found, photos
from portwright.services.report_measured import chambers, clearances, ports, seats_springs
from portwright.services.report_plain import plain_paragraph, summary, terms
from portwright.services.report_said import Gathered, Said
from portwright.services.shop_marks import logo_of, report_language

Told = Callable[[str], None]


def _nobody(_said: str) -> None:
    """Hears what is being done when nobody asked."""


@dataclass(frozen=True, slots=True)
class ReportChoices:
    """How a report is to be.

    Parameters
    ----------
    length : str
        "mm" or "in"; "" takes the shop's own.
    language : str
        Of a catalogue; "" takes the shop's own.
    names : bool or None
        Customer's name and serial numbers may be in it; None goes by the release on the job card.
    """

    length: str = ""
    language: str = ""
    names: bool | None = None


def report_pdf(
    archive: Archive, job: str, choices: ReportChoices | None = None, told: Told | None = None
) -> bytes:
    """A job's report as PDF.

    Parameters
    ----------
    told : callable, optional
        Hears what is being done, step by step.

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    document = customer_report(archive, job, choices, told)
    if told is not None:
        told("Setting the pages")
    return render(document)


def report_html(archive: Archive, job: str, choices: ReportChoices | None = None) -> str:
    """The same as body of a page, complete in itself."""
    return document_html(customer_report(archive, job, choices))


def write_report(
    archive: Archive, job: str, out: Path, choices: ReportChoices | None = None
) -> None:
    """Write a job's report, as PDF or by its ending as a page that is complete in itself.

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    if out.suffix.lower() in {".html", ".htm"}:
        write_bytes(page_file(customer_report(archive, job, choices)).encode("utf-8"), out)
    else:
        write_bytes(report_pdf(archive, job, choices), out)


def gather(archive: Archive, job: str, choices: ReportChoices | None = None) -> Gathered:
    """Everything a report, a spoken summary and share pictures are made of.

    Raises
    ------
    UnknownNameError
        No such job or language.
    InputError
        No before and after, or a length unit that is not mm or in.
    """
    chosen = choices or ReportChoices()
    if chosen.length not in {"", "mm", "in"}:
        raise InputError(f"'{chosen.length}' is not a length unit for reports.", "Use mm or in.")
    say = words(chosen.language or report_language(archive))
    checked = check_job(archive, job)
    shop = archive.shop() or Shop(name="")
    display = Display.of(shop)
    if chosen.length:
        display = display.inch() if chosen.length == "in" else display.metric()
    pressure = archive_pressure(archive)
    story = story_of(checked, pressure, display)
    if story.whole is None:
        raise InputError(
            f"Job {job} has sweeps at one stage only, so there is no before and after.",
            "Sweep again after the work.",
        )
    names = chosen.names
    if names is None:
        names = is_released(checked.contents)
    said = Said(say, display)
    return Gathered(archive, shop, checked, story, story.whole, said, pressure, names)


def customer_report(
    archive: Archive, job: str, choices: ReportChoices | None = None, told: Told | None = None
) -> Document:
    """Everything the report says, as finished text; ``told`` hears what is being done.

    Raises
    ------
    UnknownNameError, InputError
        As :func:`gather`.
    """
    chosen = choices or ReportChoices()
    tell = told or _nobody
    tell("Checking and comparing the sweeps")
    g = gather(archive, job, chosen)
    say = g.said.say
    tell("Drawing the curves")
    flow = before_and_after(g)
    tell("Comparing the ports")
    alike = ports(g)
    tell("Putting the head on the engine")
    answers = engine(g)
    tell("Opening the photos")
    document = Document(
        title=say("report.title", job=job),
        shop=g.shop.name,
        shop_line=", ".join(p for p in (g.shop.town, g.shop.porter) if p),
        facts=came_in(g),
        sections=(
            *section(say("report.plain"), plain_paragraph(g)),
            *section(say("report.summary"), summary(g), terms(g)),
            *section(say("report.charts"), *flow),
            *section(say("report.found"), *found(g)),
            *section(say("report.steps"), steps(g)),
            *section(say("report.ports", stage=g.whole.after), *alike),
            *section(say("report.chambers"), *chambers(g)),
            *section(say("report.seats"), *seats_springs(g)),
            *section(say("report.engine"), *answers),
            *section(say("report.clearances"), *clearances(g)),
            *section(say("report.photos"), *photos(g)),
            *section(say("report.left-out"), left_out(g)),
            *section(say("report.cautions"), g.said.cautions()),
        ),
        footer=say(
            "report.footer",
            version=__version__,
            method=", ".join(sorted({r.method.name for r in g.checked.reduced})),
            source=g.repeatability_source(),
        ),
        language=say.language,
        logo=logo_of(archive),
    )
    return document if g.names else without_names(document, g.contents, g.shop)
