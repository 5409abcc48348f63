"""The shop's own figures for ports, kept in the shop file."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from typing import Any

from portwright.core.port.limits import LIMIT_TAGS, PortLimits
from portwright.errors import RangeError, UnknownNameError
from portwright.services.shop_file import ShopFile

_SETTING = "port limits"


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
        raise RangeError(f"{name} must be above zero.")
    shop.save_setting(_SETTING, (shop.setting(_SETTING) or {}) | {name: int(value) if name == "stop_after" else value})
    return limits_of(shop)


def tags(limits: PortLimits) -> dict[str, str]:
    """Where each figure in force comes from."""
    default = asdict(PortLimits())
    own = {name for name, value in asdict(limits).items() if value != default[name]}
    return {name: "the shop's own" if name in own else tag for name, tag in LIMIT_TAGS.items()}
