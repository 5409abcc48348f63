"""Write the list of everything Portwright is built from (CycloneDX), from the lock file.

    python3 start.py sbom

It goes into each wheel, under ``.dist-info/sboms``. The same lock file gives the same list on
every machine.
"""

from __future__ import annotations

import json
import sys
import uuid
from collections.abc import Iterable, Mapping
from importlib import metadata
from pathlib import Path
from typing import Any

from cyclonedx.contrib.license.factories import LicenseFactory
from cyclonedx.model import HashAlgorithm, HashType, Property
from cyclonedx.model.bom import Bom
from cyclonedx.model.component import Component, ComponentType
from cyclonedx.output.json import JsonV1Dot6
from packageurl import PackageURL

from requirements import pins
from requirements.pins import Pin

FILE = pins.HERE / "portwright.cdx.json"
_NAMESPACE = uuid.UUID("8d0c8a52-3f0b-4f0e-9c57-2b1d6b7f5a10")
# Installed on Windows only: no other machine can look this up.
_ELSEWHERE = {"colorama": "BSD-3-Clause"}
# What a package says in words, and the sign the standard list has for it.
_SIGNS = {
    "Apache Software License": "Apache-2.0",
    "BSD License": "BSD-3-Clause",
    "ISC License (ISCL)": "ISC",
    "MIT License": "MIT",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0",
    "Python Software Foundation License": "PSF-2.0",
    "BSD": "BSD-3-Clause",
    "ISC License": "ISC",
    "Revised BSD License": "BSD-3-Clause",
    "Public Domain": "LicenseRef-public-domain",
    "GNU General Public License (GPL)": "GPL-2.0-or-later",
    "Apache 2.0": "Apache-2.0",
}


def licence(name: str) -> str:
    """Licence as an installed package gives it, "" where it gives none or is not here."""
    try:
        about = metadata.metadata(name).json
    except metadata.PackageNotFoundError:
        return _ELSEWHERE.get(name, "")
    if expression := about.get("license_expression"):
        return str(expression)
    classes = [
        line.rpartition(" :: ")[2]
        for line in about.get("classifier", ())
        if line.startswith("License ::")
    ]
    said = str(about.get("license") or "").strip()
    if said and len(said) < 40 and "\n" not in said:
        return _SIGNS.get(said, said)
    return " OR ".join(_SIGNS.get(one, one) for one in classes)


def document(found: Iterable[Pin], licences: Mapping[str, str], version: str) -> dict[str, Any]:
    """The list as JSON values, the same for the same lock file.

    Parameters
    ----------
    found : iterable of Pin
    licences : mapping of str to str
        Name of a package to its licence.
    version : str
        Of Portwright.
    """
    make_licence = LicenseFactory().make_from_string
    own = Component(
        name="portwright",
        version=version,
        type=ComponentType.APPLICATION,
        bom_ref="portwright",
        purl=PackageURL("pypi", None, "portwright", version),
        licenses=[make_licence("MIT")],
    )
    bom = Bom()
    bom.metadata.component = own
    parts: dict[str, list[Component]] = {"portwright": [own]}
    known = list(found)
    for pin in known:
        part = Component(
            name=pin.name,
            version=pin.version,
            type=ComponentType.LIBRARY,
            bom_ref=f"{pin.name}=={pin.version}",
            purl=PackageURL("pypi", None, pin.name, pin.version),
            hashes=[HashType(alg=HashAlgorithm.SHA_256, content=one) for one in pin.hashes],
            licenses=[make_licence(licences[pin.name])] if licences.get(pin.name) else [],
            properties=[Property(name="marker", value=pin.marker)] if pin.marker else [],
        )
        bom.components.add(part)
        parts.setdefault(pin.name, []).append(part)
    for pin in known:
        for name in pin.wanted_by:
            for user in parts.get(name, [own]):
                bom.register_dependency(user, parts[pin.name])
    bom.serial_number = uuid.uuid5(_NAMESPACE, repr([(p.name, p.version, p.hashes) for p in known]))
    made: dict[str, Any] = json.loads(JsonV1Dot6(bom).output_as_string())
    del made["metadata"]["timestamp"]  # the moment it was written says nothing about the content
    return made


def text(document: Mapping[str, Any]) -> str:
    """The list as it stands in the file, a line for each part."""
    whole = json.dumps({**document, "components": [], "dependencies": []}, indent=1)
    for name in ("components", "dependencies"):
        lines = ",\n  ".join(json.dumps(one, ensure_ascii=False) for one in document[name])
        whole = whole.replace(f'"{name}": []', f'"{name}": [\n  {lines}\n ]')
    return whole + "\n"


def own_version() -> str:
    """Version of Portwright as its source says it."""
    source = (pins.HERE.parent / "src/portwright/__init__.py").read_text(encoding="utf-8")
    return source.partition('__version__ = "')[2].partition('"')[0]


def kept(path: Path = FILE) -> dict[str, str]:
    """Licences the present list has, for packages that are not installed on this machine."""
    if not path.exists():
        return {}
    listed = json.loads(path.read_text(encoding="utf-8"))["components"]
    return {one["name"]: _said(one) for one in listed}


def _said(component: Mapping[str, Any]) -> str:
    """Licence of a listed component in one line."""
    found = [
        entry.get("expression") or entry["license"].get("id") or entry["license"].get("name", "")
        for entry in component.get("licenses", ())
    ]
    return " AND ".join(found)


def main() -> int:
    """Write the list."""
    found = pins.read(pins.lock("run").read_text(encoding="utf-8"))
    before = kept()
    licences = {pin.name: licence(pin.name) or before.get(pin.name, "") for pin in found}
    made = document(found, licences, own_version())
    FILE.write_text(text(made), encoding="utf-8", newline="\n")
    print(f"Wrote {FILE.relative_to(pins.HERE.parent)}: {len(found)} packages")
    return 0


if __name__ == "__main__":
    sys.exit(main())
