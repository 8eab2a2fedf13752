"""What a page is drawn from: saved records, as far as there are any."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.model.chart import Chart
from handfast.model.ledger import Ledger, MateRow
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.model.record import Record
from handfast.model.reliability import Reliability
from handfast.model.run_log import RunLog
from handfast.model.trial import TrialReport


@dataclass(frozen=True, slots=True)
class Saved:
    """A record's name and sha256, for the list of what the page was made from."""

    kind: str
    sha256: str


@dataclass(frozen=True, slots=True)
class PageInput:
    """chart, with its sha256; proof, ledger, trials, reliability and the last run of that chart where they
    exist."""

    project: Project
    chart: Record[Chart]
    chart_sha256: str
    proof: Proof | None = None
    ledger: Ledger | None = None
    trials: tuple[TrialReport, ...] = ()
    reliability: tuple[Reliability, ...] = ()
    saved: tuple[Saved, ...] = ()
    run_log: RunLog | None = None

    def row(self, mate: str) -> MateRow | None:
        """The ledger's row of a mate, if it has been budgeted."""
        rows = self.ledger.rows if self.ledger else ()
        return next((r for r in rows if r.mate == mate), None)
