"""People of the shop with a passphrase and a role each, for devices of the network."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from portwright.archive.who import Change, Role, Who, about, acting, now_at_work
from portwright.errors import ConflictError, InputError, NotAllowedError, UnknownNameError
from portwright.services import passphrase
from portwright.services.shop_file import ShopFile

__all__ = ["Change", "Role", "User", "Who", "acting"]

_SETTING = "users"
_NEVER = "x"  # no hash: checked all the same, so that a wrong name takes as long as a wrong phrase


@dataclass(frozen=True, slots=True)
class User:
    """A person who may come in.

    Parameters
    ----------
    name : str
    role : Role
    since : str
        ISO date.
    """

    name: str
    role: Role
    since: str


def _stored(shop: ShopFile) -> dict[str, dict[str, Any]]:
    found = shop.setting(_SETTING)
    return dict(found) if isinstance(found, dict) else {}


def users(shop: ShopFile) -> list[User]:
    """Everybody, by name."""
    return [
        User(name, Role(entry["role"]), entry["since"])
        for name, entry in sorted(_stored(shop).items())
    ]


def _known(shop: ShopFile, name: str) -> dict[str, dict[str, Any]]:
    known = _stored(shop)
    if name not in known:
        raise UnknownNameError("person", name, known)
    return known


def add(shop: ShopFile, name: str, role: Role, phrase: str) -> None:
    """Let a person in with a passphrase of their own.

    Raises
    ------
    ConflictError
        The name is taken.
    InputError
        No name, a very long one, or the passphrase is too short.
    """
    name = name.strip()
    if not 0 < len(name) <= 60:
        raise InputError("A person has a name of up to 60 letters.", "Give one.")
    known = _stored(shop)
    if name in known:
        raise ConflictError(f"There is already a person {name}.", "Choose another name.")
    since = datetime.now(UTC).date().isoformat()
    hash_ = passphrase.hashed(phrase)
    with about(f"{name} let in as {role.value}"):
        shop.save_setting(_SETTING, known | {name: {"role": role, "hash": hash_, "since": since}})


def set_role(shop: ShopFile, name: str, role: Role) -> None:
    """Give a person another role, which counts at once.

    Raises
    ------
    UnknownNameError
    """
    known = _known(shop, name)
    with about(f"{name}: {known[name]['role']}, now {role.value}"):
        shop.save_setting(_SETTING, known | {name: known[name] | {"role": role}})


def set_phrase(shop: ShopFile, name: str, phrase: str) -> None:
    """Give a person a new passphrase and end their sessions.

    Raises
    ------
    UnknownNameError
    InputError
        Too short.
    """
    known = _known(shop, name)
    entry = known[name] | {"hash": passphrase.hashed(phrase)}
    with about(f"new passphrase of {name}"):
        shop.save_setting(_SETTING, known | {name: entry})
    passphrase.end_sessions(shop, name)


def remove(shop: ShopFile, name: str) -> None:
    """Let a person in no more; what they entered keeps their name.

    Raises
    ------
    UnknownNameError
    """
    known = _known(shop, name)
    del known[name]
    with about(f"{name} let in no more"):
        shop.save_setting(_SETTING, known)
    passphrase.end_sessions(shop, name)


def enters(shop: ShopFile, name: str, phrase: str) -> bool:
    """Whether a person with this passphrase may come in; without a name, the shop's own counts."""
    if not name.strip():
        return passphrase.matches(shop, phrase)
    entry = _stored(shop).get(name.strip(), {})
    return passphrase.fits(entry.get("hash", shop.setting("passphrase") or _NEVER), phrase) and (
        bool(entry)
    )


def change_words(change: Change) -> str:
    """What one line of the log of changes stored, in words."""
    return "; ".join(_entry_words(name, entry) for name, entry in change.changes.items())


def _entry_words(table: str, entry: dict[str, Any]) -> str:
    if table == "setting":
        about_ = entry.get("about")
        return str(about_) if about_ else "settings: " + ", ".join(entry.get("names", ()))
    parts = [f"{entry[kind]} {kind}" for kind in ("added", "changed", "removed") if kind in entry]
    if len(entry.get("ids", ())) == 1:
        parts.append(f"row {entry['ids'][0]}")
    if "columns" in entry:
        parts.append(", ".join(column.replace("_", " ") for column in entry["columns"]))
    return f"{table.replace('_', ' ')}: {', '.join(parts)}"


def only_for(*roles: Role) -> None:
    """Go on only where somebody with one of these roles is at work.

    Raises
    ------
    NotAllowedError
    """
    person = now_at_work()
    if person.role not in roles:
        name = person.name or "This device"
        meant = " and the ".join(role.value for role in roles)
        raise NotAllowedError(
            f"{name} is here as {person.role.value}; this is for the {meant}.",
            f"Log in as the {roles[0].value}, or look at the computer itself.",
        )


def at_session(shop: ShopFile, token: str, device: str = "") -> Who | None:
    """Who a session belongs to, None where it is not known or has ended."""
    if not passphrase.session_valid(shop, token):
        return None
    name = passphrase.session_user(shop, token)
    if not name:
        return Who(device=device)
    entry = _stored(shop).get(name)
    return Who(name, Role(entry["role"]), device) if entry else None
