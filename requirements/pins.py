"""The lock files as values: what is pinned, for which machines, with which file hashes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

HERE = Path(__file__).resolve().parent
_PIN = re.compile(
    r"(?P<name>[A-Za-z0-9][\w.\-]*)(\[[\w,\-]+\])?==(?P<version>[^\s;]+)( *; *(?P<marker>.+))?"
)
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")


class LockError(ValueError):
    """A line of a lock file is not a pin with hashes."""


@dataclass(frozen=True, slots=True)
class Pin:
    """One package at one version.

    Parameters
    ----------
    name, version : str
    marker : str
        Machines it is for, "" for all.
    hashes : tuple of str
        SHA-256 of each of its files, in hexadecimal digits.
    wanted_by : tuple of str
        Packages that need it, by name.
    """

    name: str
    version: str
    marker: str
    hashes: tuple[str, ...]
    wanted_by: tuple[str, ...]


def lock(group: str) -> Path:
    """Lock file of a group, ``run`` or ``test``."""
    return HERE / f"{group}.txt"


def read(text: str) -> list[Pin]:
    """Every pin of a lock file, in its order.

    Raises
    ------
    LockError
        Something is not pinned to one version, or has no hash.
    """
    found = []
    for block in re.split(r"\n(?=[^\s#])", text):
        lines = [line for line in block.splitlines() if not line.startswith("#")]
        if not lines:
            continue
        head = lines[0].rstrip(" \\").strip()
        match = _PIN.fullmatch(head)
        if match is None:
            raise LockError(f"'{head}' is not a package pinned to one version.")
        hashes = tuple(_HASH.findall(block))
        if not hashes:
            raise LockError(f"'{head}' has no hash.")
        found.append(
            Pin(match["name"], match["version"], match["marker"] or "", hashes, _wanted_by(lines))
        )
    return found


def _wanted_by(lines: list[str]) -> tuple[str, ...]:
    """Names in the comment that says what a package is there for."""
    said = " ".join(line.strip()[1:] for line in lines if line.strip().startswith("#"))
    said = said.strip().removeprefix("via").strip()
    return tuple(sorted({re.sub(r"\[.*\]", "", word) for word in said.split() if word[0] != "("}))
