"""What is known of the engine: numbers to set, and what was assumed."""

from __future__ import annotations

from collections.abc import Callable

from nicegui import ui

from portwright.model.engine import ENGINE_TERMS, EngineDescription, Source
from portwright.model.quantity import AsTyped
from portwright.services.engine_facts import set_engine_value
from portwright.ui.components.number_entry import NumberEntry, Outcome
from portwright.ui.layout import heading, table
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread
from portwright.units import Kind

# What moves the answers most, to be set here; the rest is listed with its source.
_ENTERED = (
    "runner_length",
    "primary_length",
    "primary_diameter",
    "compression",
    "target_speed",
    "velocity_limit",
)


def engine_values(engine: EngineDescription, changed: Callable[[], object]) -> None:
    """Boxes for the numbers that matter most above the whole list.

    Parameters
    ----------
    engine : EngineDescription
    changed : callable
        Called after a number was stored.
    """
    words = {t.name: t.words for t in ENGINE_TERMS}
    kinds = {t.name: Kind(t.kind) for t in ENGINE_TERMS}
    values = engine.values()
    with ui.element("section").classes("sheet"):
        heading("The engine")
        with ui.element("div").classes("fields"):
            for name in _ENTERED:
                value = values[name]
                assumed = value.source is Source.ASSUMED

                async def commit(typed: AsTyped, name: str = name) -> Outcome:
                    text = f"{typed.text} {typed.unit}"
                    await in_thread(set_engine_value, shop_file(), engine.job, name, text)
                    changed()
                    return Outcome(typed.text)

                NumberEntry(
                    words[name].capitalize(),
                    kinds[name],
                    value.value.unit,
                    commit,
                    value=value.value.text,
                    hint=f"assumed: {value.note}" if assumed else value.source.value,
                )
        count = len(engine.assumed())
        with ui.expansion(f"Every number and where it is from; {count} are assumed").classes(
            "fold"
        ):
            rows = [
                (name.replace("_", " "), choice.value, choice.source.value, choice.note)
                for name, choice in engine.choices().items()
            ]
            rows += [
                (words[name], _text(v.value), v.source.value, v.note) for name, v in values.items()
            ]
            if engine.runner_profile is not None:
                rows.append(("runner profile", engine.runner_profile.text, "job sheet", ""))
            table(("", "value", "from", ""), rows)


def _text(value: AsTyped) -> str:
    return value.text if value.unit == "-" else str(value)
