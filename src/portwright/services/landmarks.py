"""Where on a port a measurement was taken, read from the words it is stored with."""

from __future__ import annotations

import re
from dataclasses import dataclass

from portwright import units
from portwright.errors import InputError
from portwright.model.head import Port, Side
from portwright.model.job import Measurement
from portwright.units import Kind

# Landmarks in the order the air of an intake port meets them, with the words that name them.
LANDMARKS = {
    "opening": ("opening", "entry", "manifold face", "port window"),
    "pinch": ("pinch", "pushrod", "waist"),
    "guide boss": ("guide",),
    "short side": ("short-side", "short side", "short turn", "floor turn"),
    "bowl": ("bowl", "pocket"),
    "throat": ("throat", "neck", "venturi"),
}
_NUMBERED = re.compile(
    r"(?P<name>distance|lift|row|column|side|head|shape|across|up) (?P<value>.+)"
)


@dataclass(frozen=True, slots=True)
class Place:
    """Parts of a stored place.

    Parameters
    ----------
    words : str
        What is not one of the named parts.
    parts : dict of str to str
        Named parts: distance, lift, row, column, side, head, shape, across, up.
    """

    words: str
    parts: dict[str, str]

    def length(self, name: str) -> float | None:
        """A named part as length, None where it is missing or no length. [m]"""
        try:
            return units.read(self.parts[name], Kind.LENGTH).si
        except (KeyError, InputError):
            return None


def place_of(measured: Measurement) -> Place:
    """Read where a measurement was taken."""
    words, parts = [], {}
    for part in (p.strip() for p in measured.place.split(";")):
        found = _NUMBERED.fullmatch(part)
        if found:
            parts[found["name"]] = found["value"]
        elif part:
            words.append(part)
    return Place("; ".join(words), parts)


def landmark_in(words: str) -> str:
    """Landmark that some words name, "" for none; the first in the list of landmarks wins."""
    lower = words.lower()
    return next((name for name, said in LANDMARKS.items() if any(w in lower for w in said)), "")


def belongs_to(measured: Measurement, port: Port) -> bool:
    """Whether a reading concerns a port: taken on it, or on its cylinder and not on the other side.

    A reading on a cylinder that names neither side concerns both of its ports.
    """
    if measured.subject == port.code:
        return True
    if port.cylinder is None or measured.subject != f"cyl {port.cylinder}":
        return False
    words = measured.place.lower()
    named = {side for side in Side if side.value in words}
    return not named or port.side in named


def names_side(words: str) -> bool:
    """Whether words say intake or exhaust."""
    return any(side.value in words.lower() for side in Side)
