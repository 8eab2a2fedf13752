"""A chart on disk with what it was planned from."""

from __future__ import annotations

from pathlib import Path

from handfast.files.errors import RecordError
from handfast.files.record_json import load, stored_sha256
from handfast.model.basis import Basis
from handfast.model.chart import Chart
from handfast.model.record import Record
from handfast.workflow.make_chart import Made

CHART, BASIS = "chart.json", "chart-basis.json"


def earlier_plan(records: Path) -> Made | None:
    """The chart in a folder of records with its basis; None where it has none, or one of them is damaged:
    it can be planned from nothing all the same."""
    try:
        basis = _basis(records)
        return None if basis is None else Made(load(records / CHART, Chart), basis)
    except RecordError:
        return None


def things_read(records: Path) -> dict[str, str]:
    """Digests of the parts and tools that the chart in a folder of records was planned with, by name; none
    where it does not say so."""
    try:
        basis = _basis(records)
    except RecordError:
        return {}
    read = (one for unit in basis.body.units for one in unit.read) if basis is not None else ()
    return {n.partition(" ")[2]: digest for n, digest in read if n.startswith(("part ", "tool "))}


def _basis(records: Path) -> Record[Basis] | None:
    """That of the chart that lies there; another verb may have put another chart there since."""
    if not ((records / CHART).is_file() and (records / BASIS).is_file()):
        return None
    basis = load(records / BASIS, Basis)
    of = basis.inputs[0].sha256 if basis.inputs else ""
    return basis if of == stored_sha256(records / CHART) else None
