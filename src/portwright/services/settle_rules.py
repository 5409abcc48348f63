"""Settle rules as a person writes them: a name, and what shall be different."""

from __future__ import annotations

from dataclasses import fields, replace

from portwright import units
from portwright.core.settling.rule import RULES, STANDARD, SettleRule
from portwright.errors import InputError, UnknownNameError
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_SETTING = "settle rule"
_TIMES = frozenset({"shortest", "longest", "dead", "patience", "fixed_wait"})
_PLAIN = frozenset({"confidence"})
_NAMES = tuple(f.name for f in fields(SettleRule) if f.name != "name")


def read_rule(text: str) -> SettleRule:
    """Read a rule: ``strict-1``, or ``standard-1 shortest=5s flow_drift=0.3%``.

    Raises
    ------
    UnknownNameError
        No such rule or figure.
    InputError
        A figure that cannot be.
    """
    name, *changes = text.split() or [STANDARD.name]
    known = {r.name: r for r in RULES}
    if name not in known:
        raise UnknownNameError("settle rule", name, known)
    values: dict[str, float] = {}
    for change in changes:
        figure, mark, number = change.partition("=")
        if figure not in _NAMES:
            raise UnknownNameError("figure of a settle rule", figure, _NAMES)
        if not mark:
            raise InputError(f"'{change}' gives no figure.", f"Write it like {figure}=5.")
        if figure in _TIMES:
            values[figure] = units.read(number, Kind.TIME, "s").si
        elif figure in _PLAIN:
            values[figure] = units.parse_number(number)
        else:
            values[figure] = units.read(number, Kind.RATIO, "%").si
    return replace(known[name], **values, name=" ".join([name, *changes]))


def rule_names() -> tuple[str, ...]:
    """Rules that come with the tool."""
    return tuple(r.name for r in RULES)


def in_force(shop: ShopFile) -> SettleRule:
    """The shop's own rule."""
    return read_rule(shop.setting(_SETTING) or STANDARD.name)


def choose(shop: ShopFile, text: str) -> SettleRule:
    """Make a rule the shop's own.

    Raises
    ------
    InputError
    """
    rule = read_rule(text)
    shop.save_setting(_SETTING, text)
    return rule
