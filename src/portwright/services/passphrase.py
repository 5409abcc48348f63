"""The shop passphrase, log-in sessions of other devices, and links for guests."""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from collections import deque
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from portwright.archive.who import about
from portwright.errors import InputError, NotFoundError
from portwright.services.shop_file import ShopFile
from portwright.services.shop_log import Event, note

SHORTEST = 10  # characters; a phrase, not a word
SESSION_HOURS = 12.0
_HASH, _SESSIONS, _GUESTS = "passphrase", "sessions", "guest links"
_SESSION_USERS, _DEVICES = "session users", "session devices"
_hasher = PasswordHasher()  # argon2id with the library's own cost
_turn = threading.Lock()  # settings are read, changed and written in one piece


def is_set(shop: ShopFile) -> bool:
    """Whether the shop has a passphrase."""
    return bool(shop.setting(_HASH))


def set_passphrase(shop: ShopFile, phrase: str) -> None:
    """Store a new passphrase as an argon2 hash and end every session.

    Raises
    ------
    InputError
        Too short.
    """
    shop.save_setting(_HASH, hashed(phrase))
    shop.save_setting(_SESSIONS, {})


def matches(shop: ShopFile, phrase: str) -> bool:
    """Whether ``phrase`` is the shop's passphrase; takes some 50 ms on purpose."""
    return fits(shop.setting(_HASH), phrase)


def fits(stored: object, phrase: str) -> bool:
    """Whether a passphrase is the one of a stored hash."""
    if not isinstance(stored, str):
        return False
    try:
        return _hasher.verify(stored, phrase.strip())
    except (VerificationError, InvalidHashError):
        return False


def hashed(phrase: str) -> str:
    """Argon2 hash of a passphrase.

    Raises
    ------
    InputError
        Too short.
    """
    if len(phrase.strip()) < SHORTEST:
        raise InputError(
            f"The passphrase has fewer than {SHORTEST} characters.", "Use three or four words."
        )
    return _hasher.hash(phrase.strip())


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _stored(shop: ShopFile, name: str) -> dict[str, Any]:
    found = shop.setting(name)
    return dict(found) if isinstance(found, dict) else {}


def open_session(shop: ShopFile, now: float | None = None, user: str = "", device: str = "") -> str:
    """Token of a new session; the shop file keeps its hash, its end, whose it is and where."""
    now = time.time() if now is None else now
    token = secrets.token_urlsafe(32)
    with _turn:
        living = {key: end for key, end in _stored(shop, _SESSIONS).items() if end > now}
        living[_digest(token)] = now + SESSION_HOURS * 3600.0
        shop.save_setting(_SESSIONS, living)
        owners = {k: v for k, v in _stored(shop, _SESSION_USERS).items() if k in living}
        if user:
            owners[_digest(token)] = user
        if owners or shop.setting(_SESSION_USERS):
            shop.save_setting(_SESSION_USERS, owners)
        if device:
            places = {k: v for k, v in _stored(shop, _DEVICES).items() if k in living}
            shop.save_setting(_DEVICES, places | {_digest(token): device})
    return token


@dataclass(frozen=True, slots=True)
class Session:
    """A device that is logged in.

    Parameters
    ----------
    key : str
        Names the session when it is ended; nobody can log in with it.
    user : str
        "" where it was opened with the shop passphrase.
    device : str
        Address of the device.
    since, ends : datetime
    """

    key: str
    user: str
    device: str
    since: datetime
    ends: datetime


def sessions(shop: ShopFile, now: float | None = None) -> list[Session]:
    """Devices that are logged in, the newest first."""
    now = time.time() if now is None else now
    owners, places = _stored(shop, _SESSION_USERS), _stored(shop, _DEVICES)
    found = []
    for key, end in _stored(shop, _SESSIONS).items():
        if end > now:
            ends = datetime.fromtimestamp(end, UTC)
            since = ends - timedelta(hours=SESSION_HOURS)
            found.append(Session(key, owners.get(key, ""), places.get(key, ""), since, ends))
    return sorted(found, key=lambda session: session.ends, reverse=True)


def end_session(shop: ShopFile, key: str) -> None:
    """End one session by its key."""
    with _turn, about("sessions ended: one"):
        living = _stored(shop, _SESSIONS)
        if living.pop(key, None) is not None:
            shop.save_setting(_SESSIONS, living)
            note(Event.SESSIONS_ENDED, number=1)


