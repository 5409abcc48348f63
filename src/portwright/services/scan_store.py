"""Keeping the profile of a scan as sections of a port."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from portwright import units
from portwright.core.mesh.profile import ScanProfile
from portwright.errors import InputError, UnknownNameError
from portwright.model.job import Measurement
from portwright.services.jobs import today
from portwright.services.shop_file import ShopFile
from portwright.services.sweeps import port_named
from portwright.units import Kind

_STORED = 40  # sections stored of a profile: a station every few millimetres


def store_profile(
    shop: ShopFile,
    job: str,
    port: str,
    stage: str,
    profile: ScanProfile,
    landmarks: Mapping[str, float] | None = None,
) -> int:
    """Keep a scanned profile as sections of a port at a stage.

    Parameters
    ----------
    landmarks : mapping of str to float, optional
        Landmark to distance from the inlet; the nearest section gets its name. [m]

    Returns
    -------
    int
        Sections stored.

    Raises
    ------
    UnknownNameError
        No such port or stage.
    InputError
        The port has sections at that stage already.
    """
    contents = shop.job(job)
    if port_named(contents, port) is None:
        raise UnknownNameError("port", port, (p.code for p in contents.ports))
    if stage not in {s.code for s in contents.stages}:
        raise UnknownNameError("stage", stage, (s.code for s in contents.stages))
    if any(
        (m.subject, m.quantity, m.stage) == (port, "section area", stage)
        for m in contents.measurements
    ):
        raise InputError(
            f"{port} has sections at {stage} already.", "Make a new stage for the new scan."
        )
    line = profile.line
    chosen = np.unique(np.linspace(0, len(line.distance) - 1, _STORED).astype(int))
    chosen = np.union1d(chosen, [profile.smallest])
    named = {
        int(chosen[np.argmin(np.abs(line.distance[chosen] - at))]): name
        for name, at in (landmarks or {}).items()
    }
    new = []
    for i in (int(k) for k in chosen):
        at = f"distance {line.distance[i] * 1e3:.1f} mm"
        place = f"{named[i]}; {at}" if i in named else at
        for quantity, value, unit, kind in (
            ("section area", float(profile.area[i]) * 1e6, "mm2", Kind.AREA),
            ("section perimeter", float(profile.perimeter[i]) * 1e3, "mm", Kind.LENGTH),
        ):
            text = units.read(f"{value:.1f}", kind, unit)
            new.append(
                Measurement(port, quantity, text, place, stage, "scan", today(), "from a scan")
            )
    shop.add_measurements(job, new)
    return len(chosen)
