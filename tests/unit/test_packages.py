"""What Portwright is built from: the list of packages, and its audit."""

from __future__ import annotations

import json
import os
import zipfile
from importlib import resources
from pathlib import Path

import jsonschema_rs
import pytest

from requirements import audit, pins, sbom

A, B = "a" * 64, "b" * 64
LOCK = (
    "# made by a command\n"
    f"one==1.0 \\\n    --hash=sha256:{A} \\\n    --hash=sha256:{B}\n    # via portwright (x.toml)\n"
    f"two[extra]==2.0 ; sys_platform == 'win32' \\\n    --hash=sha256:{B}\n"
    "    # via\n    #   one\n    #   portwright (x.toml)\n"
)


def listed() -> dict[str, object]:
    found: dict[str, object] = json.loads(sbom.FILE.read_text(encoding="utf-8"))
    return found


def test_a_lock_is_read_pin_by_pin() -> None:
    one, two = pins.read(LOCK)
    assert (one.name, one.version, one.marker, one.hashes) == ("one", "1.0", "", (A, B))
    assert (two.name, two.marker) == ("two", "sys_platform == 'win32'")
    assert two.wanted_by == ("one", "portwright")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("loose>=1 \\\n    --hash=sha256:" + A, "not a package pinned to one version"),
        ("elsewhere @ https://example.org/x.whl", "not a package pinned"),
        ("bare==1.0", "has no hash"),
        ("weak==1.0 \\\n    --hash=md5:00", "has no hash"),
    ],
)
def test_what_is_not_pinned_with_a_hash_is_refused(line: str, said: str) -> None:
    with pytest.raises(pins.LockError, match=said):
        pins.read(LOCK + line + "\n")
    assert audit.review(LOCK + line + "\n", LOCK, {})[1] != []


def test_the_list_of_packages_is_the_one_of_the_lock() -> None:
    """After a change of the lock: python3 start.py sbom."""
    found = pins.read(pins.lock("run").read_text(encoding="utf-8"))
    assert listed() == sbom.document(found, sbom.kept(), sbom.own_version())


def test_the_list_keeps_to_its_standard() -> None:
    folder = resources.files("cyclonedx.schema") / "_res"
    schemas = {
        name: json.loads((folder / f"{name}.SNAPSHOT.schema.json").read_text(encoding="utf-8"))
        for name in ("bom-1.6", "spdx", "jsf-0.82")
    }
    registry = jsonschema_rs.Registry(
        [
            (f"http://cyclonedx.org/schema/{name}.SNAPSHOT.schema.json", text)
            for name, text in schemas.items()
        ]
    )
    check = jsonschema_rs.validator_for(schemas["bom-1.6"], registry=registry)
    check.validate(listed())
    with pytest.raises(jsonschema_rs.ValidationError):
        check.validate(listed() | {"bomFormat": "something else"})


def test_every_package_in_use_has_a_licence() -> None:
    run, test = (pins.lock(group).read_text(encoding="utf-8") for group in ("run", "test"))
    every, wrong = audit.review(run, test, sbom.kept())
    assert len(every) > 100
    assert wrong == []


def test_two_versions_of_one_pin_and_a_lost_licence_are_noticed() -> None:
    other = LOCK.replace("one==1.0", "one==1.1")
    _every, wrong = audit.review(LOCK, other, {"one": "MIT"})
    assert wrong == [
        "one 1.0 is pinned for use and another one, or none, for the tests.",
        "two 2.0 has no known licence.",
    ]


def test_what_is_installed_beside_the_list_is_noticed() -> None:
    here = {"one": "1.0", "two": "2.1", "three": "3", "pip": "9"}
    assert audit.not_listed(pins.read(LOCK), here) == [
        "three 3 is installed and in no list.",
        "two 2.1 is installed and in no list.",
    ]


def test_a_withdrawn_release_is_noticed(tmp_path: Path) -> None:
    log = tmp_path / "log"
    assert audit.withdrawn(log) is None
    log.write_text(
        "WARNING: The candidate selected for download or install is a yanked version: 'two' "
        "candidate (version 2.0)\n",
        encoding="utf-8",
    )
    assert audit.withdrawn(log) == ["two has been withdrawn by its makers."]


def test_no_answer_of_the_database_is_no_clean_bill() -> None:
    skipped = {"name": "one", "skip_reason": "not found"}
    assert audit.understand("") is None
    assert audit.understand(json.dumps({"dependencies": [skipped]})) is None
    sound = {"name": "two", "version": "2.0", "vulns": []}
    weak = sound | {"vulns": [{"id": "X-1", "fix_versions": ["2.1"]}]}
    asked = audit.understand(json.dumps({"dependencies": [skipped, sound, weak]}))
    assert asked is not None
    assert (asked.answered, asked.unknown) == (2, ("one",))
    assert asked.weak == ("two 2.0: X-1, mended in 2.1",)


def test_the_list_travels_in_the_wheel(tmp_path: Path) -> None:
    from hatchling.builders.wheel import WheelBuilder

    built = next(WheelBuilder(str(pins.HERE.parent)).build(directory=str(tmp_path)))
    with zipfile.ZipFile(os.fspath(built)) as wheel:
        (name,) = [one for one in wheel.namelist() if "/sboms/" in one]
        assert wheel.read(name) == sbom.FILE.read_bytes()
