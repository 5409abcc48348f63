"""Tokens with which other programs use the shop: each with a name, a scope and an end."""

from __future__ import annotations

import hashlib
import secrets
import threading
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from typing import Any

from portwright.archive.who import Role, Who, about
from portwright.errors import ConflictError, InputError, UnknownNameError
from portwright.services.shop_file import ShopFile

_SETTING = "tokens"
_turn = threading.Lock()


class Scope(StrEnum):
    """What a program may do with a token."""

    READ = "read"  # look
    ENTER = "enter"  # look; enter sweeps, readings and notes
    WRITE = "write"  # all work; never who may come in


_ROLE = {Scope.READ: Role.GUEST, Scope.ENTER: Role.APPRENTICE, Scope.WRITE: Role.PORTER}


@dataclass(frozen=True, slots=True)
class Token:
    """A token as it is listed; the token itself is shown once and kept only as a hash.

    Parameters
    ----------
    name : str
    scope : Scope
    made, ends : str
        ISO dates.
    """

    name: str
    scope: Scope
    made: str
    ends: str


def _stored(shop: ShopFile) -> dict[str, dict[str, Any]]:
    found = shop.setting(_SETTING)
    return dict(found) if isinstance(found, dict) else {}


def make(shop: ShopFile, name: str, scope: Scope, days: int = 365) -> str:
    """Make a token and give it; it cannot be shown again.

    Raises
    ------
    InputError
        No name, or not 1 to 3650 days.
    ConflictError
        The name is taken.
    """
    if not 0 < len(name.strip()) <= 60 or not 1 <= days <= 3650:
        raise InputError("A token has a name and works for 1 to 3650 days.", "Give both.")
    token = secrets.token_urlsafe(32)
    now = datetime.now(UTC)
    with _turn:
        known = _stored(shop)
        if any(entry["name"] == name.strip() for entry in known.values()):
            raise ConflictError(f"There is already a token {name}.", "Revoke it first.")
        known[_digest(token)] = {
            "name": name.strip(),
            "scope": scope,
            "made": now.date().isoformat(),
            "ends": (now + timedelta(days=days)).isoformat(timespec="seconds"),
        }
        with about(f"token {name.strip()} made, may {scope.value}"):
            shop.save_setting(_SETTING, known)
    return token


def tokens(shop: ShopFile) -> list[Token]:
    """Every token, by name."""
    found = [
        Token(e["name"], Scope(e["scope"]), e["made"], e["ends"][:10])
        for e in _stored(shop).values()
    ]
    return sorted(found, key=lambda token: token.name)


def revoke(shop: ShopFile, name: str) -> None:
    """Let a token work no more, at once.

    Raises
    ------
    UnknownNameError
    """
    with _turn:
        known = _stored(shop)
        key = next((k for k, entry in known.items() if entry["name"] == name), None)
        if key is None:
            raise UnknownNameError("token", name, (entry["name"] for entry in known.values()))
        del known[key]
        with about(f"token {name} withdrawn"):
            shop.save_setting(_SETTING, known)


def who(shop: ShopFile, token: str, device: str = "") -> Who | None:
    """Who works with a token, None where it is unknown or has ended."""
    entry = _stored(shop).get(_digest(token))
    if entry is None or entry["ends"] <= datetime.now(UTC).isoformat():
        return None
    return Who(f"token {entry['name']}", _ROLE[Scope(entry["scope"])], device)


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
