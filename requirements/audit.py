"""Audit what Portwright is built from: the lock, and known weaknesses where a database answers.

    python3 start.py audit

The last line says which of the two ran. A machine without a network is no failure; a known
weakness, a package that no list names or a withdrawn release is one.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from requirements import pins
from requirements.pins import LockError, Pin
from requirements.sbom import FILE, kept

PATIENCE = 120.0  # how long the database may take in all [s]
# What makes the environment, and what CONTRIBUTING tells a person to add by hand.
_NOT_LISTED = {"pip", "setuptools", "portwright", "uv"}
_WITHDRAWN = re.compile(r"is a yanked version: '([^']+)'")


@dataclass(frozen=True, slots=True)
class Asked:
    """What the database of known weaknesses said.

    Parameters
    ----------
    answered : int
        Packages it knows.
    unknown : tuple of str
        Packages it gave no answer about.
    weak : tuple of str
        A line for each known weakness.
    """

    answered: int
    unknown: tuple[str, ...]
    weak: tuple[str, ...]


def understand(answer: str) -> Asked | None:
    """Read what pip-audit printed; None where it could not ask at all.

    It calls a database that answers for no package "no known vulnerabilities": that is no answer.
    """
    try:
        listed = json.loads(answer)["dependencies"]
    except (ValueError, KeyError, TypeError):
        return None
    unknown = tuple(one["name"] for one in listed if "skip_reason" in one)
    weak = tuple(
        f"{one['name']} {one['version']}: {found['id']}, "
        f"mended in {', '.join(found['fix_versions']) or 'no release yet'}"
        for one in listed
        for found in one.get("vulns", ())
    )
    answered = len(listed) - len(unknown)
    return Asked(answered, unknown, weak) if answered else None


def ask(group: str = "test") -> Asked | None:
    """Ask the database about every pinned package; None where it cannot be reached."""
    command = [sys.executable, "-m", "pip_audit", "--requirement", str(pins.lock(group))]
    command += ["--require-hashes", "--disable-pip", "--format", "json"]
    command += ["--progress-spinner", "off", "--timeout", "10"]
    try:
        done = subprocess.run(
            command, capture_output=True, encoding="utf-8", timeout=PATIENCE, check=False
        )
    except subprocess.TimeoutExpired:
        return None
    return understand(done.stdout)


def review(run: str, test: str, licences: Mapping[str, str]) -> tuple[list[Pin], list[str]]:
    """Look both lock files over; gives all pins and what is wrong.

    Parameters
    ----------
    run, test : str
        Texts of the lock files.
    licences : mapping of str to str
        Name of a package Portwright needs to its licence.
    """
    try:
        needed, every = pins.read(run), pins.read(test)
    except LockError as error:
        return [], [str(error)]
    wrong = [
        f"{pin.name} {pin.version} is pinned for use and another one, or none, for the tests."
        for pin in needed
        if (pin.name, pin.version, pin.hashes)
        not in {(other.name, other.version, other.hashes) for other in every}
    ]
    wrong += [
        f"{p.name} {p.version} has no known licence." for p in needed if not licences.get(p.name)
    ]
    return every, wrong


def installed() -> dict[str, str]:
    """Packages of this environment with their versions, names as the lists write them."""
    found = metadata.distributions()
    return {_plain(one.metadata["Name"]): one.version for one in found if one.metadata["Name"]}


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def not_listed(every: Iterable[Pin], here: Mapping[str, str]) -> list[str]:
    """What is installed and in no list, or in another version than listed."""
    versions: dict[str, set[str]] = {}
    for pin in every:
        versions.setdefault(_plain(pin.name), set()).add(pin.version)
    return [
        f"{name} {version} is installed and in no list."
        for name, version in sorted(here.items())
        if name not in _NOT_LISTED and version not in versions.get(name, set())
    ]


def withdrawn(log: Path) -> list[str] | None:
    """Releases that were withdrawn, as said while they were installed; None without that log."""
    if not log.exists():
        return None
    said = log.read_text(encoding="utf-8", errors="replace")
    return [f"{name} has been withdrawn by its makers." for name in _WITHDRAWN.findall(said)]


def main() -> int:
    """Audit and say what was looked at."""
    run, test = (pins.lock(group).read_text(encoding="utf-8") for group in ("run", "test"))
    licences = kept(FILE)
    every, wrong = review(run, test, licences)
    print(f"{len(every)} packages, each pinned to one version with the hashes of its files.")
    for said, number in Counter(licences.values()).most_common():
        print(f"  {number:3} {said}")
    wrong += not_listed(every, installed())
    gone = withdrawn(Path(sys.prefix) / "portwright-install.log")
    if gone is None:
        print("Nothing is known of withdrawn releases: start.py did not install these.")
    wrong += gone or []
    asked = ask()
    for line in (*wrong, *(asked.weak if asked else ())):
        print(f"WRONG: {line}")
    if asked is None:
        print("AUDIT: lock review only; the database of known weaknesses gave no answer here.")
    else:
        blind = f"; none about {', '.join(asked.unknown)}" if asked.unknown else ""
        print(f"AUDIT: lock review, and known weaknesses of {asked.answered} packages{blind}.")
    return 1 if wrong or (asked and asked.weak) else 0


if __name__ == "__main__":
    sys.exit(main())
