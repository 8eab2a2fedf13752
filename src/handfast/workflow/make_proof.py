"""Project and chart -> proof: every motion checked again, by other code."""

from __future__ import annotations

from collections.abc import Callable

from handfast.files.record_json import make_record, sha256
from handfast.model.chart import Chart
from handfast.model.project import InputFile, Project
from handfast.model.proof import Proof
from handfast.model.record import Record


def verify(
    project: Project,
    chart: Record[Chart],
    progress: Callable[[float], None] | None = None,
    digest: str | None = None,
) -> Record[Proof]:
    """What the independent verifier finds in a chart, planned by whomever. progress: told the share done, 0
    to 1, now and then; digest: sha256 of the chart, where it has just been saved."""
    from handfast.proof import verify as prove

    digest = digest or sha256(chart)
    found = prove(project, chart.body, digest, progress=progress)
    return make_record(found, (*project.inputs, InputFile(chart.kind, digest)), chart.seed)
