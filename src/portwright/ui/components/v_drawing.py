"""A bank of a V seen along the crank: deck cut, face cut and manifold drop, drawn to the angles."""

from __future__ import annotations

import math
from collections.abc import Sequence

from portwright.ui.layout import raw

Point = tuple[float, float]

_DECK_IN, _DECK_OUT, _TALL, _FACE = 28.0, 42.0, 52.0, 46.0  # sizes of the drawn head
_CUT = 9.0  # drawn depth of the deck cut; every other cut is drawn in proportion
_LEAST_LEAN = 0.35  # sine of the half angle below which banks are drawn further out no more


def v_drawing(
    half: float, tilt: float, *, depth: float, cut: float, drop: float, labels: tuple[str, str, str]
) -> None:
    """Draw what a deck cut does to the intake face.

    Parameters
    ----------
    half, tilt : float
        Half V angle and tilt of the intake face from vertical. [rad]
    depth, cut, drop : float
        Deck cut, face cut and manifold drop. [m]
    labels : tuple of str
        What is written beside the three, without markup.
    """
    raw(_svg(_Bank(half, tilt), depth, cut, drop, labels), "figure").classes("drawing v")


class _Bank:
    """Corners of one bank, y up, crank at the origin."""

    def __init__(self, half: float, tilt: float) -> None:
        self.half, self.tilt = half, tilt
        self.bore = (math.sin(half), math.cos(half))
        self.deck = (math.cos(half), -math.sin(half))
        self.up = (math.sin(tilt), math.cos(tilt))
        self.out = (-math.cos(tilt), math.sin(tilt))
        lean = max(math.sin(half), _LEAST_LEAN)
        self.reach = max(84.0, (16.0 + _DECK_IN * math.cos(half)) / lean)
        self.deck_in = self.at(self.reach, -_DECK_IN)
        self.deck_out = self.at(self.reach, _DECK_OUT)

    def at(self, along: float, across: float) -> Point:
        """Point along the bore axis and across it."""
        return (
            along * self.bore[0] + across * self.deck[0],
            along * self.bore[1] + across * self.deck[1],
        )

    def on_deck(self, point: Point) -> Point:
        """Where a line along the face through a point meets the block's deck."""
        rise = self.up[0] * self.bore[0] + self.up[1] * self.bore[1]
        if abs(rise) < 0.1:  # a face nearly along the deck: draw it where it is
            return point
        left = self.reach - point[0] * self.bore[0] - point[1] * self.bore[1]
        return point[0] + left / rise * self.up[0], point[1] + left / rise * self.up[1]


def _moved(points: Sequence[Point], by: Point, times: float = 1.0) -> list[Point]:
    return [(x + times * by[0], y + times * by[1]) for x, y in points]


def _text(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{-y:.1f}" for x, y in points)


def _shape(points: Sequence[Point], look: str) -> str:
    return f'<polygon points="{_text(points)}" class="{look}"/>'


def _line(ends: Sequence[Point], look: str) -> str:
    return f'<polyline points="{_text(ends)}" class="{look}"/>'


def _words(at: Point, text: str, anchor: str = "start") -> str:
    return f'<text x="{at[0]:.1f}" y="{-at[1]:.1f}" text-anchor="{anchor}">{text}</text>'


def _manifold(face: Sequence[Point]) -> list[Point]:
    """Between both faces; on a bank without a valley, a flange beside the face."""
    low, high = face
    if low[0] <= 2.0:
        return [low, high, (high[0] - 45.0, high[1]), (low[0] - 45.0, low[1])]
    return [low, high, (-high[0], high[1]), (-low[0], low[1])]


def _svg(bank: _Bank, depth: float, cut: float, drop: float, labels: tuple[str, str, str]) -> str:
    scale = _CUT / depth if depth > 0.0 else 0.0
    down, drawn_cut, drawn_drop = scale * depth, scale * cut, scale * drop
    face = [bank.deck_in, _moved([bank.deck_in], bank.up, _FACE)[0]]
    top = [
        _moved([bank.deck_out], bank.bore, _TALL)[0],
        bank.deck_out,
    ]
    head = [bank.deck_in, face[1], *top]
    moved_face = _moved(face, bank.bore, -down)
    new_face = _moved(moved_face, bank.out, -drawn_cut)
    # deep enough to see, not so deep that both banks meet
    lean = max(math.sin(bank.half), _LEAST_LEAN)
    bottom = max(
        bank.reach - 40.0, min((4.0 + _DECK_IN * math.cos(bank.half)) / lean, bank.reach - 12.0)
    )
    block = [
        bank.deck_in,
        bank.deck_out,
        bank.at(bottom, _DECK_OUT),
        bank.at(bottom, -_DECK_IN),
    ]
    sunk = _moved(head, bank.bore, -down)
    body = [bank.on_deck(new_face[0]), *new_face[1:], sunk[2], bank.deck_out]
    manifold = _manifold(face)
    lowered = _moved(manifold, (0.0, -1.0), drawn_drop)
    mirrored = bank.deck_in[0] > 2.0
    banks = _shape(block, "block") + _shape(body, "metal") + _shape(head, "before")
    if drawn_cut > 0.0:
        banks += _shape([*moved_face, new_face[1], new_face[0]], "taken")
    if mirrored:
        banks += f'<g transform="scale(-1 1)">{banks}</g>'
    parts = [
        _line([(0.0, bottom - 14.0), (0.0, bank.reach + 40.0)], "axis"),
        _line([bank.at(bottom - 14.0, 0.0), bank.at(bank.reach + _TALL + 12.0, 0.0)], "axis"),
        banks,
        _shape(manifold, "before"),
        _shape(lowered, "manifold"),
    ]
    drawn = [*head, *block, *manifold]
    right, low = max(x for x, _ in drawn) + 8.0, min(y for _, y in drawn)
    high = max(y for _, y in drawn) + 14.0
    left = -right if mirrored else min(-70.0, min(x for x, _ in drawn) - 8.0)
    middle = 0.5 * (left + right)
    degrees = math.degrees(bank.half), math.degrees(bank.tilt)
    angles = f"bore {degrees[0]:.4g}°, face {degrees[1]:.4g}° from upright"
    parts.append(_words((middle, low - 14.0), ", ".join(labels), "middle"))
    parts.append(_words((middle, low - 26.0), angles, "middle"))
    about = (
        f"V seen along the crank: bore axis {degrees[0]:.4g} degrees and intake face "
        f"{degrees[1]:.4g} degrees from upright. {'. '.join(labels)}."
    )
    box = f"{left:.1f} {-high:.1f} {right - left:.1f} {high - low + 32.0:.1f}"
    return f'<svg viewBox="{box}" role="img" aria-label="{about}">{"".join(parts)}</svg>'
