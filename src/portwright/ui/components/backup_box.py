"""Backups on the Shop screen: where, how often, what came of the last one."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from nicegui import ui

from portwright.errors import InputError
from portwright.services import backups
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading
from portwright.ui.state import shop_file
from portwright.ui.work import in_thread

_EVERY = {"1": "every hour", "4": "every 4 hours", "24": "once a day"}


def backup_box() -> None:
    """Say what is set and what happened, and let it be changed."""
    shop = shop_file()
    known = backups.plan(shop)
    with ui.element("section").classes("sheet"):
        heading("Backups by themselves")
        ui.label(
            "Choose a folder on another disk or on a stick. While the app runs, a checked copy of "
            "the shop file is put there again and again; the oldest are let go."
        ).classes("soft")
        every = f"{known.every_hours:g}"
        choices = _EVERY if every in _EVERY else {**_EVERY, every: f"every {every} hours"}
        with ui.element("div").classes("fields"):
            folder = Field(
                "Folder for backups", known.folder, hint="like E:\\backup; empty for none"
            )
            often = Field("How often", every, kind="choice", options=choices)

        @ui.refreshable
        def story() -> None:
            _story()

        async def save() -> None:
            hours = float(often.value)
            new = backups.Plan(folder.value.strip(), hours, known.keep)
            await in_thread(backups.set_plan, shop, new)
            if new.on:
                await in_thread(backups.make, shop)
            story.refresh()

        async def check() -> None:
            found = backups.kept(shop, Path(backups.plan(shop).folder))
            if not found:
                raise InputError("There is no backup to check yet.", "Set a folder and save.")
            tried = await in_thread(backups.rehearse, found[0].path, shop.path)
            said.set_text(
                f"{found[0].path.name} was restored on trial and read: {tried.jobs} jobs, "
                f"{tried.readings} readings."
            )

        with ui.element("div").classes("row-wrap"):
            button("Save and back up now", save)
            button("Try the newest backup", check)
        story()
        said = ui.label().classes("strong small").props("role=status")
        said.style("overflow-wrap: anywhere")


def _story() -> None:
    shop = shop_file()
    state = backups.state(shop)
    with ui.element("div").props("role=status"):
        if state.failed:
            ui.label(f"The last backup failed. {state.failed}").classes("notice fault")
        if not backups.plan(shop).on:
            ui.label("None are made: no folder is set.").classes("strong")
        elif state.made_at:
            local = datetime.fromisoformat(state.made_at).astimezone()
            ui.label(f"Newest: {local:%Y-%m-%d %H:%M}, checked.").classes("strong")
