"""Relations of benches, learned once and kept while nothing they stand on changes."""

from __future__ import annotations

import threading

from portwright.archive.archive import Archive
from portwright.core.translation import BenchRelation
from portwright.errors import InputError, RangeError, ShapeError
from portwright.model.head import Side
from portwright.services.translate import learn_translation

_MOST = 32
_kept: dict[tuple[str, ...], BenchRelation | None] = {}
_turn = threading.Lock()


def relation_of(archive: Archive, here: str, there: str, side: Side) -> BenchRelation | None:
    """Relation of two benches, None where too little was tested on both."""
    state = archive.bench_state()
    key = (str(archive.path), here, there, side.value, state)
    with _turn:
        if key in _kept:
            return _kept[key]
    found: BenchRelation | None
    try:
        found = learn_translation(archive, here, there, side).relation
    except (InputError, RangeError, ShapeError):
        found = None
    with _turn:
        while len(_kept) >= _MOST:
            del _kept[next(iter(_kept))]
        _kept[key] = found
    return found
