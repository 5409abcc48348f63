"""Labels for castings: what it is, and a code that opens its page on the shop's network."""

from __future__ import annotations

import io
from dataclasses import dataclass
from urllib.parse import urlencode

import segno

from portwright.catalogue import words
from portwright.errors import InputError
from portwright.model.job import Shop
from portwright.report.pdf import set_labels
from portwright.services.shop_file import ShopFile
from portwright.services.shop_marks import report_language

WIDTH, HEIGHT = 62.0, 29.0  # mm, a common roll of labels
_SMALLEST, _LARGEST = (40.0, 20.0), (190.0, 100.0)  # mm


@dataclass(frozen=True, slots=True)
class Label:
    """One label.

    Parameters
    ----------
    title : str
        Job and head.
    lines : tuple of str
    address : str
        What the code opens.
    """

    title: str
    lines: tuple[str, ...]
    address: str


def labels_of(shop: ShopFile, job: str, base: str) -> tuple[Label, ...]:
    """One label for each head of a job, or one for the job where no heads are named.

    Neither customer nor serial number is on it: a label is seen by everybody in the shop.

    Parameters
    ----------
    base : str
        Address of the app on the shop's network, "http://192.168.1.20:8080".

    Raises
    ------
    UnknownNameError
    InputError
        The address is none.
    """
    start = base.strip().rstrip("/")
    if not start.startswith(("http://", "https://")) or len(start) < len("http://a"):
        raise InputError(
            f"'{base}' is no address of the app.", "Give it like http://192.168.1.20:8080."
        )
    contents = shop.job(job)
    say = words(report_language(shop))
    lines = tuple(
        line
        for line in (contents.job.casting, contents.job.vehicle, say.date(contents.job.opened))
        if line
    )
    codes = [h.code for h in contents.heads] or [""]
    return tuple(
        Label(
            f"{job} · {code}" if code else job,
            lines,
            f"{start}/job?{urlencode({'number': job} | ({'head': code} if code else {}))}",
        )
        for code in codes
    )


def qr_svg(address: str) -> str:
    """A QR code that keeps working when a quarter of it is dirty."""
    out = io.BytesIO()
    segno.make_qr(address, error="q").save(out, kind="svg", border=1, xmldecl=False)
    return out.getvalue().decode("utf-8")


def labels_pdf(
    shop: ShopFile,
    job: str,
    base: str,
    *,
    size: tuple[float, float] = (WIDTH, HEIGHT),
    sheet: bool = False,
) -> bytes:
    """Labels of a job as PDF, one a page, or together on a sheet to cut.

    Parameters
    ----------
    size : (float, float)
        Width and height of a label. [mm]

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    for value, low, high in zip(size, _SMALLEST, _LARGEST, strict=True):
        if not low <= value <= high:
            raise InputError(
                f"A label of {size[0]:g} x {size[1]:g} mm cannot be set.",
                "Use 40 to 190 mm by 20 to 100 mm.",
            )
    facts = shop.shop() or Shop(name="")
    made = [
        {
            "title": label.title,
            "lines": list(label.lines),
            "shop": facts.name,
            "svg": qr_svg(label.address),
            "address": label.address,
        }
        for label in labels_of(shop, job, base)
    ]
    return set_labels(
        {
            "title": f"Labels {job}",
            "language": report_language(shop),
            "width": size[0],
            "height": size[1],
            "sheet": sheet,
            "labels": made,
        }
    )
