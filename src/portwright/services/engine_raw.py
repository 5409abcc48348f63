"""Digest of the raw rows that an engine run came from."""

from __future__ import annotations

import hashlib

from portwright.archive.results import readings_digest
from portwright.model.contents import JobContents
from portwright.model.engine import EngineDescription


def raw_digest(
    description: EngineDescription, contents: JobContents, ports: tuple[str, str]
) -> str:
    """SHA-256 of every raw row a run of these ports came from, values as typed."""
    digest = hashlib.sha256()

    def add(*parts: object) -> None:
        digest.update("\x1f".join(str(p) for p in parts).encode("utf-8", "surrogatepass") + b"\n")

    for name, value in description.values().items():
        add(name, value.value)
    for name, choice in description.choices().items():
        add(name, choice.value)
    add(description.runner_profile.text if description.runner_profile else "")
    for cam in contents.cams:
        add(cam.card, *(f"{p.angle} {p.intake_lift} {p.exhaust_lift}" for p in cam.points))
    for item in contents.measurements:
        if item.subject in ports:
            add(item.subject, item.quantity, item.place, item.stage, item.value)
    for run in contents.runs:
        if run.port in ports:
            add(run.code, run.port, run.stage, run.calibration, run.left_out)
            add(readings_digest(run.readings))
    return digest.hexdigest()
