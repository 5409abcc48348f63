"""Everything measured on the head besides flow: ports, chambers, seats, clearances."""

from __future__ import annotations

from dataclasses import dataclass

from portwright import units
from portwright.core.comparison import Verdict
from portwright.errors import PortwrightError
from portwright.model.head import Port, Side
from portwright.nomenclature import term
from portwright.report.document import Block, Boxed, Grid, Lines
from portwright.services.clearances import open_checks, usual_checks
from portwright.services.compression import chamber_sets, clearance_of, gather
from portwright.services.measure import derived
from portwright.services.report_said import Gathered
from portwright.services.springs import spring_sheet
from portwright.services.uniformity import PortMark, Uniformity, uniformity_of
from portwright.services.valves import latest
from portwright.units import Kind

_SMALL = ("seat width", "seat angle", "seat sink", "seat runout", "margin", "guide clearance")
_MANY = 8  # cylinders; more are told by their smallest and largest
_FINE = {"seat runout": 3, "guide clearance": 3}  # decimals of a millimetre they are read to
_HEIGHTS = ("installed height", "stem-tip height")
_AREAS = (("throat", "less the stem"), ("short", "area"), ("pinch", "area"), ("opening", "area"))


# --- ports ------------------------------------------------------------------------------------


def ports(g: Gathered) -> tuple[Block | None, ...]:
    """Each port with its sizes and how it flows beside its sisters."""
    stage, said, say = g.whole.after, g.said, g.said.say
    alike = _alike(g, stage)
    marks = {mark.port: mark for found in alike for mark in found.ports}
    in_order = sorted(g.contents.ports, key=lambda p: p.side is not Side.INTAKE)
    rows = [_port_row(g, port, stage, marks.get(port.code)) for port in in_order]
    rows = [r for r in rows if any(r[1:])]
    unit = said.area_unit()
    headings = (
        say("ports.port"),
        say("ports.valve", unit=said.display.length),
        say("ports.throat", unit=said.display.length),
        say("ports.share"),
        say("ports.net", unit=unit),
        say("ports.short", unit=unit),
        say("ports.pinch", unit=unit),
        say("ports.opening", unit=unit),
        say("ports.volume"),
        say("ports.flow"),
    )
    kept = [k for k in range(len(headings)) if k == 0 or any(row[k] for row in rows)]
    grid = Grid(
        tuple(headings[k] for k in kept),
        tuple(tuple(row[k] for k in kept) for row in rows),
        numeric=tuple(range(1, len(kept))),
        wide=tuple(range(1, len(kept) - 1)),
    )
    lines = [line for found in alike for line in _alike_lines(g, found)]
    return grid, Lines(tuple(lines)), Lines((say("ports.note"),) if rows else (), small=True)


def _alike(g: Gathered, stage: str) -> list[Uniformity]:
    found = []
    for side in Side:
        try:
            found.append(uniformity_of(g.checked, side, stage))
        except PortwrightError:  # fewer than two ports swept alike: nothing to compare
            continue
    return found


def _port_row(g: Gathered, port: Port, stage: str, mark: PortMark | None) -> tuple[str, ...]:
    said = g.said

    def size(quantity: str) -> float | None:
        item = latest(g.contents, port.code, quantity, stage)
        return None if item is None else item.value.si

    valve, throat, volume = (
        size(q) for q in ("valve head diameter", "throat diameter", "port volume")
    )
    areas = {(d.key, d.name): d.value for d in derived(g.contents, port, stage)}
    share = areas.get(("throat", "throat, of valve"))
    return (
        port.code,
        "" if valve is None else said.bare_length(valve),
        "" if throat is None else said.bare_length(throat),
        "" if share is None else said.say.number(f"{100.0 * share:.1f}"),
        *("" if key not in areas else said.area(areas[key]) for key in _AREAS),
        "" if volume is None else said.volume(volume),
        "" if mark is None else _beside(g, mark),
    )


def _beside(g: Gathered, mark: PortMark) -> str:
    whole = mark.bands[0]
    text = g.said.say.number(f"{100.0 * whole.value:+z.1f} ± {100.0 * whole.half:.1f} %")
    return text if whole.verdict is Verdict.CANT_TELL else f"{text}*"


def _alike_lines(g: Gathered, found: Uniformity) -> list[str]:
    say = g.said.say
    band = found.bands[0]
    lines = [
        say(
            f"ports.spread-{found.side.value}",
            spread=say.number(f"{100.0 * band.spread:.1f}"),
            chance=say.number(f"{100.0 * band.by_chance:.1f}"),
        )
    ]
    for mark in found.ports:
        if mark.bands[0].verdict is not Verdict.REAL:
            continue
        odd = "; ".join(
            f"{say.or_as_is('quantity', o.quantity)} {g.said.typed(o.here.value)}"
            for o in mark.oddities
        )
        name = "ports.apart-measured" if odd else "ports.apart"
        lines.append(say(name, port=mark.port, flow=_beside(g, mark).rstrip("*"), odd=odd))
    return lines


# --- chambers and compression -----------------------------------------------------------------


