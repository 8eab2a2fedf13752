"""handfast serve-cell."""

from __future__ import annotations

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import must_be_of, need
from handfast.cli.screen import say
from handfast.execution.serve_cell import serve
from handfast.model.chart import Chart
from handfast.workflow.run_chart import simulated_cell

HOST = "127.0.0.1"


def do_serve_cell(folder: str, port: int, seed: int) -> int:
    """Serve the simulated cell until it is interrupted."""
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    cell = simulated_cell(checked, chart, seed=seed)
    try:
        serve(cell, HOST, port, _ready)
    except KeyboardInterrupt:
        say("ended")
    except OSError as error:
        raise UnusableError(f"--port {port}: cannot be used: {error.strerror}") from error
    return YES


def _ready(port: int) -> None:
    print(f"the simulated cell answers at tcp://{HOST}:{port}; Ctrl-C ends it", flush=True)
