"""Where a port is measured: groups of quantities, each with how it is done."""

from __future__ import annotations

from dataclasses import dataclass

from portwright.model.head import Port
from portwright.nomenclature import term
from portwright.units import Kind


@dataclass(frozen=True, slots=True)
class Group:
    """Things measured at one place of the port.

    Parameters
    ----------
    key : str
        Part of the drawing it belongs to.
    title : str
    how : str
        Where and how, in a sentence or two.
    quantities : tuple of str
    per_cylinder : bool
        Belongs to the cylinder, not to the port.
    """

    key: str
    title: str
    how: str
    quantities: tuple[str, ...]
    per_cylinder: bool = False


# The ways of measuring are common practice.
GROUPS = (
    Group(
        "valve",
        "Valve",
        "Micrometer: the head across four diameters, the stem at three heights.",
        ("valve head diameter", "stem diameter", "margin", "back-cut angle"),
    ),
    Group(
        "seat",
        "Seat",
        "Width with blue and a scaled magnifier; sink with a depth micrometer from the chamber; "
        "runout with a dial on the pilot.",
        ("seat width", "seat angle", "seat sink", "seat runout"),
    ),
    Group(
        "throat",
        "Throat and bowl",
        "Throat: smallest diameter below the seat, two axes, telescopic or three-leg gauge. "
        "Bowl: largest diameter below it, ball gauge.",
        ("throat diameter", "bowl diameter"),
    ),
    Group(
        "short",
        "Short side",
        "Inside calipers across the port at the top of the short turn, square to the flow.",
        ("short side width", "short side height", "short side corner radius"),
    ),
    Group(
        "pinch",
        "Pinch",
        "Inside calipers at the narrowest place beside the pushrod; corners with a radius gauge.",
        ("pinch width", "pinch height", "pinch corner radius"),
    ),
    Group(
        "opening",
        "Opening",
        "Caliper at the manifold face, inside the edge.",
        ("opening width", "opening height", "opening corner radius"),
    ),
    Group(
        "volume",
        "Port volume",
        "Burette and flat clear plate on the manifold face, valve shut, stem in place.",
        ("port volume",),
    ),
    Group(
        "chamber",
        "Chamber volume",
        "Burette and plate with a hole, plug fitted, a little grease; air bubbles are the error.",
        ("chamber volume",),
        per_cylinder=True,
    ),
    Group(
        "springs",
        "Heights and guide",
        "Height micrometer from the spring pad; guide bore at three depths less the stem.",
        ("installed height", "stem-tip height", "guide clearance", "guide length"),
    ),
)


def subject_of(port: Port, group: Group) -> str:
    """What a measurement of this group on this port belongs to."""
    if group.per_cylinder and port.cylinder is not None:
        return f"cyl {port.cylinder}"
    return port.code


def kind_of(quantity: str) -> Kind:
    """Kind of one of the quantities above."""
    return Kind(term(quantity).kind)
