"""What was seen on the parts, what somebody suspects, and what it commonly means: three things."""

from __future__ import annotations

import csv
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

from portwright import units
from portwright.errors import InputError, NumberError, UnitError, UnknownNameError
from portwright.model.contents import JobContents
from portwright.model.entry import EntryKind
from portwright.model.job import SheetKind, SheetRow
from portwright.model.quantity import AsTyped
from portwright.services import card_entries, card_holds
from portwright.services.shop_figures import Figures, shipped
from portwright.services.shop_file import ShopFile
from portwright.units import Kind

OTHER = "other"
PARTS = (
    "exhaust seat",
    "intake seat",
    "between the seats",
    "exhaust valve",
    "intake valve",
    "exhaust guide",
    "intake guide",
    "chamber",
    "deck",
    "port",
    "head",
)


@dataclass(frozen=True, slots=True)
class Sign:
    """Something a person can see.

    Parameters
    ----------
    name, part : str
    also : tuple of str
        Words of a sheet that mean it.
    means : str
        What is commonly behind it.
    several : str
        The same where several cylinders show it, "" for nothing more.
    hold : str
        Question the customer has to answer first, "" for none.
    tag : str
    """

    name: str
    part: str
    also: tuple[str, ...]
    means: str
    several: str
    hold: str
    tag: str


@cache
def signs() -> Mapping[str, Sign]:
    """Signs by name."""
    source = resources.files("portwright.refdata").joinpath("inspection_signs.csv")
    found = {}
    for row in csv.DictReader(source.read_text(encoding="utf-8").splitlines()):
        also = tuple(word for word in row["also"].split(";") if word)
        found[row["sign"]] = Sign(
            row["sign"], row["part"], also, row["means"], row["several"], row["hold"], row["tag"]
        )
    return found


@dataclass(frozen=True, slots=True)
class Observation:
    """One thing seen.

    Parameters
    ----------
    place : str
        "cyl 5 exhaust seat", "head L deck".
    seen : str
        As written down.
    signs : tuple of str
        Names of the signs in it, none where nothing was recognised.
    reading : str
        With its unit, "" for none.
    method, suspicion, source, at : str
        How it was seen, what somebody suspects, the sheet it is from, and when.
    """

    place: str
    seen: str
    signs: tuple[str, ...] = ()
    reading: str = ""
    method: str = ""
    suspicion: str = ""
    source: str = ""
    at: str = ""

    @property
    def cylinder(self) -> str:
        """Cylinder it belongs to, "" for none."""
        found = re.match(r"cyl (\w+)", self.place)
        return found[1] if found else ""


@dataclass(frozen=True, slots=True)
class Hint:
    """What a sign commonly means, with everywhere it was seen; never a diagnosis.

    Parameters
    ----------
    sign : str
    places : tuple of str
    text, tag : str
    question : str
        What the customer should be asked first, "" for nothing.
    asked : bool
        It was put to the customer already.
    """

    sign: str
    places: tuple[str, ...]
    text: str
    tag: str
    question: str = ""
    asked: bool = False


@dataclass(frozen=True, slots=True)
class Inspection:
    """Everything seen on a job, apart from hints.

    Parameters
    ----------
    job : str
    observations : tuple of Observation
    hints : tuple of Hint
    limits : tuple of str
        Readings beyond the shop's figures.
    """

    job: str
    observations: tuple[Observation, ...]
    hints: tuple[Hint, ...]
    limits: tuple[str, ...]


def inspection(contents: JobContents, figures: Figures | None = None) -> Inspection:
    """Gather what was seen on a job, from the screen and from inspection sheets."""
    rules = figures or shipped()
    seen = [_from_row(r) for r in contents.rows if r.kind is SheetKind.INSPECTION]
    seen += [
        _from_cells(e.cells, e.at) for e in contents.entries if e.kind is EntryKind.OBSERVATION
    ]
    questions = {e.cells.get("question", "") for e in contents.entries if e.kind is EntryKind.HOLD}
    return Inspection(
        contents.job.number,
        tuple(seen),
        tuple(_hints(seen, questions)),
        _limit_lines(seen, rules),
    )


def _limit_lines(seen: Sequence[Observation], rules: Figures) -> tuple[str, ...]:
    """Readings beyond a figure of the shop, those beyond the same one in one line."""
    together: dict[tuple[str, str], list[str]] = {}
    for item in seen:
        if (found := _beyond(item, rules)) is not None:
            together.setdefault(found, []).append(f"{item.place} {item.reading}")
    return tuple(
        f"{rules[name].words.capitalize()} {rules[name].text} ({rules[name].tag}): "
        f"{', '.join(places)}. Usual then: {advice}."
        for (name, advice), places in together.items()
    )


def _from_cells(cells: Mapping[str, str], at: str) -> Observation:
    sign = cells.get("sign", "")
    return Observation(
        cells.get("place", ""),
        cells.get("seen", "") or sign,
        (sign,) if sign in signs() else (),
        cells.get("reading", ""),
        cells.get("method", ""),
        cells.get("suspicion", ""),
        "",
        at,
    )


