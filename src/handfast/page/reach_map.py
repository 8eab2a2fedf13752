"""A layout from above, with what each arm reaches of it, as an SVG drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape

from handfast.spatial.se3 import Array

_WIDE = 620.0  # of one arm's panel [px]
_EDGE, _GAP = 16.0, 28.0


@dataclass(frozen=True, eq=False, slots=True)
class Panel:
    """One arm: x (k,), y (m,): middles of squares [m]; share (m, k): reached, 0 to 1."""

    title: str
    x: Array
    y: Array
    share: Array


def reach_map(
    panels: Sequence[Panel], outlines: Mapping[str, Array], table: Sequence[Array], label: str
) -> str:
    """A whole SVG file: a panel for each arm beside the next. outlines (4, 2) by name, table: (4, 2) [m], in
    the world frame."""
    step = float(panels[0].x[1] - panels[0].x[0])
    left, right = float(panels[0].x[0] - step / 2), float(panels[0].x[-1] + step / 2)
    low, high = float(panels[0].y[0] - step / 2), float(panels[0].y[-1] + step / 2)
    scale = _WIDE / (right - left)
    tall = (high - low) * scale
    wide = len(panels) * (_WIDE + _GAP) - _GAP + 2 * _EDGE
    height = tall + 92
    parts = []
    for i, panel in enumerate(panels):
        parts.append(
            f'<g transform="translate({_EDGE + i * (_WIDE + _GAP):.1f} 40)">'
            f'<text class="title" x="0" y="-14">{escape(panel.title)}</text>'
            f"{_squares(panel, left, high, scale, step)}"
            f"{''.join(_outline('table', t, left, high, scale) for t in table)}"
            f"{''.join(_named(n, o, left, high, scale) for n, o in outlines.items())}</g>"
        )
    parts.append(_key(_EDGE, height - 24))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {height:.0f}" width="{wide:.0f}" '
        f'role="img" aria-label="{escape(label)}"><style>{_STYLE}</style>'
        f'<rect class="paper" width="100%" height="100%"/>{"".join(parts)}</svg>\n'
    )


_STYLE = (
    "text{font:14px ui-sans-serif,system-ui,sans-serif;fill:#1c2429}"
    ".title{font-size:17px;font-weight:600}"
    ".paper{fill:#fff}.reach{fill:#1f5f8b}"
    ".table{fill:none;stroke:#1c2429;stroke-width:1}"
    ".thing{fill:#fff;fill-opacity:.72;stroke:#1c2429;stroke-width:1.4}"
    ".name{text-anchor:middle;paint-order:stroke;stroke:#fff;stroke-width:3px}"
)


def _squares(panel: Panel, left: float, high: float, scale: float, step: float) -> str:
    """The fuller the square, the more of the turns are reached: size tells it where colours do not."""
    out = []
    for j, y in enumerate(panel.y):
        for i, x in enumerate(panel.x):
            share = float(panel.share[j, i])
            if share > 0:
                side = step * scale * share**0.5 * 0.94
                cx, cy = (float(x) - left) * scale, (high - float(y)) * scale
                out.append(
                    f'<rect class="reach" x="{cx - side / 2:.1f}" y="{cy - side / 2:.1f}" width="{side:.1f}" '
                    f'height="{side:.1f}" opacity="{0.25 + 0.5 * share:.2f}"/>'
                )
    return "".join(out)


def _outline(kind: str, corners: Array, left: float, high: float, scale: float) -> str:
    points = " ".join(f"{(x - left) * scale:.1f},{(high - y) * scale:.1f}" for x, y in corners)
    return f'<polygon class="{kind}" points="{points}"/>'


def _named(name: str, corners: Array, left: float, high: float, scale: float) -> str:
    x, y = corners.mean(axis=0)
    at = f'x="{(x - left) * scale:.1f}" y="{(high - y) * scale + 5:.1f}"'
    return f'{_outline("thing", corners, left, high, scale)}<text class="name" {at}>{escape(name)}</text>'


def _key(x: float, y: float) -> str:
    words = (
        "Squares: how many of eight turns of a hand that points straight down, 100 mm above the foot, the "
        "arm reaches with its links clear of everything. World x to the right, y up."
    )
    return f'<text x="{x}" y="{y}">{words}</text>'
