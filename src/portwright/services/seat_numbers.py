"""Numbers of a valve and its seat from a job, each with where it came from."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping

from portwright.core.seat.profile import Cut, SeatProfile, ValveProfile
from portwright.model.contents import JobContents
from portwright.model.head import Side
from portwright.model.quantity import AsTyped
from portwright.services.plan_terms import Known, Origin, PlanTerm
from portwright.services.shop_figures import Figures
from portwright.services.valves import latest
from portwright.units import Kind

MOST_CUTS = 6
CUT_ROWS = ("cut above", "cut below", "back-cut")
_OWN, _FM, _CP = "Portwright's own", "from memory", "common practice"


def _cut_terms() -> list[PlanTerm]:
    terms = []
    for row in CUT_ROWS:
        for i in range(1, MOST_CUTS + 1):
            measured = ("back-cut angle",) if (row, i) == ("back-cut", 1) else ()
            terms += [
                PlanTerm(f"{row} {i} angle", Kind.ANGLE, measured),
                PlanTerm(f"{row} {i} width", Kind.LENGTH),
            ]
    return terms


SIZES = (
    PlanTerm("valve head diameter", Kind.LENGTH, ("valve head diameter",)),
    PlanTerm("stem diameter", Kind.LENGTH, ("stem diameter",)),
    PlanTerm("throat diameter", Kind.LENGTH, ("throat diameter",)),
    PlanTerm("seat angle", Kind.ANGLE, ("seat angle",)),
    PlanTerm("seat width", Kind.LENGTH, ("seat width",)),
    PlanTerm("seat outside diameter", Kind.LENGTH, ("seat outside diameter",)),
    PlanTerm("valve face width", Kind.LENGTH, ("valve face width",)),
    PlanTerm("interference angle", Kind.ANGLE),
    PlanTerm("margin", Kind.LENGTH, ("margin",)),
    PlanTerm("angle under the head", Kind.ANGLE),
    PlanTerm("fillet radius", Kind.LENGTH),
    PlanTerm("valve length", Kind.LENGTH, ("valve length",)),
    PlanTerm("guide length", Kind.LENGTH, ("guide length",)),
    PlanTerm("insert outside diameter", Kind.LENGTH, ("insert outside diameter",)),
    PlanTerm("insert height", Kind.LENGTH, ("insert height",)),
    PlanTerm("clean-up", Kind.LENGTH),
    PlanTerm("cylinder pressure", Kind.PRESSURE),
    PlanTerm("port pressure", Kind.PRESSURE),
)
VARIED = (
    "seat angle",
    "seat width",
    "throat diameter",
    "valve head diameter",
    "stem diameter",
    "back-cut 1 angle",
)
ALTERNATIVES = ("B", "C")
_BASE = {t.name: t for t in (*SIZES, *_cut_terms())}
TERMS = _BASE | {
    f"{a} {n}": PlanTerm(f"{a} {n}", _BASE[n].kind) for a in ALTERNATIVES for n in VARIED
}

Numbers = Mapping[str, Known]


class _Gather:
    """Finds each number: entered, measured, else worked out or assumed."""

    def __init__(
        self,
        contents: JobContents,
        port: str,
        stage: str,
        given: Mapping[str, AsTyped],
    ) -> None:
        self._contents, self._port, self._stage, self._given = contents, port, stage, given
        self.found: dict[str, Known] = {}

    def take(self, name: str, default: Callable[[], float] | None = None, why: str = "") -> None:
        """Keep a number; without a default it may stay unknown."""
        term = TERMS[name]
        if name in self._given:
            typed = self._given[name]
            self.found[name] = Known(term, typed.si, Origin.ENTERED, str(typed))
            return
        for quantity in term.quantities:
            measured = latest(self._contents, self._port, quantity, self._stage)
            if measured is not None:
                note = f"{measured.quantity}: {measured.value}"
                if measured.stage:
                    note += f" at {measured.stage}"
                self.found[name] = Known(term, measured.value.si, Origin.MEASURED, note)
                return
        if default is not None:
            self.found[name] = Known(term, default(), Origin.ASSUMED, why)

    def __getitem__(self, name: str) -> float:
        return self.found[name].value


def gather_seat(
    contents: JobContents,
    port: str,
    stage: str,
    side: Side,
    figures: Figures,
    given: Mapping[str, AsTyped],
) -> dict[str, Known]:
    """Numbers of one port's valve and seat; without a measured valve head nothing is found.

    Parameters
    ----------
    given : mapping of str to AsTyped
        Numbers for this plan only, by the names of ``TERMS``.
    """
    g = _Gather(contents, port, stage, given)
    g.take("valve head diameter")
    if "valve head diameter" not in g.found:
        return {}
    head = g["valve head diameter"]
    g.take("stem diameter", lambda: 0.19 * head, f"0.19 of the valve, {_FM}")
    g.take("throat diameter", lambda: 0.87 * head, f"0.87 of the valve, {_FM}")
    g.take("seat angle", lambda: math.radians(45.0), f"usual, {_CP}")
    least = figures[f"{side.value} seat width least"].value.si
    g.take("seat width", lambda: 1.2 * least, f"1.2 times the shop's least, {_OWN}")
    g.take("seat outside diameter", lambda: head - 0.5e-3, f"0.25 mm inside the valve, {_OWN}")
    g.take("interference angle", lambda: 0.0, "valve and seat ground alike")
    g.take("margin", lambda: 1.25 * figures[f"{side.value} margin least"].value.si, _OWN)
    _take_cuts(g, "cut above", g["seat angle"] - math.radians(15.0), 1.0e-3)
    _take_cuts(g, "cut below", g["seat angle"] + math.radians(15.0), None)
    overhang = 0.5 * (head - g["seat outside diameter"]) + 0.25e-3
    g.take(
        "valve face width",
        lambda: g["seat width"] + overhang / math.cos(g["seat angle"]),
        f"0.25 mm past the seat's inner edge, {_OWN}",
    )
    _take_cuts(g, "back-cut", math.radians(30.0), 1.5e-3)
    g.take("angle under the head", lambda: math.radians(15.0), f"10 to 20 degrees, {_FM}")
    g.take("fillet radius", lambda: _fillet(g), f"0.3 of the valve where it fits, {_OWN}")
    g.take("valve length", lambda: 110e-3, f"usual, {_OWN}; only for the mass")
    for name in ("guide length", "insert outside diameter", "insert height"):
        g.take(name)
    g.take("clean-up", lambda: figures["seat clean-up"].value.si, figures["seat clean-up"].tag)
    if side is Side.EXHAUST:
        pressure = figures["cylinder pressure at exhaust opening"]
        g.take("cylinder pressure", lambda: pressure.value.si, pressure.tag)
        g.take("port pressure", lambda: 0.0, "as the surroundings")
    return g.found


def _take_cuts(g: _Gather, row: str, angle: float, width: float | None) -> None:
    """First cut of a row with usual sizes, further ones where they are given."""
    g.take(f"{row} 1 angle", lambda: angle, f"usual, {_CP}")
    if width is None:
        g.take(f"{row} 1 width", lambda: _to_the_throat(g), "to the throat, at most 1.5 mm across")
    else:
        g.take(f"{row} 1 width", lambda: width, _OWN)
    for i in range(2, MOST_CUTS + 1):
        for part in ("angle", "width"):
            g.take(f"{row} {i} {part}")


def _to_the_throat(g: _Gather) -> float:
    face = g["seat width"] * math.cos(g["seat angle"])
    left = 0.5 * (g["seat outside diameter"] - g["throat diameter"]) - face
    return max(min(left, 1.5e-3), 0.0) / math.cos(g["cut below 1 angle"])


def _fillet(g: _Gather) -> float:
    taken = g["valve face width"] * math.cos(g["seat angle"] - g["interference angle"])
    taken += sum(cut.radial for cut in cuts_of(g.found, "back-cut"))
    room = 0.5 * (g["valve head diameter"] - g["stem diameter"]) - taken
    largest = room / (1.0 - math.sin(g["angle under the head"]))
    return max(min(0.3 * g["valve head diameter"], 0.95 * largest), 0.0)


def cuts_of(numbers: Numbers, row: str, turned: float = 0.0) -> tuple[Cut, ...]:
    """Cuts of a row in order; one without width is left out.

    Parameters
    ----------
    turned : float
        Added to every angle. [rad]
    """
    found = []
    for i in range(1, MOST_CUTS + 1):
        angle, width = numbers.get(f"{row} {i} angle"), numbers.get(f"{row} {i} width")
        if angle is not None and width is not None and width.value != 0.0:
            found.append(Cut(angle.value + turned, width.value))
    return tuple(found)


def profiles(numbers: Numbers, alternative: str = "") -> tuple[SeatProfile, ValveProfile]:
    """Seat and valve of the design or of one of its alternatives.

    An alternative differs only in the numbers given for it; cuts beside a seat face of another
    angle keep their step from it, the valve keeps its overlap over the seat.

    Raises
    ------
    RangeError
        Sizes that cannot be.
    """

    def size(name: str) -> float:
        own = numbers.get(f"{alternative} {name}") if alternative else None
        return (own or numbers[name]).value

    turned = size("seat angle") - numbers["seat angle"].value
    grown = size("valve head diameter") - numbers["valve head diameter"].value
    seat = SeatProfile(
        numbers["seat outside diameter"].value + grown,
        Cut(size("seat angle"), size("seat width")),
        size("throat diameter"),
        _fitted(numbers, turned, grown, size),
        cuts_of(numbers, "cut above", turned),
    )
    face = numbers["valve face width"].value * math.cos(numbers["seat angle"].value)
    wider = size("seat width") * math.cos(size("seat angle")) - numbers[
        "seat width"
    ].value * math.cos(numbers["seat angle"].value)
    angle = size("seat angle") - numbers["interference angle"].value
    back = cuts_of(numbers, "back-cut")
    if back and f"{alternative} back-cut 1 angle" in numbers:
        back = (Cut(size("back-cut 1 angle"), back[0].width), *back[1:])
    valve = ValveProfile(
        size("valve head diameter"),
        Cut(angle, (face + wider) / math.cos(angle)),
        size("stem diameter"),
        numbers["margin"].value,
        back,
        numbers["angle under the head"].value,
        numbers["fillet radius"].value,
        numbers["valve length"].value,
    )
    return seat, valve


def _fitted(
    numbers: Numbers, turned: float, grown: float, size: Callable[[str], float]
) -> tuple[Cut, ...]:
    """Cuts below; one that nobody chose runs to the throat of this alternative."""
    cuts = cuts_of(numbers, "cut below", turned)
    width = numbers.get("cut below 1 width")
    if len(cuts) != 1 or width is None or width.origin is not Origin.ASSUMED:
        return cuts
    outer = numbers["seat outside diameter"].value + grown
    face = size("seat width") * math.cos(size("seat angle"))
    left = min(0.5 * (outer - size("throat diameter")) - face, 1.5e-3)
    return (Cut(cuts[0].angle, left / math.cos(cuts[0].angle)),) if left > 0.0 else ()