def _from_row(row: SheetRow) -> Observation:
    cells = row.cells
    where = row.subject or cells.get("cyl", "")
    item, unit = cells.get("item", ""), cells.get("unit", "").strip("-")
    reading = cells.get("reading", "").strip("-")
    words = f"{item}: {reading}" if reading and not unit else item
    verdict, note = cells.get("verdict", "").casefold(), cells.get("note", "")
    text = f"{item} {reading} {note if verdict == 'fail' else ''}".casefold()
    passed = verdict in {"pass", ""}
    found = () if passed else tuple(s.name for s in signs().values() if _is(s, text))
    place = f"head {where}" if len(where) == 1 and where.isalpha() else where
    return Observation(
        f"{place} {_part(item)}".strip(),
        words,
        found,
        f"{reading} {unit}".strip() if unit else "",
        cells.get("method", "").strip("-"),
        note,
        row.source,
    )


def _is(sign: Sign, text: str) -> bool:
    return any(word in text for word in sign.also)


def _part(item: str) -> str:
    """Part an item of a sheet is about."""
    words = item.casefold()
    return next((p for p in PARTS if p in words), "deck" if "deck" in words else "")


def _hints(seen: Sequence[Observation], questions: set[str]) -> list[Hint]:
    hints = []
    for sign in signs().values():
        found = [o for o in seen if sign.name in o.signs]
        if not found:
            continue
        places = tuple(dict.fromkeys(o.place or o.seen for o in found))
        cylinders = {o.cylinder for o in found if o.cylinder}
        text = sign.several if sign.several and len(cylinders) > 1 else sign.means
        question = f"{sign.hold}: {', '.join(places)}" if sign.hold else ""
        hints.append(Hint(sign.name, places, text, sign.tag, question, question in questions))
    return hints


# Figure a reading is held against, by the sign; True where more is worse.
_LIMITS = {
    "warped": ("deck flatness most", True),
    "soft metal": ("deck hardness least", False),
    "seat recessed": ("seat sink most", True),
}


_ADVICE = {
    "seat recessed": "a new insert brings the seat back up",
    "warped": "mill, after the cam tunnel was looked at",
    "soft metal": "ask before more work goes into this casting",
    "guide worn": "replace or line the guide",
}


def _beyond(item: Observation, rules: Figures) -> tuple[str, str] | None:
    """Figure a reading lies beyond and what is usual then, None where it lies within."""
    sign = next((s for s in item.signs if s in _ADVICE), "")
    if not sign:
        return None
    if sign == "guide worn":
        side = "exhaust" if "exhaust" in f"{item.place} {item.seen}".casefold() else "intake"
        name, more = f"{side} guide clearance most", True
    else:
        name, more = _LIMITS[sign]
    value = _number(item.reading, rules[name].kind)
    if value is None:
        return None
    weld = "seat recession to weld"
    if sign == "seat recessed" and value.si > rules[weld].value.si:
        return weld, "weld before a new insert goes in"
    beyond = value.si > rules[name].value.si if more else value.si < rules[name].value.si
    return (name, _ADVICE[sign]) if beyond else None


def _number(text: str, kind: Kind) -> AsTyped | None:
    try:
        return units.read(text, kind)
    except (NumberError, UnitError):
        return None


def observe(
    shop: ShopFile,
    job: str,
    place: str,
    sign: str,
    *,
    seen: str = "",
    reading: str = "",
    method: str = "",
    suspicion: str = "",
) -> None:
    """Record one thing seen; what is suspected stands beside it, never instead of it.

    Parameters
    ----------
    place : str
        "cyl 5 exhaust seat".
    sign : str
        One of :func:`signs`, or "other" with words in ``seen``.
    reading : str
        With its unit, "" for none.

    Raises
    ------
    UnknownNameError, InputError
    """
    if sign != OTHER and sign not in signs():
        raise UnknownNameError("sign", sign, (OTHER, *signs()))
    if not place.strip():
        raise InputError("There is no place.", "Say where: cyl 5 exhaust seat, head L deck.")
    if sign == OTHER and not seen.strip():
        raise InputError("Nothing is said about what was seen.", "Describe it in a few words.")
    if reading.strip() and not any(
        _number(reading, k) for k in (Kind.LENGTH, Kind.HARDNESS, Kind.PRESSURE)
    ):
        raise InputError(
            f"'{reading}' is no reading.", "Type number and unit: 0.4 mm, 71 HB, 2 bar."
        )
    cells = {
        "place": place.strip(),
        "sign": sign,
        "seen": seen.strip(),
        "reading": reading.strip(),
        "method": method.strip(),
        "suspicion": suspicion.strip(),
    }
    card_entries.enter(shop, job, EntryKind.OBSERVATION, {k: v for k, v in cells.items() if v})


def ask_customer(shop: ShopFile, job: str, question: str) -> None:
    """Put a question to the customer that all work waits for."""
    card_holds.ask(shop, job, question)
