"""Numbers a plan rests on, each with where it came from."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from portwright.errors import InputError, UnknownNameError
from portwright.model.quantity import AsTyped
from portwright.units import Kind, read


class Origin(StrEnum):
    """Where a number of a plan comes from."""

    ENTERED = "entered for this plan"
    MEASURED = "measured"
    SHEET = "job sheet"
    WORDS = "read from words"
    ASSUMED = "assumed"
    UNKNOWN = "not known"


@dataclass(frozen=True, slots=True)
class PlanTerm:
    """One number a plan may use.

    Parameters
    ----------
    name : str
        Name under which it may be given.
    kind : Kind
    quantities : tuple of str
        Names a measurement of it starts with.
    default : str or None
        Value with unit where nobody gives one, None where it stays unknown.
    why : str
        Reason of the default.
    uncertainty : str
        Standard uncertainty with unit, "" where it is taken as exact.
    label : str
        Where the uncertainty comes from.
    fact : str
        Name of a fact of the job sheet, "" for none.
    """

    name: str
    kind: Kind
    quantities: tuple[str, ...] = ()
    default: str | None = None
    why: str = ""
    uncertainty: str = ""
    label: str = ""
    fact: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """A number of the plan.

    Parameters
    ----------
    term : PlanTerm
    value : float
        NaN is never used: what is unknown has no entry. [SI unit of the kind]
    origin : Origin
    note : str
        What it was read from, or why it is assumed.
    uncertainty : float
        Standard uncertainty. [SI unit of the kind]
    """

    term: PlanTerm
    value: float
    origin: Origin
    note: str = ""
    uncertainty: float = 0.0


def read_numbers(
    texts: Iterable[str], terms: Mapping[str, PlanTerm], what: str
) -> dict[str, AsTyped]:
    """Read "name=number unit" for one plan, each with its unit.

    Parameters
    ----------
    texts : iterable of str
        Empty ones are passed over.
    terms : mapping of str to PlanTerm
        Numbers the plan has.
    what : str
        What such a number is called in a message.

    Raises
    ------
    InputError
        No equals sign, no such number, or no number.
    """
    found = {}
    for text in filter(None, (t.strip() for t in texts)):
        name, equals, value = text.partition("=")
        name = name.strip()
        if not equals:
            example = f"{next(iter(terms))}=NUMBER UNIT"
            raise InputError(f"'{text}' has no '='.", f"Write it like '{example}'.")
        if name not in terms:
            raise UnknownNameError(what, name, terms)
        kind = terms[name].kind
        found[name] = read(value, kind, "-" if kind is Kind.RATIO else None)
    return found
