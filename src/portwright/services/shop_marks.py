"""How the shop presents itself on paper: its logo and the language of its reports."""

from __future__ import annotations

import base64

from portwright.catalogue import ENGLISH, languages, words
from portwright.io.pictures import plain_png
from portwright.services.shop_file import ShopFile

_LOGO, _LANGUAGE = "logo", "report language"
_EDGE = 600  # px; more would not show at the height a logo is printed


def logo_of(shop: ShopFile) -> bytes:
    """The shop's logo as PNG, empty while there is none."""
    kept = shop.setting(_LOGO)
    return base64.b64decode(kept) if kept else b""


def set_logo(shop: ShopFile, picture: bytes, name: str = "The logo") -> None:
    """Keep a JPEG or PNG picture as the shop's logo; empty takes it away.

    Raises
    ------
    ImportFileError
        It is no picture.
    """
    made = plain_png(picture, _EDGE, name) if picture else b""
    shop.save_setting(_LOGO, base64.b64encode(made).decode("ascii"))


def report_language(shop: ShopFile) -> str:
    """Language of the shop's reports, English until another is chosen."""
    kept = str(shop.setting(_LANGUAGE) or ENGLISH)
    return kept if kept in languages() else ENGLISH


def set_report_language(shop: ShopFile, language: str) -> None:
    """Choose the language of reports.

    Raises
    ------
    UnknownNameError
        There is no catalogue of that language.
    """
    shop.save_setting(_LANGUAGE, words(language).language)
