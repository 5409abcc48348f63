"""Plane sections of a large mesh: ours beside a plain loop of trimesh's own section call.

``python benchmarks/mesh.py`` prints the table and rewrites it in ``docs/benchmarks/mesh.md``;
``--sections N`` sets how many planes.  Both work on the same arrays in the same process, one after
the other, and both end with an area and a length for every plane, which are compared.
"""

from __future__ import annotations

import argparse
import gc
import os
import platform
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import trimesh

from portwright.core.mesh.checks import repaired
from portwright.core.mesh.mesh import Mesh, welded
from portwright.core.mesh.slicing import Slicer

PAGE = Path(__file__).resolve().parents[1] / "docs" / "benchmarks" / "mesh.md"
BEGIN, END = "<!-- mesh: begin -->", "<!-- mesh: end -->"


def bent_port() -> tuple[np.ndarray, np.ndarray]:
    """A bent pipe of about a million triangles, corners repeated as in an STL file."""
    solid = trimesh.creation.torus(50.0, 17.5, major_sections=1000, minor_sections=500)
    return np.array(solid.vertices), np.array(solid.faces, dtype=np.int64)


def planes(count: int) -> list[tuple[np.ndarray, np.ndarray]]:
    """Planes square to the pipe, each meeting it twice."""
    angles = np.linspace(0.01, np.pi - 0.01, count)
    return [
        (
            np.array([50.0 * np.cos(a), 50.0 * np.sin(a), 0.0]),
            np.array([-np.sin(a), np.cos(a), 0.0]),
        )
        for a in angles
    ]


def resident() -> float:
    """Memory of this process in use. [MB]"""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[1])
    except OSError:
        return float("nan")
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


class Watched:
    """Wall and processor time of a block, and the most memory it took beyond what was in use."""

    def __enter__(self) -> Watched:
        gc.collect()
        self._base = self._peak = resident()
        self._running = True
        self._watch = threading.Thread(target=self._look, daemon=True)
        self._watch.start()
        self.wall, self.processor = time.perf_counter(), time.process_time()
        return self

    def __exit__(self, *_: object) -> None:
        self.wall = time.perf_counter() - self.wall
        self.processor = time.process_time() - self.processor
        self._running = False
        self._watch.join()
        self.memory = max(self._peak, resident()) - self._base

    def _look(self) -> None:
        while self._running:
            self._peak = max(self._peak, resident())
            time.sleep(0.01)


def theirs(mesh: Any, cuts: list[tuple[np.ndarray, np.ndarray]], *, area: bool) -> list[tuple]:
    """The library's own call, plane by plane."""
    out = []
    for point, normal in cuts:
        path = mesh.section(plane_origin=point, plane_normal=normal)
        out.append((float(path.to_2D()[0].area) if area else 0.0, float(path.length)))
    return out


def ours(slicer: Slicer, cuts: list[tuple[np.ndarray, np.ndarray]]) -> list[tuple[float, float]]:
    """Area and perimeter of every plane."""
    found = (slicer.cut(point, normal) for point, normal in cuts)
    return [(cut.area, cut.perimeter) for cut in found]


def main() -> None:
    """Measure and write the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sections", type=int, default=100)
    parser.add_argument("--dry", action="store_true", help="print only")
    options = parser.parse_args()
    vertices, faces = bent_port()
    cuts = planes(options.sections)
    small = trimesh.creation.icosphere(subdivisions=2)
    warm = Mesh(np.array(small.vertices), np.array(small.faces, dtype=np.int64))
    Slicer(repaired(warm)[0]).cut(np.zeros(3), np.array([0.0, 0.0, 1.0])).area  # noqa: B018
    small.section(plane_origin=[0, 0, 0], plane_normal=[0, 0, 1]).to_2D()

    corners = vertices[faces].reshape(-1, 3)  # every triangle with corners of its own, as in STL
    soup = np.arange(len(corners)).reshape(-1, 3)
    with Watched() as weld:
        joined = welded(corners, soup)
    with Watched() as check:
        clean, _ = repaired(joined)
    with Watched() as prepare:
        slicer = Slicer(clean)
    with Watched() as cut:
        mine = ours(slicer, cuts)
    library = trimesh.Trimesh(vertices, faces, process=False)
    with Watched() as loop:
        lengths = theirs(library, cuts, area=False)
    with Watched() as full:
        other = theirs(library, cuts, area=True)
    worst = max(
        abs(a / b - 1.0)
        for one, two in zip(mine, other, strict=True)
        for a, b in zip(one, two, strict=True)
    )
    if worst > 1e-6 or len(lengths) != len(mine):
        raise SystemExit(f"the two do not find the same sections: {worst:.1e}")
    whole, busy = prepare.wall + cut.wall, prepare.processor + cut.processor
    rows = [
        ("join corners of a million loose triangles", weld, " | "),
        ("check and repair", check, " | "),
        ("ours: prepare once", prepare, " | "),
        ("ours: sections with area and perimeter", cut, " | "),
        ("trimesh: `section` in a loop, lengths only", loop,
         f"{loop.wall / whole:.1f} | {loop.processor / busy:.1f}"),
        ("trimesh: `section` and `to_2D` in a loop, area and length", full,
         f"{full.wall / whole:.1f} | {full.processor / busy:.1f}"),
    ]  # fmt: skip
    lines = [
        (
            f"{len(faces):,} triangles, {options.sections} sections with two outlines each; "
            f"{platform.machine()}, {os.cpu_count()} cores shared with other work (load "
            f"{os.getloadavg()[0]:.1f}), Python {platform.python_version()}, trimesh "
            f"{trimesh.__version__}. Areas and lengths agree within {worst:.0e}."
        ),
        "",
        "| work | wall s | processor s | extra memory MB | times ours, wall | processor |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
        *(
            f"| {name} | {m.wall:.2f} | {m.processor:.2f} | {m.memory:.0f} | {ratio} |"
            for name, m, ratio in rows
        ),
        "",
        (
            f'"Ours" is preparing and cutting together, {whole:.2f} s by the clock, {busy:.2f} s '
            f"of a processor; another {options.sections} sections of the same mesh take "
            f"{cut.wall:.2f} s."
        ),
    ]
    text = "\n".join(lines)
    print(text)
    if not options.dry:
        page = PAGE.read_text(encoding="utf-8")
        head, _, rest = page.partition(BEGIN)
        _, _, tail = rest.partition(END)
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
