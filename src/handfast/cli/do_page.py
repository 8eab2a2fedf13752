"""handfast page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import FILES, maybe, must_be_of, need, record_path
from handfast.cli.screen import say, say_json
from handfast.files.record_json import sha256
from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.page.document import document
from handfast.page.page_input import PageInput, Saved


def do_page(folder: str, out: str | None, as_json: bool) -> int:
    """Write one HTML file of everything saved about the chart."""
    project = open_project(folder).project
    chart = need(folder, "chart", Chart)
    must_be_of(project, chart, folder)
    path = Path(out) if out else record_path(folder, "chart").parent / f"{project.name}.html"
    page, left_out = gather(folder, project, chart)
    data = document(page).encode("utf-8")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    except OSError as error:
        raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error
    if as_json:
        say_json("page", {"file": str(path), "bytes": len(data), "left_out": list(left_out)})
        return YES
    for name in left_out:
        say(f"left out {record_path(folder, name)}: it belongs to another chart")
    say(f"wrote {path}  ({len(data) // 1000} kB; open it in a browser)")
    return YES


def gather(folder: str, project: Project, chart: Record[Chart]) -> tuple[PageInput, tuple[str, ...]]:
    """What there is about this chart, and the names of saved records that belong to another one."""
    digest = sha256(chart)
    found: dict[str, Any] = {}
    left_out: list[str] = []
    ledger_sha256 = ""
    for name in (
        "proof",
        "ledger",
        "trial-touched",
        "trial-untouched",
        "reliability-touched",
        "reliability-untouched",
    ):
        record = maybe(folder, name, FILES[name])
        if record is None:
            continue
        if name == "ledger":
            ledger_sha256 = sha256(record)
        belongs = (
            record.body.ledger_sha256 == ledger_sha256
            if name.startswith("reliability")
            else record.body.chart_sha256 == digest
        )
        if belongs:
            found[name] = record
        else:
            left_out.append(name)
    page = PageInput(
        project=project,
        chart=chart,
        chart_sha256=digest,
        proof=found["proof"].body if "proof" in found else None,
        ledger=found["ledger"].body if "ledger" in found else None,
        trials=tuple(found[n].body for n in found if n.startswith("trial")),
        reliability=tuple(found[n].body for n in found if n.startswith("reliability")),
        saved=(Saved("chart", digest), *(Saved(n, sha256(r)) for n, r in found.items())),
    )
    return page, tuple(left_out)
