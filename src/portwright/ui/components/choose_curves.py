"""Which stages or sweeps stand against each other, kept in the address of the page."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from nicegui import ui

from portwright.errors import UnknownNameError
from portwright.model.contents import JobContents
from portwright.services.jobs import JobLine
from portwright.services.side_by_side import MOST
from portwright.ui.components.field import Field
from portwright.ui.layout import button

_RUN = "run "


def split_name(name: str) -> tuple[str, str, str]:
    """Job, port and stage, or job, "" and run code, of a name like "26-01/I1:S0".

    Raises
    ------
    UnknownNameError
        Not a name of that form.
    """
    job, _, rest = name.rpartition("/")
    if not job or not rest:
        raise UnknownNameError("curve", name, ())
    if ":" in rest:
        port, _, stage = rest.rpartition(":")
        return job, port, stage
    return job, "", rest


class ChooseCurves:
    """One line of choices for each curve.

    Parameters
    ----------
    names : sequence of str
    contents : dict of str to JobContents
        Of every job named.
    lines : list of JobLine
        Jobs that can be chosen.
    go : callable
        Opens the page for other names.

    Attributes
    ----------
    row : nicegui element
        Where more buttons can stand.
    """

    def __init__(
        self,
        names: Sequence[str],
        contents: dict[str, JobContents],
        lines: list[JobLine],
        go: Callable[[list[str]], object],
    ) -> None:
        self._names, self._contents, self._lines, self._go = list(names), contents, lines, go
        with ui.element("section").classes("sheet"):
            for place in range(len(self._names)):
                self._line(place)
            with ui.element("div").classes("row-wrap") as self.row:
                if len(self._names) <= MOST:
                    button("Add a curve", self._add)
                button("Swap first and last", self._swap, "quiet")

    def _line(self, place: int) -> None:
        job, port, what = split_name(self._names[place])
        contents = self._contents[job]
        run = next((r for r in contents.runs if not port and r.code == what), None)
        at = port or (run.port if run else "")
        word = "First" if place == 0 else f"Against {place}" if len(self._names) > 2 else "Against"
        with (
            ui.element("div").classes("curve-choice").props(f'role=group aria-label="{word} curve"')
        ):
            swept = [ln for ln in self._lines if ln.runs or ln.job.number == job]
            Field(
                f"{word}: job",
                job,
                kind="choice",
                options=[ln.job.number for ln in swept],
                on_change=lambda chosen: self._other_job(place, chosen),
            )
            Field(
                "Port",
                at,
                kind="choice",
                options=list(dict.fromkeys(r.port for r in contents.runs)),
                on_change=lambda chosen: self._put(place, self._first_of(job, chosen)),
            )
            Field(
                "Stage or sweep",
                _RUN + what if run else what,
                kind="choice",
                options=self._options(contents, at),
                on_change=lambda chosen: self._put(place, self._name(job, at, chosen)),
            )
            if len(self._names) > 2:
                button("Drop", lambda: self._drop(place), "quiet")

    def _options(self, contents: JobContents, port: str) -> dict[str, str]:
        runs = [r for r in contents.runs if r.port == port]
        notes = {s.code: s.note for s in contents.stages}
        counts = {r.stage: sum(o.stage == r.stage for o in runs) for r in runs}
        stages = {
            code: f"{code or 'no stage'} {notes.get(code, '')[:40]} "
            f"({n} {'sweep' if n == 1 else 'sweeps'})"
            for code, n in counts.items()
        }
        return stages | {_RUN + r.code: f"{r.stage} only {r.code}, {r.date}" for r in runs}

    def _name(self, job: str, port: str, chosen: str) -> str:
        if chosen.startswith(_RUN):
            return f"{job}/{chosen.removeprefix(_RUN)}"
        return f"{job}/{port}:{chosen}"

    def _first_of(self, job: str, port: str) -> str:
        runs = [r for r in self._contents[job].runs if r.port == port]
        return f"{job}/{port}:{runs[-1].stage}"

    def _other_job(self, place: int, job: str) -> None:
        port = split_name(self._names[place])[1]
        self._put(place, f"{job}/{port}:")

    def _put(self, place: int, name: str) -> None:
        self._names[place] = name
        self._go(self._names)

    def _add(self) -> None:
        self._go([*self._names, self._names[-1]])

    def _drop(self, place: int) -> None:
        del self._names[place]
        self._go(self._names)

    def _swap(self) -> None:
        self._names[0], self._names[-1] = self._names[-1], self._names[0]
        self._go(self._names)
