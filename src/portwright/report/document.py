"""A page for a person, as finished text: nothing below this line knows about units or physics.

A document is a list of headed sections, a section a list of blocks. Paper and screen set the same
document, so both say the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fact:
    """A label with its value."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class Lines:
    """Paragraphs.

    Parameters
    ----------
    lines : tuple of str
    large : bool
        The answer, to be read first.
    small : bool
        Conditions and the like.
    """

    lines: tuple[str, ...]
    large: bool = False
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """Short points."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Facts:
    """Labels with values, side by side."""

    items: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Grid:
    """A table of text.

    Parameters
    ----------
    headings : tuple of str
    rows : tuple of tuple of str
    numeric : tuple of int
        Columns set to the right.
    wide : tuple of int
        Columns that take the space left over, twice as much where named twice; the first is the
        default where none is named.
    total : bool
        The last row is a sum.
    tall : bool
        Rows leave more room to write in by hand.
    to_write : tuple of int
        Columns that are written in by hand.
    """

    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...] = ()
    wide: tuple[int, ...] = ()
    total: bool = False
    tall: bool = False
    to_write: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Drawing:
    """A vector picture with what it shows in words."""

    svg: str
    caption: str


@dataclass(frozen=True, slots=True)
class Drawings:
    """Vector pictures side by side."""

    items: tuple[Drawing, ...]


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph without anything its camera wrote into it."""

    jpeg: bytes
    caption: str


@dataclass(frozen=True, slots=True)
class Photos:
    """Photographs in rows of three."""

    items: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class Boxed:
    """Points that must not be overlooked."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ticks:
    """Lines with a box to tick and room to sign."""

    lines: tuple[str, ...]


Block = Lines | Bullets | Facts | Grid | Drawings | Photos | Boxed | Ticks


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Document:
    """A whole document.

    Parameters
    ----------
    title : str
    shop, shop_line : str
        Name and address line of the shop.
    facts : tuple of Fact
        Who, what and when, under the title.
    sections : tuple of Section
    footer : str
        Small print at the foot of every page.
    language : str
        Of the text, as a browser and a reader of a PDF name it.
    logo : bytes
        PNG or JPEG, empty for none.
    signed : str
        Words of a line to sign at the foot, "" for none.
    """

    title: str
    shop: str
    shop_line: str
    facts: tuple[Fact, ...]
    sections: tuple[Section, ...]
    footer: str = ""
    language: str = "en"
    logo: bytes = b""
    signed: str = ""


def section(title: str, *blocks: Block | None) -> tuple[Section, ...]:
    """A section, or none where nothing would stand under its heading."""
    kept = tuple(b for b in blocks if b is not None and _says_something(b))
    return (Section(title, kept),) if kept else ()


def _says_something(block: Block) -> bool:
    match block:
        case Lines(lines) | Bullets(lines) | Boxed(lines) | Ticks(lines):
            return bool(lines)
        case Grid(_, rows):
            return bool(rows)
        case Facts(items) | Drawings(items) | Photos(items):
            return bool(items)


def texts(document: Document) -> Iterator[str]:
    """Every text of a document, in the order it is read; text inside drawings is left out."""
    yield document.title
    yield from (document.shop, document.shop_line)
    for fact in document.facts:
        yield from (fact.label, fact.value)
    for part in document.sections:
        yield part.title
        for block in part.blocks:
            yield from _texts_of(block)
    yield from (document.footer, document.signed)


def _texts_of(block: Block) -> Iterator[str]:
    match block:
        case Lines(lines) | Bullets(lines) | Boxed(lines) | Ticks(lines):
            yield from lines
        case Facts(items):
            for fact in items:
                yield from (fact.label, fact.value)
        case Grid(headings, rows):
            yield from headings
            for row in rows:
                yield from row
        case Drawings(items) | Photos(items):
            yield from (item.caption for item in items)
