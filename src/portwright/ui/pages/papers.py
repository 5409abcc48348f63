"""Everything that is handed over: report, spoken summary, pictures, sheets to sign, labels."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable

from nicegui import app, ui
from starlette.responses import PlainTextResponse, Response

from portwright.catalogue import languages
from portwright.errors import PortwrightError
from portwright.services import labels, share, spoken
from portwright.services.card_holds import is_released, release_names
from portwright.services.report import ReportChoices
from portwright.services.shop_marks import report_language
from portwright.services.sign_off import SheetName, sheet_pdf
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.slow_work import SlowWork, Told
from portwright.ui.components.speak import Speak
from portwright.ui.files import file_answer
from portwright.ui.layout import Switch, button, heading, link_button, page_frame, screen
from portwright.ui.state import View, open_shop, shop_file
from portwright.ui.work import in_thread

_SHEETS = {
    SheetName.COPIES: "Copies of port 1",
    SheetName.DELIVERY: "Before delivery",
    SheetName.LIMITS: "Limits of this casting",
}
_NAMES = {"no": "Without names", "yes": "Name and serials released"}
_MOST_CLIPS = 4  # kept in memory, a few hundred kilobytes each
_clips: OrderedDict[tuple[str, ReportChoices], bytes] = OrderedDict()


def _choices(number: str, length: str, language: str) -> ReportChoices:
    """Choices of a file; names by the release as it is now, not as it was when it was made."""
    return ReportChoices(length, language, is_released(shop_file().job(number)))


async def _file(make: Callable[[], bytes], media_type: str, name: str, *, save: bool) -> Response:
    try:
        made = await in_thread(make)
    except PortwrightError as error:
        return PlainTextResponse(str(error), 422)
    return file_answer(made, media_type, name, save=save)


@app.get(links.PAPERS_WAV, include_in_schema=False)
async def wav(number: str, length: str = "", language: str = "") -> Response:
    """The spoken summary as a sound file."""
    choices = _choices(number, length, language)
    return await _file(
        lambda: spoken.summary_wav(shop_file(), number, choices),
        "audio/wav",
        f"summary-{number}.wav",
        save=True,
    )


@app.get(links.PAPERS_STILL, include_in_schema=False)
async def still(
    number: str, shape: str, length: str = "", language: str = "", save: str = ""
) -> Response:
    """A picture of the result."""
    choices = _choices(number, length, language)
    return await _file(
        lambda: share.still(shop_file(), number, shape, choices),
        "image/png",
        f"{number}-{shape}.png",
        save=bool(save),
    )


@app.get(links.PAPERS_CLIP, include_in_schema=False)
async def clip(number: str, length: str = "", language: str = "", save: str = "") -> Response:
    """A clip that was made on the page before."""
    choices = _choices(number, length, language)
    return await _file(
        lambda: _clip(number, choices), "video/mp4", f"{number}-clip.mp4", save=bool(save)
    )


@app.get(links.PAPERS_SHEET, include_in_schema=False)
async def sheet(number: str, name: str, length: str = "", language: str = "") -> Response:
    """A sheet to sign."""
    return await _file(
        lambda: sheet_pdf(shop_file(), number, name, length=length, language=language),
        "application/pdf",
        f"{name}-{number}.pdf",
        save=False,
    )


@app.get(links.PAPERS_LABELS, include_in_schema=False)
async def label_file(number: str, base: str, together: str = "") -> Response:
    """Labels for the castings."""
    return await _file(
        lambda: labels.labels_pdf(shop_file(), number, base, sheet=bool(together)),
        "application/pdf",
        f"labels-{number}.pdf",
        save=False,
    )


def _clip(number: str, choices: ReportChoices, told: Told | None = None) -> bytes:
    key = (number, choices)
    if key not in _clips:
        _clips[key] = share.clip(shop_file(), number, choices, told)
        while len(_clips) > _MOST_CLIPS:
            _clips.popitem(last=False)
    return _clips[key]


@screen(links.PAPERS)
async def papers_page(number: str, language: str = "") -> None:
    """Choices on top, then one section for each thing that leaves the shop."""
    shop = shop_file()
    chosen = language or report_language(shop)

    contents = await in_thread(shop.job, number)
    released = is_released(contents)

    def again(code: str) -> None:
        ui.navigate.to(links.papers(number, code))

    def release(said: str) -> None:
        release_names(shop, number, released=said == "yes", how="pressed on the papers screen")
        again(chosen)

    with page_frame(f"Papers {number}", "jobs") as view:
        with ui.element("div").classes("row-wrap"):
            link_button("Job", links.job(number), "quiet")
            link_button("Job card", links.card(number), "quiet")
            Switch(
                "Language",
                languages(),
                chosen,
                lambda code: ui.navigate.to(links.papers(number, code)),
            )
            Switch("Names", _NAMES, "yes" if released else "no", release)
        with ui.element("div").classes("columns"):
            with ui.element("div").classes("stack"):
                _report(number, view, chosen)
                heard = ui.element("section").classes("sheet").props("aria-live=polite")
                _sheets(number, view, chosen)
                _labels(number)
            _pictures(number, view, chosen, released)

    async def listen() -> None:
        choices = ReportChoices(view.choice.length, chosen)
        try:
            text = await in_thread(spoken.spoken_summary, shop, number, choices)
        except PortwrightError as error:
            text = error.message
        heard.clear()
        with heard:
            _spoken(number, view, chosen, text)

    with heard:
        heading("Listen")
        ui.label("Putting the result into words …").classes("soft")
    ui.timer(0.05, listen, once=True)


def _report(number: str, view: View, language: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Report")
        ui.label("What came in, what was found and done, what it gained.").classes("soft")
        where = (number, view.choice.length, language)
        with ui.element("div").classes("row-wrap"):
            link_button("PDF", links.report(*where), "main").props("target=_blank")
            link_button("As a page", links.report_page(*where)).props("target=_blank")


def _spoken(number: str, view: View, language: str, text: str) -> None:
    heading("Listen")
    Speak(text, language)
    ui.label(text)
    if spoken.has_voice():
        address = links.papers_file(
            links.PAPERS_WAV, number, length=view.choice.length, language=language
        )
        link_button("Save as sound", address, "quiet").style("align-self: flex-start")
    else:
        ui.label(f"To save it as sound: {spoken.how_to_have_a_voice()}").classes("small soft")


def _pictures(number: str, view: View, language: str, released: bool) -> None:
    asked = {"length": view.choice.length, "language": language}
    with ui.element("section").classes("sheet"):
        heading("Pictures to share")
        said = "with name and serials" if released else "without name and serials"
        ui.label(f"Conditions are in the picture; {said}. Look before you send.").classes("soft")

        @ui.refreshable
        def preview(shape: str) -> None:
            address = links.papers_file(links.PAPERS_STILL, number, shape=shape, **asked)
            with ui.element("img").props(f'src="{address}"').style("width: 100%") as picture:
                picture.props["alt"] = f"Preview, {shape}: flow before and after with conditions"
            link_button("Save the picture", f"{address}&save=1").style("align-self: flex-start")

        shapes = {name: name.capitalize() for name in share.STILLS}
        Switch("Shape", shapes, share.STILLS[0], preview.refresh)
        preview(share.STILLS[0])
        heading("Clip", 3)
        place = ui.element("div").classes("stack")

        def made(_: bytes) -> None:
            address = links.papers_file(links.PAPERS_CLIP, number, **asked)
            ui.element("video").props(
                f'src="{address}" controls muted playsinline '
                'aria-label="Preview: the curve drawing itself"'
            ).style("width: 100%; max-height: 70vh")
            link_button("Save the clip", f"{address}&save=1").style("align-self: flex-start")

        def make() -> None:
            choices = _choices(number, view.choice.length, language)
            place.clear()
            with place:
                key = f"clip {number} {choices}"
                SlowWork(key, lambda told: _clip(number, choices, told), made)

        with place:
            ui.label("Seven seconds, upright; takes a moment to make.").classes("soft")
            button("Make the clip", make).style("align-self: flex-start")


def _sheets(number: str, view: View, language: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Sheets to sign")
        with ui.element("div").classes("row-wrap"):
            for name, words in _SHEETS.items():
                address = links.papers_file(
                    links.PAPERS_SHEET,
                    number,
                    name=name.value,
                    length=view.choice.length,
                    language=language,
                )
                link_button(words, address).props("target=_blank")


def _labels(number: str) -> None:
    with ui.element("section").classes("sheet"):
        heading("Labels")
        ui.label("One for each casting; its code opens this job on the shop's network.").classes(
            "soft"
        )
        address = open_shop().address()
        base = Field("Address of this app", address, hint="like http://192.168.1.20:8080")
        if not address:
            ui.label("Start with 'portwright serve --lan' so that tablets can open it.").classes(
                "small soft"
            )

        def show(together: str) -> None:
            labels.labels_of(shop_file(), number, base.value)  # an address that is none is told
            file = links.papers_file(
                links.PAPERS_LABELS, number, base=base.value.strip(), together=together
            )
            ui.navigate.to(file, new_tab=True)

        with ui.element("div").classes("row-wrap"):
            button("Label by label", lambda: show(""))
            button("On one sheet", lambda: show("1"))
