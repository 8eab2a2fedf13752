"""A mate as it really stands in this build, all its feature pairs at once, as a task for contact.

A part that was put in before and stands in its own fit with play is loose: it yields within its play while
the next part goes on. Pairs of ring and groove are left out (nothing rigid), and so are two holes that lie
over each other.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from handfast.model.feature import Feature
from handfast.model.mate import FeaturePair, Mate
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.gear_teeth import GearTeeth, thinner_for
from handfast.trials.insertion import Corners, Insertion, Loose, Pair, Piece, Seat, Shape
from handfast.trials.insertion_model import Support
from handfast.trials.true_cell import TrueCell
from handfast.trials.true_insertion import HandWay, hole_of, seat_of, shaft_of

_LOOSE_BELOW = (
    60e-6  # a fit with less radial clearance than this to the moving part asks the loose part to yield [m]
)
_ROUND = ("hole", "slot")


def true_task(cell: TrueCell, mate: Mate, way: HandWay, force_limit: float) -> Insertion:
    """The task. Raises ValueError where no pair of the mate is a shaft with a hole or a slot, or two
    gears."""
    return _Build(cell, mate, way).task(force_limit)


def tight(task: Insertion) -> str:
    """Why the parts cannot go together at all, "" if they may: a shaft is not smaller than its hole."""
    for pair in task.pairs:
        inner = task.pieces[pair.inner]
        if isinstance(inner.shape, RoundShaft) and pair.clearance <= 0:
            return f"the shaft is not smaller than its hole: {inner.name} in {task.pieces[pair.outer].name}"
    return ""


def burred(cell: TrueCell, mate: Mate) -> str:
    """Where a burr of this build keeps the parts apart, "" if none does. How high burrs are nobody says: one
    stops its part, as the sure end of the ledger's band has it."""
    for pair in mate.pairs:
        for part, name in ((mate.part, pair.moving), (pair.fixed_part, pair.fixed)):
            feature = cell.project.product.part(part).feature(name)
            if cell.draws_of(part).has("burr", part, feature):
                return f"a burr on {part}.{name}"
    return ""


