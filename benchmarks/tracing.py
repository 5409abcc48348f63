"""How often the stated interval of a photo trace holds the true area, and how far off it is.

Run ``python -m benchmarks.tracing`` for the tables on the screen, add ``--write`` to put them into
docs/theory/trace.md.  Seeds are fixed: the rates come out the same again.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import contextlib
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from benchmarks.tracing_camera import MM, Array, TrueCamera
from benchmarks.tracing_photo import BENCH, CARD, CHAMBER, PORT, SLICE, Colour, Colours, scene
from benchmarks.tracing_shapes import FRAME, MIDDLE, round_length, shape_at, shoelace
from portwright.core.trace.camera import Camera, PictureErrors
from portwright.core.trace.frame_lines import frame_lines
from portwright.core.trace.measure import COVERAGE_FACTOR, TracedSection, measure_outline
from portwright.core.trace.scale import BarScale, CircleScale, FrameScale, Scale
from portwright.core.trace.suggest import suggest_outline
from portwright.errors import GeometryError
from portwright.services.trace import LEAST_ERROR, LINE_ERROR

PAGE = Path(__file__).parents[1] / "docs" / "theory" / "trace.md"
BEGIN, END = "<!-- measured: begin -->", "<!-- measured: end -->"

ERRORS = PictureErrors()
KINDS = ("bar", "circle", "frame, 4 marks", "frame, 8 marks")
BAR, DIAMETER = 50.0 * MM, 60.0 * MM
SIZE_ERROR = 0.1 * MM
ROUGH = 2.0  # corner marks from which the lines are looked for [px]
MOST_TILT = math.radians(15.0)  # beyond the square; a bar picture keeps to its stated tilt


def marks_of(kind: str) -> tuple[Array, Array]:
    """Plane points of the marks and the known sizes. [m]"""
    if kind == "bar":
        return MIDDLE + np.array([[-0.5 * BAR, 26.0 * MM], [0.5 * BAR, 26.0 * MM]]), np.array([BAR])
    if kind == "circle":
        turn = 2.0 * np.pi * np.arange(10) / 10.0
        rim = 0.5 * DIAMETER * np.column_stack((np.cos(turn), np.sin(turn)))
        return MIDDLE + rim, np.array([DIAMETER])
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * FRAME
    if kind == "frame, 8 marks":
        middles = 0.5 * (corners + np.roll(corners, -1, axis=0))
        corners = np.stack((corners, middles), axis=1).reshape(8, 2)
    return corners, np.array(FRAME)


def scale_of(kind: str, marks: Array, sizes: Array) -> Scale:
    """Scale of that kind."""
    made = BarScale if kind == "bar" else CircleScale if kind == "circle" else FrameScale
    return made(marks, sizes, np.full(sizes.size, SIZE_ERROR))


def random_camera(kind: str, rng: np.random.Generator) -> TrueCamera:
    """Camera as a porter may hold it."""
    if kind == "bar":  # tilt independent about two axes
        tilt = math.hypot(*rng.normal(0.0, ERRORS.tilt, 2))
    else:
        tilt = float(rng.uniform(0.0, MOST_TILT))
    near = MIDDLE + rng.normal(0.0, 4.0 * MM, 2)
    return TrueCamera(
        distance=float(rng.uniform(0.13, 0.20)),
        focal=2048 * float(rng.uniform(0.67, 0.78)),
        tilt=tilt,
        direction=float(rng.uniform(0.0, 2.0 * np.pi)),
        roll=float(rng.uniform(0.0, 2.0 * np.pi)),
        lens=float(rng.normal(0.0, ERRORS.lens)),
        target=(float(near[0]), float(near[1])),
    )


@dataclass(frozen=True)
class Trial:
    """One simulated trace: what was found, and the truth."""

    found: TracedSection
    area: float
    perimeter: float

    @property
    def area_off(self) -> float:
        """Error in standard uncertainties."""
        return (self.found.area - self.area) / self.found.area_uncertainty

    @property
    def perimeter_off(self) -> float:
        """Error in standard uncertainties."""
        return (self.found.perimeter - self.perimeter) / self.found.perimeter_uncertainty


def trial(kind: str, rng: np.random.Generator) -> Trial:
    """Photograph a random outline and trace it by a hand with exactly the stated errors."""
    camera = random_camera(kind, rng)
    count = int(rng.integers(24, 90))
    harmonics = rng.normal(0.0, 1.0, (3, 2)) * np.array([[0.10], [0.05], [0.02]])
    size, flat = float(rng.uniform(14.0, 20.0)) * MM, float(rng.uniform(0.7, 1.0))
    fine = 2.0 * np.pi * np.arange(4000) / 4000
    whole = shape_at(fine, harmonics, size, flat)
    angle = 2.0 * np.pi * (np.arange(count) + rng.uniform(-0.3, 0.3, count)) / count
    seen = camera.see(shape_at(angle, harmonics, size, flat))
    beside = camera.see(shape_at(angle + 1e-4, harmonics, size, flat))
    along = (beside - seen) / np.linalg.norm(beside - seen, axis=1, keepdims=True)
    normal = np.column_stack((along[:, 1], -along[:, 0]))
    hand = (
        seen + rng.normal(0.0, ERRORS.edge) * normal + rng.normal(0.0, ERRORS.tracing, seen.shape)
    )
    places, sizes = marks_of(kind)
    marks = camera.see(places, float(rng.normal(0.0, ERRORS.height)))
    marks = marks + rng.normal(0.0, ERRORS.marking, marks.shape)
    scale = scale_of(kind, marks, sizes + rng.normal(0.0, SIZE_ERROR, sizes.size))
    picture = Camera(camera.width, camera.height)
    return Trial(
        measure_outline(hand, scale, picture, ERRORS), shoelace(whole), round_length(whole)
    )


def trials(kind: str, count: int, seed: int = 1) -> list[Trial]:
    """Several trials with a seed of their own."""
    rng = np.random.default_rng([seed, KINDS.index(kind)])
    return [trial(kind, rng) for _ in range(count)]


def table(count: int) -> str:
    """Rates as a table."""
    head = (
        "| Scale | area: 95 % interval holds | mean half width | error, rms | error, mean "
        "| perimeter: holds | error, rms |"
    )
    rows = [head, "|---|---|---|---|---|---|---|"]
    for kind in KINDS:
        done = trials(kind, count)
        area = np.array([t.found.area / t.area - 1.0 for t in done])
        length = np.array([t.found.perimeter / t.perimeter - 1.0 for t in done])
        width = np.mean([COVERAGE_FACTOR * t.found.area_uncertainty / t.found.area for t in done])
        held, held_too = (
            100.0 * np.mean(np.abs([getattr(t, name) for t in done]) <= COVERAGE_FACTOR)
            for name in ("area_off", "perimeter_off")
        )
        rows.append(
            f"| {kind} | {held:.1f} % | ±{100 * width:.2f} % | {100 * rms(area):.2f} % "
            f"| {100 * area.mean():+.2f} % | {held_too:.1f} % | {100 * rms(length):.2f} % |"
        )
    return "\n".join([*rows, "", f"{count} simulated traces each, fixed seed."])


@dataclass(frozen=True)
class Shot:
    """One rendered photograph measured with an outline as suggested: error and stated interval.

    Parameters
    ----------
    off : float
        Of the area. [-]
    half : float
        Half the relative 95 % interval. [-]
    """

    off: float
    half: float


HAND = PictureErrors(tracing=LEAST_ERROR, marking=LEAST_ERROR)
LINES = PictureErrors(tracing=LEAST_ERROR, marking=LINE_ERROR)
WAYS = (
    "four by hand, no frame seen",
    "from printed lines",
    "from the edges of a plain sheet",
)


def shoot(colours: Colours, beyond: Colour, seed: int, rng: np.random.Generator) -> list[Shot]:
    """One shape: with four marks by hand, with printed lines, on a plain sheet.

    Marks by hand are the same for all; lines and edges are looked for from rough ones.
    """
    how = {
        "tilt": float(rng.uniform(0.0, 20.0)),
        "lens": float(rng.normal(0.0, HAND.lens)),
        "blur": float(rng.uniform(0.8, 3.0)),
        "noise": float(rng.uniform(1.0, 10.0)),
    }
    places, sizes = marks_of("frame, 4 marks")
    off = rng.normal(0.0, 1.0, places.shape)
    aim = (MIDDLE + rng.normal(0.0, 4.0 * MM, 2))[None]
    shots = []
    for outside in (None, beyond):
        made = scene(colours, seed=seed, beyond=outside, **how)
        marks, tap = made.camera.see(places), made.camera.see(aim)[0]
        outline = suggest_outline(made.picture, (float(tap[0]), float(tap[1])), marks).points
        picture = Camera(made.camera.width, made.camera.height)
        found = frame_lines(made.picture, marks + ROUGH * off).marks
        used = [(found, LINES)]
        if outside is None:
            used.insert(0, (marks + HAND.marking * off, HAND))
        for seen, errors in used:
            of = measure_outline(outline, scale_of("frame", seen, sizes), picture, errors)
            half = COVERAGE_FACTOR * of.area_uncertainty / of.area
            shots.append(Shot(of.area / made.area - 1.0, half))
    return shots


PICTURES = (
    ("mould slice on paper", SLICE, BENCH),
    ("dark port, card with a window", PORT, CARD),
    ("metal on metal, card with a window", CHAMBER, CARD),
)


def suggested(count: int) -> str:
    """Outlines suggested on rendered photographs, as a table."""
    head = (
        "| Picture | Marks | found | area: 95 % interval holds | mean half width | error, mean "
        "| error, rms | error, largest |"
    )
    rows = [head, "|---|---|---|---|---|---|---|---|"]
    for name, colours, beyond in PICTURES:
        rng = np.random.default_rng([2, PICTURES.index((name, colours, beyond))])
        shots = []
        for seed in range(count):
            with contextlib.suppress(GeometryError):
                shots.append(shoot(colours, beyond, seed, rng))
        for which, how in enumerate(WAYS):
            off, half = np.array([(s[which].off, s[which].half) for s in shots]).T
            rows.append(
                f"| {name} | {how} | {len(shots)} of {count} "
                f"| {100.0 * np.mean(np.abs(off) <= half):.0f} % | ±{100.0 * half.mean():.2f} % "
                f"| {100.0 * off.mean():+.2f} % | {100.0 * rms(off):.2f} % "
                f"| {100.0 * np.abs(off).max():.2f} % |"
            )
    return "\n".join(rows)


def rms(values: Array) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(values**2)))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--pictures", type=int, default=100)
    parser.add_argument("--write", action="store_true")
    chosen = parser.parse_args()
    text = f"{table(chosen.count)}\n\n{suggested(chosen.pictures)}"
    print(text)
    if chosen.write:
        page = PAGE.read_text(encoding="utf-8")
        head, rest = page.split(BEGIN)
        tail = rest.split(END)[1]
        PAGE.write_text(f"{head}{BEGIN}\n{text}\n{END}{tail}", encoding="utf-8")


if __name__ == "__main__":
    main()
