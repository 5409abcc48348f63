"""Who may come in, who is in, and who changed what; for the owner."""

from __future__ import annotations

from datetime import datetime

from nicegui import ui

from portwright.services import passphrase, users
from portwright.services.users import Role, User
from portwright.ui import links
from portwright.ui.components.field import Field
from portwright.ui.layout import button, heading, page_frame, screen, table
from portwright.ui.state import open_shop, shop_file
from portwright.ui.work import in_thread

_MAY = {
    Role.OWNER.value: "owner (everything)",
    Role.PORTER.value: "porter (all work)",
    Role.APPRENTICE.value: "apprentice (enters)",
    Role.GUEST.value: "guest (looks)",
}
_LINES = 100  # of the log of changes, the newest


@screen(links.PEOPLE)
def people_page() -> None:
    """People, devices, and below them the log of changes over the whole width."""
    users.only_for(users.Role.OWNER)
    _People().draw()


class _People:
    """The parts of one open page, each drawn anew where something changed."""

    def draw(self) -> None:
        with page_frame("People", "shop"):
            with ui.element("div").classes("columns"):
                with ui.element("div").classes("stack"):
                    self._people()
                with ui.element("div").classes("stack"):
                    self._sessions()
                    self._new_person()
            self._changes()

    @ui.refreshable_method
    def _people(self) -> None:
        with ui.element("section").classes("sheet"):
            heading("People")
            if not open_shop().lan:
                ui.label(
                    "Now this computer only: whoever sits at it may do everything. Names and roles "
                    "count on tablets, after 'portwright serve --lan'."
                ).classes("soft")
            found = users.users(shop_file())
            if not found:
                ui.label("Nobody has a passphrase of their own; the shop's lets in as owner.")
            for person in found:
                self._person(person)

    def _person(self, person: User) -> None:
        name = person.name
        with ui.element("div").classes("stack").props("role=group") as group:
            group.props["aria-label"] = name  # as it is, whatever signs it has
            heading(name, 3)

            def changed(role: str) -> None:
                users.set_role(shop_file(), name, Role(role))
                said.set_text(f"{name} is {role} now.")
                self._changes.refresh()

            async def new_phrase() -> None:
                phrase = await _ask_phrase(name)
                if phrase:
                    await in_thread(users.set_phrase, shop_file(), name, phrase)
                    said.set_text("Set. Their devices have to log in again.")
                    self._refresh_all()

            async def gone() -> None:
                if await _sure(f"Let {name} in no more?", "What they entered keeps their name."):
                    users.remove(shop_file(), name)
                    self._people.refresh()
                    self._refresh_all()

            Field("Role", person.role.value, kind="choice", options=_MAY, on_change=changed)
            ui.label(f"Since {person.since}").classes("small soft")
            with ui.element("div").classes("row-wrap"):
                button("New passphrase", new_phrase)
                button("Log out everywhere", lambda: self._log_out(name))
                button("Let in no more", gone, "danger")
            said = ui.label().classes("strong small").props("role=status")

    def _refresh_all(self) -> None:
        self._sessions.refresh()
        self._changes.refresh()

    def _log_out(self, name: str) -> None:
        passphrase.end_sessions(shop_file(), name)
        self._refresh_all()

    def _new_person(self) -> None:
        with ui.element("section").classes("sheet"):
            heading("Let somebody in")
            with ui.element("div").classes("fields"):
                name = Field("Name")
                role = Field("Role", Role.PORTER.value, kind="choice", options=_MAY)
                phrase = Field("Passphrase", kind="password", hint="ten characters or more")

            async def add() -> None:
                new = (name.value, Role(role.value), phrase.value)
                await in_thread(users.add, shop_file(), *new)
                said.set_text(f"{name.value.strip()} may come in.")
                name.set("")
                phrase.set("")
                self._people.refresh()
                self._changes.refresh()

            button("Let in", add).style("align-self: flex-start")
            said = ui.label().classes("strong").props("role=status")

    @ui.refreshable_method
    def _sessions(self) -> None:
        with ui.element("section").classes("sheet"):
            heading("Devices that are in")
            found = passphrase.sessions(shop_file())
            if not found:
                ui.label("None is logged in.")
            for session in found:
                with ui.element("div").classes("spread"):
                    who = session.user or "With the shop passphrase"
                    until = session.ends.astimezone()
                    where = f" from {session.device}" if session.device else ""
                    ui.label(f"{who}{where}, until {until:%H:%M}")

                    def end(key: str = session.key) -> None:
                        passphrase.end_session(shop_file(), key)
                        self._refresh_all()

                    button("Log out", end, "danger")

    @ui.refreshable_method
    def _changes(self, by: str = "") -> None:
        names = ["", *(person.name for person in users.users(shop_file()))]
        with ui.element("section").classes("sheet"):
            heading("Who changed what")
            Field(
                "Only by",
                by,
                kind="choice",
                options={name: name or "everybody" for name in names},
                on_change=self._changes.refresh,
            )
            found = shop_file().changes(_LINES, by or None)
            if not found:
                ui.label("Nothing yet.").classes("soft")
                return
            rows = []
            for line in found:
                at = datetime.fromisoformat(line.at).astimezone()
                who = line.who or f"nobody named ({line.role})"
                when = f"{at:%Y-%m-%d %H:%M}".replace("-", "\u2011").replace(" ", "\u00a0")
                rows.append((when, who, users.change_words(line)))  # the moment on one line
            table(("When", "Who", "What"), rows)
            ui.label(f"The newest {_LINES}; 'portwright audit' lists all.").classes("small soft")


async def _ask_phrase(name: str) -> str:
    with ui.dialog() as dialog, ui.element("div").classes("card").props('role="document"'):
        heading(f"New passphrase of {name}")
        phrase = Field("Passphrase", kind="password", hint="ten characters or more")
        with ui.element("div").classes("row-wrap"):
            button("Keep the old one", lambda: dialog.submit(""), "quiet")
            button("Set it", lambda: dialog.submit(phrase.value), "main")
    answer = await dialog
    dialog.delete()
    return str(answer or "")


async def _sure(question: str, consequence: str) -> bool:
    with ui.dialog() as dialog, ui.element("div").classes("card").props('role="document"'):
        heading(question)
        ui.label(consequence)
        with ui.element("div").classes("row-wrap"):
            button("No", lambda: dialog.submit(False), "quiet")
            button("Yes", lambda: dialog.submit(True), "danger")
    answer = await dialog
    dialog.delete()
    return bool(answer)
