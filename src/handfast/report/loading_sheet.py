"""What has to lie where before a build: pictures of the holders, one row a place."""

from __future__ import annotations

from math import degrees as to_degrees

import numpy as np

from handfast.model.holder import Holder, Place
from handfast.model.project import Project
from handfast.page.line_drawing import Drawn, draw
from handfast.page.moment import Moment, moment
from handfast.page.png import png
from handfast.page.viewpoint import Viewpoint
from handfast.page.workplace import ROLE
from handfast.report.content import Block, Picture, ReportInput, Row, Section, Words, filled
from handfast.report.quantities import millimetres

_COLUMNS = (
    ("place", 0.22), ("load", 0.15), ("how many", 0.16), ("stands at x, y, z", 0.21),
    ("may lie off by", 0.26),
)  # fmt: skip
_PIXELS = (1120, 720)


def loading_sheet(given: ReportInput) -> Section:
    """A picture and a table for each holder that something lies in."""
    project, chart = given.page.project, given.page.chart.body
    loaded = [h for h in project.cell.holders if any(p.holds for p in h.places)]
    blocks: list[Block] = [
        Words(
            "Load before each build, one of each part. Tools stay. What lies further off than the last "
            "column says is outside of what was budgeted."
        )
    ]
    start = moment(project, chart, 0.0)
    for holder in loaded:
        blocks.append(_picture(start, holder))
        rows = [_row(project, holder, place) for place in holder.places if place.holds]
        blocks.append(filled(f"loading-{holder.name}", _COLUMNS, rows, ""))
    return Section("loading", "Tray loading sheet", tuple(blocks))


def loading_rows(project: Project) -> tuple[Row, tuple[Row, ...]]:
    """Head and rows of all holders in one table."""
    rows = [
        (h.kind, *_row(project, h, place)) for h in project.cell.holders for place in h.places if place.holds
    ]
    return ("holder", *(name for name, _ in _COLUMNS)), tuple(rows)


def _row(project: Project, holder: Holder, place: Place) -> Row:
    item = place.holds or ""
    is_part = any(p.name == item for p in project.product.parts)
    x, y, z = (holder.pose.matrix @ place.pose.matrix)[:3, 3] * 1e3
    off = [f"± {millimetres(place.slack)}"] if place.slack else []
    off += [f"± {to_degrees(place.slack_angle):g} deg about z"] if place.slack_angle else []
    stock = f"{place.stock}, " if place.stock > 1 else ""
    many = f"{stock}one for each build" if is_part else "stays: a tool"
    off_words = ", ".join(off) or "as the error sources say"
    return f"{holder.name}.{place.name}", item, many, f"{x:.1f}, {y:.1f}, {z:.1f} mm", off_words


def _picture(start: Moment, holder: Holder) -> Picture:
    own = {p.holds for p in holder.places if p.holds}
    bodies = [b for b in start.bodies if b.name == holder.name or (b.name in own and b.role != "holder")]
    view = _fitted(np.concatenate([b.corners.reshape(-1, 3) for b in bodies]))
    image = draw(view, [Drawn(b.corners, ROLE[b.role]) for b in bodies])
    height, width, _ = image.shape
    labels = [(name, *_beside(view, start, name)) for name in sorted(own & set(start.items))]
    caption = f"{holder.kind} {holder.name}".replace(f"{holder.kind} {holder.kind}", holder.kind)
    return Picture(png(image), width, height, tuple(labels), f"{caption}, loaded; seen from the front")


def _beside(view: Viewpoint, start: Moment, name: str) -> tuple[float, float]:
    """Under the item, in pixels of the picture, kept inside it."""
    corners = next(b.corners for b in start.bodies if b.name == name and b.role in ("part", "tool"))
    seen = view.project(corners.reshape(-1, 3)) / 2
    x, y = float((seen[:, 0].min() + seen[:, 0].max()) / 2), float(seen[:, 1].max()) + 12
    return min(max(x, 40.0), view.pixels[0] / 2 - 40), min(y, view.pixels[1] / 2 - 6)


def _fitted(points: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Viewpoint:
    """From above the front, so that all of it fills the picture."""
    azimuth, elevation = float(np.deg2rad(14)), float(np.deg2rad(48))
    axes = Viewpoint((0.0, 0.0, 0.0), azimuth, elevation, 1.0, (1, 1)).axes
    local = points @ axes.T
    low, high = local.min(axis=0), local.max(axis=0)
    x, y, z = (float(v) for v in ((low + high) / 2) @ axes)
    ratio = _PIXELS[0] / _PIXELS[1]
    width = float(max(high[0] - low[0], (high[1] - low[1]) * ratio)) * 1.22
    return Viewpoint((x, y, z), azimuth, elevation, width, _PIXELS)
