"""The physics engine's model of an insertion: every pair of features and every loose part.

Shapes are convex pieces: a hole as a ring of wedges (circumscribed, see contact_shapes), a slot as two half
rings and two walls, a shaft as a cylinder with a conical end, a tooth as the hull of its outline with broken
tips. Which pieces may touch is said by bits: the inner piece of a pair offers one, the outer one asks for it.
"""

from __future__ import annotations

import math
from typing import Any, cast

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft, hole_wedges, shaft_end
from handfast.trials.gear_teeth import GearTeeth
from handfast.trials.insertion import (
    Corners,
    Insertion,
    Piece,
)
from handfast.trials.insertion_model import ContactSettings, set_engine

# Loose parts: as in the fast solver, with a mass that the engine's steps can follow [N/m, N m/rad, kg].
_LOOSE = (200.0, 1e6, 0.5, 50.0)
_LOOSE_MASS = 0.2
_WALL = 0.004  # thickness of the walls of a slot [m]


class EngineModel:
    """The engine's model of a task and what its names stand for."""

    def __init__(self, task: Insertion, T_begin: Array, settings: ContactSettings) -> None:
        import mujoco

        self.mujoco, self.task, self.settings = mujoco, task, settings
        self.spec = mujoco.MjSpec()
        set_engine(mujoco, self.spec, settings)
        self.look = {
            "friction": [task.friction, 0.0, 0.0],
            "condim": 3,
            "solref": [settings.stiffness_time * settings.fine_step, 1.0],
            "solimp": list(settings.impedance),
        }
        self.offers, self.asks = self._bits()
        s = task.support
        centre = T_begin @ se3.translation(*s.T_feature_centre[:3, 3])
        held = self._body("held", centre, (s.lateral, s.axial, s.angular, s.angular), settings.mass)
        self.bodies = [self.spec.worldbody, held]
        for k, loose in enumerate(task.loose):
            self.bodies.append(self._body(f"loose{k}", loose.T_world_body, _LOOSE, _LOOSE_MASS))
        self.frames = [
            np.eye(4),
            se3.translation(*(-s.T_feature_centre[:3, 3])),
            *[np.eye(4)] * len(task.loose),
        ]
        self.piece_of: dict[str, int] = {}
        for i, piece in enumerate(task.pieces):
            self._add(i, piece)
        self.model = self.spec.compile()

    def _bits(self) -> tuple[dict[int, int], dict[int, int]]:
        offers: dict[int, int] = {}
        asks: dict[int, int] = {}
        for k, pair in enumerate(self.task.pairs):
            offers[pair.inner] = offers.get(pair.inner, 0) | 1 << k
            asks[pair.outer] = asks.get(pair.outer, 0) | 1 << k
        return offers, asks

    def _body(self, name: str, T: Array, held: tuple[float, float, float, float], mass: float) -> Any:
        across, along, angular, spin = held
        inertia = mass * self.task.support.angular / self.task.support.lateral
        body = self.spec.worldbody.add_body(
            name=name, pos=T[:3, 3], quat=se3.quaternion(T[:3, :3]), mass=mass, inertia=[inertia] * 3,
            explicitinertial=True,
        )  # fmt: skip
        for i, k in enumerate((across, across, along, angular, angular, spin)):
            moved = mass if i < 3 else inertia
            kind = self.mujoco.mjtJoint.mjJNT_SLIDE if i < 3 else self.mujoco.mjtJoint.mjJNT_HINGE
            damping = 2 * self.settings.damping * math.sqrt(k * moved)
            body.add_joint(name=f"{name}.{i}", type=kind, axis=np.eye(3)[i % 3], stiffness=k, damping=damping)
        return body

    def _add(self, index: int, piece: Piece) -> None:
        frame = self.frames[piece.body + 1] @ piece.T_body_shape
        body = self.bodies[piece.body + 1]
        shape = piece.shape
        if isinstance(shape, RoundHole):
            self._hole(index, body, frame, shape)
        elif isinstance(shape, RoundShaft):
            self._shaft(index, body, frame, shape)
        elif isinstance(shape, GearTeeth):
            self._gear(index, body, frame, shape)
        elif isinstance(shape, Corners):
            for k, point in enumerate(shape.points):
                at = frame @ se3.translation(*(point + np.array([0.0, 0.0, 1e-4])))
                self._geom(
                    index, body, f"corner{k}", at, self.mujoco.mjtGeom.mjGEOM_SPHERE, size=[1e-4, 0, 0]
                )
        else:
            self._geom(index, body, "seat", frame, self.mujoco.mjtGeom.mjGEOM_PLANE, size=[0, 0, 1.0])

    def _geom(self, index: int, body: Any, name: str, T: Array, kind: Any, **more: Any) -> None:
        full = f"{index}.{name}"
        self.piece_of[full] = index
        body.add_geom(
            name=full, type=kind, pos=T[:3, 3], quat=se3.quaternion(T[:3, :3]), contype=self.offers.get(index,
            0), conaffinity=self.asks.get(index, 0), **more, **self.look,
        )  # fmt: skip

    def _mesh(self, name: str, corners: Array) -> str:
        convex = self.mujoco.mjtMeshInertia.mjMESH_INERTIA_CONVEX
        self.spec.add_mesh(name=name, uservert=np.asarray(corners).ravel(), inertia=convex)
        return name

    def _hole(self, index: int, body: Any, frame: Array, hole: RoundHole) -> None:
        mesh_kind, count = self.mujoco.mjtGeom.mjGEOM_MESH, self.settings.wedges
        for k, corners in enumerate(hole_wedges(hole, count)):
            name = self._mesh(f"{index}.wedge{k}", corners)
            for i in range(count):
                angle = 2 * math.pi * (i + 0.5) / count
                if self._open(index, hole, angle):
                    continue
                aside = se3.translation(
                    hole.half * math.copysign(1.0, math.cos(angle)) if hole.half else 0.0, 0, 0
                )
                T = frame @ aside @ se3.rotation(np.array([0.0, 0, 1]), angle)
                self._geom(index, body, f"ring{k}.{i}", T, mesh_kind, meshname=name)
        if hole.half > 0:
            self._walls(index, body, frame, hole)

    def _walls(self, index: int, body: Any, frame: Array, slot: RoundHole) -> None:
        depth = slot.chamfer_depth
        profiles = [[(0.0, depth), (0.0, slot.length), (_WALL, slot.length), (_WALL, depth)]]
        if slot.chamfer_width > 0:
            profiles.append([(slot.chamfer_width, 0.0), (0.0, depth), (_WALL, depth), (_WALL, 0.0)])
        for k, profile in enumerate(profiles):
            corners = np.array([(x, slot.radius + y, z) for y, z in profile for x in (-slot.half, slot.half)])
            name = self._mesh(f"{index}.wall{k}", corners)
            for side, turn in enumerate((0.0, math.pi)):
                T = frame @ se3.rotation(np.array([0.0, 0, 1]), turn)
                self._geom(index, body, f"wall{k}.{side}", T, self.mujoco.mjtGeom.mjGEOM_MESH, meshname=name)

    def _open(self, index: int, hole: RoundHole, angle: float) -> bool:
        """Whether there is no wall: another hole opens there."""
        other = self.task.pieces[index].opens_into
        if other < 0:
            return False
        shape = cast(RoundHole, self.task.pieces[other].shape)
        T = se3.inverse(self.task.pieces[other].T_body_shape) @ self.task.pieces[index].T_body_shape
        at = T @ np.array([hole.radius * math.cos(angle), hole.radius * math.sin(angle), 0.0, 1.0])
        return math.hypot(at[0], at[1]) < shape.radius

    def _shaft(self, index: int, body: Any, frame: Array, shaft: RoundShaft) -> None:
        straight = shaft.length - shaft.chamfer_depth
        T = frame @ se3.translation(0, 0, -shaft.chamfer_depth - straight / 2)
        kind = self.mujoco.mjtGeom
        self._geom(index, body, "shaft", T, kind.mjGEOM_CYLINDER, size=[shaft.radius, straight / 2, 0.0])
        corners = shaft_end(shaft)
        if corners is not None:
            self._geom(
                index, body, "end", frame, kind.mjGEOM_MESH, meshname=self._mesh(f"{index}.end", corners)
            )

    def _gear(self, index: int, body: Any, frame: Array, gear: GearTeeth) -> None:
        """Its teeth that lie towards the other gear, each the hull of its outline."""
        other = next(
            (p.outer if p.inner == index else p.inner)
            for p in self.task.pairs if index in (p.inner, p.outer)
        )  # fmt: skip
        T = se3.inverse(self.task.T_world(index, self.task.T_start)) @ self.task.T_world(
            other, self.task.T_start
        )
        towards = math.atan2(T[1, 3], T[0, 3])
        name = self._mesh(f"{index}.tooth", _tooth(gear))
        for k, middle in enumerate(gear.near(towards, math.radians(50))):
            at = frame @ se3.rotation(np.array([0.0, 0, 1]), float(middle))
            self._geom(index, body, f"tooth{k}", at, self.mujoco.mjtGeom.mjGEOM_MESH, meshname=name)


def _tooth(gear: GearTeeth) -> Array:
    """Corners of a tooth about x: flanks at every level, the tips cut back at both ends."""
    levels = [
        (gear.tip - gear.chamfer_width, 0.0), (gear.tip, -gear.chamfer_depth),
        (gear.tip, gear.chamfer_depth - gear.length), (gear.tip - gear.chamfer_width, -gear.length),
    ]  # fmt: skip
    rows = []
    for top, z in levels:
        xy = gear.outline(np.linspace(gear.root_radius, top, 14), np.zeros(1))
        rows.append(np.column_stack([xy, np.full(len(xy), z)]))
    return np.concatenate(rows)
