"""Clearances and checks of a job; what nobody measured stays open, loudly."""

from __future__ import annotations

from portwright.model.contents import JobContents

# Checks an assembler makes on every pushrod or overhead-cam head; common practice.
USUAL_CHECKS = (
    "Intake valve to piston",
    "Exhaust valve to piston",
    "Valve edge to bore",
    "Valve to valve at overlap",
    "Valve radial in pocket",
    "Retainer to guide seal at full lift",
    "Spring coil bind margin",
)


def _words(text: str) -> set[str]:
    return {w for w in text.lower().replace(",", " ").replace("-", " ").split() if len(w) > 3}


def measured_checks(contents: JobContents) -> dict[str, str]:
    """Usual checks somebody measured, with the value as typed."""
    found: dict[str, str] = {}
    measured = [m for m in contents.measurements if m.quantity == "clearance"]
    for check in USUAL_CHECKS:
        wanted = _words(check)
        for item in measured:
            if len(wanted & _words(item.place)) >= min(2, len(wanted)) and _fits(check, item.place):
                found[check] = str(item.value)
    return found


def _fits(check: str, place: str) -> bool:
    """Intake and exhaust are not mistaken for each other."""
    for word in ("intake", "exhaust"):
        if (word in check.lower()) != (word in place.lower()) and "piston" in check.lower():
            return False
    return True


def open_checks(contents: JobContents) -> list[str]:
    """Sentences for every usual check nobody measured."""
    done = measured_checks(contents)
    return [f"{check}: not checked yet." for check in USUAL_CHECKS if check not in done]
