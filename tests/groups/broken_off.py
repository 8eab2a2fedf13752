"""Charts of groups, planned once for a module, broken off or changed, and what a proof then says."""

from __future__ import annotations

from dataclasses import replace

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.model.proof import Proof
from handfast.proof.verify import verify


def proof_of(project: Project, chart: Chart) -> Proof:
    return verify(project, chart, "")


def up_to(chart: Chart, mate: str, kind: str) -> Chart:
    """The chart broken off after an element of a mate; who waits, waits no longer than that."""
    last = of(chart, mate, kind)
    end = last.start_s + last.duration_s
    elements = tuple(
        replace(e, duration_s=end - e.start_s) if e.kind == "delay" and e.start_s + e.duration_s > end else e
        for e in chart.elements[: last.number]
    )
    return replace(chart, elements=elements, makespan_s=end)


def with_element(chart: Chart, number: int, **change: object) -> Chart:
    elements = tuple(replace(e, **change) if e.number == number else e for e in chart.elements)  # type: ignore[arg-type]
    return replace(chart, elements=elements)


def of(chart: Chart, mate: str, kind: str) -> Element:
    return next(e for e in chart.elements if (e.mate, e.kind) == (mate, kind))


def wrong(proof: Proof) -> list[tuple[str, str]]:
    """What a proof of a chart that was broken off finds, but that the rest of the mates is missing."""
    return [(v.kind, v.text) for v in proof.violations if v.kind != "missing mate"]
