"""One volume for all chambers: which to open, and one cut for all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from portwright.core.chamber.checks import need_size
from portwright.core.chamber.walls import Walls
from portwright.errors import RangeError


@dataclass(frozen=True, slots=True)
class UniformPlan:
    """Work that makes all chambers alike.

    Parameters
    ----------
    cut : float
        Depth milled off every deck. [m]
    to_open : dict of str to float
        Volume to open in each chamber before milling, zero for the one that sets the cut. [m3]
    target : float
        Volume of every chamber afterwards. [m3]
    sets_cut : str
        Chamber that needs the deepest cut.
    """

    cut: float
    to_open: dict[str, float]
    target: float
    sets_cut: str


def uniform_plan(
    volumes: Mapping[str, float], walls: Mapping[str, Walls], target: float
) -> UniformPlan:
    """Plan one cut for all chambers and what to open first in each.

    Parameters
    ----------
    volumes : mapping of str to float
        Chambers as they are now. [m3]
    walls : mapping of str to Walls
        Shape of each.
    target : float
        Volume wanted in all of them. [m3]

    Returns
    -------
    UniformPlan
        The chamber that needs the deepest cut is left as it is; each of the others is opened by
        what the same cut would leave it too small.

    Raises
    ------
    RangeError
        No chambers, one without a shape, or every chamber is smaller than the target already.

    Notes
    -----
    ``cut = max_i d_i`` with ``V_i - volume_i(d_i) = target``; ``open_i = target - (V_i -
    volume_i(cut))``.  Opened metal is taken to leave the area at the deck as it was: trace again
    after opening where it does not.
    """
    need_size(target, "target volume")
    if not volumes:
        raise RangeError("There are no chambers to plan for.", "Measure each with the burette.")
    missing = [name for name in volumes if name not in walls]
    if missing:
        raise RangeError(f"The open area of {missing[0]} is not known.", "Trace its outline.")
    for name, volume in volumes.items():
        need_size(volume, f"chamber volume of {name}")
    depths = {
        name: walls[name].depth(volume - target) if volume > target else 0.0
        for name, volume in volumes.items()
    }
    sets_cut = max(depths, key=lambda name: (depths[name], volumes[name]))
    if volumes[sets_cut] < target:
        raise RangeError(
            f"Every chamber is below {target * 1e6:.4g} cc already; the largest has "
            f"{volumes[sets_cut] * 1e6:.4g} cc.",
            "Mill nothing: open all of them to the target, or aim for a smaller volume.",
        )
    cut = depths[sets_cut]
    to_open = {
        name: 0.0 if name == sets_cut else max(0.0, target - volume + walls[name].volume(cut))
        for name, volume in volumes.items()
    }
    return UniformPlan(cut, to_open, target, sets_cut)
