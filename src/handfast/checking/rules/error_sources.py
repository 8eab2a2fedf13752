"""Error sources act on things that exist, by amounts that can be."""

from __future__ import annotations

from collections.abc import Iterator

from handfast.checking.case import Case, Rule
from handfast.files.nearest import nearest
from handfast.model.error_source import ErrorSource
from handfast.model.finding import Finding


def targets(case: Case) -> set[str]:
    """Everything that an error source may act on."""
    cell = case.project.cell
    arms = [a.name for a in cell.arms]
    known = {f"arm.{a}.{end}" for a in arms for end in ("base", "tip", "flange")} | {
        f"touch.{a}" for a in arms
    }
    known |= {f"gripper.{g.name}.{what}" for g in cell.grippers for what in ("jaw", "fingers")}
    known |= {f"grasp.{g.name}.free" for g in cell.grippers}
    known |= {f"holder.{h.name}" for h in cell.holders}
    known |= {f"place.{h.name}.{p.name}" for h in cell.holders for p in h.places}
    known |= {f"feature.{item.name}.{f.name}" for _, item in case.items() for f in item.features}
    return known | {f"tool.{t.name}.bit" for t in cell.tools} | {f"camera.{c.name}" for c in cell.cameras}


def unknown_targets(case: Case) -> Iterator[Finding]:
    """Sources that act on nothing."""
    known = targets(case)
    for source in case.project.errors:
        if source.acts_on not in known and not _may_be_broken(case, source):
            path = ("errors", "sources", source.name, "acts_on")
            expected = (
                "arm.NAME.base, arm.NAME.tip, arm.NAME.flange, touch.ARM, gripper.NAME.jaw, "
                "gripper.NAME.fingers, grasp.NAME.free, holder.NAME, place.HOLDER.PLACE, "
                "feature.PART.FEATURE, tool.NAME.bit or camera.NAME"
            )
            fix = nearest(source.acts_on, sorted(known))
            yield case.finding("acts-on-nothing", path, expected, repr(source.acts_on), fix)


def _may_be_broken(case: Case, source: ErrorSource) -> bool:
    """It may act on something that is written, but could not be read."""
    words = source.acts_on.split(".")[1:]
    return any(path[-1] in words for path in case.broken)


def amounts(case: Case) -> Iterator[Finding]:
    """Deviations below zero, or so large that a unit must be wrong."""
    for source in case.project.errors:
        if source.gives:
            continue
        path = ("errors", "sources", source.name, "sigma")
        for i, sigma in enumerate(source.sigma):
            largest, shown = (0.05, f"{1e3 * sigma:.4g} mm") if i < 3 else (0.5, f"{sigma:.3g} rad")
            if not 0 <= sigma <= largest:
                expected = "from 0 to 50 mm" if i < 3 else "from 0 to 0.5 rad (29 deg)"
                yield case.finding("implausible-sigma", (*path, str(i)), expected, shown)


def stiffnesses(case: Case) -> Iterator[Finding]:
    """What gives so much under load that a unit must be wrong."""
    for source in case.project.errors:
        path = ("errors", "sources", source.name, "stiffness")
        for i, compliance in enumerate(source.compliance):
            least, unit = (1e3, "N/m") if i < 3 else (1.0, "N m/rad")
            if compliance * least > 1:
                expected = "1 N/mm or more" if i < 3 else "1 N m/rad or more"
                yield case.finding(
                    "implausible-stiffness", (*path, str(i)), expected, f"{1 / compliance:.3g} {unit}"
                )


def none_given(case: Case) -> Iterator[Finding]:
    """A project whose errors nobody wrote down."""
    if not case.project.errors and not any(p[0] == "errors" for p in case.broken):
        fix = "write errors.yaml; a sigma may be `unknown`"
        yield case.finding("no-errors", ("project", "errors"), "error sources", "none", fix, "warning")


RULES = (
    Rule(
        "acts-on-nothing",
        "An error source acts on something that exists in the project.",
        unknown_targets,
    ),
    Rule(
        "implausible-sigma",
        "A standard deviation is not negative, and not larger than 50 mm or 29 deg.",
        amounts,
    ),
    Rule(
        "implausible-stiffness",
        "A flange or fingers are no softer than 1 N/mm and 1 N m/rad: parts would hang beside their place.",
        stiffnesses,
    ),
    Rule("no-errors", "Without error sources every fit would seem sure: said as a warning.", none_given),
)
