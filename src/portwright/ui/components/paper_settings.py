"""What stands on the shop's papers: logo, language, hourly rate, currency and taxes."""

from __future__ import annotations

import time

from nicegui import ui

from portwright.catalogue import languages
from portwright.model.job import Shop
from portwright.services import money, shop_marks
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.components.sheet_box import SheetBox
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file


def paper_settings() -> None:
    """Set once, used on every report, quote and invoice."""
    file = shop_file()
    shop = file.shop() or Shop("")
    with ui.element("section").classes("sheet"):
        heading("Papers and money")
        with ui.element("div").classes("fields"):
            language = Field(
                "Reports in", shop_marks.report_language(file), kind="choice", options=languages()
            )
            rate = Field("An hour costs, before tax", shop.labour_rate)
            currency = Field("Currency", shop.currency, hint="three letters: EUR, GBP, USD")
            known = money.taxes_text(money.taxes_of(file))
            taxes = Field("Taxes", known, hint="like VAT 20 %; empty for none")
            prefix = Field(
                "Before invoice numbers",
                money.bill_prefix(file),
                hint="letters of this shop, like TH: TH-2026-001",
            )

        def save() -> None:
            money.set_money(
                file,
                rate=rate.value,
                currency=currency.value,
                taxes=taxes.value,
                prefix=prefix.value,
            )
            shop_marks.set_report_language(file, language.value)
            said.set_text("Saved")

        button("Save", save, "main").style("align-self: flex-start")
        said = ui.label().classes("strong").props("role=status")
        _logo()


def _logo() -> None:
    file = shop_file()

    def off() -> None:
        shop_marks.set_logo(file, b"")
        shown.refresh()

    @ui.refreshable
    def shown() -> None:
        if shop_marks.logo_of(file):
            ui.image(f"{links.LOGO}?{time.time():.0f}").props('alt="The shop\'s logo"').style(
                "max-width: 240px"
            )
            button("Take the logo off", off)
        else:
            ui.label("No logo yet.").classes("soft")

    heading("Logo", 3)
    shown()
    SheetBox(
        lambda _: shown.refresh(),
        links.LOGO,
        label="Picture (PNG or JPEG)",
        accept="image/png,image/jpeg",
    )
