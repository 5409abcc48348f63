"""The shop's own figures for ports, kept in the shop file."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass, replace
from typing import Any

from portwright import units
from portwright.core.port.limits import LIMIT_TAGS, PortLimits
from portwright.errors import RangeError, UnknownNameError
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

_SETTING = "port limits"
_LENGTH, _SHARE = (Kind.LENGTH, "mm"), (Kind.RATIO, "%")
_SHOWN = {
    "test_pressure": (Kind.PRESSURE, "inH2O"),
    "metering_velocity": (Kind.SPEED, "ft/s"),
    "local_velocity": (Kind.SPEED, "ft/s"),
    "crowded": (Kind.RATIO, "-"),
    "lazy": (Kind.RATIO, "-"),
    "map_agreement": _SHARE,
    "section_error": _SHARE,
    "mould_error": _SHARE,
    "opening_error": _LENGTH,
    "pinch_error": _LENGTH,
    "short_error": _LENGTH,
    "throat_error": _LENGTH,
    "caliper_error": _LENGTH,
    "corner_error": _LENGTH,
    "volume_error": (Kind.VOLUME, "cc"),
    "wall_limit": _LENGTH,
    "wall_error": _LENGTH,
    "stop_after": (Kind.RATIO, "-"),
}


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One figure in force.

    Parameters
    ----------
    name : str
    value : str
        With its unit.
    tag : str
        Where it comes from.
    """

    name: str
    value: str
    tag: str


def limits_of(shop: ShopFile) -> PortLimits:
    """Figures in force: the shop's own where it set them, else the defaults."""
    kept = shop.setting(_SETTING) or {}
    known: dict[str, Any] = {name: kept[name] for name in LIMIT_TAGS if name in kept}
    return replace(PortLimits(), **known)


def set_limit(shop: ShopFile, name: str, value: float) -> PortLimits:
    """Keep the shop's own figure.

    Parameters
    ----------
    name : str
        Field of :class:`~portwright.core.port.limits.PortLimits`.
    value : float
        In SI.

    Raises
    ------
    UnknownNameError, RangeError
    """
    if name not in LIMIT_TAGS:
        raise UnknownNameError("port limit", name, LIMIT_TAGS)
    if not (math.isfinite(value) and value > 0.0):
        raise RangeError(f"{name} must be above zero.", "Check number and unit.")
    if name == "stop_after":
        if value != int(value):
            raise RangeError("Cuts are counted in whole numbers.")
        value = int(value)
    shop.save_setting(_SETTING, (shop.setting(_SETTING) or {}) | {name: value})
    return limits_of(shop)


def set_limit_text(shop: ShopFile, name: str, text: str) -> PortLimits:
    """Keep the shop's own figure as typed, with its unit or in the one it is shown in.

    Raises
    ------
    UnknownNameError, RangeError, NumberError, UnitError
    """
    if name not in _SHOWN:
        raise UnknownNameError("port limit", name, _SHOWN)
    kind, unit = _SHOWN[name]
    return set_limit(shop, name, units.read(text, kind, unit).si)


def tags(limits: PortLimits) -> dict[str, str]:
    """Where each figure in force comes from."""
    default = asdict(PortLimits())
    own = {name for name, value in asdict(limits).items() if value != default[name]}
    return {name: "the shop's own" if name in own else tag for name, tag in LIMIT_TAGS.items()}


def limit_lines(shop: ShopFile) -> list[LimitLine]:
    """Every figure in force with its tag."""
    limits = limits_of(shop)
    values, said = asdict(limits), tags(limits)
    lines = []
    for name, (kind, unit) in _SHOWN.items():
        value = f"{units.from_si(float(values[name]), unit, kind):.4g}"
        lines.append(LimitLine(name, f"{value} {unit}".removesuffix(" -"), said[name]))
    return lines
