"""Pictures of a result to show around: conditions burned in, names and serials off by default."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from portwright import units
from portwright.core.comparison import Verdict
from portwright.errors import InputError, UnknownNameError
from portwright.report.figures import Line
from portwright.report.share import SHAPES, SharePicture, clip_mp4, still_png
from portwright.services.files import write_file
from portwright.services.privacy import hide, private_texts
from portwright.services.report import ReportChoices, gather
from portwright.services.report_plain import headline
from portwright.services.report_said import Gathered
from portwright.services.shop_file import ShopFile
from portwright.services.spoken import port_name
from portwright.services.wording import band_name
from portwright.units import Kind

STILLS = tuple(name for name in SHAPES if name != "clip")


def still(shop: ShopFile, job: str, shape: str, choices: ReportChoices | None = None) -> bytes:
    """A still picture as PNG.

    Parameters
    ----------
    shape : str
        "square", "portrait" or "wide".

    Raises
    ------
    UnknownNameError, InputError
    """
    if shape not in STILLS:
        raise UnknownNameError("shape of a picture", shape, STILLS)
    return still_png(share_picture(shop, job, choices), shape)


def clip(
    shop: ShopFile,
    job: str,
    choices: ReportChoices | None = None,
    told: Callable[[str], None] | None = None,
) -> bytes:
    """A short upright clip as MP4.

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    return clip_mp4(share_picture(shop, job, choices), told)


def write_picture(
    shop: ShopFile, job: str, shape: str, out: Path, choices: ReportChoices | None = None
) -> None:
    """Write a still (.png) or a clip (.mp4).

    Raises
    ------
    InputError
        The ending does not fit what is asked for.
    """
    ending = ".mp4" if shape == "clip" else ".png"
    if out.suffix.lower() != ending:
        raise InputError(f"{out.name} is no name for a {shape}.", f"Let it end in {ending}.")
    made = clip(shop, job, choices) if shape == "clip" else still(shop, job, shape, choices)
    write_file(made, out)


def share_picture(shop: ShopFile, job: str, choices: ReportChoices | None = None) -> SharePicture:
    """What a picture of this job says, as finished text."""
    chosen = choices or ReportChoices()
    g = gather(shop, job, chosen)
    say, display = g.said.say, g.said.display
    comparison = g.whole.comparison
    lifts = comparison.result.lifts
    xs = [0.0, *(units.from_si(p.lift, display.length, Kind.LENGTH) for p in lifts)]

    def line(label: str, areas: list[float]) -> Line:
        flows = (units.from_si(comparison.flow(a), display.flow, Kind.FLOW) for a in areas)
        return Line(label, xs, [0.0, *flows])

    pressure = g.said.pressure(comparison.pressure)
    title, under = _headline(g)
    picture = SharePicture(
        headline=title,
        under=under,
        lines=(
            line(say("share.before"), [p.gain.before for p in lifts]),
            line(say("share.after"), [p.gain.after for p in lifts]),
        ),
        x_label=say("charts.lift", unit=display.length),
        y_label=say("charts.flow", unit=display.flow, pressure=pressure),
        conditions=_conditions(g, pressure),
        shop=g.shop.name,
        note=say("share.note"),
        decimal=say.decimal,
        named=_named(g) if g.names else "",
    )
    return picture if g.names else _without(picture, private_texts(g.contents, g.shop))


def _headline(g: Gathered) -> tuple[str, str]:
    say, told = g.said.say, headline(g.whole)
    port = port_name(g, g.contents, g.story.port)
    if told is None or told.gain.verdict is Verdict.CANT_TELL:
        return say("share.no-difference"), say("share.port", port=port)
    size = g.said.gain(told.gain)
    if told.over_cam:
        where = say("share.over-cam", port=port)
    else:
        band = g.whole.comparison.result.bands[-1]
        where = say("share.in-band", port=port, band=band_name(band, g.said.display.length, say))
    return size, f"{where}, {g.said.verdict(told.gain.verdict)}"


def _conditions(g: Gathered, pressure: str) -> str:
    say = g.said.say
    recorded = g.whole.comparison.after.conditions
    parts = [
        g.said.condition(name, value) for name, value in recorded.items() if name != "direction"
    ]
    return " · ".join([say("share.at", pressure=pressure), *parts, say("share.interval")])


def _named(g: Gathered) -> str:
    serials = ", ".join(h.serial for h in g.contents.heads if h.serial)
    return " · ".join(t for t in (g.contents.job.customer, serials) if t)


def _without(picture: SharePicture, private: tuple[str, ...]) -> SharePicture:
    return replace(
        picture,
        headline=hide(picture.headline, private),
        under=hide(picture.under, private),
        conditions=hide(picture.conditions, private),
    )
