"""Frozen dataclasses to plain JSON values and back, guided by their type hints alone."""

from __future__ import annotations

import math
from dataclasses import fields, is_dataclass
from enum import Enum
from functools import cache
from types import NoneType, UnionType
from typing import Any, TypeVar, Union, cast, get_args, get_origin, get_type_hints

Thing = TypeVar("Thing")


def to_plain(value: object) -> Any:
    """Dictionaries, lists, text, numbers and None that hold the same as ``value``."""
    if is_dataclass(value) and not isinstance(value, type):
        return {item.name: to_plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, tuple):
        return [to_plain(item) for item in value]
    if isinstance(value, dict):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, float) and not math.isfinite(value):
        return repr(value)  # JSON has no numbers for these
    return value


def from_plain(kind: type[Thing], plain: object) -> Thing:
    """Value of a class from what :func:`to_plain` made of it.

    Raises
    ------
    ValueError
        The plain value does not fit the class; the text names the place.
    """
    return cast("Thing", _from_plain(kind, plain, kind.__name__))


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _from_plain(hint: Any, plain: object, place: str) -> object:
    origin = get_origin(hint)
    if origin in {Union, UnionType}:
        if plain is None:
            return None
        (inner,) = (arg for arg in get_args(hint) if arg is not NoneType)
        return _from_plain(inner, plain, place)
    if origin is tuple:
        inner = get_args(hint)[0]
        return tuple(
            _from_plain(inner, item, f"{place}[{i}]")
            for i, item in enumerate(_must(list, plain, place))
        )
    if origin is dict:
        pairs = _must(dict, plain, place).items()
        return {str(key): _must(str, item, f"{place}.{key}") for key, item in pairs}
    if is_dataclass(hint):
        return _dataclass(cast("type", hint), _must(dict, plain, place), place)
    return _scalar(hint, plain, place)


def _dataclass(kind: type, plain: dict[str, object], place: str) -> object:
    hints = _hints(kind)
    unknown = plain.keys() - hints.keys()
    if unknown:
        raise ValueError(f"{place} has unknown fields: {', '.join(sorted(unknown))}")
    given = {
        name: _from_plain(hints[name], plain[name], f"{place}.{name}")
        for name in hints
        if name in plain
    }
    try:
        return kind(**given)
    except TypeError as error:
        raise ValueError(f"{place} is incomplete: {error}") from error


def _scalar(hint: Any, plain: object, place: str) -> object:
    if issubclass(hint, Enum):
        return hint(_must(str, plain, place))
    if hint is float:
        return float(_must((int, float, str), plain, place))
    if hint is int and isinstance(plain, bool):
        raise ValueError(f"{place} is not a whole number")
    return _must(hint, plain, place)


def _must(kind: Any, plain: object, place: str) -> Any:
    if not isinstance(plain, kind):
        raise ValueError(f"{place} holds {type(plain).__name__}, which does not fit")  # noqa: TRY004  one kind of failure for the caller
    return plain
