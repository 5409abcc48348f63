"""Names of what is measured: one glossary that import, search and checks all use.

A term's plausible range is a first question, never a verdict: outside it the value is asked
about, and kept.  Every range here is from memory or common practice and says so.
"""

from __future__ import annotations

import csv
import math
import re
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Protocol

from portwright.errors import Finding, Severity, UnknownNameError, Where


@dataclass(frozen=True, slots=True)
class Term:
    """One row of the glossary.

    Parameters
    ----------
    name : str
        Name a measurement carries.
    symbol : str
        Letter used in equations.
    meaning : str
    kind : str
        What the number measures, one of the kinds of ``portwright.units``.
    low, high : float
        Usual range. [SI unit of the kind]
    tag : str
        Where the range comes from.
    synonyms : tuple of str
        Other names accepted in search.
    headings : tuple of str
        Column headings without unit that mean this term.
    """

    name: str
    symbol: str
    meaning: str
    kind: str
    low: float
    high: float
    tag: str
    synonyms: tuple[str, ...] = ()
    headings: tuple[str, ...] = ()


# Units the glossary file may use for its ranges. [SI per unit]
_SCALE = {
    "N": 1.0,
    "mm": 1e-3,
    "mm2": 1e-6,
    "cc": 1e-6,
    "deg": math.pi / 180.0,
    "m/s": 1.0,
    "Pa": 1.0,
    "HB": 1.0,
}


def _read_terms() -> tuple[Term, ...]:
    text = resources.files("portwright").joinpath("nomenclature.csv").read_text(encoding="utf-8")
    return tuple(
        Term(
            name=row["name"],
            symbol=row["symbol"],
            meaning=row["meaning"],
            kind=row["kind"],
            low=float(row["low"]) * _SCALE[row["unit"]],
            high=float(row["high"]) * _SCALE[row["unit"]],
            tag=row["tag"],
            synonyms=tuple(word for word in row["synonyms"].split("; ") if word),
            headings=tuple(row["headings"].split()),
        )
        for row in csv.DictReader(text.splitlines())
    )


TERMS: tuple[Term, ...] = _read_terms()

# What a porter may type in search, beside the synonyms of single terms: (our word, other words).
SEARCH_WORDS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("intake", ("inlet", "induction side")),
    ("bowl", ("pocket",)),
    ("throat", ("venturi", "neck")),
    ("short side", ("short turn", "short-side radius", "floor turn")),
    ("long side", ("roof", "back wall")),
    ("pushrod pinch", ("pinch", "pushrod bulge", "waist")),
    ("side draft", ("sidedraft", "side draught", "sidedraught")),
    ("down draft", ("downdraft", "down draught", "downdraught")),
    ("raised port", ("raised ports", "raised", "high port")),
    ("spread port", ("spread ports", "spread")),
    ("siamesed port", ("siamesed ports", "siamesed", "siamese port", "siamese ports")),
    ("port opening", ("entry", "port window", "manifold face opening")),
    ("guide boss", ("guide bump",)),
    ("effective area", ("cda", "flow area")),
    ("discharge coefficient", ("cd", "flow coefficient")),
    ("test pressure", ("depression", "drop", "vacuum", "delta-p")),
    ("bore adapter", ("bore fixture", "sleeve", "dummy bore")),
    ("inlet aid", ("radius plate", "clay", "bellmouth")),
    ("exhaust stub", ("pipe stub", "tailpipe")),
    ("reference plate", ("calibration plate", "test orifice")),
    ("travelling head", ("reference head", "standard head")),
    ("smallest section", ("minimum section", "waist")),
    ("deshroud", ("lay back", "unshroud")),
    ("valve job", ("seat cutting", "seat profile")),
    ("seat sink", ("recession", "valve drop", "pocketing")),
    ("installed height", ("spring height",)),
    ("stem-tip height", ("tip height",)),
    ("face cut", ("intake-face correction", "end-rail cut")),
    ("manifold drop", ("intake-face correction", "end-rail cut")),
    ("repeatability", ("scatter", "spread")),
    ("unsteady", ("stalled", "backs up", "turbulent")),
    ("separated", ("stalled", "backs up", "turbulent")),
    ("run", ("sweep", "pass", "test", "pull")),
)


_UNSTEADY = ("unsteady", "jumping", "separated", "turbulent", "backs up", "stalled")


def says_unsteady(text: str) -> bool:
    """Whether words beside a pitot mark say that the needle did not stand still."""
    return any(word in text.casefold() for word in _UNSTEADY)


def _plain(text: str) -> str:
    return re.sub(r"[\s_-]+", " ", text).strip().casefold()


@cache
def _by_name() -> dict[str, Term]:
    return {_plain(term.name): term for term in TERMS}


@cache
def _by_heading() -> dict[str, Term]:
    named = {_plain(term.name).replace(" ", "_"): term for term in TERMS}
    return named | {heading: term for term in TERMS for heading in term.headings}


def term(name: str) -> Term:
    """Term of that name.

    Raises
    ------
    UnknownNameError
        Not in the glossary; the nearest names are offered.
    """
    found = _by_name().get(_plain(name))
    if found is None:
        raise UnknownNameError("quantity", name, (t.name for t in TERMS))
    return found


def term_for_heading(heading: str) -> Term | None:
    """Term that a column heading without its unit means, None if the list has none."""
    return _by_heading().get(heading.strip().casefold())


def search_words(text: str) -> tuple[str, ...]:
    """Words to look for when a person searches: the text itself and its known equivalents.

    Parameters
    ----------
    text : str
        What was typed; matched whole, without regard to case, spaces and hyphens.
    """
    wanted = _plain(text)
    groups = [(word, *others) for word, others in SEARCH_WORDS]
    groups += [(t.name, *t.synonyms) for t in TERMS]
    found = [w for group in groups if wanted in {_plain(g) for g in group} for w in group]
    return tuple(dict.fromkeys([text.strip(), *found]))


class _Value(Protocol):
    @property
    def si(self) -> float: ...


class _Measured(Protocol):
    """The part of a measurement that the check below needs."""

    @property
    def subject(self) -> str: ...
    @property
    def quantity(self) -> str: ...
    @property
    def stage(self) -> str: ...
    @property
    def place(self) -> str: ...
    @property
    def value(self) -> _Value: ...


def measurement_findings(measurement: _Measured) -> tuple[Finding, ...]:
    """Question a value outside the usual range of its term; unknown quantities pass.

    Parameters
    ----------
    measurement : Measurement
        A measurement with its value in SI.
    """
    known = _by_name().get(_plain(measurement.quantity))
    if known is None or known.low <= measurement.value.si <= known.high:
        return ()
    of = " ".join(part for part in (measurement.subject, measurement.place) if part) or "the job"
    return (
        Finding(
            code="implausible-value",
            severity=Severity.WARNING,
            message=f"{known.name} of {of} is recorded as {measurement.value}, "
            f"outside the usual range ({known.tag}).",
            hint="Check the unit and the decimal mark; if it is right, leave it.",
            where=Where(port=measurement.subject, stage=measurement.stage),
            size=measurement.value.si,
        ),
    )
