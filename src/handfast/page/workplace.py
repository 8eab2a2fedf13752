"""Pictures of the workplace: the whole cell, and the moments that matter, close up."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape

import numpy as np

from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.project import Project
from handfast.page.line_drawing import Drawn, draw
from handfast.page.moment import DrawnBody, Moment, moment
from handfast.page.png import data_address, png
from handfast.page.viewpoint import Viewpoint
from handfast.page.wording import phrase, seconds
from handfast.spatial.se3 import Array

Colour = tuple[float, float, float]
HANDS: tuple[Colour, Colour] = ((0.33, 0.60, 0.73), (0.82, 0.53, 0.32))
ROLE: dict[str, Colour] = {
    "arm": (0.62, 0.66, 0.70),
    "part": (0.80, 0.71, 0.40),
    "tool": (0.44, 0.47, 0.51),
    "holder": (0.80, 0.81, 0.80),
    "obstacle": (0.50, 0.55, 0.55),
}
OVERVIEW = (1720, 1120)
CLOSE_UP = (640, 480)
CLOSE_WIDTH = 0.26


@dataclass(frozen=True, slots=True)
class Shot:
    """A moment worth a picture: when [s], which element it belongs to, and the item to look at."""

    time_s: float
    element: Element
    item: str


def overview(project: Project, chart: Chart, shot: Shot | None) -> str:
    """A <figure> of the whole cell at that moment (at the start if there is none), with names."""
    when = moment(project, chart, shot.time_s if shot else 0.0)
    view = _whole_cell(when, [place for _, place in _named_places(project, when)])
    words = f"element {shot.element.number}, {phrase(shot.element)}" if shot else "before the first element"
    caption = f"At {seconds(when.time_s)} s: {words}. Parallel projection."
    labels = "".join(_label(view, name, point) for name, point in _named_places(project, when))
    return _figure("workplace", view, _picture(view, when, chart), labels, caption)


def overview_png(project: Project, chart: Chart) -> tuple[bytes, float]:
    """The whole cell when the first mate goes home, as a PNG, and its height over its width."""
    shot = next((s for s in shots(chart) if s.element.kind == "assemble"), None)
    when = moment(project, chart, shot.time_s if shot else 0.0)
    view = _whole_cell(when, [place for _, place in _named_places(project, when)])
    return png(draw(view, _drawn(when, chart))), view.pixels[1] / view.pixels[0]


def close_ups(project: Project, chart: Chart) -> str:
    """A <figure> for each handover, touch, mate and screw."""
    return "".join(_close_up(project, chart, shot) for shot in shots(chart))


def shots(chart: Chart) -> tuple[Shot, ...]:
    """The moments that matter, in their order; of the rounds of a screw the last one."""
    found = [make(e) for e in chart.elements for applies, make in _SHOTS if applies(e)]
    last = {s.element.object: s for s in found if s.element.kind == "use"}
    kept = [s for s in found if s.element.kind != "use" or last[s.element.object] is s]
    return tuple(sorted(kept, key=lambda s: s.time_s))


def _at_end(element: Element) -> Shot:
    return Shot(element.start_s + element.duration_s, element, element.object)


def _at_contact(element: Element) -> Shot:
    """At the end of the guarded move."""
    upto = (element.guarded or 0) + 1
    lead = sum(m.duration for m in element.motions[:upto])
    return Shot(element.start_s + element.before_s + lead, element, element.object)


_SHOTS: tuple[tuple[Callable[[Element], bool], Callable[[Element], Shot]], ...] = (
    (lambda e: e.kind == "grasp" and e.target.startswith("hand."), _at_end),
    (lambda e: e.kind == "locate", _at_contact),
    (lambda e: e.kind == "assemble", _at_end),
    (lambda e: e.kind == "use" and e.leaves is not None and e.leaves.parent.startswith("part."), _at_end),
)


def _close_up(project: Project, chart: Chart, shot: Shot) -> str:
    when = moment(project, chart, shot.time_s)
    place = when.items[shot.item] if shot.item in when.items else when.hands[shot.element.hand]
    x, y, z = (float(v) for v in place[:3, 3])
    view = Viewpoint((x, y, z), np.deg2rad(24), np.deg2rad(28), CLOSE_WIDTH, CLOSE_UP)
    caption = f"{seconds(shot.time_s)} s: element {shot.element.number}, {phrase(shot.element)}"
    return _figure("close-up", view, _picture(view, when, chart), "", caption)


def _whole_cell(when: Moment, labels: list[Array]) -> Viewpoint:
    """So that arms, holders, parts, tools and the labels fill the picture."""
    view = Viewpoint((0.0, 0.0, 0.0), np.deg2rad(16), np.deg2rad(36), 1.0, (1, 1))
    shown = [b.corners.reshape(-1, 3) for b in when.bodies if b.role != "obstacle"]
    corners = np.concatenate([*shown, *(p[None] for p in labels)])
    local = corners @ view.axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    x, y, z = (float(v) for v in ((low + high) / 2) @ view.axes)
    ratio = OVERVIEW[0] / OVERVIEW[1]
    width = float(max(high[0] - low[0], (high[1] - low[1]) * ratio)) * 1.10
    return Viewpoint((x, y, z), view.azimuth, view.elevation, width, OVERVIEW)


def _picture(view: Viewpoint, when: Moment, chart: Chart) -> str:
    return data_address(draw(view, _drawn(when, chart)))


def _drawn(when: Moment, chart: Chart) -> list[Drawn]:
    return [
        Drawn(b.corners, _colour(b, chart), sheet=b.role == "obstacle", plain=b.role == "arm")
        for b in when.bodies
    ]


def _colour(body: DrawnBody, chart: Chart) -> Colour:
    if body.role == "arm" and body.name in chart.hands[:2]:
        return HANDS[chart.hands.index(body.name)]
    return ROLE[body.role]


def _named_places(project: Project, when: Moment) -> list[tuple[str, Array]]:
    """Hands at their base, holders at the point nearest the table's front."""
    below = np.array([0.0, -0.11, 0.0])
    names = [(f"{arm.name} hand", arm.base.matrix[:3, 3] + below) for arm in project.cell.arms]
    for body in when.bodies:
        if body.role == "holder":
            flat = body.corners.reshape(-1, 3)
            middle = (flat.min(axis=0) + flat.max(axis=0)) / 2
            names.append((body.name, np.array([middle[0], flat[:, 1].min(), flat[:, 2].min()])))
    return names


def _label(view: Viewpoint, name: str, point: Array) -> str:
    x, y, _ = view.project(point) / 2
    return f'<text x="{x:.0f}" y="{y + 24:.0f}">{escape(name)}</text>'


def _figure(kind: str, view: Viewpoint, address: str, labels: str, caption: str) -> str:
    width, height = view.pixels[0] // 2, view.pixels[1] // 2
    said = f'role="img" aria-label="{escape(caption)}"'
    return (
        f'<figure class="{kind}"><svg viewBox="0 0 {width} {height}" {said}>'
        f'<image href="{address}" width="{width}" height="{height}"/>{labels}</svg>'
        f"<figcaption>{escape(caption)}</figcaption></figure>"
    )
