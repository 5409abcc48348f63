"""Pictures to show around: a still in three shapes, a short clip of the curve drawing itself."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray
from PIL import Image

from portwright.errors import ReportError
from portwright.report.figures import Line, write_figures

Pixels = NDArray[np.uint8]

SHAPES = {
    "square": (1080, 1080),
    "portrait": (1080, 1350),
    "wide": (1920, 1080),
    "clip": (1080, 1920),
}  # px
_DPI = 120
_PAPER, _INK, _QUIET, _BEFORE, _AFTER = "#10181f", "#f4f1ea", "#aab4bd", "#9aa4ad", "#6cb2ff"
_RATE = 24  # pictures per second
_DRAWN, _HELD = 4.0, 3.0  # seconds the curve takes, and stays


@dataclass(frozen=True, slots=True)
class SharePicture:
    """What a picture says; every text finished.

    Parameters
    ----------
    headline, under : str
        The gain, and over what.
    lines : tuple of Line
        Before and after.
    x_label, y_label : str
        With their units.
    conditions : str
        Under what the figures hold; part of the picture, so that it cannot be cut off unseen.
    shop : str
    note : str
        What the figure is not.
    named : str
        Customer and serial numbers where they were released.
    decimal : str
        Decimal sign of the figures on the axes.
    """

    headline: str
    under: str
    lines: tuple[Line, ...]
    x_label: str
    y_label: str
    conditions: str
    shop: str
    note: str
    named: str = ""
    decimal: str = "."


def still_png(picture: SharePicture, shape: str) -> bytes:
    """A still picture, with nothing in the file but its pixels."""
    out = io.BytesIO()
    Image.fromarray(_drawn(picture, SHAPES[shape])).save(out, "PNG", optimize=True)
    return out.getvalue()


def clip_mp4(picture: SharePicture, told: Callable[[str], None] | None = None) -> bytes:
    """A short upright clip, with nothing in the file but its pictures.

    Parameters
    ----------
    told : callable, optional
        Hears how far the work is.

    Raises
    ------
    ReportError
        The encoder that came with the installation failed.
    """
    import imageio_ffmpeg  # noqa: PLC0415 - only for a clip

    size = SHAPES["clip"]
    with tempfile.TemporaryDirectory(prefix="portwright-") as folder:
        out = Path(folder, "clip.mp4")
        writer = imageio_ffmpeg.write_frames(
            str(out),
            size,
            fps=_RATE,
            codec="libx264",
            quality=None,
            bitrate=None,
            macro_block_size=2,
            output_params=[
                *("-preset", "veryfast", "-crf", "23", "-map_metadata", "-1"),
                *("-fflags", "+bitexact", "-flags:v", "+bitexact", "-movflags", "+faststart"),
            ],
        )
        try:
            writer.send(None)
            count = round(_RATE * (_DRAWN + _HELD))
            for k, frame in enumerate(_frames(picture)):
                if told is not None and k % _RATE == 0:
                    told(f"Picture {k} of {count}")
                writer.send(np.ascontiguousarray(frame))
            writer.close()
            return out.read_bytes()
        except OSError as error:
            raise ReportError(
                f"The clip could not be made: {error}.", "Share a still picture instead."
            ) from error


def _frames(picture: SharePicture) -> Iterator[Pixels]:
    """The curves appear from left to right, then the whole stays."""
    size = SHAPES["clip"]
    whole = _drawn(picture, size)
    empty = _drawn(picture, size, curves=False)
    changed = np.flatnonzero((whole != empty).any(axis=(0, 2)))
    first, last = (int(changed[0]), int(changed[-1]) + 1) if changed.size else (0, size[0])
    drawn = round(_RATE * _DRAWN)
    frame = empty.copy()
    for k in range(drawn):
        until = first + round((last - first) * (k + 1) / drawn)
        frame[:, :until] = whole[:, :until]
        yield frame
    for _ in range(round(_RATE * _HELD)):
        yield whole


def _drawn(picture: SharePicture, size: tuple[int, int], *, curves: bool = True) -> Pixels:
    width, height = size
    tall = height > width
    style: Any = {
        "font.family": "DejaVu Sans",
        "text.color": _INK,
        "axes.labelcolor": _INK,
        "xtick.color": _QUIET,
        "ytick.color": _QUIET,
        "axes.edgecolor": _QUIET,
        "axes.spines.top": False,
        "axes.spines.right": False,
    }
    with mpl.rc_context(style):
        figure = Figure(figsize=(width / _DPI, height / _DPI), dpi=_DPI, facecolor=_PAPER)
        left = 0.07
        top = 1.0 - 60.0 / height
        large = 44 if tall or width == height else 40
        step = large * _DPI / 72 / height
        figure.text(left, top, picture.headline, fontsize=large, weight="bold", va="top")
        under = _wrapped(picture.under, 58 if width < 1500 else 92)
        figure.text(left, top - 1.35 * step, under, fontsize=17, color=_QUIET, va="top")
        foot = _wrapped(
            "\n".join(t for t in (picture.conditions, picture.note, picture.named) if t),
            78 if width < 1500 else 120,
        )
        line = 13 * 1.5 * _DPI / 72 / height
        base = 40.0 / height
        figure.text(left, base, picture.shop, fontsize=14, weight="bold", va="bottom")
        foot_at = base + 2.0 * line
        figure.text(left, foot_at, foot, fontsize=12, color=_QUIET, va="bottom", linespacing=1.4)
        below = foot_at + (foot.count("\n") + 1) * line + 110.0 / height
        above = top - 1.35 * step - (under.count("\n") + 1) * 1.7 * line - 40.0 / height
        if tall and height > 1500:  # a clip leaves room where phones put their buttons
            below += 0.12
        axes = figure.add_axes((0.13, below, 0.8, above - below), facecolor=_PAPER)
        for line_drawn, colour in zip(picture.lines, (_BEFORE, _AFTER), strict=False):
            axes.plot(
                line_drawn.x,
                line_drawn.y,
                color=colour,
                linewidth=4,
                marker="o",
                markersize=8,
                label=line_drawn.label,
                alpha=1.0 if curves else 0.0,
            )
        axes.set_xlim(left=0)
        axes.set_ylim(bottom=0)
        axes.grid(color="#2b3640", linewidth=1)
        axes.tick_params(labelsize=14)
        write_figures(axes, picture.decimal)
        axes.set_xlabel(picture.x_label, fontsize=15)
        axes.set_ylabel(picture.y_label, fontsize=15)
        legend = axes.legend(frameon=False, loc="lower right", fontsize=16)
        for text, colour in zip(legend.get_texts(), (_BEFORE, _AFTER), strict=False):
            text.set_color(colour)
        for handle in legend.get_lines():
            handle.set_alpha(1.0)
        out = io.BytesIO()
        figure.savefig(out, format="raw", facecolor=_PAPER)
    raw = np.frombuffer(out.getvalue(), dtype=np.uint8).reshape(height, width, 4)
    return raw[:, :, :3].copy()


def _wrapped(text: str, width: int) -> str:
    import textwrap  # noqa: PLC0415 - small, and only here

    return "\n".join("\n".join(textwrap.wrap(line, width)) for line in text.split("\n"))
