"""Ports, cylinders and stages by the names shops give them."""

from __future__ import annotations

import re

from portwright.io.sheet import Sheet
from portwright.model.head import Port, Side

_INTAKE = re.compile(r"(?i)(i|in|int)\d+|.*\b(intake|inlet)\b.*")
_EXHAUST = re.compile(r"(?i)(e|ex|exh)\d+|.*\bexhaust\b.*")


def side_of(code: str) -> Side | None:
    """Side that a port's name states ("I1", "E4", "REF-1 intake"), None if it does not."""
    intake, exhaust = _INTAKE.fullmatch(code), _EXHAUST.fullmatch(code)
    if bool(intake) == bool(exhaust):
        return None
    return Side.INTAKE if intake else Side.EXHAUST


def cylinder_of(code: str) -> int | None:
    """Cylinder number in a port's name, None where the name is not a letter and a number."""
    match = re.fullmatch(r"(?i)(?:i|in|int|e|ex|exh)(\d+)", code)
    return int(match[1]) if match else None


def port_code(side: str, cylinder: str) -> str:
    """Name of the port on a side of a cylinder ("intake", "4" gives "I4")."""
    return f"{'I' if side == Side.INTAKE else 'E'}{cylinder}"


def port_named(sheet: Sheet, code: str, head: str = "") -> Port | None:
    """Port by name; a need is noted where neither the name nor the defaults tell its side."""
    side = side_of(code) or sheet.defaults.side
    if side is None:
        sheet.need("side", f"port '{code}' does not say whether it is intake or exhaust")
        return None
    return Port(code, side, head or sheet.defaults.head, cylinder_of(code))


def stage_named(sheet: Sheet, words: str) -> str:
    """Stage that the sheet's words stand for, the words themselves where nothing is said."""
    return dict(sheet.defaults.stage_names).get(words, words)
