"""Simulations spread over processes, with progress and a way to stop."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context

from portwright.core.engine.sweep import Piece, PieceDone, run_piece
from portwright.errors import SolveCancelledError, SolverError

Progress = Callable[[int, int], bool]
"""Called with pieces done and their number; returning False stops the work."""


def usual_workers() -> int:
    """Processes used without being asked: all cores but not more than eight."""
    return max(1, min(8, os.cpu_count() or 1))


def run_pieces(
    pieces: Sequence[Piece], *, workers: int | None = None, progress: Progress | None = None
) -> dict[tuple[str, int], PieceDone]:
    """Run pieces and give them by key.

    Parameters
    ----------
    pieces : sequence of Piece
    workers : int, optional
        Processes; 1 runs everything here.
    progress : callable, optional
        See :data:`Progress`.

    Raises
    ------
    SolveCancelledError
        ``progress`` asked to stop.
    SolverError
        A process died.
    """
    count = usual_workers() if workers is None else max(1, workers)
    if count == 1:
        return _here(pieces, progress)
    done: dict[tuple[str, int], PieceDone] = {}
    # spawn: a forked copy of a process with threads may hang, and Windows knows nothing else
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as pool:
        waiting = [pool.submit(run_piece, piece) for piece in pieces]
        try:
            for future in as_completed(waiting):
                result = future.result()
                done[result.key] = result
                _tell(progress, len(done), len(pieces))
        except BrokenProcessPool as error:
            raise SolverError(
                "A process that simulated the engine ended by itself.",
                "Run again with fewer processes; memory may be short.",
            ) from error
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
    return done


def _here(pieces: Sequence[Piece], progress: Progress | None) -> dict[tuple[str, int], PieceDone]:
    done = {}
    for piece in pieces:
        done[piece.key] = run_piece(piece)
        _tell(progress, len(done), len(pieces))
    return done


def _tell(progress: Progress | None, done: int, total: int) -> None:
    if progress is not None and not progress(done, total):
        raise SolveCancelledError(f"Stopped after {done} of {total} pieces of work.")