@dataclass(slots=True)
class _Build:
    cell: TrueCell
    mate: Mate
    way: HandWay
    pieces: list[Piece] = field(default_factory=list)
    pairs: list[Pair] = field(default_factory=list)
    loose: list[Loose] = field(default_factory=list)

    def task(self, force_limit: float) -> Insertion:
        first = self.mate.pairs[0]
        product, controller = self.cell.project.product, self.cell.project.cell.controller
        part, other = product.part(self.mate.part), product.part(first.fixed_part)
        T_fixed_world = se3.inverse(self.cell.T_world_feature(first.fixed_part, first.fixed))
        grip = self.way.T_world_grip_home
        T_grip_part = se3.inverse(grip) @ self.cell.T_world(self.mate.part, T_world_grip=grip)
        T_grip_moving = T_grip_part @ self.cell.T_part_feature(self.mate.part, part.feature(first.moving))
        home = T_fixed_world @ grip @ T_grip_moving
        start = home.copy()
        start[:3, 3] = (T_fixed_world @ self.way.T_world_grip_start @ T_grip_moving)[:3, 3]
        T_part_moving = self.cell.T_part_feature(self.mate.part, part.feature(first.moving))
        self._loosen(T_fixed_world)
        for pair in self.mate.pairs:
            self._add(pair, T_part_moving, T_fixed_world)
        if not self.pairs:
            raise ValueError(
                f"mate {self.mate.name!r}: expected a shaft with a hole or a slot, or two gears, found "
                f"{part.feature(first.moving).kind} with {other.feature(first.fixed).kind}"
            )
        self._own_fits(T_fixed_world)
        if self.mate.kind == "seat":
            self._seat(T_part_moving, T_fixed_world)
        # Equal stiffness along and across: the hand yields as a whole, on springs or by force control.
        stiffness = controller.lateral_stiffness
        support = Support(stiffness, stiffness, controller.angular_stiffness, se3.inverse(T_grip_moving))
        into: Literal[-1, 1] = 1 if float((home[:3, 3] - start[:3, 3]) @ home[:3, 2]) > 0 else -1
        return Insertion(
            tuple(self.pieces), tuple(self.pairs), tuple(self.loose), start, home, into, support,
            controller.insert_speed, force_limit, 0.5 * (part.friction + other.friction),
        )  # fmt: skip

    # --- pairs ---

    def _add(self, pair: FeaturePair, T_part_moving: Array, T_fixed_world: Array) -> None:
        product = self.cell.project.product
        moving = product.part(self.mate.part).feature(pair.moving)
        fixed = product.part(pair.fixed_part).feature(pair.fixed)
        kinds = (moving.kind, fixed.kind)
        if not (set(kinds) == {"gear"} or ("shaft" in kinds and set(kinds) & set(_ROUND))):
            return
        held = (self.mate.part, moving, T_part_moving, T_fixed_world, 0)
        stands = (pair.fixed_part, fixed, None, T_fixed_world, self._body(pair.fixed_part))
        if kinds == ("gear", "gear"):
            self._gears(pair, held, stands)
        elif moving.kind == "shaft":
            self._join(held, stands, abs(pair.depth), own=False)
        else:
            self._join(stands, held, abs(pair.depth), own=False)

    def _join(self, inner: _Where, outer: _Where, depth: float, *, own: bool) -> None:
        shaft, hole = shaft_of(self.cell, inner[0], inner[1]), hole_of(self.cell, outer[0], outer[1])
        drawn = inner[1].length or 0.0
        if depth > drawn:  # all of it goes in: it ends where it is drawn to end
            shaft = replace(shaft, length=drawn)
        a, b = self._piece(inner, shaft), self._hole(outer, hole)
        self.pairs.append(Pair(a, b, hole.radius - shaft.radius, own))

    def _gears(self, pair: FeaturePair, held: _Where, stands: _Where) -> None:
        moving, fixed = self._teeth(held[0], held[1]), self._teeth(stands[0], stands[1])
        centres = self._centres(pair, moving, fixed)
        backlash = self.cell.draws.between(pair.backlash or (0.0, 0.0), "backlash", self.mate.name)
        thinner = thinner_for(backlash, moving, fixed, centres)
        a = self._piece(held, replace(moving, thinner=thinner))
        b = self._piece(stands, replace(fixed, thinner=thinner))
        self.pairs.append(Pair(a, b, backlash / 2))

    def _centres(self, pair: FeaturePair, moving: GearTeeth, fixed: GearTeeth) -> float:
        """Distance of the axes on which the two gears run: of their bores, where they stand in such [m]."""
        own = next((m for m in self.cell.project.product.mates if m.part == pair.fixed_part), None)
        first = self.mate.pairs[0]
        if own is None or own.pairs[0].fixed_part != first.fixed_part:
            return moving.pitch_radius + fixed.pitch_radius
        part = self.cell.project.product.part(first.fixed_part)
        ours, theirs = (
            self.cell.T_part_feature(part.name, part.feature(n)) for n in (first.fixed, own.pairs[0].fixed)
        )
        return float(np.linalg.norm((se3.inverse(ours) @ theirs)[:2, 3]))

    def _teeth(self, part: str, gear: Feature) -> GearTeeth:
        """The tips as high as the part draws them: a shaft about the same axis, above the pitch circle."""
        if gear.teeth is None or gear.module is None:
            raise ValueError(
                f"{part}.{gear.name}: expected teeth and module, found none; write `teeth: 18, module: 1 mm`"
            )
        pitch, most = 0.5 * gear.teeth * gear.module, (0.5 * gear.teeth + 1) * gear.module
        around = [
            f.diameter / 2 for f in self.cell.project.product.part(part).features
            if f.kind == "shaft" and f.diameter is not None and pitch < f.diameter / 2 <= most
            and _coaxial(f.frame.matrix, gear.frame.matrix)
        ]  # fmt: skip
        width, angle = (
            (gear.chamfer.width, gear.chamfer.angle) if gear.chamfer is not None else (0.0, np.pi / 4)
        )
        return GearTeeth(
            gear.teeth, gear.module, max(around, default=most), 0.0, gear.length or gear.module, width,
            float(angle),
        )  # fmt: skip

    # --- pieces ---

    def _piece(self, where: _Where, shape: Shape) -> int:
        part, feature, T_part_moving, T_fixed_world, body = where
        T_part = self.cell.T_part_feature(part, feature)
        if T_part_moving is not None:
            T = se3.inverse(T_part_moving) @ T_part
        else:
            T = T_fixed_world @ self.cell.T_world(part) @ T_part
            if body > 0:
                T = se3.inverse(self.loose[body - 1].T_world_body) @ T
        name = f"{part}.{feature.name}"
        for i, piece in enumerate(self.pieces):
            if (piece.name, piece.body) == (name, body) and type(piece.shape) is type(shape):
                return i
        self.pieces.append(Piece(name, body, shape, T))
        return len(self.pieces) - 1

    def _hole(self, where: _Where, hole: RoundHole) -> int:
        """A hole, and beside it one of the same part that it opens into."""
        place = self._piece(where, hole)
        part, feature = where[0], where[1]
        if self.pieces[place].opens_into >= 0:
            return place
        for other in self.cell.project.product.part(part).features:
            if other.name != feature.name and other.kind == "hole" and _overlap(feature, other):
                beside = self._piece((part, other, *where[2:]), hole_of(self.cell, part, other))
                self.pieces[place] = replace(self.pieces[place], opens_into=beside)
                break
        return place

    def _seat(self, T_part_moving: Array, T_fixed_world: Array) -> None:
        """The moving part's face comes to rest on the part beneath."""
        part = self.cell.project.product.part(self.mate.part)
        first = part.feature(self.mate.pairs[0].moving)
        if first.kind not in _ROUND:
            return
        corners = Corners(_face_corners(part.features, first, T_part_moving))
        self.pieces.append(Piece(f"{part.name}'s face", 0, corners, np.eye(4)))
        seat = seat_of(self.cell, self.mate, T_fixed_world)
        self.pieces.append(Piece(f"{self.mate.into}'s face", -1, Seat(), seat))
        self.pairs.append(Pair(len(self.pieces) - 2, len(self.pieces) - 1, 0.0))

    # --- loose parts ---

    def _body(self, part: str) -> int:
        return next((i + 1 for i, loose in enumerate(self.loose) if loose.part == part), -1)

    def _loosen(self, T_fixed_world: Array) -> None:
        for pair in self.mate.pairs:
            own = self._fit_of(pair.fixed_part)
            if own is None or self._body(pair.fixed_part) > 0 or not self._close(pair):
                continue
            feature = self.cell.project.product.part(pair.fixed_part).feature(own.pairs[0].moving)
            T = T_fixed_world @ self.cell.T_world(pair.fixed_part)
            T = T @ self.cell.T_part_feature(pair.fixed_part, feature)
            self.loose.append(Loose(pair.fixed_part, T))

    def _fit_of(self, part: str) -> Mate | None:
        """The mate by which a part stands in its own fit, if it has gone in."""
        mates = self.cell.project.product.mates
        own = next((m for m in mates if m.part == part and m.kind in ("insert", "gear-mesh")), None)
        in_place = self.cell.items[part].parent.startswith("part.")
        upright = own is not None and own.pairs[0].fixed_part != self.mate.part
        return own if in_place and upright and part != self.mate.into else None

    def _close(self, pair: FeaturePair) -> bool:
        product, of = self.cell.project.product, self.cell.draws_of
        moving, fixed = (
            product.part(self.mate.part).feature(pair.moving),
            product.part(pair.fixed_part).feature(pair.fixed),
        )
        if "gear" in (moving.kind, fixed.kind):
            return True
        if "shaft" not in (moving.kind, fixed.kind) or not {moving.kind, fixed.kind} & set(_ROUND):
            return False
        apart = of(self.mate.part).diameter(self.mate.part, moving) - of(pair.fixed_part).diameter(
            pair.fixed_part, fixed
        )
        return abs(apart) / 2 < _LOOSE_BELOW

    def _own_fits(self, T_fixed_world: Array) -> None:
        """The holes in which the loose parts stand."""
        product = self.cell.project.product
        for loose in list(self.loose):
            own = self._fit_of(loose.part)
            for pair in own.pairs if own is not None else ():
                moving = product.part(loose.part).feature(pair.moving)
                fixed = product.part(pair.fixed_part).feature(pair.fixed)
                if (moving.kind, fixed.kind) == ("shaft", "hole"):
                    inner = (loose.part, moving, None, T_fixed_world, self._body(loose.part))
                    outer = (pair.fixed_part, fixed, None, T_fixed_world, self._body(pair.fixed_part))
                    self._join(inner, outer, abs(pair.depth), own=True)


