"""What all the work on a job came to: one sentence and one chart."""

from __future__ import annotations

from nicegui import ui

from portwright.errors import InputError
from portwright.services.compare import archive_pressure, left_out_line
from portwright.services.findings import CheckedJob
from portwright.services.overview import StageStory, story_of
from portwright.services.shop_file import ShopFile
from portwright.services.wording import sentence
from portwright.ui import links
from portwright.ui.components.flow_chart import FlowChart
from portwright.ui.components.result_chart import result_spec
from portwright.ui.layout import heading, link_button
from portwright.ui.state import View


def told(shop: ShopFile, checked: CheckedJob, view: View) -> StageStory | None:
    """Story of the port the work was developed on, None while there is none to tell."""
    try:
        return story_of(checked, archive_pressure(shop), view.display)
    except InputError:
        return None


def job_result(story: StageStory | None, view: View) -> None:
    """First against last stage, with a chart to look into and to save."""
    with ui.element("section").classes("sheet"):
        heading("Result")
        if story is None or story.whole is None:
            ui.label("Two stages have to be flow tested before there is a result.").classes("soft")
            return
        comparison = story.whole.comparison
        said = ui.label().classes("strong")
        chart = FlowChart(result_spec(comparison, view.display, ""), height="320px")
        if story.left_out:
            out = " ".join(left_out_line(code, why) for code, why in story.left_out.items())
            ui.label(f"Left out: {out}").classes("small")
        link_button("Stage by stage", links.compare(comparison.after.job), "quiet").style(
            "align-self: flex-start"
        )

    def draw() -> None:
        words = sentence(comparison, view.display.length)
        said.set_text(words)
        chart.draw(result_spec(comparison, view.display, words))

    draw()
    view.on_change(draw)
