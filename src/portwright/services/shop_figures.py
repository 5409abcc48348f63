"""Minima and ranges a shop works to: shipped with a tag, changed by the shop, kept in its file."""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

from portwright import units
from portwright.core.port.limits import LIMIT_TAGS
from portwright.errors import RangeError, UnknownNameError
from portwright.model.quantity import AsTyped
from portwright.services.port_limits import LimitLine, limit_lines, set_limit_text
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_SETTING = "shop figures"
OWN = "the shop's own"


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure in force.

    Parameters
    ----------
    name, group : str
    kind : Kind
    value : AsTyped
        As shipped or as the shop typed it.
    tag : str
        Where it comes from.
    meaning : str
    """

    name: str
    group: str
    kind: Kind
    value: AsTyped
    tag: str
    meaning: str

    @property
    def words(self) -> str:
        """Name as people say it: "seat runout, at most"."""
        start, _, end = self.name.rpartition(" ")
        return f"{start}, at {end}" if end in {"least", "most"} else self.name

    @property
    def text(self) -> str:
        """Value and unit as typed."""
        return str(self.value).removesuffix(" -")


Figures = Mapping[str, Figure]


@cache
def shipped() -> Figures:
    """Every figure as shipped, by name."""
    source = resources.files("portwright.refdata").joinpath("shop_figures.csv")
    rows = csv.DictReader(source.read_text(encoding="utf-8").splitlines())
    found = {}
    for row in rows:
        kind = Kind(row["kind"])
        value = units.read(row["value"], kind, row["unit"])
        found[row["name"]] = Figure(
            row["name"], row["group"], kind, value, row["tag"], row["meaning"]
        )
    return found


def figures_of(shop: ShopFile) -> Figures:
    """Figures in force: the shop's own where it set them, else as shipped."""
    kept = shop.setting(_SETTING) or {}
    found = dict(shipped())
    for name, (text, unit) in kept.items():
        if name in found:
            old = found[name]
            value = units.read(text, old.kind, unit)
            found[name] = Figure(name, old.group, old.kind, value, OWN, old.meaning)
    return found


def set_figure(shop: ShopFile, name: str, value: AsTyped | None) -> Figures:
    """Keep the shop's own figure; None goes back to the shipped one.

    Raises
    ------
    UnknownNameError, RangeError
    """
    if name not in shipped():
        raise UnknownNameError("shop figure", name, shipped())
    kept = dict(shop.setting(_SETTING) or {})
    if value is None:
        kept.pop(name, None)
    else:
        if not (math.isfinite(value.si) and value.si > 0.0):
            raise RangeError(f"{name} must be above zero.", "Check number and unit.")
        kept[name] = [value.text, value.unit]
    shop.save_setting(_SETTING, kept)
    return figures_of(shop)


def set_figure_text(shop: ShopFile, name: str, text: str) -> Figures:
    """Keep the shop's own figure as typed, "" for the shipped one.

    Raises
    ------
    UnknownNameError, RangeError, NumberError, UnitError
    """
    if name not in shipped():
        raise UnknownNameError("shop figure", name, shipped())
    old = shipped()[name]
    typed = units.read(text, old.kind, old.value.unit) if text.strip() else None
    return set_figure(shop, name, typed)


def all_lines(shop: ShopFile) -> list[LimitLine]:
    """Every figure in force with its tag, those of ports first."""
    own = [LimitLine(f.name, f.text, f.tag) for f in figures_of(shop).values()]
    return [*limit_lines(shop), *own]


def set_any_text(shop: ShopFile, name: str, text: str) -> None:
    """Keep the shop's own figure, whether it is one of ports or another.

    Raises
    ------
    UnknownNameError, RangeError, NumberError, UnitError
    """
    if name in shipped():
        set_figure_text(shop, name, text)
    elif name in LIMIT_TAGS:
        set_limit_text(shop, name, text)
    else:
        raise UnknownNameError("figure", name, (*LIMIT_TAGS, *shipped()))
