"""The shop's own factor on forecasts, kept in the shop file engine by engine."""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np

from portwright.archive.archive import Archive
from portwright.core.engine.learning import ShopFactor, shop_factor
from portwright.model.contents import JobContents

_SETTING = "engine-factors"


@dataclass(frozen=True, slots=True)
class KeptFactor:
    """What one engine on the dyno taught.

    Parameters
    ----------
    job, date, standard : str
    factor : float
        Measured over forecast. [-]
    points, hits : int
        Level: speeds compared, speeds inside the forecast's range.
    gain_points, gain_hits : int
        The same for the difference between the two heads.
    counts : bool
        False for invented data, which teach nothing.
    """

    job: str
    date: str
    standard: str
    factor: float
    points: int
    hits: int
    gain_points: int
    gain_hits: int
    counts: bool


def kept_factors(archive: Archive) -> tuple[KeptFactor, ...]:
    """Every engine kept, in the order they came."""
    return tuple(KeptFactor(**row) for row in archive.setting(_SETTING) or ())


def keep_factor(archive: Archive, new: KeptFactor) -> None:
    """Keep what an engine taught; a newer result of the same job takes its place."""
    rows = [k for k in kept_factors(archive) if k.job != new.job]
    archive.save_setting(_SETTING, [asdict(k) for k in (*rows, new)])


def learned_factor(archive: Archive) -> ShopFactor | None:
    """Factor learned from engines that count, None without any."""
    return shop_factor(np.array([k.factor for k in kept_factors(archive) if k.counts]))


@dataclass(frozen=True, slots=True)
class HitRate:
    """How often forecasts were right, over engines that count."""

    engines: int
    points: int
    hits: int
    gain_points: int
    gain_hits: int


def hit_rate(archive: Archive) -> HitRate:
    """Share of dyno points inside the forecast ranges, all engines together."""
    kept = [k for k in kept_factors(archive) if k.counts]
    return HitRate(
        len(kept),
        sum(k.points for k in kept),
        sum(k.hits for k in kept),
        sum(k.gain_points for k in kept),
        sum(k.gain_hits for k in kept),
    )


def is_invented(contents: JobContents) -> bool:
    """Whether a job says of itself that it is fictional."""
    job = contents.job
    texts = (job.customer, job.vehicle, job.casting, *job.facts.values())
    return any("fictional" in text.casefold() for text in texts)
