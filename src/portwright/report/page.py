"""A finished document as markup for the browser."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

from portwright.report.document import (
    Block,
    Boxed,
    Bullets,
    Document,
    Drawings,
    Fact,
    Facts,
    Grid,
    Lines,
    Photos,
    Ticks,
)

_STYLE = (
    "body{font:16px/1.45 system-ui,sans-serif;max-width:56rem;margin:2rem auto;padding:0 1rem;"
    "color:#1c2b33}h1{font-size:1.5rem}h2{font-size:1.15rem;color:#0b5c8a}.logo{max-height:4rem}"
    "table{border-collapse:collapse;width:100%;font-size:.9rem}th,td{text-align:left;"
    "padding:.25rem .5rem;border-bottom:1px solid #ddd;vertical-align:top}"
    ".num{text-align:right;white-space:nowrap}"
    ".soft,dt{color:#5b6770}.small{font-size:.85rem}.strong{font-weight:600}"
    ".notice{border:1px solid #a33a00;padding:.5rem 1rem}.columns,.pictures{display:grid;gap:1rem;"
    "grid-template-columns:repeat(auto-fit,minmax(16rem,1fr))}img{max-width:100%}figure{margin:0}"
    "dl{display:flex;flex-wrap:wrap;gap:.4rem 2rem}dd{margin:0}.scroll-x{overflow-x:auto}"
)


def document_html(document: Document) -> str:
    """Body of a page; every text is escaped, pictures are inside."""
    logo = ""
    if document.logo:
        logo = f'<img class="logo" alt="" src="{_inside(document.logo)}">'
    head = (
        f'<header class="spread" lang="{escape(document.language)}">'
        f"<h1>{escape(document.title)}</h1><div>{logo}<p><strong>{escape(document.shop)}</strong>"
        f'<br><span class="soft">{escape(document.shop_line)}</span></p></div></header>'
    )
    parts = [head, _facts(document.facts) if document.facts else ""]
    for part in document.sections:
        blocks = "".join(_block(b) for b in part.blocks)
        parts.append(
            f'<section class="sheet" lang="{escape(document.language)}">'
            f"<h2>{escape(part.title)}</h2>{blocks}</section>"
        )
    parts.append(f'<p class="small soft">{escape(document.footer)}</p>')
    return "".join(parts)


def page_file(document: Document) -> str:
    """A whole page with its style, to be kept or sent as one file."""
    return (
        f'<!doctype html><html lang="{escape(document.language)}"><head><meta charset="utf-8">'
        f"<title>{escape(document.title)}</title>"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<style>{_STYLE}</style></head><body>{document_html(document)}</body></html>"
    )


def _block(block: Block) -> str:
    match block:
        case Lines(lines, large, small):
            look = "strong" if large else "small soft" if small else ""
            made = "".join(f'<p class="{look}">{escape(line)}</p>' for line in lines)
        case Bullets(lines):
            made = f'<ul class="points">{_items(lines)}</ul>'
        case Boxed(lines):
            made = f'<div class="notice fault"><ul class="points">{_items(lines)}</ul></div>'
        case Ticks(lines):
            made = f'<ul class="ticks">{_items(lines)}</ul>'
        case Facts(items):
            made = _facts(items)
        case Grid():
            made = _grid(block)
        case Drawings(items):
            shown = "".join(_figure(d.svg.encode(), d.caption) for d in items)
            made = f'<div class="columns drawings">{shown}</div>'
        case Photos(items):
            shown = "".join(_figure(p.jpeg, p.caption) for p in items)
            made = f'<div class="pictures">{shown}</div>'
    return made


def _figure(picture: bytes, caption: str) -> str:
    said = escape(caption)
    return (
        f'<figure><img src="{_inside(picture)}" alt="{said}">'
        f'<figcaption class="small soft">{said}</figcaption></figure>'
    )


def _items(lines: Sequence[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _facts(items: Sequence[Fact]) -> str:
    said = "".join(
        f"<div><dt>{escape(f.label)}</dt><dd>{escape(f.value)}</dd></div>" for f in items
    )
    return f'<dl class="facts wide">{said}</dl>'


def _grid(grid: Grid) -> str:
    def cells(row: Sequence[str], tag: str) -> str:
        more = ' scope="col"' if tag == "th" else ""
        return "".join(
            f"<{tag}{more}{' class=num' if k in grid.numeric else ''}>{escape(cell)}</{tag}>"
            for k, cell in enumerate(row)
        )

    last = len(grid.rows) - 1
    rows = "".join(
        f'<tr class="{"strong" if grid.total and k == last else ""}">{cells(row, "td")}</tr>'
        for k, row in enumerate(grid.rows)
    )
    return (
        '<div class="scroll-x" tabindex="0" role="region" aria-label="Table"><table class="plain">'
        f"<thead><tr>{cells(grid.headings, 'th')}</tr></thead><tbody>{rows}</tbody></table></div>"
    )


def _inside(data: bytes) -> str:
    """A picture as part of the page, so that the page can be kept as one file."""
    kind = "svg+xml"
    if data.startswith(b"\x89PNG"):
        kind = "png"
    elif data.startswith(b"\xff\xd8"):
        kind = "jpeg"
    return f"data:image/{kind};base64,{base64.b64encode(data).decode()}"
