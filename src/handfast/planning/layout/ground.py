"""Whether arms and holders have room where they stand: on what they stood on, apart, in the cameras' view."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from handfast.model.project import Project
from handfast.planning.workspace import Workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

GAP = (
    0.03  # left between things that stand side by side, for jaws and fingers [m]; common practice, no source
)
_ON = 0.002  # what stands on something touches it within this [m]


@dataclass(frozen=True, eq=False, slots=True)
class _Block:
    """A box around a body in the body's frame: low and high corner (3,) [m]."""

    low: Array
    high: Array

    def corners(self, T_world_body: Array) -> Array:
        """Its outline in plan view, (4, 2)."""
        x, y = (self.low[0], self.high[0]), (self.low[1], self.high[1])
        flat = np.array([(x[0], y[0], 0, 1), (x[1], y[0], 0, 1), (x[1], y[1], 0, 1), (x[0], y[1], 0, 1)])
        return np.asarray((flat @ T_world_body.T)[:, :2])

    def heights(self, T_world_body: Array) -> tuple[float, float]:
        """From where to where it reaches up; bodies stand upright."""
        return float(self.low[2] + T_world_body[2, 3]), float(self.high[2] + T_world_body[2, 3])


class Ground:
    """What of a cell stands where, as blocks seen from above."""

    def __init__(self, ws: Workspace) -> None:
        """ws: of the project as it stands."""
        cell = ws.project.cell
        boxes = {name: (poses, halves) for name, poses, halves in ws.fixed_boxes}
        self._blocks = {}
        for h in cell.holders:
            poses, halves = boxes[f"holder {h.name}"]
            if len(poses):
                self._blocks[h.name] = _around(se3.inverse(h.pose.matrix) @ poses, halves)
        for arm in cell.arms:
            hand = ws.hands[arm.name]
            own = hand.link_spheres[hand.links == -1]
            if len(own):
                feet = np.broadcast_to(np.eye(4), (len(own), 4, 4)).copy()
                feet[:, :3, 3] = own[:, :3]
                self._blocks[arm.name] = _around(feet, np.repeat(own[:, 3:], 3, axis=1))
        self._standing = [
            _around(p[None], h[None])
            for o in cell.obstacles
            for p, h in zip(*boxes[f"obstacle {o.name}"], strict=True)
        ]
        start = poses_of(ws.project)
        self._under = {name: self._stands_on(name, start[name]) for name in self._blocks}
        # What stands closer than that today may stay so, but no closer than side by side; what already
        # reaches over something else (a camera post over a tray) is left alone.
        self._gaps = {
            (a, b): next((g for g in (GAP, 0.0) if not self._close(a, b, start, g)), None)
            for a, b in self._pairs(list(self._blocks))
        }
        self._seen = {
            (c.name, h.name)
            for c in cell.cameras
            for h in cell.holders
            if _in_view(ws.project, c.name, h.name)
        }

    def fits(self, layout: Project) -> bool:
        """Whether everything stands on what it stood on, apart from all else, and is seen by the cameras that
        saw it."""
        at = poses_of(layout)
        for name in self._blocks.keys() & at.keys():
            under, outline = self._under.get(name), self._blocks[name].corners(at[name])
            if under is not None and not _inside(outline, self._standing[under].corners(np.eye(4))):
                return False
        for a, b in self._pairs([n for n in self._blocks if n in at]):
            gap = self._gaps.get((a, b), GAP)
            if gap is not None and self._close(a, b, at, gap):
                return False
        return all(_in_view(layout, camera, holder) for camera, holder in self._seen)

    def has_room(self, name: str) -> bool:
        """Whether a thing, as it stands now, stands on something and apart from all else."""
        clear = all(gap is not None for pair, gap in self._gaps.items() if name in pair)
        return self._under.get(name) is not None and clear

    def outline(self, name: str, T_world_body: Array) -> Array | None:
        """In plan view, (4, 2) [m]; None for what has no body."""
        return self._blocks[name].corners(T_world_body) if name in self._blocks else None

    def table(self) -> list[Array]:
        """Outlines of what stands still, (4, 2) each."""
        return [block.corners(np.eye(4)) for block in self._standing]

    def _stands_on(self, name: str, T: Array) -> int | None:
        block = self._blocks[name]
        low, middle = block.heights(T)[0], block.corners(T).mean(axis=0)
        for i, standing in enumerate(self._standing):
            top = standing.heights(np.eye(4))[1]
            # Spheres around a foot reach below it: a foot stands on what its sphere's middle is near.
            if low - _ON <= top <= low + 0.15 and _inside(middle[None], standing.corners(np.eye(4))):
                return i
        return None

    def _pairs(self, names: list[str]) -> list[tuple[str, str | int]]:
        """Of things that may get in each other's way, and with what stands still, by its number."""
        out: list[tuple[str, str | int]] = list(combinations(names, 2))
        out += [(n, k) for n in names for k in range(len(self._standing)) if k != self._under.get(n)]
        return out

    def _close(self, a: str, b: str | int, at: dict[str, Array], gap: float) -> bool:
        one, other = self._blocks[a], self._blocks[b] if isinstance(b, str) else self._standing[b]
        Ta, Tb = at[a], at[b] if isinstance(b, str) else np.eye(4)
        (low_a, high_a), (low_b, high_b) = one.heights(Ta), other.heights(Tb)
        if low_a >= high_b - _ON or low_b >= high_a - _ON:
            return False
        return not _apart(one.corners(Ta), other.corners(Tb), gap)


def poses_of(project: Project) -> dict[str, Array]:
    """T_world of holders and arm bases by name."""
    cell = project.cell
    return {h.name: h.pose.matrix for h in cell.holders} | {a.name: a.base.matrix for a in cell.arms}


def _around(poses: Array, halves: Array) -> _Block:
    reach = np.einsum("kij,kj->ki", np.abs(poses[:, :3, :3]), halves)
    return _Block((poses[:, :3, 3] - reach).min(axis=0), (poses[:, :3, 3] + reach).max(axis=0))


def _inside(points: Array, outline: Array) -> bool:
    """Whether points (k, 2) lie in a convex outline (4, 2) that runs counterclockwise."""
    edges = np.roll(outline, -1, axis=0) - outline
    off = points[:, None] - outline[None]
    return bool((edges[:, 0] * off[..., 1] - edges[:, 1] * off[..., 0] >= -1e-9).all())


def _apart(a: Array, b: Array, gap: float) -> bool:
    """Whether a line separates two rectangles (4, 2) with a gap [m]."""
    for outline in (a, b):
        for edge in (outline[1] - outline[0], outline[3] - outline[0]):
            n = edge / max(float(np.linalg.norm(edge)), 1e-12)
            pa, pb = a @ n, b @ n
            if pa.min() >= pb.max() + gap or pb.min() >= pa.max() + gap:
                return True
    return False


def _in_view(project: Project, camera: str, holder: str) -> bool:
    """Whether all places of a holder lie in the cone of a camera."""
    cell = project.cell
    view = next(c for c in cell.cameras if c.name == camera)
    T_camera_holder = se3.inverse(view.pose.matrix) @ cell.holder(holder).pose.matrix
    at = np.array([(T_camera_holder @ p.pose.matrix)[:3, 3] for p in cell.holder(holder).places])
    if not len(at):
        return True
    return bool((np.arctan2(np.hypot(at[:, 0], at[:, 1]), at[:, 2]) <= view.field_of_view / 2).all())