def chambers(g: Gathered) -> tuple[Block | None, ...]:
    """Chamber volumes in each state they were filled in, and the compression they give."""
    said, say = g.said, g.said.say
    sets, cc = chamber_sets(g.contents), say("short.cc")
    subjects = list(dict.fromkeys(s for volumes in sets.values() for s in volumes))
    rows = [
        (said.place(s), *(said.volume(v[s]) if s in v else "" for v in sets.values()))
        for s in subjects
    ]
    if len(rows) > _MANY:
        ends = (("smallest", min), ("largest", max))
        rows = [
            (say(f"chambers.{name}"), *(said.volume(end(v.values())) for v in sets.values()))
            for name, end in ends
        ]
    if rows:
        spreads = (max(v.values()) - min(v.values()) for v in sets.values())
        rows.append((say("chambers.spread"), *(said.volume(v) for v in spreads)))
    grid = Grid(
        (say("chambers.cylinder"), *(f"{name}, {cc}" for name in sets)),
        tuple(rows),
        numeric=tuple(range(1, len(sets) + 1)),
        total=True,
    )
    return grid, Lines(tuple(_compression(g, sets)))


def _compression(g: Gathered, sets: dict[str, dict[str, float]]) -> list[str]:
    say, known = g.said.say, gather(g.contents)
    if not sets or "swept volume" not in known:
        return []
    swept = known["swept volume"].value

    def ratio(volumes: dict[str, float]) -> float | None:
        space = clearance_of(known, sum(volumes.values()) / len(volumes))
        return None if space is None else float(swept / space.total + 1.0)

    first, last = next(iter(sets)), list(sets)[-1]
    before, after = ratio(sets[first]), ratio(sets[last])
    if before is None or after is None:
        return []
    return [
        say(
            "chambers.ratio",
            before=say.number(f"{before:.2f}"),
            after=say.number(f"{after:.2f}"),
            first=first,
            last=last,
        )
    ]


# --- seats, valves, springs -------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Span:
    low: float
    high: float
    kind: Kind


def _span(g: Gathered, quantity: str, side: Side) -> _Span | None:
    found = [
        item.value.si
        for port in g.contents.ports
        if port.side is side
        and (item := latest(g.contents, port.code, quantity, g.whole.after)) is not None
    ]
    return _Span(min(found), max(found), Kind(term(quantity).kind)) if found else None


def seats_springs(g: Gathered) -> tuple[Block | None, ...]:
    """Smallest and largest of each size, intake beside exhaust."""
    say = g.said.say
    rows = []
    for quantity in (*_SMALL, *_HEIGHTS):
        spans = [_span(g, quantity, side) for side in Side]
        if any(spans):
            shown = [_shown(g, s, quantity) for s in spans]
            rows.append((say.or_as_is("quantity", quantity), *shown))
    return (
        Grid((say("seats.size"), say("side.intake"), say("side.exhaust")), tuple(rows), wide=(0,)),
        _springs(g),
        Lines((say("seats.springs"),)) if rows else None,
    )


def _springs(g: Gathered) -> Grid:
    """Loads and margins of the springs, where they were measured."""
    say, inch = g.said.say, g.said.display.length in {"in", "thou"}
    unit = "lbf" if inch else "N"

    def force(value: float | None) -> str:
        return "" if value is None else say.number(units.show(value, unit, Kind.FORCE))

    rows = tuple(
        (
            line.port,
            force(line.seat_load),
            force(line.open_load),
            "" if line.bind_margin is None else g.said.length(line.bind_margin, small=True),
        )
        for line in spring_sheet(g.contents).springs
        if (line.seat_load, line.open_load, line.bind_margin) != (None, None, None)
    )
    headings = (
        say("ports.port"),
        say("springs.seat", unit=unit),
        say("springs.open", unit=unit),
        say("springs.bind"),
    )
    return Grid(headings, rows, numeric=(1, 2, 3))


def _shown(g: Gathered, span: _Span | None, quantity: str) -> str:
    if span is None:
        return ""
    display = g.said.display
    if span.kind is Kind.ANGLE:
        unit = "deg"
    else:
        unit = display.length if quantity in _HEIGHTS else display.small_length
    digits = 3 if unit == "in" else _FINE.get(quantity) if unit == "mm" else None
    low, high = (units.show(v, unit, span.kind, digits) for v in (span.low, span.high))
    if unit == "deg":  # a cutter has its angle to the half degree at most
        low, high = (text.rstrip("0").removesuffix(".") for text in (low, high))
    both = low if low == high else f"{low} – {high}"
    return g.said.say.number(f"{both} {'°' if unit == 'deg' else unit}".replace(" °", "°"))


# --- clearances -------------------------------------------------------------------------------


def clearances(g: Gathered) -> tuple[Block | None, ...]:
    """What nobody has checked, loudly; and what was measured, to be checked again."""
    say = g.said.say
    missing = tuple(
        say("clearances.open", check=say.or_as_is("check", name))
        for name in open_checks(g.contents)
    )
    known = [c for c in usual_checks(g.contents) if c.found is not None]
    rows = tuple(
        (
            say.or_as_is("check", check.name),
            g.said.typed(check.found.value),
            check.found.instrument or say("clearances.no-instrument"),
            say.date(check.found.date) or say("clearances.no-day"),
        )
        for check in known
        if check.found is not None
    )
    headings = tuple(say(f"clearances.{name}") for name in ("check", "measured", "with", "day"))
    incomplete = say("clearances.incomplete") if any(not c.done for c in known) else ""
    again = say("clearances.again") if rows else ""
    return (
        Boxed(missing),
        Grid(headings, rows, numeric=(1,)),
        Lines(tuple(line for line in (incomplete, again) if line), small=True),
    )
