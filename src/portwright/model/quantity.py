"""A number as it was typed, beside what it means in SI."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AsTyped:
    """A value kept exactly as it was entered, with its SI equivalent.

    Parameters
    ----------
    text : str
        The number as typed, spaces trimmed ("11/32", "7,25").
    unit : str
        Unit as chosen from the closed list ("in", "inH2O").
    si : float
        The same value in SI. [SI unit of its kind]
    """

    text: str
    unit: str
    si: float

    def __str__(self) -> str:
        return f"{self.text} {self.unit}".strip()
