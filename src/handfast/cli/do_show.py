"""handfast show."""

from __future__ import annotations

from handfast.cli.chart_text import chart_text
from handfast.cli.do_plan import chart_json
from handfast.cli.exit_codes import YES
from handfast.cli.open_project import must_be_folder
from handfast.cli.saved_records import need
from handfast.cli.screen import console, say_json
from handfast.files.record_json import sha256
from handfast.model.chart import Chart
from handfast.page.wording import seconds, short_hash


def do_show(folder: str, as_json: bool) -> int:
    """The saved chart in two columns."""
    must_be_folder(folder)
    chart = need(folder, "chart", Chart)
    digest = sha256(chart)
    if as_json:
        say_json("show", chart_json(chart.body, len(chart.body.mates), chart.seed, digest))
        return YES
    screen = console()
    screen.print(
        f"Two-hand chart of {chart.body.project}: {seconds(chart.body.makespan_s)} s a cycle, "
        f"seed {chart.seed}, chart {short_hash(digest)}\n"
    )
    screen.print(chart_text(chart.body, screen.width))
    return YES
