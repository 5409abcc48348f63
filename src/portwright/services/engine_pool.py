"""Simulations spread over processes, here or on a cluster, with progress and a way to stop."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing, contextmanager
from multiprocessing import get_context

from portwright.core.engine.sweep import Piece, PieceDone, run_piece
from portwright.errors import SolveCancelledError, SolverError

Progress = Callable[[int, int], bool]
"""Called with pieces done and their number; returning False stops the work."""
Each = Callable[[PieceDone], object]
"""Called with every piece as it is done, so that nothing is lost when the work is stopped."""
Done = Generator[PieceDone, None, None]
Runner = Callable[[Sequence[Piece]], Done]
"""Gives pieces as they are done, in any order."""


def usual_workers() -> int:
    """Processes used without being asked: all cores but not more than eight."""
    return max(1, min(8, os.cpu_count() or 1))


@contextmanager
def runner(workers: int | None = None, cluster: str = "") -> Iterator[Runner]:
    """Whoever does the work, kept for several lots of pieces.

    Parameters
    ----------
    workers : int, optional
        Processes of this computer; 1 runs everything here.
    cluster : str
        Address of a Dask scheduler whose workers do it instead.

    Raises
    ------
    InputError
        The cluster cannot be used.
    """
    count = usual_workers() if workers is None else max(1, workers)
    if cluster:
        from portwright.services.engine_cluster import on_cluster

        with on_cluster(cluster) as there:
            yield there
    elif count == 1:
        yield _here
    else:
        # spawn: a forked copy of a process with threads may hang, and Windows knows nothing else
        with ProcessPoolExecutor(
            count, mp_context=get_context("spawn"), initializer=_leave_stopping_to_parent
        ) as pool:
            yield lambda pieces: _in_processes(pool, pieces)


def _leave_stopping_to_parent() -> None:
    """Ctrl+C reaches every process of a terminal; only the one that asked shall answer it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _here(pieces: Sequence[Piece]) -> Done:
    for piece in pieces:
        yield run_piece(piece)


def _in_processes(pool: ProcessPoolExecutor, pieces: Sequence[Piece]) -> Done:
    waiting = [pool.submit(run_piece, piece) for piece in pieces]
    try:
        for future in as_completed(waiting):
            yield future.result()
    except BrokenProcessPool as error:
        raise SolverError(
            "A process that simulated the engine ended by itself.",
            "Run again with fewer processes; memory may be short.",
        ) from error
    finally:
        for future in waiting:
            future.cancel()


def gather(
    run: Runner,
    pieces: Sequence[Piece],
    *,
    progress: Progress | None = None,
    each: Each | None = None,
) -> dict[tuple[str, int], PieceDone]:
    """Run pieces and give them by key.

    Parameters
    ----------
    run : Runner
        From :func:`runner`.
    pieces : sequence of Piece
    progress, each : callable, optional
        See :data:`Progress` and :data:`Each`.

    Raises
    ------
    SolveCancelledError
        ``progress`` asked to stop.
    SolverError
        A process died.
    """
    done: dict[tuple[str, int], PieceDone] = {}
    with closing(run(pieces)) as results:
        for result in results:
            done[result.key] = result
            if each is not None:
                each(result)
            if progress is not None and not progress(len(done), len(pieces)):
                raise SolveCancelledError(
                    f"Stopped after {len(done)} of {len(pieces)} pieces of work."
                )
    return done


def run_pieces(
    pieces: Sequence[Piece],
    *,
    workers: int | None = None,
    cluster: str = "",
    progress: Progress | None = None,
) -> dict[tuple[str, int], PieceDone]:
    """One lot of pieces by key: :func:`runner` and :func:`gather` in one."""
    with runner(workers, cluster) as run:
        return gather(run, pieces, progress=progress)
