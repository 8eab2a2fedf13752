"""What a ledger would say if one thing were otherwise: another camera, a chamfer, a tighter place.

A change is written KEY=VALUE:

  SOURCE.FREEDOM=0.05 mm            SOURCE: a source's name, what it acts on, or the first words of that
                                    ("camera", "arm.right", "gripper.left_gripper.jaw", "right jaws");
                                    FREEDOM: x y z rx ry rz, or position or angle for all three that err now
                                    (for all three where none does)
  SOURCE.stiffness=400 N/mm         of a flange or of fingers, along x, y and z
  PART.FEATURE.chamfer=0.5 mm       radial width, at 45 deg where there was none
  PART.FEATURE.tolerance=0.05 mm    of its position
  HOLDER.PLACE.slack=0.05 mm        of a place
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from handfast.checking.checked_project import CheckedProject
from handfast.files.nearest import nearest
from handfast.files.record_json import sha256
from handfast.model.chart import Chart
from handfast.model.error_source import Changes, ErrorSource, Six, is_compliant
from handfast.model.feature import Chamfer, Feature
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.spatial.units import UnitError, parse

_FREEDOMS = ("x", "y", "z", "rx", "ry", "rz")
_GROUPS = {"position": (0, 1, 2), "angle": (3, 4, 5)}
# How often an error changes that nobody has written yet, by what it acts on.
_CHANGES: dict[str, Changes] = {
    "arm": "installation", "gripper": "shift", "grasp": "cycle", "holder": "shift", "place": "part",
    "feature": "lot", "tool": "shift", "camera": "part", "touch": "cycle",
}  # fmt: skip
_DRAWN = ("chamfer", "tolerance", "slack")
FORM = "KEY=VALUE, such as camera.position=0.3mm, 'right jaws.angle=0.01deg' or block.bore.chamfer=0.8mm"


class WhatIfError(ValueError):
    """A change that cannot be made: the message says what was expected."""


def what_if(checked: CheckedProject, chart: Record[Chart], changes: Sequence[str]) -> tuple[Ledger, Ledger]:
    """The ledger of the chart as it is, and with the changes; the chart itself stays.

    Raises WhatIfError for a change that cannot be made, BudgetError if sources or chart cannot be used.
    """
    from handfast.uncertainty.budget import budget
    from handfast.uncertainty.hand_poses import hand_poses

    changed = checked.project
    for change in changes:
        changed = changed_project(changed, change)
    poses = hand_poses(checked.project, chart.body)
    digest = sha256(chart)
    return (
        budget(checked.project, chart.body, digest, poses),
        budget(changed, chart.body, digest, poses),
    )


def changed_project(project: Project, change: str) -> Project:
    """The project with one change. Raises WhatIfError."""
    key, equals, value = change.partition("=")
    what, dot, last = key.strip().rpartition(".")
    if not (equals and dot and value.strip()):
        raise WhatIfError(f"expected {FORM}, found {change!r}")
    try:
        if last == "stiffness":
            return _stiffened(project, what, parse(value.strip(), "stiffness"))
        if last in _DRAWN:
            return _redrawn(project, what, last, parse(value.strip(), "length"))
        return _with_errors(project, what, last, value.strip())
    except UnitError as error:
        raise WhatIfError(f"{key}: {error}") from error


def _stiffened(project: Project, what: str, stiffness: float) -> Project:
    """Those that give, as uncertain as they were."""
    if not any(s.gives and _meant(s, what) for s in project.errors):
        known = sorted(
            {*(s.name for s in project.errors if s.gives), *(s.acts_on for s in project.errors if s.gives)}
        )
        raise WhatIfError(
            f"{what}.stiffness: expected an error source with a stiffness, found none; "
            f"there is: {', '.join(known) or 'none in this project'}"
        )
    if stiffness <= 0:
        raise WhatIfError(f"{what}.stiffness: expected more than zero, found {stiffness:g} N/m")

    def stiffened(source: ErrorSource) -> ErrorSource:
        if not (source.gives and _meant(source, what)):
            return source
        shares = [s / c for s, c in zip(source.sigma, source.compliance, strict=True)]
        x, y, z = (share / stiffness for share in shares[:3])
        compliance: Six = (*(1 / stiffness,) * 3, *source.compliance[3:])
        return replace(source, sigma=(x, y, z, *source.sigma[3:]), compliance=compliance, assumed=False)

    return replace(project, errors=tuple(stiffened(s) for s in project.errors))


def _with_errors(project: Project, what: str, freedom: str, value: str) -> Project:
    picked = _picked(freedom)
    if giving := [s.name for s in project.errors if s.gives and what in (s.name, s.acts_on)]:
        raise WhatIfError(
            f"{giving[0]} gives under load: expected {what}.stiffness=400 N/mm, found {freedom}"
        )
    chosen = [s.name for s in project.errors if _meant(s, what) and not s.gives]
    if not chosen and (added := _unwritten(project, what)):
        project = replace(project, errors=(*project.errors, *added))
        chosen = [s.name for s in added]
    if not chosen:
        known = sorted({*(s.name for s in project.errors), *(s.acts_on for s in project.errors)})
        raise WhatIfError(
            f"{what}: expected an error source of this project or what it acts on, found neither; "
            f"{nearest(what, known) or 'there is: ' + ', '.join(known)}"
        )
    sigma = parse(value, "length" if picked[0] < 3 else "angle")
    if sigma < 0:
        raise WhatIfError(f"{what}.{freedom}: expected a sigma of zero or more, found {value}")
    errors = tuple(_resized(s, picked, sigma) if s.name in chosen else s for s in project.errors)
    return replace(project, errors=errors)


def _unwritten(project: Project, what: str) -> tuple[ErrorSource, ...]:
    """A source without any error yet, for each edge meant on which nobody wrote one."""
    from handfast.uncertainty.edges import edges

    meant = [
        edge for edge in edges(project)
        if (edge == what or edge.startswith(f"{what}.")) and not is_compliant(edge)
    ]  # fmt: skip
    none: Six = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    return tuple(ErrorSource(f"what if {edge}", edge, none, _CHANGES[edge.split(".")[0]]) for edge in meant)


def _picked(freedom: str) -> tuple[int, ...]:
    if freedom in _FREEDOMS:
        return (_FREEDOMS.index(freedom),)
    if freedom in _GROUPS:
        return _GROUPS[freedom]
    raise WhatIfError(
        f"{freedom}: expected one of {', '.join((*_GROUPS, *_FREEDOMS, *_DRAWN))}, found none of them; "
        f"write {FORM}"
    )


def _meant(source: ErrorSource, what: str) -> bool:
    return what in (source.name, source.acts_on) or source.acts_on.startswith(f"{what}.")


def _resized(source: ErrorSource, picked: tuple[int, ...], sigma: float) -> ErrorSource:
    """Those of the picked freedoms that err take the sigma; all of them where none does."""
    six = list(source.sigma)
    erring = [i for i in picked if six[i] > 0] or list(picked)
    for i in erring:
        six[i] = sigma
    x, y, z, rx, ry, rz = six
    new: Six = (x, y, z, rx, ry, rz)
    return replace(source, sigma=new, assumed=False)


def _redrawn(project: Project, what: str, last: str, value: float) -> Project:
    owner, _, name = what.rpartition(".")
    if value < 0:
        raise WhatIfError(f"{what}.{last}: expected zero or more, found {value * 1e3:g} mm")
    if last == "slack":
        return _with_slack(project, owner, name, value)
    product = project.product
    if not any(p.name == owner and any(f.name == name for f in p.features) for p in product.parts):
        known = [f"{p.name}.{f.name}" for p in product.parts for f in p.features]
        raise WhatIfError(
            f"{what}: expected PART.FEATURE of this product, found none; {nearest(what, known)}"
        )

    def redrawn(feature: Feature) -> Feature:
        if last == "tolerance":
            return replace(feature, position_tolerance=value)
        angle = feature.chamfer.angle if feature.chamfer is not None else math.pi / 4
        return replace(feature, chamfer=Chamfer(value, angle) if value > 0 else None)

    parts = tuple(
        replace(p, features=tuple(redrawn(f) if f.name == name else f for f in p.features))
        if p.name == owner
        else p
        for p in product.parts
    )
    return replace(project, product=replace(product, parts=parts))


def _with_slack(project: Project, owner: str, name: str, value: float) -> Project:
    cell = project.cell
    known = [f"{h.name}.{p.name}" for h in cell.holders for p in h.places]
    if f"{owner}.{name}" not in known:
        near = nearest(f"{owner}.{name}", known)
        raise WhatIfError(f"{owner}.{name}: expected HOLDER.PLACE of this cell, found none; {near}")
    holders = tuple(
        replace(h, places=tuple(replace(p, slack=value) if p.name == name else p for p in h.places))
        if h.name == owner
        else h
        for h in cell.holders
    )
    return replace(project, cell=replace(cell, holders=holders))
