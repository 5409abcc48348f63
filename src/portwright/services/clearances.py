"""Clearances and checks of a job; what nobody measured stays open, loudly."""

from __future__ import annotations

from portwright.model.contents import JobContents
from portwright.model.job import Measurement
from portwright.services.checked import Check, newest

# Checks an assembler makes on every pushrod or overhead-cam head (common practice), each with the
# words that a recorded check must all contain to count as this one.
_WORDS = {
    "Intake valve to piston": ("intake", "piston"),
    "Exhaust valve to piston": ("exhaust", "piston"),
    "Valve edge to bore": ("valve", "bore"),
    "Valve to valve at overlap": ("valve to valve",),
    "Valve radial in pocket": ("valve", "pocket"),
    "Retainer to guide seal at full lift": ("retainer", "seal"),
    "Spring coil bind margin": ("coil", "bind"),
}
USUAL_CHECKS = tuple(_WORDS)


def is_check(name: str, words: str) -> bool:
    """Whether recorded words mean that usual check."""
    said = words.lower().replace("-", " ")
    return all(word in said for word in _WORDS[name])


def usual_checks(contents: JobContents) -> tuple[Check, ...]:
    """Every usual check with what is on record of it, in the order of ``USUAL_CHECKS``."""

    def found(name: str) -> Measurement | None:
        return newest(contents, lambda m: m.quantity == "clearance" and is_check(name, m.place))

    return tuple(Check(name, found(name)) for name in USUAL_CHECKS)


def open_checks(contents: JobContents) -> list[str]:
    """Names of the usual checks that are not done: no value, or one without instrument or day."""
    return [check.name for check in usual_checks(contents) if not check.done]
