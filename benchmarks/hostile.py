"""Hostile files thrown at everything that reads one: crashes, longest time, most memory.

``python -m benchmarks.hostile`` prints the table and rewrites it in ``docs/benchmarks/hostile.md``;
``--inputs N`` chooses how many for each kind, ``--dry`` only prints.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import sys
import tempfile
import time
import warnings
from dataclasses import dataclass, field
from pathlib import Path

from benchmarks.hostile_inputs import BOMB, KINDS, inputs, sound
from benchmarks.pages import BENCHMARKS, processors, put, system
from portwright.archive.archive import Archive
from portwright.errors import PortwrightError
from portwright.io.defaults import ImportDefaults
from portwright.io.export import read_export
from portwright.io.meshes import read_mesh
from portwright.io.pictures import open_picture
from portwright.io.preview import understand
from portwright.io.tables import read_table
from portwright.services.guarded import Reader, memory_of

SEED = 20260210


@dataclass(slots=True)
class Outcome:
    """What came of all hostile files of one kind.

    Parameters
    ----------
    read, refused, stopped : int
        Files that were read, refused in words, and stopped by a limit of time or memory.
    crashes : list of str
        Anything else, with the name of the file.
    longest : float
        By the clock on the wall. [s]
    busiest : float
        Most time one file kept a processor busy. [s]
    memory : int
        Most memory of the reading process. [bytes]
    """

    read: int = 0
    refused: int = 0
    stopped: int = 0
    crashes: list[str] = field(default_factory=list)
    longest: float = 0.0
    busiest: float = 0.0
    memory: int = 0


def attempt(kind: str, path: Path) -> tuple[str, float, float, int]:
    """Read one file as the app would; what came of it, how long, how busy, memory in use."""
    started, idle = time.perf_counter(), time.process_time()
    said = "read"
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            _read(kind, path)
    except PortwrightError as error:
        said = "refused" if error.message else "crash: refused without a word"
    except MemoryError:
        said = "stopped"
    except Exception as error:
        said = f"crash: {error!r}"
    busy = time.process_time() - idle
    return said, time.perf_counter() - started, busy, _most_memory()


def _most_memory() -> int:
    if sys.platform == "win32":
        return memory_of(os.getpid())
    import resource  # noqa: PLC0415 - not on Windows

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most if sys.platform == "darwin" else most * 1024


def _read(kind: str, path: Path) -> None:
    if kind in {"csv", "xlsx"}:
        understand(read_table(path), ImportDefaults(job="J", bench="B1", port="I1", stage="S0"))
    elif kind == "mesh":
        read_mesh(path, "mm")
    elif kind == "picture":
        open_picture(path.read_bytes())
    elif kind == "json":
        read_export(path)
    else:
        with Archive.open(path) as archive:
            archive.contents()


def throw(kind: str, number: int, folder: Path, reader: Reader, bomb: int = BOMB) -> Outcome:
    """Throw so many hostile files of one kind at the reading process."""
    dice = random.Random(f"{SEED} {kind}")  # noqa: S311 - repeatable, not secret
    outcome = Outcome()
    for name, content in sound(kind).items():  # what the program loads once counts against no file
        (folder / name).write_bytes(content)
        reader.read(attempt, kind, folder / name)
    for index, (name, content) in enumerate(inputs(kind, number, dice, bomb)):
        path = folder / name
        path.write_bytes(content)
        started = time.perf_counter()
        try:
            said, took, busy, memory = reader.read(attempt, kind, path)
        except PortwrightError as error:
            ended = "came to an end" in error.message
            said = "crash: the process ended" if ended else "stopped"
            took, busy, memory = time.perf_counter() - started, 0.0, reader.most
        for beside in folder.iterdir():
            beside.unlink()
        outcome.read += said == "read"
        outcome.refused += said == "refused"
        outcome.stopped += said == "stopped"
        if said.startswith("crash"):
            outcome.crashes.append(f"{index} {name} {said}")
        outcome.longest = max(outcome.longest, took)
        outcome.busiest = max(outcome.busiest, busy)
        outcome.memory = max(outcome.memory, memory)
    return outcome


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--inputs", type=int, default=2000)
    parser.add_argument("--kinds", nargs="*", default=KINDS)
    parser.add_argument("--dry", action="store_true")
    chosen = parser.parse_args()
    lines = [
        (
            "| what reads it | inputs | read | refused in words | stopped by a limit | crashes | "
            "longest, s | of a processor, s | most memory, MB |"
        ),
        "|---|---:|---:|---:|---:|---:|---:|---:|---:|",
    ]
    for kind in chosen.kinds:
        reader = Reader()
        with tempfile.TemporaryDirectory() as folder:
            done = throw(kind, chosen.inputs, Path(folder), reader)
        reader.close()
        for crash in done.crashes[:20]:
            print(f"CRASH {kind}: {crash}", flush=True)
        lines.append(
            f"| {kind} | {chosen.inputs:,} | {done.read:,} | {done.refused:,} | {done.stopped} | "
            f"{len(done.crashes)} | {done.longest:.1f} | {done.busiest:.2f} | "
            f"{done.memory / 1e6:.0f} |"
        )
        print(lines[-1], flush=True)
    lines += [
        "",
        (
            f"On {processors()}, Python {platform.python_version()}, {system()}. The program "
            "itself, before any file, takes some 85 MB of the memory."
        ),
    ]
    if not chosen.dry:
        put(BENCHMARKS / "hostile.md", "hostile", "\n".join(lines))


if __name__ == "__main__":
    main()
