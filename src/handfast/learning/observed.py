"""What logs of runs hold in repeated readings, sorted by what was read."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

import numpy as np

from handfast.model.run_log import LogLine, RunLog
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

Readings = dict[str, list[list[float]]]
"""By element or hand: the readings of each run, in order."""


def contacts(logs: Sequence[RunLog]) -> Readings:
    """Travel to contact beyond what was expected [m], of touches that met something, by element."""
    return _gathered(logs, "contact", lambda ln: _difference(ln, "travel", "expected"), lambda ln: ln.element)


def widths(logs: Sequence[RunLog]) -> Readings:
    """Jaw width beyond what was expected [m], by element."""
    return _gathered(logs, "width", lambda ln: _difference(ln, "measured", "expected"), lambda ln: ln.element)


def poses(logs: Sequence[RunLog]) -> dict[str, list[list[Pose]]]:
    """Where a camera saw the part of an element, by element: the poses of each run."""
    out: dict[str, list[list[Pose]]] = defaultdict(list)
    for log in logs:
        mine: dict[str, list[Pose]] = defaultdict(list)
        for line in log.lines:
            if line.event == "seen" and line.pose is not None:
                mine[line.element].append(line.pose)
        for element, found in mine.items():
            out[element].append(found)
    return dict(out)


def forces(logs: Sequence[RunLog]) -> dict[str, list[tuple[float, Array]]]:
    """Force readings at rest, by hand: time [s] and force (3,) [N]."""
    out: dict[str, list[tuple[float, Array]]] = defaultdict(list)
    for log in logs:
        for line in log.lines:
            if line.event == "force":
                out[line.text].append((line.time_s, np.array([line.value(n) or 0.0 for n in "xyz"])))
    return dict(out)


def off_mean(found: Sequence[Pose]) -> Array:
    """Twists (n, 6) of poses about the first of them, less their mean [m, rad]."""
    back = se3.inverse(found[0].matrix)
    twists = np.array([se3.log(back @ pose.matrix) for pose in found])
    return np.asarray(twists - twists.mean(axis=0))


def _difference(line: LogLine, name: str, less: str) -> float | None:
    value, expected = line.value(name), line.value(less)
    if value is None or expected is None or line.value("met") == 0.0:
        return None
    return value - expected


def _gathered(
    logs: Sequence[RunLog], event: str, read: Callable[[LogLine], float | None], key: Callable[[LogLine], str]
) -> Readings:
    out: Readings = defaultdict(list)
    for log in logs:
        mine: dict[str, list[float]] = defaultdict(list)
        for line in log.lines:
            value = read(line) if line.event == event else None
            if value is not None:
                mine[key(line)].append(value)
        for name, values in mine.items():
            out[name].append(values)
    return dict(out)
