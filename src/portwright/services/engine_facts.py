"""Numbers of the engine as they stand on the job sheet, and writing them there."""

from __future__ import annotations

import re
from collections.abc import Mapping

from portwright.archive.archive import Archive
from portwright.errors import InputError, NumberError, UnknownNameError
from portwright.model.engine import CHOICES, ENGINE_TERMS, EngineTerm
from portwright.model.quantity import AsTyped
from portwright.services.engine_runner import RUNNER_PROFILE, profile_of
from portwright.units import Kind, read, units_of

TERMS = {term.name: term for term in ENGINE_TERMS}

# A choice on the job sheet is told from what the customer wrote about the same thing.
_CHOICE_PREFIX = "engine_"


def _suffix(unit: str) -> str:
    return unit.replace("/", "_per_").replace("%", "pct").replace(" ", "_").casefold()


def _spellings(term: EngineTerm) -> dict[str, str]:
    """Job-sheet names of a number with the unit each implies."""
    kind = Kind(term.kind)
    found = {}
    for name in (term.name, *term.also):
        for unit in units_of(kind):
            found[name if unit == "-" else f"{name}_{_suffix(unit)}"] = unit
    return found


def fact_value(facts: Mapping[str, str], name: str) -> AsTyped | None:
    """Number of the engine on a job sheet, None where there is none or it is no number.

    Raises
    ------
    InputError
        The sheet gives the number twice.
    """
    term = TERMS[name]
    given = {k: v for k, v in facts.items() if k in _spellings(term) and v.strip()}
    if not given:
        return None
    own = {k: v for k, v in given.items() if k.startswith(name)}
    chosen = own or given
    if len(chosen) > 1:
        raise InputError(
            f"The job sheet gives {term.words} {len(chosen)} times: {', '.join(chosen)}.",
            f"Set it once: portwright engine set JOB {name} VALUE.",
        )
    key, text = next(iter(chosen.items()))
    try:
        return read(text, Kind(term.kind), _spellings(term)[key])
    except NumberError:
        return None


def fact_choice(facts: Mapping[str, str], name: str) -> str:
    """Choice on a job sheet, "" where none was made.

    Raises
    ------
    UnknownNameError
        Not one of those offered.
    """
    text = facts.get(_CHOICE_PREFIX + name, "").strip()
    if text and text not in CHOICES[name]:
        raise UnknownNameError(name.replace("_", " "), text, CHOICES[name])
    return text


def middle_of_range(text: str) -> tuple[float, float] | None:
    """Both ends of a range of speeds such as "6800-7000", None where it is none. [rev/min]"""
    match = re.fullmatch(r"\s*(\d{3,5})\s*(?:-|–|to)\s*(\d{3,5})\s*", text)
    if match is None:
        return None
    low, high = float(match[1]), float(match[2])
    return (low, high) if low <= high else None


def set_engine_value(archive: Archive, job: str, name: str, text: str) -> None:
    """Write one number or choice of the engine on the job sheet, as typed.

    Parameters
    ----------
    name : str
        A name of ``ENGINE_TERMS`` or ``CHOICES``, or "runner_profile".
    text : str
        Number with its unit, or the choice; "" takes it off the sheet.

    Raises
    ------
    UnknownNameError, InputError, ConflictError
    """
    if name not in TERMS and name not in CHOICES and name != RUNNER_PROFILE:
        raise UnknownNameError("engine value", name, [*TERMS, *CHOICES, RUNNER_PROFILE])
    version = archive.job_version(job)
    facts = dict(archive.job(job).job.facts)
    if name == RUNNER_PROFILE:
        new = {name: text.strip()}
        profile_of(new)
        old = set(new)
    elif name in CHOICES:
        new = {_CHOICE_PREFIX + name: text.strip()}
        fact_choice(new, name)
        old = set(new)
    else:
        term = TERMS[name]
        old = {k for k in _spellings(term) if k.startswith(name)}
        new = {}
        if text.strip():
            value = read(text, Kind(term.kind), "-" if term.kind == Kind.RATIO else None)
            new = {name if value.unit == "-" else f"{name}_{_suffix(value.unit)}": value.text}
    facts = {k: v for k, v in facts.items() if k not in old} | {k: v for k, v in new.items() if v}
    archive.update_job(job, {"facts": facts}, version)
