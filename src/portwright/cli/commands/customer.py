"""For the customer and for the bench beside: spoken summary, pictures, sheets, labels."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from portwright.cli.options import JsonOption, ShopOption
from portwright.cli.output import print_json, say

JobArgument = Annotated[str, typer.Argument(help="Job number.")]
LengthOption = Annotated[
    str, typer.Option("--length", help="mm or in; the shop's own if left out.")
]
LanguageOption = Annotated[
    str, typer.Option("--language", help="en or de; the shop's own if left out.")
]
NamesOption = Annotated[
    bool, typer.Option("--with-names", help="The customer released name and serial numbers.")
]


def speak(
    job: JobArgument,
    wav: Annotated[
        Path | None, typer.Option("--wav", help="Sound file to write, by this computer's voice.")
    ] = None,
    length: LengthOption = "",
    language: LanguageOption = "",
    with_names: NamesOption = False,
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """What a job gained, written for the ear; as a sound file with --wav."""
    from portwright.services.report import ReportChoices
    from portwright.services.shop_file import open_shop
    from portwright.services.spoken import spoken_summary, write_summary

    choices = ReportChoices(length, language, with_names or None)
    with open_shop(shop) as archive:
        text = spoken_summary(archive, job, choices)
        if wav is not None:
            write_summary(archive, job, wav, choices)
    if as_json:
        print_json({"job": job, "words": text, "wav": None if wav is None else str(wav)})
        return
    say(text)
    if wav is not None:
        say(f"{wav} written")


def share(
    job: JobArgument,
    out: Annotated[Path, typer.Option("--out", help="File to write: .png, .mp4 for a clip.")],
    shape: Annotated[
        str, typer.Option("--shape", help="square, portrait, wide or clip.")
    ] = "square",
    length: LengthOption = "",
    language: LanguageOption = "",
    with_names: NamesOption = False,
    shop: ShopOption = None,
) -> None:
    """A picture or a short clip of the result, with its conditions in the picture."""
    from portwright.services.report import ReportChoices
    from portwright.services.share import write_picture
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        write_picture(archive, job, shape, out, ReportChoices(length, language, with_names or None))
    say(f"{out} written")


def sheet(
    job: JobArgument,
    name: Annotated[str, typer.Argument(metavar="copies|delivery|limits", help="Which sheet.")],
    out: Annotated[Path, typer.Option("--out", help="PDF file to write.")],
    port: Annotated[str, typer.Option("--port", help="Port that is copied.")] = "",
    length: LengthOption = "",
    language: LanguageOption = "",
    shop: ShopOption = None,
) -> None:
    """A sheet to sign: copies of a port, delivery, or the limits of this casting."""
    from portwright.services.files import write_file
    from portwright.services.shop_file import open_shop
    from portwright.services.sign_off import sheet_pdf

    with open_shop(shop) as archive:
        pdf = sheet_pdf(archive, job, name, port=port, length=length, language=language)
    write_file(pdf, out)
    say(f"{out} written")


def label(
    job: JobArgument,
    address: Annotated[
        str, typer.Option("--address", help="The app on the network: http://192.168.1.20:8080")
    ],
    out: Annotated[Path, typer.Option("--out", help="PDF file to write.")],
    width: Annotated[float, typer.Option("--width-mm", help="Of a label.")] = 62.0,
    height: Annotated[float, typer.Option("--height-mm", help="Of a label.")] = 29.0,
    sheet: Annotated[bool, typer.Option("--sheet", help="Together on A4, to cut.")] = False,
    shop: ShopOption = None,
) -> None:
    """Labels for the castings of a job, with a code that opens its page."""
    from portwright.services.files import write_file
    from portwright.services.labels import labels_pdf
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        write_file(labels_pdf(archive, job, address, size=(width, height), sheet=sheet), out)
    say(f"{out} written")


def photos(
    job: JobArgument,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder for copies to give away.")
    ] = None,
    add: Annotated[
        list[Path] | None, typer.Option("--add", help="Photo to keep with the job.")
    ] = None,
    subject: Annotated[str, typer.Option("--port", help="Port or head it shows.")] = "",
    stage: Annotated[str, typer.Option("--stage", help="Stage at which it was taken.")] = "",
    caption: Annotated[str, typer.Option("--caption", help="What to see on it.")] = "",
    shop: ShopOption = None,
    as_json: JsonOption = False,
) -> None:
    """Photos of a job: list them, keep more, or copy them out without camera data."""
    from portwright.services.files import read_file
    from portwright.services.photos import export_photos, keep_photo, photos_of
    from portwright.services.shop_file import open_shop

    with open_shop(shop) as archive:
        for path in add or []:
            about = {"subject": subject, "stage": stage, "caption": caption}
            keep_photo(archive, job, read_file(path), path.name, **about)
        written = export_photos(archive, job, out) if out is not None else []
        kept = photos_of(archive, job)
    if as_json:
        print_json({"photos": kept, "written": written})
        return
    for photo in kept:
        words = " ".join(t for t in (photo.subject, photo.stage, photo.caption) if t)
        say(f"{photo.id:5}  {photo.name}  {words}".rstrip())
    say(f"{len(written)} copies written to {out}" if out is not None else f"{len(kept)} photos")