_Where = tuple[str, Feature, Array | None, Array, int]
"""Part, feature, the moving feature in the part for the held part, the world in the task's frame, body."""


def _coaxial(a: Array, b: Array) -> bool:
    T = se3.inverse(a) @ b
    return bool(np.hypot(T[0, 3], T[1, 3]) < 1e-6 and abs(T[2, 2]) > 1 - 1e-9)


def _overlap(a: Feature, b: Feature) -> bool:
    """Whether two holes of a part open side by side into each other."""
    T = se3.inverse(a.frame.matrix) @ b.frame.matrix
    apart = float(np.hypot(T[0, 3], T[1, 3]))
    reach = 0.5 * ((a.diameter or 0.0) + (b.diameter or 0.0))
    return float(T[2, 2]) > 1 - 1e-9 and abs(float(T[2, 3])) < 1e-6 and 1e-6 < apart < reach


def _face_corners(features: tuple[Feature, ...], mouth: Feature, T_part_moving: Array) -> Array:
    """Corners (n, 3), in the moving feature's frame, of the face around its mouth; a ring around it without
    one."""
    T_mouth_part = se3.inverse(mouth.frame.matrix)
    for face in features:
        T = T_mouth_part @ face.frame.matrix
        if face.kind == "face" and face.size is not None and T[2, 2] < -1 + 1e-9 and abs(T[2, 3]) < 1e-6:
            x, y = face.size[0] / 2, face.size[1] / 2
            flat = np.array([(a * x, b * y, 0.0) for a in (-1, 1) for b in (-1, 1)])
            T_moving_face = se3.inverse(T_part_moving) @ face.frame.matrix
            return np.asarray(flat @ T_moving_face[:3, :3].T + T_moving_face[:3, 3])
    reach = (mouth.diameter or 0.0) / 2 + (mouth.chamfer.width if mouth.chamfer is not None else 0.0) + 3e-3
    return np.array([(reach * a, reach * b, 0.0) for a, b in ((1, 0), (0, 1), (-1, 0), (0, -1))])
