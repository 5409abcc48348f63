"""Names of people and serial numbers: in nothing that leaves the shop unless they were released."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass, replace
from typing import Any

from portwright.model.contents import JobContents
from portwright.model.job import Shop
from portwright.report.document import Document, Fact

HIDDEN = "···"
_LEAST = 3  # letters of a part of a name that is looked for by itself
_REMARK = re.compile(r"\([^)]*\)")
_SERIAL = re.compile(r"[\w./-]*\d[\w./-]*")


def private_texts(contents: JobContents, shop: Shop | None = None) -> tuple[str, ...]:
    """Customer's name and its parts, and every serial number, longest first.

    Parts of a name that the shop, the car or the casting carry too are left out: hiding them
    would blank what is public.
    """
    job = contents.job
    name = " ".join(_REMARK.sub(" ", job.customer).split())
    public = f"{shop.name if shop else ''} {job.vehicle} {job.casting}".casefold()
    parts = [
        p
        for p in re.split(r"[^\w']+", name)
        if len(p) >= _LEAST and not p.isdigit() and p.casefold() not in public
    ]
    serials = [h.serial for h in contents.heads if h.serial]
    for label, value in job.facts.items():
        if "serial" in label.lower():
            serials += _SERIAL.findall(value)
    found = {t for t in (name, *parts, *serials) if t.strip()}
    return tuple(sorted(found, key=lambda t: (-len(t), t)))


def hide(text: str, private: Iterable[str]) -> str:
    """A text with everything private blanked out."""
    for secret in private:
        pattern = rf"(?<!\w){re.escape(secret)}(?!\w)"
        text = re.sub(pattern, HIDDEN, text, flags=re.IGNORECASE)
    return text


def without_names(document: Document, contents: JobContents, shop: Shop | None = None) -> Document:
    """The same document without customer's name and serial numbers, wherever they were typed."""
    private = private_texts(contents, shop)
    hidden: Document = _hidden(document, private)
    return replace(hidden, facts=tuple(f for f in hidden.facts if not _only_hidden(f)))


def _only_hidden(fact: Fact) -> bool:
    """Whether nothing but blanks, and perhaps a head's code, is left of a value."""
    left = _REMARK.sub("", fact.value.replace(HIDDEN, ""))
    return HIDDEN in fact.value and not re.sub(r"\b\w{1,5}\b|\W", "", left)


def _hidden(thing: Any, private: tuple[str, ...]) -> Any:
    if isinstance(thing, str):
        return hide(thing, private)
    if isinstance(thing, tuple):
        return tuple(_hidden(item, private) for item in thing)
    if is_dataclass(thing) and not isinstance(thing, type):
        parts = {f.name: _hidden(getattr(thing, f.name), private) for f in fields(thing)}
        return replace(thing, **parts)
    return thing
