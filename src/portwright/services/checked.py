"""What counts as checked: a value somebody measured, with instrument and date."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date as calendar

from portwright.errors import InputError
from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.model.quantity import AsTyped
from portwright.services.shop_file import ShopFile

NOT_CHECKED = "not checked yet"


@dataclass(frozen=True, slots=True)
class Check:
    """One thing to be checked.

    Parameters
    ----------
    name : str
    found : Measurement or None
        Newest reading of it.
    """

    name: str
    found: Measurement | None

    @property
    def missing(self) -> tuple[str, ...]:
        """What a reading on record lacks to count."""
        if self.found is None:
            return ()
        parts = (("instrument", self.found.instrument), ("date", self.found.date))
        return tuple(name for name, text in parts if not text.strip())

    @property
    def done(self) -> bool:
        """Measured, with instrument and date."""
        return self.found is not None and not self.missing

    @property
    def words(self) -> str:
        """State in a few words, loud where nobody measured."""
        if self.found is None:
            return NOT_CHECKED
        value = str(self.found.value)
        if self.missing:
            return f"{value} on record without {' and '.join(self.missing)}: {NOT_CHECKED}"
        return f"{value}, {self.found.instrument}, {self.found.date}"


def newest(contents: JobContents, fits: Callable[[Measurement], bool]) -> Measurement | None:
    """Newest reading that fits: a complete one first, so that a slip does not hide it."""
    found = [m for m in contents.measurements if fits(m)]
    complete = [m for m in found if m.instrument.strip() and m.date.strip()]
    chosen = complete or found
    return chosen[-1] if chosen else None


def record_check(
    shop: ShopFile,
    job: str,
    subject: str,
    quantity: str,
    value: AsTyped,
    *,
    instrument: str,
    date: str,
    place: str = "",
) -> Measurement:
    """Append a reading; earlier ones stay on record.

    Raises
    ------
    InputError
        No instrument, or no day.
    """
    if not instrument.strip():
        raise InputError(
            "A check needs the instrument.", "Say what it was measured with: clay, dial, feeler."
        )
    try:
        calendar.fromisoformat(date.strip())
    except ValueError as error:
        raise InputError(
            f"'{date}' is no day.", "Write it like 2026-03-18; a check needs its day."
        ) from error
    made = Measurement(
        subject, quantity, value, place=place, instrument=instrument.strip(), date=date.strip()
    )
    shop.add_measurements(job, [made])
    return made
