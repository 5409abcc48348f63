"""How much a bench shifts from one session to the next, learned from ports tested in several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from portwright.core.curve import Array, FlowCurve
from portwright.core.repeatability import SAME_LIFT, Repeatability, known_reading_variance

_UPPER_SHARE = 0.5  # lifts above this share of the highest: a lift error hardly counts there


def learn_session_shift(
    states: Sequence[Sequence[Sequence[FlowCurve]]], repeatability: Repeatability
) -> Repeatability:
    """Add what unchanged ports tested in several sessions say about the shift between sessions.

    Parameters
    ----------
    states : sequence of sequence of sequence of FlowCurve
        For each port in one state: its sessions, and the sweeps of each.  Faulty sweeps are to be
        left out beforehand.  States of one session teach nothing.
    repeatability : Repeatability
        Figures within a session, and what is assumed about sessions so far.

    Returns
    -------
    Repeatability
        With ``session`` as ``(v0 s0^2 + v s^2) / (v0 + v)``, ``v`` the sessions beyond the first
        of each state.

    Notes
    -----
    Definition (method of moments): for K session means ``m_k`` of ln A with variance ``v_k`` of
    their own, ``sum (m_k - mean)^2`` has the expectation ``(K - 1) s^2 + (1 - 1/K) sum v_k``.
    """
    squares = free = 0.0
    for sessions in states:
        usable = [session for session in sessions if session]
        if len(usable) < 2:
            continue
        lifts = _shared_upper_lifts([curve for session in usable for curve in session])
        if lifts.size == 0:
            continue
        pairs = [_session_mean(session, lifts, repeatability) for session in usable]
        means, own = np.array(pairs).T
        squares += float(np.sum((means - means.mean()) ** 2))
        squares -= float(np.sum(own)) * (1.0 - 1.0 / len(usable))
        free += len(usable) - 1
    v0 = repeatability.session_degrees_of_freedom
    if free == 0.0 or math.isinf(v0):
        return repeatability
    variance = max((v0 * repeatability.session**2 + squares) / (v0 + free), 0.0)
    return replace(repeatability, session=math.sqrt(variance), session_degrees_of_freedom=v0 + free)


def _shared_upper_lifts(curves: Sequence[FlowCurve]) -> Array:
    lifts = curves[0].lift
    for curve in curves[1:]:
        near = np.min(np.abs(lifts[:, None] - curve.lift[None, :]), axis=1)
        lifts = lifts[near < SAME_LIFT]
    upper: Array = lifts[lifts > _UPPER_SHARE * lifts[-1]] if lifts.size else lifts
    return upper


def _session_mean(
    session: Sequence[FlowCurve], lifts: Array, repeatability: Repeatability
) -> tuple[float, float]:
    """Mean of ln A over a session's sweeps and lifts, and its variance within the session."""
    n, m = len(session), lifts.size
    total = variance = 0.0
    for curve in session:
        rows = np.argmin(np.abs(curve.lift[None, :] - lifts[:, None]), axis=1)
        total += float(np.mean(np.log(curve.area[rows]))) / n
        reading = repeatability.reading**2 + float(np.mean(known_reading_variance(curve)[rows]))
        slope = float(np.mean(curve.log_slope()[rows]))
        variance += repeatability.common**2 + (repeatability.lift_setting * slope) ** 2
        variance += reading / m
    return total, variance / n**2
