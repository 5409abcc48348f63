"""A bundle for whoever helps: what is there and what went wrong, without a name in it.

Only values the program made itself go in: numbers, versions, codes, names of tables.  Sentences,
paths and whatever a person typed stay out.
"""

from __future__ import annotations

import json
import platform
import zipfile
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from portwright.archive.copies import settle
from portwright.errors import ReportError
from portwright.services import shop_log
from portwright.services.health import Health

_README = """What this is

health.json    what Portwright found when it looked the shop over: states, sizes, versions
packages.json  the packages it runs with
log/           what it did and what went wrong, without names

No name, address, passphrase, note, reading or path is in here. Look for yourself: it is all text.
"""


@dataclass(frozen=True, slots=True)
class Bundle:
    """A finished bundle.

    Parameters
    ----------
    path : Path
    size : int
        [bytes]
    files : tuple of str
        Names of what is in it.
    """

    path: Path
    size: int
    files: tuple[str, ...]


def contents(place: Path, health: Health) -> dict[str, str]:
    """Names and texts of what goes into a bundle."""
    found = {
        "README.txt": _README,
        "health.json": _json(
            {
                "at": health.at,
                "state": health.state.value,
                "machine": {
                    "system": platform.system(),
                    "release": platform.release(),
                    "processor": platform.machine(),
                    "python": platform.python_version(),
                },
                "items": [
                    {"name": item.name, "state": item.state.value, "facts": item.facts}
                    for item in health.items
                ],
            }
        ),
        "packages.json": _json(
            {
                str(one.metadata["Name"]): one.version
                for one in sorted(metadata.distributions(), key=lambda d: str(d.metadata["Name"]))
            }
        ),
    }
    for number, path in enumerate(shop_log.files(place)):
        found[f"log/{number}.jsonl"] = path.read_text(encoding="utf-8", errors="replace")
    return found


def _json(value: object) -> str:
    return json.dumps(value, indent=1, ensure_ascii=False) + "\n"


def write(place: Path, health: Health, target: Path) -> Bundle:
    """Write the bundle.

    Parameters
    ----------
    place : Path
        Shop file or address whose log goes in.
    health : Health
    target : Path
        A new .zip file.

    Raises
    ------
    ReportError
        There is such a file, or it cannot be written.
    """
    if target.exists():
        raise ReportError(f"There is already a file {target.name}.", "Choose another name.")
    found = contents(place, health)
    unfinished = target.with_name(target.name + ".unfinished")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with zipfile.ZipFile(unfinished, "w", zipfile.ZIP_DEFLATED) as bundle:
            for name, text in found.items():
                bundle.writestr(name, text)
        settle(unfinished, target)
    except OSError as error:
        raise ReportError(
            f"{target.name} cannot be written: {error.strerror}.", "Choose another folder."
        ) from error
    finally:
        unfinished.unlink(missing_ok=True)
    shop_log.note(shop_log.Event.BUNDLE)
    return Bundle(target, target.stat().st_size, tuple(found))
