"""What came in and what inspection found: what was seen, apart from what is only suspected."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from portwright.archive.attachments import Attachment
from portwright.errors import ImportFileError
from portwright.model.job import SheetKind, SheetRow
from portwright.report.document import Block, Bullets, Fact, Grid, Lines, Photo, Photos
from portwright.services.inspection import inspection
from portwright.services.inspection_words import seen_line
from portwright.services.photos import FLOW_SHEET, marked, photos_of, shared_jpeg
from portwright.services.report_said import Gathered, Said

MOST_PHOTOS = 6  # on paper; all of them stay in the shop file
_FEW = 6  # places named one by one
_EDGE = 900  # px of a photo on paper
# Words by which a remark says that it is a guess (our own list).
_GUESSED = re.compile(
    r"suspect|possibl|probabl|likely|\bmay\b|\bmight\b|to be checked|\?", re.IGNORECASE
)
_GOOD = {"pass", "ok", "good", "i.o.", ""}
_NUMBER = re.compile(r"[\d.]+")


def came_in(g: Gathered) -> tuple[Fact, ...]:
    """Who, what and when."""
    job, say = g.contents.job, g.said.say
    serials = ", ".join(f"{h.code} {h.serial}" for h in g.contents.heads if h.serial)
    history = job.facts.get("history_claimed", job.facts.get("history", ""))
    facts = (
        Fact(say("fact.customer"), job.customer),
        Fact(say("fact.vehicle"), job.vehicle),
        Fact(say("fact.casting"), job.casting),
        Fact(say("fact.serials"), serials),
        Fact(say("fact.opened"), say.date(job.opened)),
        Fact(say("fact.delivered"), say.date(job.delivered)),
        Fact(say("fact.port"), g.story.port),
        Fact(say("fact.goal"), job.goal),
        Fact(say("fact.history"), history),
    )
    return tuple(f for f in facts if f.value)


def found(g: Gathered) -> tuple[Block | None, ...]:
    """What was seen and measured, what passed, and what is suspected."""
    say = g.said.say
    rows = [r for r in g.contents.rows if r.kind is SheetKind.INSPECTION]
    open_rows = [r for r in rows if r.cells.get("verdict", "").lower() not in _GOOD]
    passed = [r for r in rows if r.cells.get("verdict", "").lower() in _GOOD]
    remarks = [r for r in rows if r.cells.get("note", "")]
    guessed = [r for r in remarks if _GUESSED.search(r.cells["note"])]
    noted = [r for r in remarks if r not in guessed]
    entered = [o for o in inspection(g.contents).observations if o.at]
    seen = tuple(seen_line(o) for o in entered)
    suspected = tuple(f"{o.place}: {o.suspicion}" for o in entered if o.suspicion)
    headings = ("where", "item", "reading", "limit", "verdict")
    return (
        Grid(
            tuple(say(f"found.{h}") for h in headings),
            tuple(_together(open_rows, g.said)),
            wide=(1, 2),
        ),
        Lines((say("found.passed", items=_names(passed, g.said)),), small=True) if passed else None,
        Lines((say("found.noted"),)) if noted or seen else None,
        Bullets((*seen, *_remarks(noted, g.said))),
        Lines((say("found.suspected"),)) if guessed or suspected else None,
        Bullets((*suspected, *_remarks(guessed, g.said))),
    )


def _together(rows: Sequence[SheetRow], said: Said) -> list[tuple[str, ...]]:
    """Rows that say the same of several places become one, so that a page holds them."""
    groups: dict[tuple[str, ...], list[SheetRow]] = {}
    for row in rows:
        reading = row.cells.get("reading", "")
        words = "" if _NUMBER.fullmatch(reading) else reading
        key = (*(row.cells.get(name, "") for name in ("item", "unit", "limit", "verdict")), words)
        groups.setdefault(key, []).append(row)
    lines: list[tuple[str, ...]] = []
    for (item, unit, limit, verdict, _), members in groups.items():
        where = said.place(_where(r.cells.get("cyl", "") for r in members))
        shown = "" if unit == "-" else unit
        lines.append((where, item, f"{_readings(members)} {shown}".strip(), _dash(limit), verdict))
    return lines


def _where(places: Iterable[str]) -> str:
    """Places together, cylinders in a row as "cyl 1–6"."""
    known = list(dict.fromkeys(p for p in places if p))
    if not known or not all(p.isdigit() for p in known):
        several = f"{known[0]} … {known[-1]} ({len(known)})" if len(known) > _FEW else ""
        return several or ", ".join(known)
    numbers = [int(p) for p in known]
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"cyl {numbers[0]}–{numbers[-1]}"
    return f"cyl {', '.join(known)}"


def _dash(text: str) -> str:
    return "" if text == "-" else text


def _readings(rows: Sequence[SheetRow]) -> str:
    """Readings as typed, the smallest and largest of several numbers."""
    said = list(dict.fromkeys(_dash(r.cells.get("reading", "")) for r in rows))
    if len(said) < 3 or not all(_NUMBER.fullmatch(text) for text in said):
        return ", ".join(t for t in said if t)
    return f"{min(said, key=float)} – {max(said, key=float)}"


def _names(rows: Sequence[SheetRow], said: Said) -> str:
    def name(row: SheetRow) -> str:
        cells = row.cells
        unit = _dash(cells.get("unit", ""))
        reading = " ".join(t for t in (_dash(cells.get("reading", "")), unit) if t)
        place = said.place(_where([cells.get("cyl", "")]))
        where = f"{place}: " if place else ""
        return f"{where}{cells.get('item', '')}" + (f" ({reading})" if reading else "")

    return "; ".join(dict.fromkeys(name(r) for r in rows))


def _remarks(rows: Sequence[SheetRow], said: Said) -> tuple[str, ...]:
    """Remarks, the same one of several places said once."""
    found: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        key = (row.cells.get("item", ""), row.cells["note"])
        found.setdefault(key, []).append(row.cells.get("cyl", ""))
    return tuple(
        f"{', '.join(t for t in (said.place(_where(places)), item) if t)}: {note}"
        for (item, note), places in found.items()
    )


def photos(g: Gathered) -> tuple[Block | None, ...]:
    """A few photos: those with a caption first, then one of each stage."""
    number, say = g.contents.job.number, g.said.say
    kept = [p for p in photos_of(g.archive, number) if p.subject != FLOW_SHEET]
    shown = []
    for photo in _choose(kept):
        try:
            jpeg = shared_jpeg(g.archive, number, photo, _EDGE)
        except ImportFileError:  # kept whatever it is, but paper cannot show it
            continue
        caption = marked(g.contents, photo).caption or photo.caption
        shown.append(Photo(jpeg, photo_words(photo, caption)))
    more = len(kept) - len(shown)
    note = Lines((say("photos.more", count=more),), small=True) if shown and more > 0 else None
    return Photos(tuple(shown)), note


def photo_words(photo: Attachment, caption: str) -> str:
    """What a photo shows; its file name may hold anything and is never printed."""
    return " · ".join(t for t in (photo.subject, photo.stage, caption) if t)


def _choose(kept: Sequence[Attachment]) -> list[Attachment]:
    ranked: list[tuple[int, int, Attachment]] = []
    seen: dict[str, int] = {}
    for photo in kept:
        turn = seen.get(photo.stage, 0)
        seen[photo.stage] = turn + 1
        ranked.append((0 if photo.caption else 1, turn, photo))
    ranked.sort(key=lambda r: (r[0], r[1], r[2].id))
    chosen = [photo for _, _, photo in ranked[:MOST_PHOTOS]]
    return sorted(chosen, key=lambda p: p.id)
