"""Links that show a customer the result of one job, made and withdrawn here."""

from __future__ import annotations

from nicegui import ui

from portwright.services import passphrase
from portwright.ui import links
from portwright.ui.layout import button, heading
from portwright.ui.state import open_shop, shop_file


def guest_links(job: str) -> None:
    """Make, show and withdraw guest links of a job."""
    with ui.element("section").classes("sheet"):
        heading("Customer's view")
        ui.label("A link to the result of this job and nothing else, for 30 days.").classes("soft")
        fresh = ui.element("div").classes("stack").props("aria-live=polite")

        def make() -> None:
            token = passphrase.make_guest_link(shop_file(), job)
            fresh.clear()
            with fresh, ui.element("div").classes("notice good"):
                ui.label("Shown once").classes("kind small")
                path, address = f"{links.GUEST}/{token}", open_shop().address()
                ui.link(address + path, path, new_tab=True).style("overflow-wrap: anywhere")
                if not address:
                    ui.label("Works on this computer; start with --lan for others.").classes(
                        "small"
                    )
            standing.refresh()

        button("Make a link", make).style("align-self: flex-start")

        @ui.refreshable
        def standing() -> None:
            for link in passphrase.guest_links(shop_file(), job):
                with ui.element("div").classes("spread"):
                    ui.label(f"Made {link.made}, works until {link.ends}").classes("small")

                    def withdraw(key: str = link.key) -> None:
                        passphrase.withdraw_guest_link(shop_file(), key)
                        standing.refresh()

                    button("Withdraw", withdraw, "danger")

        standing()
