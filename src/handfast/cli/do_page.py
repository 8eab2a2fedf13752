"""handfast page."""

from __future__ import annotations

import signal
import sys
import webbrowser
from pathlib import Path
from types import FrameType
from typing import NoReturn

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.open_project import must_be_folder, open_project
from handfast.cli.saved_records import must_be_of, need
from handfast.cli.screen import say, say_json
from handfast.files.record_json import RECORDS_FOLDER
from handfast.model.chart import Chart
from handfast.page.document import document
from handfast.page.saved import gather


def do_page(folder: str, out: str, as_json: bool) -> int:
    """Write one HTML file of everything saved about the chart."""
    project = open_project(folder).project
    chart = need(folder, "chart", Chart)
    must_be_of(project, chart, folder)
    records = Path(folder) / RECORDS_FOLDER
    page, left_out = gather(project, chart, records)
    data = document(page).encode("utf-8")
    path = Path(out)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error
    if as_json:
        say_json("page", {"file": str(path), "bytes": len(data), "left_out": list(left_out)})
        return YES
    for name in left_out:
        say(f"left out {records / name}.json: it belongs to another chart")
    say(f"wrote {path}  ({len(data) // 1000} kB; open it in a browser)")
    return YES


def do_live_page(folder: str, host: str | None, port: int, seed: int, browser: bool, as_json: bool) -> int:
    """Serve the page until interrupted."""
    from handfast.page.live.serve import ServeError, serve

    must_be_folder(folder)

    def opened(address: str) -> None:
        if as_json:
            say_json("page", {"address": address})
        else:
            say(f"{address}\nCheck, plan and budget follow the files as they are saved. Ctrl-C ends it.")
        sys.stdout.flush()
        if browser:
            webbrowser.open(address)

    signal.signal(signal.SIGTERM, _end)
    try:
        serve(Path(folder).absolute(), host=host, port=port, seed=seed, opened=opened)
    except ServeError as error:
        raise UnusableError(str(error)) from error
    except KeyboardInterrupt:
        pass
    return YES


def _end(_number: int, _frame: FrameType | None) -> NoReturn:
    raise KeyboardInterrupt
