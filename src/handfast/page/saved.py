"""The records of a folder that the page reads, as far as they belong to the chart."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from handfast.files.record_json import load, sha256
from handfast.model.chart import Chart
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.reliability import Reliability
from handfast.model.run_log import RunLog
from handfast.model.trial import TrialReport
from handfast.page.page_input import PageInput, Saved

# In this order: an agreement belongs to the ledger before it.
READ: dict[str, type[Any]] = {
    "proof": Proof,
    "ledger": Ledger,
    "trial-touched": TrialReport,
    "trial-untouched": TrialReport,
    "reliability-touched": Reliability,
    "reliability-untouched": Reliability,
    "run-log": RunLog,
}


def gather(project: Project, chart: Record[Chart], *folders: Path) -> tuple[PageInput, tuple[str, ...]]:
    """What there is about this chart in folders of records (the first that has one), and the names of saved
    records that belong to another chart. Raises RecordError if one is damaged."""
    digest = sha256(chart)
    found: dict[str, Any] = {}
    left_out: list[str] = []
    for name, body in READ.items():
        paths = [folder / f"{name}.json" for folder in folders]
        records = [load(path, body) for path in paths if path.exists()]
        ledger = sha256(found["ledger"]) if "ledger" in found else ""
        own = next((r for r in records if _belongs(r.body, digest, ledger)), None)
        if own is not None:
            found[name] = own
        elif records:
            left_out.append(name)
    page = PageInput(
        project=project,
        chart=chart,
        chart_sha256=digest,
        proof=_body(found, "proof"),
        ledger=_body(found, "ledger"),
        trials=tuple(found[n].body for n in found if n.startswith("trial")),
        reliability=tuple(found[n].body for n in found if n.startswith("reliability")),
        run_log=_body(found, "run-log"),
        saved=(Saved("chart", digest), *(Saved(n, sha256(r)) for n, r in found.items())),
    )
    return page, tuple(left_out)


def _belongs(body: Any, chart: str, ledger: str) -> bool:
    if isinstance(body, Reliability):
        return body.ledger_sha256 == ledger
    return bool(body.chart_sha256 == chart)


def _body(found: dict[str, Any], name: str) -> Any:
    return found[name].body if name in found else None
