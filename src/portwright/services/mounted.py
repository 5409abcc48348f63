"""Runs with something bolted on against the bare port."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.errors import PortwrightError
from portwright.services.compare import RunComparison, compare_names
from portwright.services.shop_file import ShopFile


@dataclass(frozen=True, slots=True)
class MountedRun:
    """A configuration compared with the bare port.

    Parameters
    ----------
    configuration : str
    bare, mounted : str
        Runs.
    comparison : RunComparison or None
    refused : str
        Why there is none.
    """

    configuration: str
    bare: str
    mounted: str
    comparison: RunComparison | None
    refused: str = ""


def mounted_runs(shop: ShopFile, job: str, port: str) -> tuple[MountedRun, ...]:
    """Compare every configuration of a port with the bare port of the same stage and bench."""
    runs = [r for r in shop.job(job).runs if r.port == port]
    bare: dict[tuple[str, ...], str] = {}
    for run in runs:
        words = run.conditions.configuration
        if not words or words.startswith("bare port"):
            bare[(run.stage, run.bench)] = run.code
            bare[(run.stage, run.bench, run.date)] = run.code
    found = []
    for run in runs:
        words = run.conditions.configuration
        key: tuple[str, ...] = (run.stage, run.bench, run.date)
        key = key if key in bare else key[:2]
        if not words or words.startswith("bare port") or key not in bare:
            continue
        try:
            made = compare_names(shop, bare[key], run.code, job=job, single=True)
            found.append(MountedRun(words, bare[key], run.code, made))
        except PortwrightError as error:
            found.append(MountedRun(words, bare[key], run.code, None, str(error)))
    return tuple(found)
