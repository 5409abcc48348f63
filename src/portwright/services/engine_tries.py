"""Engines that were tried, kept in the shop file so that a stopped search continues."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Mapping
from enum import Enum
from typing import Any

import numpy as np

import portwright
from portwright.archive.archive import Archive
from portwright.core.curve import Array
from portwright.core.engine.change import Change

_SETTING = "engine-tries"
_MOST_QUESTIONS = 8  # oldest are dropped: they can be worked out again
_PLAIN = Change()


def same_engine(*parts: object) -> str:
    """Text that is the same for the same engine, head, speeds and version of the program.

    Parameters
    ----------
    parts : object
        Values, arrays, tuples and dataclasses of them.
    """
    digest = hashlib.sha256(portwright.__version__.encode())
    for part in parts:
        _feed(digest, part)
    return digest.hexdigest()[:32]


def _feed(digest: Any, part: object) -> None:
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        digest.update(type(part).__name__.encode())
        for field in dataclasses.fields(part):
            digest.update(field.name.encode())
            _feed(digest, getattr(part, field.name))
    elif isinstance(part, np.ndarray):
        digest.update(str((part.dtype, part.shape)).encode() + part.tobytes())
    elif isinstance(part, tuple):
        digest.update(b"(")
        for item in part:
            _feed(digest, item)
    elif part is None or isinstance(part, str | int | float | bool | Enum):
        digest.update(repr(part).encode() + b";")
    else:
        raise TypeError(f"{type(part).__name__} cannot tell whether an engine is the same.")


def _name(change: Change) -> tuple[tuple[str, float], ...]:
    """Fields that differ from no change."""
    values = ((f.name, getattr(change, f.name)) for f in dataclasses.fields(change))
    return tuple((n, float(f"{v:.9g}")) for n, v in values if v != getattr(_PLAIN, n))


class Tries:
    """Torque of an engine with changes, as far as it was tried.

    Parameters
    ----------
    archive : Archive
        Shop file they are kept in.
    key : str
        From :func:`same_engine`.
    afresh : bool
        Forget what was kept for this engine.
    """

    def __init__(self, archive: Archive, key: str, *, afresh: bool = False) -> None:
        self._archive, self._key = archive, key
        self._known: dict[tuple[tuple[str, float], ...], Array] = {}
        self._saved = 0
        rows = [] if afresh else self._questions().get(key, [])
        for row in rows:
            values = [np.nan if v is None else v for v in row[1]]
            self._known[tuple((str(n), float(v)) for n, v in row[0])] = np.array(values)
        self._saved = len(self._known)
        self._old = frozenset(self._known)

    def _questions(self) -> Mapping[str, list[Any]]:
        return dict(self._archive.setting(_SETTING) or ())

    def __len__(self) -> int:
        return len(self._known)

    def get(self, change: Change) -> Array | None:
        """Torque at each speed, NaN where it could not be solved; None if not tried. [N m]"""
        return self._known.get(_name(change))

    def was_kept(self, change: Change) -> bool:
        """Whether a change had been tried before this object was made."""
        return _name(change) in self._old

    def add(self, change: Change, torque: Array) -> None:
        """Remember what came of a change; :meth:`save` puts it into the file."""
        self._known[_name(change)] = torque

    def save(self) -> None:
        """Write what is new."""
        if len(self._known) == self._saved:
            return
        rows = [
            [list(map(list, name)), [float(v) if np.isfinite(v) else None for v in torque]]
            for name, torque in self._known.items()
        ]
        others = [(k, v) for k, v in self._questions().items() if k != self._key]
        self._archive.save_setting(
            _SETTING, [[k, v] for k, v in (*others, (self._key, rows))][-_MOST_QUESTIONS:]
        )
        self._saved = len(self._known)
