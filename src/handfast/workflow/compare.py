"""Ledger x trial report -> reliability: does what was tried agree with what was predicted?"""

from __future__ import annotations

from handfast.files.record_json import make_record, sha256
from handfast.model.ledger import Band, Ledger, MateRow
from handfast.model.project import InputFile
from handfast.model.record import Record
from handfast.model.reliability import MateAgreement, Reliability
from handfast.model.trial import MateCount, TrialReport
from handfast.standards.interval import exact

JOINT = 0.95


class MismatchError(ValueError):
    """Records that do not belong together: the message says which."""


def reliability(ledger: Record[Ledger], trial: Record[TrialReport]) -> Record[Reliability]:
    """Each mate's predicted band against the exact interval of its simulated builds, both of builds in
    which the mates before it went in.

    Exact, since most shares lie close to one, where Wilson's interval shuts out true shares too often. The
    intervals are held at 1 - 0.05 / m for m mates, so that all of them hold together with at least 95 %
    (Bonferroni; valid whether or not the mates of a build fail together). A mate that was never tried, or
    that has no prediction, does not agree. Raises MismatchError if they are not of the same chart.
    """
    if ledger.body.chart_sha256 != trial.body.chart_sha256:
        raise MismatchError(
            f"expected a ledger and trials of one chart, found {ledger.body.chart_sha256[:12]} "
            f"and {trial.body.chart_sha256[:12]}; budget and try the same chart"
        )
    touched = trial.body.with_touches
    counts = {c.mate: c for c in trial.body.counts}
    rows = {r.mate: r for r in ledger.body.rows}
    names = [*rows, *(m for m in counts if m not in rows)]
    level = level_of(len(names))
    mates = tuple(_mate(name, rows.get(name), counts.get(name), touched, level) for name in names)
    body = Reliability(
        sha256(ledger), sha256(trial), touched, level, mates, bool(mates) and all(m.agrees for m in mates)
    )
    inputs = (InputFile(ledger.kind, sha256(ledger)), InputFile(trial.kind, sha256(trial)))
    return make_record(body, inputs, trial.seed)


def level_of(mates: int) -> float:
    """Confidence of each interval so that those of that many mates hold together (Bonferroni)."""
    return 1.0 - (1.0 - JOINT) / max(1, mates)


def _mate(
    name: str, row: MateRow | None, count: MateCount | None, touched: bool, level: float
) -> MateAgreement:
    predicted = Band(0.0, 1.0, True) if row is None else _prediction(row, touched)
    if count is None or count.tried == 0:
        return MateAgreement(name, predicted, (0.0, 1.0), 0, 0, False)
    low, high = exact(count.succeeded, count.tried, level)
    agrees = row is not None and predicted.low <= high and low <= predicted.high
    return MateAgreement(name, predicted, (low, high), count.tried, count.succeeded, agrees)


def _prediction(row: MateRow, touched: bool) -> Band:
    """Of builds in which the mates before went in: a trial that stops at the first failure sees no others."""
    return row.in_order if touched else row.in_order_untouched
