"""Saved records and a reading of the files -> the sheet that the page shows."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace
from typing import Any

from handfast import __version__
from handfast.files.position import SourceMap
from handfast.files.typed_json import to_json
from handfast.geometry.mesh_error import MeshError
from handfast.kinematics.chain import ArmError
from handfast.model.finding import Finding
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.page.cautions import CAUTIONS
from handfast.page.cell_bodies import arms_drawn, cell_bodies
from handfast.page.critical_path import critical_path
from handfast.page.glb_writer import write_glb
from handfast.page.page_input import PageInput
from handfast.page.sheet import ArmDrawn, Sheet, Written
from handfast.page.windows import windows


def empty_sheet(findings: tuple[Finding, ...]) -> Sheet:
    """A project that cannot be read far enough to draw anything."""
    return Sheet(
        version=__version__, project=None, chart=None, chart_sha256="", seed=0, no_plan=None, proof=None,
        ledger=None, trials=(), reliability=(), run_log=None, findings=findings, arms=(), geometry="",
        geometry_problem="", written=(), cautions=CAUTIONS, made=(), changed=(),
    )  # fmt: skip


def make_sheet(
    project: Project,
    sources: SourceMap,
    findings: tuple[Finding, ...],
    page: PageInput | None,
    no_plan: NoPlan | None = None,
    changed: tuple[str, ...] = (),
) -> tuple[Sheet, bytes]:
    """The sheet, and its geometry as GLB (empty if the bodies cannot be read, with the reason in the sheet).

    page: the chart and what belongs to it, if there is one.
    """
    geometry, arms, problem = _geometry(project)
    sheet = replace(
        empty_sheet(findings),
        project=replace(project, folder=""),
        no_plan=no_plan,
        arms=arms,
        geometry=hashlib.sha256(geometry).hexdigest() if geometry else "",
        geometry_problem=problem,
        written=written(project, sources),
        changed=changed,
    )
    return (sheet if page is None else with_records(sheet, page)), geometry


def with_records(sheet: Sheet, page: PageInput) -> Sheet:
    """The sheet with a chart and what belongs to it."""
    return replace(
        sheet,
        chart=page.chart.body,
        chart_sha256=page.chart_sha256,
        seed=page.chart.seed,
        proof=page.proof,
        ledger=page.ledger,
        trials=page.trials,
        reliability=page.reliability,
        run_log=page.run_log,
        made=page.saved,
        critical=critical_path(page.chart.body),
        windows=windows(sheet.project, page.chart.body, page.ledger, page.trials) if sheet.project else (),
    )


def sheet_json(sheet: Sheet) -> str:
    """The sheet as JSON text; one line."""
    plain: Any = to_json(sheet, Sheet)
    return json.dumps(plain, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _geometry(project: Project) -> tuple[bytes, tuple[ArmDrawn, ...], str]:
    try:
        return write_glb(cell_bodies(project), {}, title=project.name), arms_drawn(project), ""
    except (ArmError, MeshError) as error:
        return b"", (), str(error)


def written(project: Project, sources: SourceMap) -> tuple[Written, ...]:
    """Where mates, parts, holders, tools, arms and error sources were written."""
    named = [
        *(("mate", ("product", "mates", m.name)) for m in project.product.mates),
        *(("part", ("product", "parts", p.name)) for p in project.product.parts),
        *(("holder", ("cell", "holders", h.name)) for h in project.cell.holders),
        *(("tool", ("cell", "tools", t.name)) for t in project.cell.tools),
        *(("arm", ("cell", "arms", a.name)) for a in project.cell.arms),
        *(("gripper", ("cell", "grippers", g.name)) for g in project.cell.grippers),
        *(("source", ("errors", "sources", s.name)) for s in project.errors),
    ]
    found = [(f"{kind} {path[-1]}", sources.at(*path)) for kind, path in named]
    return tuple(Written(what, place.file, place.line) for what, place in found if place.line)
