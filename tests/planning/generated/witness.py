"""The known plan of a recipe, carried out by hand: inverse kinematics by least squares, hands from above,
straight joint motions high over everything. Whether it works, the proof says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from tests.planning.generated.recipe import Grip, Move, Recipe
from tests.proof.chart_by_hand import Array, ByHand, duration

from handfast.model.chart import Chart
from handfast.model.grasp import Grasp
from handfast.model.mate import Mate
from handfast.model.project import Project
from handfast.model.scene import Attachment
from handfast.spatial import se3
from handfast.spatial.pose import Pose

_DOWN = se3.rotation(np.array([1.0, 0, 0]), np.pi)
_UP = 0.13
"""How far hands rise from a grip before they travel [m]."""
_SEED = (0.0, 0.5, 1.6, 0.0, 1.04, 0.0)
_CLOSE = 0.4


class Witness:
    """The known plan in the making."""

    def __init__(self, project: Project, recipe: Recipe) -> None:
        self.b = ByHand(project)
        self.project, self.recipe = project, recipe
        self.open = recipe.opening / 1e3
        self.where = {s.holds: self._spot(s.name) for s in recipe.stands if s.holds}
        self.held: dict[str, tuple[str, Grip]] = {}

    def chart(self) -> Chart:
        """The chart of all moves. Raises AssertionError where an arm does not reach."""
        for move in self.recipe.moves:
            self._carry(move)
        mates = tuple(dict.fromkeys(m.mate for m in self.recipe.moves))
        return replace(self.b.chart(dict.fromkeys(self.b.hands, self.open)), mates=mates)

    def _spot(self, stand: str) -> Array:
        holder = self.project.cell.holder(stand)
        return np.asarray(holder.pose.matrix @ holder.places[0].pose.matrix)

    def _carry(self, move: Move) -> None:
        grip = self.recipe.piece(move.piece).grips[move.grip]
        if self.held.get(move.hand, ("", grip))[0] != move.piece:
            self._take(move, grip)
        if move.to == "mate":
            self._home(move, grip)
        elif move.to == "spot":
            self._put(move, grip)
        else:
            self._pass(move, grip)
        for hand in move.free:
            piece, its = self.held.pop(hand)
            mate = next(m for m in self.project.product.mates if m.part == piece)
            self._let(hand, its, mate.name, piece, self._in_base(piece))

    def _wide(self, grip: Grip) -> float:
        return min(self.open, grip.width / 1e3 + 0.016)

    def _at(self, T_piece: Array, grip: Grip) -> Array:
        return np.asarray(T_piece @ se3.translation(grip.x / 1e3, 0, grip.z / 1e3) @ _DOWN)

    def _over(self, T_grip: Array) -> Array:
        return np.asarray(se3.translation(0, 0, _UP) @ T_grip)

    def _come(self, hand: str, T_grip: Array) -> tuple:  # type: ignore[type-arg]
        own = self.b.hands[hand]
        away = (T_grip[:3, 3] - own.base[:3, 3]) @ own.base[:3, :3]
        seeds = [float(np.arctan2(away[1], away[0])), *_SEED[1:]]
        return self.b.free(hand, self._over(T_grip), seeds=seeds) + self.b.line(hand, T_grip)

    def _take(self, move: Move, grip: Grip) -> None:
        T_grip = self._at(self.where[move.piece], grip)
        way = self._come(move.hand, T_grip)
        self.b.add(
            move.hand, "reach", move.piece, duration(way), motions=way, opening=self._wide(grip),
            mate=move.mate,
        )  # fmt: skip
        self._close(move.hand, move.piece, move.mate, grip)
        lift = self.b.line(move.hand, self._over(T_grip))
        self.b.add(
            move.hand, "move", move.piece, duration(lift), motions=lift, opening=grip.width / 1e3,
            mate=move.mate,
        )  # fmt: skip

    def _close(self, hand: str, piece: str, mate: str, grip: Grip) -> None:
        closed = (False, True, False, True, False, len(grip.features) == 2)
        pose = Pose.from_matrix(se3.inverse(self._at(np.eye(4), grip)))
        grasp = Grasp(
            f"{hand}_gripper", piece, pose, grip.width / 1e3, grip.features, "tip", closed, 20.0, 0.2
        )
        self.b.add(hand, "grasp", piece, _CLOSE, grasp=grasp, mate=mate)

    def _in_base(self, piece: str) -> Attachment:
        mate = next(m for m in self.project.product.mates if m.part == piece)
        T = se3.inverse(self.where[mate.into]) @ self._goal(mate)
        return Attachment(piece, f"part.{mate.into}", Pose.from_matrix(T))

    def _goal(self, mate: Mate) -> Array:
        """All homes are upright and unturned: the first pair alone gives them."""
        pair, product = mate.pairs[0], self.project.product
        fixed = self.where[pair.fixed_part] @ product.part(pair.fixed_part).feature(pair.fixed).frame.matrix
        moving = product.part(mate.part).feature(pair.moving).frame.matrix
        return np.asarray(fixed @ se3.translation(0, 0, pair.depth) @ se3.inverse(moving))

    def _home(self, move: Move, grip: Grip) -> None:
        mate = self.project.product.mate(move.mate)
        T_home = self._goal(mate)
        T_grip = self._at(T_home, grip)
        start = se3.translation(0, 0, abs(mate.pairs[0].depth) + 0.003) @ T_grip
        way = self.b.free(move.hand, self._over(T_grip)) + self.b.line(move.hand, start)
        more = {"opening": grip.width / 1e3, "mate": move.mate}
        self.b.add(move.hand, "move", move.piece, duration(way), motions=way, **more)
        into = self.b.line(move.hand, T_grip, 4e-3)
        self.b.add(move.hand, "assemble", move.piece, duration(into), motions=into, **more)
        if move.keep:
            self.held[move.hand] = (move.piece, grip)
        else:
            self._let(move.hand, grip, move.mate, move.piece, self._in_base(move.piece))
        self.where[move.piece] = T_home

    def _put(self, move: Move, grip: Grip) -> None:
        spot = next(s for s in self.recipe.stands if s.kind == "set-down")
        self.where[move.piece] = self._spot(spot.name)
        T_grip = self._at(self.where[move.piece], grip)
        way = self.b.free(move.hand, self._over(T_grip)) + self.b.line(move.hand, T_grip)
        self.b.add(
            move.hand,
            "move",
            move.piece,
            duration(way),
            motions=way,
            opening=grip.width / 1e3,
            mate=move.mate,
        )
        leaves = Attachment(move.piece, f"place.{spot.name}.spot", Pose())
        self._let(move.hand, grip, move.mate, move.piece, leaves)

    def _pass(self, move: Move, grip: Grip) -> None:
        """The other hand comes from above to the piece's other end."""
        to, other = move.to.partition(".")[2], self.recipe.piece(move.piece).grips[1 - move.grip]
        T_piece = se3.translation(*(v / 1e3 for v in move.at))
        bring = self.b.free(move.hand, self._at(T_piece, grip))
        self.b.add(
            move.hand, "move", move.piece, duration(bring), motions=bring, opening=grip.width / 1e3,
            mate=move.mate,
        )  # fmt: skip
        way = self._come(to, self._at(T_piece, other))
        self.b.add(
            to, "reach", move.piece, duration(way), motions=way, opening=self._wide(other), mate=move.mate
        )
        self._close(to, move.piece, move.mate, other)
        T_grip_piece = se3.inverse(self._at(np.eye(4), other))
        leaves = Attachment(move.piece, f"hand.{to}", Pose.from_matrix(T_grip_piece))
        self._let(move.hand, grip, move.mate, move.piece, leaves)
        self.held[to] = (move.piece, other)

    def _let(self, hand: str, grip: Grip, mate: str, piece: str, leaves: Attachment) -> None:
        own = self.b.hands[hand]
        back = self.b.line(hand, self._over(own.grip(own.q)))
        back += self.b.joints(hand, self.project.cell.arm(hand).home)
        self.b.add(
            hand, "release", piece, duration(back, _CLOSE), motions=back, opening=self._wide(grip),
            leaves=leaves, mate=mate,
        )  # fmt: skip
