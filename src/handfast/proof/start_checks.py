"""The start of a chart against the project: everything where it lies, jaws within their opening."""

from __future__ import annotations

from handfast.model.chart import Chart
from handfast.model.project import Project
from handfast.model.proof import Violation
from handfast.proof.stl import Array
from handfast.proof.tolerances import START
from handfast.spatial import se3
from handfast.spatial.pose import Pose


def item_names(project: Project) -> list[str]:
    """What can be held: parts and tools."""
    return [*(part.name for part in project.product.parts), *(tool.name for tool in project.cell.tools)]


def start_parents(project: Project) -> dict[str, tuple[str, Array]]:
    """Where the project says everything lies: item -> (place, T_place_item). What lies nowhere is left
    out."""
    out = {}
    for holder in project.cell.holders:
        for place in holder.places:
            if place.holds is not None:
                out[place.holds] = (f"place.{holder.name}.{place.name}", Pose().matrix)
    return out


def check_start(project: Project, chart: Chart) -> list[Violation]:
    """Items that are missing, unknown, twice, or elsewhere than the project puts them."""
    expected = start_parents(project)
    known = item_names(project)
    found = []
    names = [attachment.item for attachment in chart.start.attachments]
    for item in sorted({*known, *names}):
        if item not in known:
            found.append(
                _wrong(item, 0.0, f"the chart starts with {item!r}, which the project does not have")
            )
        elif item not in expected:
            found.append(
                _wrong(
                    item, 0.0, f"{item!r} lies in no place of the project, so it cannot be found at the start"
                )
            )
        elif names.count(item) != 1:
            found.append(
                _wrong(item, 0.0, f"the start of the chart says {names.count(item)} times where {item!r} is")
            )
        else:
            found += _elsewhere(chart, item, *expected[item])
    return found + _openings(project, chart)


def _elsewhere(chart: Chart, item: str, place: str, T_place_item: Array) -> list[Violation]:
    attachment = chart.start.of(item)
    if attachment.parent != place:
        text = f"the chart starts with {item!r} at {attachment.parent}; the project has it at {place}"
        return [_wrong(item, 0.0, text)]
    off, turned = se3.distance(T_place_item, attachment.pose.matrix)
    if max(off, turned) <= START:
        return []
    text = f"the chart starts with {item!r} {1e3 * off:.3f} mm and {turned:.4f} rad off its place {place}"
    return [_wrong(item, off, text)]


def _openings(project: Project, chart: Chart) -> list[Violation]:
    found = []
    stated = dict(chart.start.openings)
    for gripper in project.cell.grippers:
        if gripper.arm not in stated:
            found.append(
                _wrong(
                    gripper.arm, 0.0, f"the start does not say how wide the {gripper.arm} hand stands open"
                )
            )
            continue
        low, high = gripper.opening
        over = max(low - stated[gripper.arm], stated[gripper.arm] - high)
        if over > START:
            text = (
                f"the {gripper.arm} hand starts {1e3 * stated[gripper.arm]:.2f} mm open; its jaws go from "
                f"{1e3 * low:.2f} to {1e3 * high:.2f} mm"
            )
            found.append(Violation("limit", 0, 0.0, over, gripper.arm, "", text))
    return found


def _wrong(item: str, amount: float, text: str) -> Violation:
    return Violation("wrong place", 0, 0.0, amount, item, "", text)
