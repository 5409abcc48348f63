"""What a person should look at before a deck is cut."""

from __future__ import annotations

from portwright.errors import Finding, InputError, Severity, Where
from portwright.model.contents import JobContents
from portwright.model.job import SheetKind
from portwright.services.milling_plan import MillPlan
from portwright.units import parse_number

_DEEP = 1.5e-3  # deck cuts above this ask for a look at what the deck has left (from memory) [m]


def milling_findings(contents: JobContents, plan: MillPlan) -> list[Finding]:
    """Class ratio, deck metal, face and short sides: what the plan cannot settle by itself."""
    where, found = Where(job=plan.job), []
    most = _class_ratio(contents)
    if most is not None and plan.ratio_after is not None:
        room = most - plan.ratio_after.value
        if room < 2.0 * plan.ratio_after.uncertainty:
            severity = Severity.FAULT if room < 0.0 else Severity.WARNING
            found.append(
                Finding(
                    "ratio-against-class",
                    severity,
                    f"The class allows a ratio of {most:.4g}; this plan comes to "
                    f"{plan.ratio_after.value:.2f} ± {2 * plan.ratio_after.uncertainty:.2f}.",
                    "Measure every volume again, or leave more room.",
                    where,
                    room,
                )
            )
    thick = [m for m in contents.measurements if m.quantity == "deck thickness"]
    if not thick:
        found.append(
            Finding(
                "deck-not-sounded",
                Severity.WARNING if plan.depth.value > _DEEP else Severity.NOTE,
                "Deck thickness: not measured.",
                "Sound the deck before milling; what it must keep is the shop's decision.",
                where,
                plan.depth.value,
            )
        )
    if plan.face is None and "half V angle" in plan.known:
        found.append(
            Finding(
                "face-not-measured",
                Severity.WARNING,
                "The tilt of the intake face is not known, so its cut is not worked out.",
                "Measure it from vertical, or against the deck, and give it as face tilt.",
                where,
            )
        )
    found += [
        Finding(
            "apex-stands-too-high",
            Severity.WARNING,
            f"{a.port}: the short side stands {-a.split.ground * 1e3:.2f} mm further from the deck "
            f"than a cut of {plan.depth.value * 1e3:.2f} mm explains.",
            "Either the deck was cut less, or one of the readings is wrong.",
            Where(job=plan.job, port=a.port, stage=a.last),
            a.split.ground,
        )
        for a in plan.apexes
        if a.split is not None and a.split.ground < -0.6e-3  # twice a depth gauge's 0.3 mm
    ]
    return found


def _class_ratio(contents: JobContents) -> float | None:
    """Highest compression ratio the class allows, None where no rule says so."""
    for row in contents.rows:
        words = row.cells.get("limit", "").lower()
        subject = row.cells.get("subject", "").lower()
        if row.kind is SheetKind.CLASS_RULES and "compression" in subject and "max" in words:
            try:
                return parse_number(words.replace("max", "").strip(" ."))
            except InputError:
                return None
    return None