def session_user(shop: ShopFile, token: str) -> str:
    """Name of the person a session belongs to, "" for one of the shop passphrase."""
    return str(_stored(shop, _SESSION_USERS).get(_digest(token), ""))


def end_sessions(shop: ShopFile, user: str | None = None) -> int:
    """End the sessions of one person, of nobody in particular (""), or all; gives their number."""
    with _turn:
        living, owners = _stored(shop, _SESSIONS), _stored(shop, _SESSION_USERS)
        ended = [key for key in living if user is None or owners.get(key, "") == user]
        if ended:
            staying = {key: end for key, end in living.items() if key not in ended}
            shop.save_setting(_SESSION_USERS, {k: v for k, v in owners.items() if k in staying})
            whose = "all" if user is None else f"those of {user or 'the shop passphrase'}"
            with about(f"sessions ended: {whose}"):
                shop.save_setting(_SESSIONS, staying)
            note(Event.SESSIONS_ENDED, number=len(ended))
    return len(ended)


def session_valid(shop: ShopFile, token: str, now: float | None = None) -> bool:
    """Whether a session token is known and has not ended."""
    now = time.time() if now is None else now
    return bool(token) and _stored(shop, _SESSIONS).get(_digest(token), 0.0) > now


def close_session(shop: ShopFile, token: str) -> None:
    """End a session."""
    with _turn:
        living = _stored(shop, _SESSIONS)
        if living.pop(_digest(token), None) is not None:
            shop.save_setting(_SESSIONS, living)


@dataclass(slots=True)
class Attempts:
    """Counts failed log-ins: a few per device, some more for all devices together.

    Parameters
    ----------
    per_device, in_all : int
        Failures allowed within the window.
    window : float
        [s]
    """

    per_device: int = 5
    in_all: int = 30
    window: float = 300.0
    _failed: deque[tuple[float, str]] = field(default_factory=deque)

    def wait(self, device: str, now: float | None = None) -> float:
        """Time until this device may try again, 0 when it may now. [s]"""
        now = time.monotonic() if now is None else now
        while self._failed and self._failed[0][0] <= now - self.window:
            self._failed.popleft()
        own = [when for when, who in self._failed if who == device]
        if len(own) >= self.per_device:
            return own[-self.per_device] + self.window - now
        if len(self._failed) >= self.in_all:
            return self._failed[-self.in_all][0] + self.window - now
        return 0.0

    def failed(self, device: str, now: float | None = None) -> None:
        """Note a failed log-in."""
        self._failed.append((time.monotonic() if now is None else now, device))


@dataclass(frozen=True, slots=True)
class GuestLink:
    """A read-only link to one job.

    Parameters
    ----------
    key : str
        Names the link when it is withdrawn; the link itself cannot be made from it.
    job, made, ends : str
        Job number and ISO dates.
    """

    key: str
    job: str
    made: str
    ends: str


def make_guest_link(shop: ShopFile, job: str, days: int = 30) -> str:
    """Token of a new guest link to one job, shown once and kept only as a hash.

    Raises
    ------
    UnknownNameError
        No such job.
    """
    shop.job(job)
    token = secrets.token_urlsafe(24)
    now = datetime.now(UTC)
    with _turn:
        links = _stored(shop, _GUESTS)
        links[_digest(token)] = {
            "job": job,
            "made": now.date().isoformat(),
            "ends": (now + timedelta(days=days)).isoformat(timespec="seconds"),
        }
        shop.save_setting(_GUESTS, links)
    return token


def guest_links(shop: ShopFile, job: str) -> list[GuestLink]:
    """Links to a job that still work."""
    now = datetime.now(UTC).isoformat()
    return [
        GuestLink(key, entry["job"], entry["made"], entry["ends"][:10])
        for key, entry in _stored(shop, _GUESTS).items()
        if entry["job"] == job and entry["ends"] > now
    ]


def withdraw_guest_link(shop: ShopFile, key: str) -> None:
    """Stop a guest link."""
    with _turn:
        links = _stored(shop, _GUESTS)
        if links.pop(key, None) is not None:
            shop.save_setting(_GUESTS, links)


def guest_job(shop: ShopFile, token: str) -> str:
    """Job number a guest link shows.

    Raises
    ------
    NotFoundError
        Unknown, withdrawn or ended.
    """
    entry = _stored(shop, _GUESTS).get(_digest(token))
    if entry is None or entry["ends"] <= datetime.now(UTC).isoformat():
        raise NotFoundError("This link does not work any more.", "Ask the shop for a new one.")
    return str(entry["job"])
