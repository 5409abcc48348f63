"""Where a choice of valve or seat costs durability, in plain words; never a verdict."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Protocol

from portwright.core.seat.profile import ValveProfile
from portwright.errors import Finding, Severity
from portwright.model.head import Side
from portwright.services.plan_terms import Known
from portwright.services.shop_figures import Figure, Figures

if TYPE_CHECKING:
    from portwright.services.seat_plan import Alternative

_EPS = 1e-9


class _Say(Protocol):
    def __call__(
        self, code: str, message: str, hint: str, severity: Severity = Severity.WARNING
    ) -> None: ...


def _mm(value: float) -> str:
    return f"{value * 1e3:.2f} mm"


def _rule(figure: Figure) -> str:
    return f"{figure.text} ({figure.tag})"


def cautions(
    made: Alternative,
    side: Side,
    known: Mapping[str, Known],
    figures: Figures,
    first: ValveProfile,
) -> tuple[Finding, ...]:
    """What to think about before cutting this one.

    Parameters
    ----------
    made : Alternative
    side : Side
    known : mapping of str to Known
        Numbers of the plan.
    figures : Figures
        The shop's minima.
    first : ValveProfile
        Valve of the design the others are held against.
    """
    found: list[Finding] = []

    def say(code: str, message: str, hint: str, severity: Severity = Severity.WARNING) -> None:
        found.append(Finding(code, severity, message, hint))

    _faces(made, side, figures, say)
    _throat(made, figures, say)
    _depth(made, figures, say)
    _stem(made, known, figures, first, say)
    if side is Side.EXHAUST:
        say(
            "sodium-stem",
            "Hollow exhaust stems may be filled with sodium.",
            "Never cut, drill or crush one; it burns in air and water (common practice).",
            Severity.NOTE,
        )
    return tuple(found)


def _faces(made: Alternative, side: Side, figures: Figures, say: _Say) -> None:
    face, valve = made.seat.face, made.valve
    if made.shut.seat_piece != "seat face" or made.shut.valve_piece != "valve face":
        say(
            "seals-elsewhere",
            f"The valve rests with its {made.shut.valve_piece} on the {made.shut.seat_piece}.",
            "Valve and seat do not belong together: change diameter, angle or width.",
        )
    steep = figures["steep seat angle"]
    if face.angle > steep.value.si + _EPS:
        say(
            "steep-seat",
            f"A {math.degrees(face.angle):.4g} degree seat wedges, and lash closes up faster as "
            "it wears.",
            "Hard inserts, more frequent service; less area at low lift (common practice).",
        )
    least = figures[f"{side.value} seat width least"]
    if face.width < least.value.si - _EPS:
        say(
            "narrow-seat",
            f"Seat {_mm(face.width)} wide; the shop's least is {_rule(least)}.",
            least.meaning,
        )
    margin = figures[f"{side.value} margin least"]
    if valve.margin < margin.value.si - _EPS:
        say(
            "thin-margin",
            f"Margin {_mm(valve.margin)}; the shop's least is {_rule(margin)}.",
            margin.meaning,
        )
    if made.seat.outer_diameter > valve.head_diameter + _EPS:
        say(
            "seat-past-valve",
            f"The seat is {_mm(made.seat.outer_diameter - valve.head_diameter)} larger than the "
            "valve.",
            "The valve beats a ridge into it: narrow the seat from above.",
        )


def _throat(made: Alternative, figures: Figures, say: _Say) -> None:
    steep = made.seat.face.angle > figures["steep seat angle"].value.si + _EPS
    most = figures["steep throat share most" if steep else "throat share most"]
    share = made.seat.throat_diameter / made.valve.head_diameter
    if share > most.value.si + _EPS:
        say(
            "large-throat",
            f"Throat {100.0 * share:.1f} % of the valve; usual is up to {_rule(most)}.",
            "Little is left below the seat: no room for the next valve job.",
        )
    if made.seat.left_to_throat > 1e-6:
        say(
            "cuts-end-early",
            f"The cuts end {_mm(made.seat.left_to_throat)} a side outside the throat.",
            "The rest is blended by hand, or cut one more angle.",
            Severity.NOTE,
        )


def _depth(made: Alternative, figures: Figures, say: _Say) -> None:
    if made.no_sink:
        say("no-metal", made.no_sink, "")
    most = figures["seat sink most"]
    if made.sink is not None and made.sink.seat > most.value.si + _EPS:
        say(
            "deep-seat",
            f"The new profile sinks {_mm(made.sink.seat)}; the shop's most is {_rule(most)}.",
            "A sunk valve hides in a pocket at low lift: a new insert brings it back up.",
        )
    if made.room is None:
        return
    for value, rule, words in (
        (made.room.wall, "insert wall least", "between throat and outside"),
        (made.room.land, "insert land least", "outside the outermost cut"),
        (made.room.below, "insert height least", "below the lowest cut"),
    ):
        least = figures[rule]
        if value < least.value.si - _EPS:
            say(
                "insert-limit",
                f"The insert keeps {_mm(value)} {words}; the shop's least is {_rule(least)}.",
                "A larger insert, a smaller throat or fewer cuts.",
            )


def _stem(
    made: Alternative,
    known: Mapping[str, Known],
    figures: Figures,
    first: ValveProfile,
    say: _Say,
) -> None:
    if made.valve.stem_diameter < first.stem_diameter - _EPS:
        low, high = (100.0 * s for s in made.stiffness)
        stiff = f"{low:.0f} %" if high - low < 1.0 else f"{low:.0f} to {high:.0f} %"
        say(
            "thin-stem",
            f"The thinner stem is {stiff} as stiff in bending.",
            "Guides wear faster, less heat leaves through the stem (common practice).",
        )
    if "itanium" in made.material.name:
        say(
            "titanium",
            "Titanium galls on bare guides and seats and does not forgive a hard landing.",
            "Coated stem, bronze guide, softer seat insert, hardened tip or lash cap (common "
            "practice): ask the valve's maker.",
        )
    guide = known.get("guide length")
    if guide is not None:
        least = figures["guide engagement least"]
        ratio = guide.value / made.valve.stem_diameter
        if ratio < least.value.si - _EPS:
            say(
                "short-guide",
                f"The guide is {ratio:.1f} stem diameters long; the shop's least is "
                f"{_rule(least)}.",
                "Seat and guide wear faster.",
            )
