"""handfast features."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.screen import progress, say, say_json
from handfast.files.nearest import listed
from handfast.geometry.cad.cad_error import CadError
from handfast.geometry.cad.drawn_feature import DrawnFeature
from handfast.geometry.cad.read_cad import Limits
from handfast.mates.from_cad.stated import tolerance_words
from handfast.page.feature_picture import COLOURS, Coloured, feature_picture
from handfast.workflow.drawn_features import PartFeatures, drawn_features


def do_features(
    source: str,
    part: str | None,
    pictures: str | None,
    why: bool,
    limits: Limits,
    as_json: bool,
    unit: str | None = None,
) -> int:
    """List what was found in each part, draw it if asked to, tell why other faces are no features."""
    try:
        with progress("reading", every=10) as tell:
            assembly, parts = drawn_features(source, limits, tell, unit)
    except CadError as error:
        raise UnusableError(str(error)) from error
    chosen = [p for p in parts if part is None or part == p.drawing.name or part in p.uses]
    if not chosen:
        names = listed(tuple(dict.fromkeys(n for p in parts for n in (p.drawing.name, *p.uses))))
        raise UnusableError(f"--part: expected one of {names}, found {part!r}")
    drawn = _pictures(chosen, Path(pictures)) if pictures is not None else {}
    if as_json:
        answer = {"parts": [_record(p) for p in chosen], "pictures": [str(f) for f in drawn.values()]}
        say_json("features", {"assembly": assembly.name, "notes": list(assembly.notes), **answer})
        return YES
    for note in assembly.notes:
        say(f"note: {note}")
    for p in chosen:
        for line in part_lines(p, why):
            say(line)
    if drawn:
        colours = ", ".join(f"{kind or 'no feature'} {word}" for kind, (_, word) in COLOURS.items())
        say(f"wrote {', '.join(str(f) for f in drawn.values())}; {colours}")
    return YES


def part_lines(part: PartFeatures, why: bool) -> list[str]:
    """One part for the terminal."""
    graph, standard = part.drawing.graph, part.standard
    uses = f", used {len(part.uses)} times" if len(part.uses) > 1 else ""
    words = f"{part.drawing.name}: {len(graph.faces)} faces, {1e6 * graph.volume:.4g} cm3{uses}"
    lines = [f"{words}; {standard.name} (sure {standard.sure:.2f}: {standard.why})" if standard else words]
    lines += [f"  {feature_line(d)}" for d in part.found.features]
    if part.grips:
        widths = ", ".join(f"{' and '.join(g.features)} {1e3 * g.width:.4g} mm" for g in part.grips[:6])
        more = f", and {len(part.grips) - 6} more" if len(part.grips) > 6 else ""
        lines.append(f"  held by: {widths}{more}")
    if not part.found.reasons:
        return lines
    by_reason: dict[str, list[int]] = {}
    for face, reason in sorted(part.found.reasons.items()):
        by_reason.setdefault(reason, []).append(face)
    if not why:
        count = len(part.found.reasons)
        return [*lines, f"  {count} face{'s' if count > 1 else ''} in no feature; --why tells why"]
    for reason, faces in by_reason.items():
        lines.append(
            f"  no feature, face{'s' if len(faces) > 1 else ''} {listed(tuple(map(str, faces)))}: {reason}"
        )
    return lines


def feature_line(d: DrawnFeature) -> str:
    """Name, form, size, place, and how sure."""
    f = d.feature
    x, y, z = (round(1e3 * v, 6) + 0.0 for v in f.frame.position)
    size = [f"{1e3 * f.diameter:.4g} mm"] if f.diameter is not None and f.kind != "slot" else []
    size += [f"{1e3 * f.size[0]:.4g} x {1e3 * f.size[1]:.4g} mm"] if f.size is not None else []
    size += [f"{1e3 * f.length:.4g} long"] if f.length is not None and f.kind != "face" else []
    size += [f"{f.teeth} teeth of {1e3 * (f.module or 0):g}"] if f.teeth else []
    size += [f"drilled for {d.thread}?"] if d.thread else []
    if d.chamfers[0] is not None:
        width, angle = d.chamfers[0]
        size.append(f"lead-in {1e3 * width:.3g} mm, {np.rad2deg(angle):.3g} deg")
    words = f"{f.name:<14} {f.kind}, {d.form}: {', '.join(size)}; at {x:.4g}, {y:.4g}, {z:.4g}"
    stated = f"; stated {', '.join(tolerance_words(t) for t in d.tolerances)}" if d.tolerances else ""
    return f"{words}{stated} (sure {d.sure:.2f})"


def _record(part: PartFeatures) -> dict[str, Any]:
    return {
        "drawing": part.drawing.name,
        "uses": list(part.uses),
        "standard": part.standard.name if part.standard is not None else None,
        "features": [_feature_record(d) for d in part.found.features],
        "grips": [{"features": list(g.features), "width_m": g.width} for g in part.grips],
        "no_feature": {str(face): reason for face, reason in sorted(part.found.reasons.items())},
    }


def _feature_record(d: DrawnFeature) -> dict[str, Any]:
    f = d.feature
    return {
        "name": f.name, "kind": f.kind, "form": d.form, "position_m": list(f.frame.position),
        "z": [float(v) for v in f.frame.matrix[:3, 2]], "diameter_m": f.diameter, "length_m": f.length,
        "size_m": list(f.size) if f.size is not None else None, "thread": d.thread, "sure": d.sure,
        "why": d.why, "stated": [tolerance_words(t) for t in d.tolerances],
        "faces": list(d.faces),
    }  # fmt: skip


def _pictures(parts: list[PartFeatures], folder: Path) -> dict[str, Path]:
    """One picture for each part, by its name."""
    written = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for part in parts:
            name = re.sub(r"[^A-Za-z0-9_-]+", "_", part.drawing.name) or "part"
            path = folder / f"{name}.png"
            path.write_bytes(feature_picture(_coloured(part)))
            written[part.drawing.name] = path
    except OSError as error:
        raise UnusableError(f"{folder}: cannot be written: {error.strerror}") from error
    return written


def _coloured(part: PartFeatures) -> list[Coloured]:
    graph = part.drawing.graph
    kind_of: dict[int, str] = {}
    for d in reversed(part.found.features):
        for face in (*d.walls, *d.faces):
            kind_of[face] = "thread" if d.thread and d.feature.kind == "hole" else d.feature.kind
    corners = graph.vertices[graph.triangles]
    return [
        Coloured(corners[graph.of_face == face.index], kind_of.get(face.index, "")) for face in graph.faces
    ]
