"""Clearances and checks of a job; what nobody measured stays open, loudly."""

from __future__ import annotations

from portwright.model.contents import JobContents
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


def usual_check(contents: JobContents, name: str) -> Check:
    """One usual check with the newest reading of it."""
    return Check(
        name, newest(contents, lambda m: m.quantity == "clearance" and is_check(name, m.place))
    )


def measured_checks(contents: JobContents) -> dict[str, str]:
    """Usual checks somebody measured, with the value as typed."""
    checks = (usual_check(contents, name) for name in USUAL_CHECKS)
    return {check.name: str(check.found.value) for check in checks if check.found is not None}


def open_checks(contents: JobContents) -> list[str]:
    """Sentences for every usual check nobody measured."""
    done = measured_checks(contents)
    return [f"{check}: not checked yet." for check in USUAL_CHECKS if check not in done]
