"""Cut through a port with every measuring place on it; the one at hand is lit."""

from __future__ import annotations

from nicegui import ui

from portwright.ui.layout import raw

# Drawn by hand on a 690 x 440 sheet: manifold face left, chamber below, valve stem upwards.
_METAL = "M40 40H520V372H40Z"  # outline of the head
_PORT = (
    "M40 96C120 92 190 84 262 92C330 100 396 118 424 176L438 262L440 300"
    "L330 300L332 262C330 232 316 214 286 204C214 186 120 196 40 200Z"
)
_CHAMBER = "M292 372C296 336 308 314 322 308H448C464 316 474 338 478 372Z"
_VALVE = "M378 30H392V250C394 280 420 296 444 312H326C350 296 376 280 378 250Z"


def _arrows(key: str, x1: int, y1: int, x2: int, y2: int) -> str:
    return (
        f'<line class="size" data-part="{key}" x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" '
        'marker-start="url(#tip)" marker-end="url(#tip)"/>'
    )


def _call(key: str, place: tuple[int, int], text: str, line: tuple[int, int, int, int]) -> str:
    x1, y1, x2, y2 = line
    return (
        f'<g class="call" data-part="{key}"><line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'
        f'<text x="{place[0]}" y="{place[1]}">{text}</text></g>'
    )


_SIZES = (
    _arrows("opening", 62, 98, 62, 197)
    + _arrows("pinch", 190, 89, 190, 190)
    + _arrows("short", 330, 108, 300, 206)
    + _arrows("throat", 333, 258, 437, 258)
    + _arrows("valve", 326, 330, 444, 330)
    + _arrows("springs", 500, 32, 500, 128)
)
_CALLS = (
    _call("opening", (20, 24), "Opening", (52, 32, 60, 96))
    + _call("pinch", (166, 24), "Pinch", (188, 32, 190, 86))
    + _call("volume", (250, 24), "Port volume", (290, 32, 260, 140))
    + _call("springs", (556, 88), "Heights", (550, 84, 410, 84))
    + _call("throat", (536, 222), "Throat, bowl", (530, 220, 440, 256))
    + _call("seat", (536, 276), "Seat", (530, 274, 446, 298))
    + _call("valve", (536, 336), "Valve", (530, 332, 448, 318))
    + _call("chamber", (330, 420), "Chamber volume", (392, 402, 400, 356))
    + _call("short", (196, 356), "Short side", (236, 338, 296, 212))
)
_SECTION = (
    '<g class="face" transform="translate(56 270)"><rect width="74" height="100" rx="18"/>'
    '<text x="37" y="-8" text-anchor="middle">width</text>'
    '<text x="84" y="54">height</text><text x="6" y="122">corner radius</text></g>'
)
_DRAWING = (
    '<svg viewBox="0 0 690 440" role="img" aria-label="Cut through a port: opening at the manifold '
    "face, pinch, short side, bowl, throat, seat, valve and chamber, with the places to measure"
    '">'
    '<defs><pattern id="cut" width="9" height="9" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="9" class="cut"/></pattern>'
    '<marker id="tip" viewBox="0 0 10 10" refX="9" refY="5" markerWidth="15" '
    'markerHeight="15" markerUnits="userSpaceOnUse" '
    'orient="auto-start-reverse"><path d="M0 0L10 5L0 10Z" class="tip"/></marker></defs>'
    f'<path d="{_METAL}" fill="url(#cut)" class="edge"/>'
    f'<path d="{_PORT}" class="air" data-part="volume"/>'
    f'<path d="{_CHAMBER}" class="air" data-part="chamber"/>'
    '<path d="M362 40H408V128H362Z" class="guide" data-part="springs"/>'
    f'<path d="{_VALVE}" class="valve" data-part="valve"/>'
    '<path d="M320 306L334 292M450 306L436 292" class="seat" data-part="seat"/>'
    f"{_SIZES}{_CALLS}{_SECTION}</svg>"
)


class PortDrawing:
    """The drawing, with one part lit."""

    def __init__(self) -> None:
        with ui.element("figure").classes("drawing") as self._place:
            raw(_DRAWING)

    def light(self, key: str) -> None:
        """Light the part of a group."""
        self._place.props(f'data-lit="{key}"')
