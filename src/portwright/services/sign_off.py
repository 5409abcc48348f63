"""Sheets that are signed: copies of port 1, delivery, and what this casting does not allow.

Tolerances are figures of the shop: shipped from memory, changed on its figures page.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from portwright import __version__, units
from portwright.catalogue import Words, words
from portwright.core.port.metal import WallState
from portwright.errors import InputError, UnknownNameError, one_of
from portwright.model.contents import JobContents
from portwright.model.head import Port
from portwright.model.job import Shop
from portwright.report.document import (
    Block,
    Boxed,
    Bullets,
    Document,
    Fact,
    Grid,
    Lines,
    Section,
    Ticks,
    section,
)
from portwright.report.pdf import render
from portwright.services.class_rules import class_limits
from portwright.services.clearances import open_checks
from portwright.services.compression import chamber_sets
from portwright.services.display import Display
from portwright.services.metal import Wall, earlier_thin_walls, walls
from portwright.services.port_limits import limits_of
from portwright.services.privacy import without_names
from portwright.services.report_said import Said
from portwright.services.shop_figures import OWN, Figure, figures_of, shipped
from portwright.services.shop_file import ShopFile
from portwright.services.shop_marks import logo_of, report_language
from portwright.services.valves import latest
from portwright.units import Kind

_COPIES = " of copies"  # ending of the shop's figures that are tolerances of copies
_DELIVERY = (
    "wash", "pressure", "vacuum", "springs", "retainers", "chambers", "plugs",
    "covered", "tagged", "photos", "paper",
)  # fmt: skip
_MILLED = ("deck to remove", "deck removed")


class SheetName(StrEnum):
    """Which sheet."""

    COPIES = "copies"
    DELIVERY = "delivery"
    LIMITS = "limits"


@dataclass(frozen=True, slots=True)
class _Ask:
    """What every sheet is made from."""

    shop: ShopFile
    contents: JobContents
    said: Said

    @property
    def say(self) -> Words:
        return self.said.say


def sheet_pdf(
    shop: ShopFile, job: str, name: str, *, port: str = "", length: str = "", language: str = ""
) -> bytes:
    """A sheet as PDF.

    Parameters
    ----------
    name : str
        "copies", "delivery" or "limits".
    port : str
        Port that is copied; "" takes the first that was measured.

    Raises
    ------
    UnknownNameError, InputError, ReportError
    """
    return render(sheet_document(shop, job, name, port=port, length=length, language=language))


def sheet_document(
    shop: ShopFile, job: str, name: str, *, port: str = "", length: str = "", language: str = ""
) -> Document:
    """A sheet as finished text; see :func:`sheet_pdf`."""
    chosen = one_of(SheetName, name, "sheet")
    contents, facts = shop.job(job), shop.shop() or Shop(name="")
    display = Display.of(facts)
    if length:
        display = display.inch() if length == "in" else display.metric()
    ask = _Ask(shop, contents, Said(words(language or report_language(shop)), display))
    say = ask.say
    sections, extra = _SHEETS[chosen](ask, port)
    document = Document(
        title=say(f"sheet.{name}", job=job),
        shop=facts.name,
        shop_line=", ".join(p for p in (facts.town, facts.porter) if p),
        facts=tuple(
            f
            for f in (
                Fact(say("fact.casting"), contents.job.casting),
                Fact(say("fact.vehicle"), contents.job.vehicle),
                *extra,
            )
            if f.value
        ),
        sections=sections,
        footer=f"Portwright {__version__}",
        language=say.language,
        logo=logo_of(shop),
        signed=say("sheet.signed"),
    )
    return without_names(document, contents, facts)


Made = tuple[tuple[Section, ...], tuple[Fact, ...]]


# --- copies of port 1 -------------------------------------------------------------------------


def tolerances_of(shop: ShopFile) -> dict[str, Figure]:
    """Half widths within which copies count as alike, by quantity: figures of the shop."""
    return {
        name.removesuffix(_COPIES): figure
        for name, figure in figures_of(shop).items()
        if figure.group == "copies"
    }


def _copies(ask: _Ask, code: str) -> Made:
    say, contents = ask.say, ask.contents
    pattern = _pattern(contents, code)
    others = [p for p in contents.ports if p.side is pattern.side and p.code != pattern.code]
    rows, usual = [], False
    for quantity, tolerance in tolerances_of(ask.shop).items():
        made = latest(contents, pattern.code, quantity)
        if made is None:
            continue
        kind, half = tolerance.kind, tolerance.value.si
        low, high = (_show(ask, v, kind) for v in (made.value.si - half, made.value.si + half))
        mark = "" if tolerance.tag == OWN else "*"
        usual = usual or bool(mark)
        rows.append(
            (
                _named(say, quantity, kind, ask),
                f"{_show(ask, made.value.si, kind)} ± {_show(ask, half, kind)}{mark}",
                f"{low} – {high}",
                *("" for _ in others),
            )
        )
    if not rows:
        raise InputError(
            f"Port {pattern.code} has no measurements to copy.", "Measure the pattern port first."
        )
    blocks: list[Block] = [Lines((say("copies.how", port=pattern.code),))]
    most = 8  # ports side by side on a sheet
    for start in range(0, max(1, len(others)), most):
        some = others[start : start + most]
        headings = (
            say("copies.quantity"),
            say("copies.made", port=pattern.code),
            say("copies.between"),
            *(p.code for p in some),
        )
        blocks.append(
            Grid(
                headings,
                tuple(r[:3] + ("",) * len(some) for r in rows),
                wide=_ends(some),
                tall=True,
                to_write=_ends(some),
            )
        )
    blocks.append(Lines((say("copies.usual"),) if usual else (), small=True))
    stop = Boxed(tuple(say("copies.stop", place=_place(w, ask)) for w in _no_metal(ask)))
    sections = (
        *section(say("copies.sizes"), *blocks),
        *section(say("copies.stops"), stop),
        *section(
            say("copies.checks"),
            Ticks(tuple(say(f"copies.check-{n}") for n in ("datum", "blend", "step", "bench"))),
        ),
    )
    return sections, (Fact(say("copies.pattern"), pattern.code),)


def _ends(ports: list[Port]) -> tuple[int, ...]:
    return tuple(range(3, 3 + len(ports)))


def _pattern(contents: JobContents, code: str) -> Port:
    copied = {name.removesuffix(_COPIES) for name in shipped()}
    measured = {m.subject for m in contents.measurements if m.quantity in copied}
    if code:
        found = next((p for p in contents.ports if p.code == code), None)
        if found is None:
            raise UnknownNameError("port", code, [p.code for p in contents.ports])
        return found
    ports = [p for p in contents.ports if p.code in measured]
    if not ports:
        raise InputError("No port of this job was measured.", "Measure the pattern port first.")
    return ports[0]


def _unit(ask: _Ask, kind: Kind) -> str:
    return {Kind.VOLUME: "cc", Kind.ANGLE: "deg"}.get(kind, ask.said.display.length)


def _show(ask: _Ask, value: float, kind: Kind) -> str:
    if kind is Kind.LENGTH:
        return ask.said.bare_length(value)
    return ask.say.number(units.show(value, _unit(ask, kind), kind))


def _named(say: Words, quantity: str, kind: Kind, ask: _Ask) -> str:
    unit = {"deg": "°", "cc": say("short.cc")}.get(_unit(ask, kind), _unit(ask, kind))
    return f"{say.or_as_is('quantity', quantity)}, {unit}"


# --- delivery ---------------------------------------------------------------------------------


def _delivery(ask: _Ask, _port: str) -> Made:
    say = ask.say
    ticks = Ticks(tuple(say(f"delivery.{name}") for name in _DELIVERY))
    missing = Boxed(
        tuple(
            say("clearances.open", check=say.or_as_is("check", name))
            for name in open_checks(ask.contents)
        )
    )
    return (
        (
            *section(say("delivery.before"), ticks),
            *section(say("delivery.assembler"), missing, Lines((say("clearances.again"),))),
        ),
        (),
    )


# --- known limits -----------------------------------------------------------------------------


def _limits(ask: _Ask, _port: str) -> Made:
    say, contents = ask.say, ask.contents
    used = Boxed(tuple(_place(w, ask) for w in _no_metal(ask)))
    left = [w for w in _walls(ask) if w.state is WallState.FREE]
    still = Bullets(
        tuple(
            say("limits.left", place=ask.said.place(_spot(w)), left=ask.said.length(w.to_take))
            for w in left[:12]
        )
    )
    found = earlier_thin_walls(ask.shop, contents, ask.said.display)
    earlier = Bullets(tuple(f.message for f in found))
    rules = Bullets(
        tuple(f"{r.rule} {r.subject}: {r.words}".strip() for r in class_limits(contents))
    )
    return (
        (
            *section(say("limits.no-metal"), used),
            *section(say("limits.earlier"), earlier),
            *section(say("limits.some"), still),
            *section(say("limits.milled"), Bullets(tuple(_milled(ask)))),
            *section(say("limits.welds"), Bullets(tuple(_repairs(contents)))),
            *section(say("limits.rules"), rules),
            *section(say("report.cautions"), Lines((say("caution.walls"),))),
        ),
        (),
    )


def _walls(ask: _Ask) -> tuple[Wall, ...]:
    return walls(ask.contents, limits_of(ask.shop))


def _no_metal(ask: _Ask) -> list[Wall]:
    return [w for w in _walls(ask) if w.state is not WallState.FREE]


def _spot(wall: Wall) -> str:
    return ", ".join(t for t in (wall.subject, wall.place) if t)


def _place(wall: Wall, ask: _Ask) -> str:
    return ask.say(
        "limits.used",
        place=ask.said.place(_spot(wall)),
        now=ask.said.length(wall.now),
        least=ask.said.length(wall.limits.least),
    )


def _milled(ask: _Ask) -> list[str]:
    say, contents = ask.say, ask.contents
    lines = [
        say("limits.deck", depth=ask.said.length(m.value.si))
        for m in contents.measurements
        if m.quantity in _MILLED
    ]
    sets = chamber_sets(contents)
    if sets:
        name, volumes = list(sets.items())[-1]
        ends = min(volumes.values()), max(volumes.values())
        low, high = (ask.said.volume(v) for v in ends)
        lines.append(say("limits.chambers", low=low, high=high, when=name))
    return lines


def _repairs(contents: JobContents) -> list[str]:
    """What the records say of welds: words of the inspection and of the history as told."""
    found = [v for k, v in contents.job.facts.items() if "weld" in v.lower() and "history" in k]
    for row in contents.rows:
        text = f"{row.cells.get('item', '')}: {row.cells.get('note', '')}".strip(": ")
        if "weld" in text.lower() and row.cells.get("item"):
            found.append(text)
    return list(dict.fromkeys(found))


_SHEETS: dict[SheetName, Callable[[_Ask, str], Made]] = {
    SheetName.COPIES: _copies,
    SheetName.DELIVERY: _delivery,
    SheetName.LIMITS: _limits,
}
