"""A simulated cell with a fault planted in it, and what a good product is, told from the truth alone."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from handfast.execution.cell import ArmState, GuardedResult, ObstructedError
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.chart import Chart
from handfast.model.feature import Feature
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws
from handfast.trials.simulated_cell import SimulatedCell


@dataclass(frozen=True, slots=True)
class PlantedDraws(Draws):
    """moved: by edge, what is off there whatever is drawn (4, 4); sizes: diameters by "PART.FEATURE" [m]."""

    moved: dict[str, Array] = field(default_factory=dict)
    sizes: dict[str, float] = field(default_factory=dict)

    def deviation(self, acts_on: str, occasion: str = "", at: Array | None = None) -> Array:
        drawn = Draws.deviation(self, acts_on, occasion, at)
        return np.asarray(self.moved[acts_on] @ drawn) if acts_on in self.moved else drawn

    def diameter(self, part: str, feature: Feature) -> float:
        drawn = Draws.diameter(self, part, feature)
        # Of the first of its kind: one that comes after a rejected one is drawn as in another build.
        return self.sizes.get(f"{part}.{feature.name}", drawn) if self.build == 0 else drawn


@dataclass(frozen=True, slots=True)
class Fault:
    """moved, sizes: as above; zero: joint that is off [rad] on the right arm; soft: how far the pads give way
    once something is touched [m]; snag: after how many moves an arm is caught, None: never."""

    moved: dict[str, Array] = field(default_factory=dict)
    sizes: dict[str, float] = field(default_factory=dict)
    zero: tuple[int, float] | None = None
    soft: float = 0.0
    snag: int | None = None
    flipped: str = ""
    gone: str = ""


class FaultyCell(SimulatedCell):
    """The simulated cell, with a fault until it is repaired."""

    def __init__(self, project: Project, chart: Chart, fault: Fault, seed: int) -> None:
        chains = {a.name: load_chain(a, project.folder) for a in project.cell.arms}
        self._sound = dict(chains)
        if fault.zero is not None:
            chains["right"] = off_zero(chains["right"], *fault.zero)
        draws = PlantedDraws(project.errors, seed, 0, moved=dict(fault.moved), sizes=dict(fault.sizes))
        grasps = tuple(dict.fromkeys(e.grasp for e in chart.elements if e.grasp is not None))
        super().__init__(project, chains, draws, grasps)
        self.fault, self._moves, self._gave = fault, 0, 0.0
        if fault.flipped:
            item = self.truth.items[fault.flipped]
            turn = se3.rotation(np.array([1.0, 0, 0]), np.pi)
            self.truth.attach(fault.flipped, item.parent, item.T_parent_item @ turn)
        if fault.gone:
            self._where = self.truth.items[fault.gone]
            self.truth.attach(fault.gone, "dropped", se3.translation(0.0, -1.0, 0.0))

    def locate(self, part: str, region: str) -> Pose | None:
        return None if part == self.fault.gone else super().locate(part, region)

    def move(self, arm: str, motion: Motion) -> None:
        self._moves += 1
        if self.fault.snag is not None and self._moves > self.fault.snag:
            half = len(motion.q) // 2
            self.truth.stand(arm, np.array(motion.q[half]))
            raise ObstructedError(f"the {arm} arm met 60 N on its way and stands")
        super().move(arm, motion)

    def guarded_move(
        self, arm: str, direction: Vec3, travel: float, overtravel: float, force: float, speed: float
    ) -> GuardedResult:
        self._gave = self.fault.soft
        found = super().guarded_move(arm, direction, travel, overtravel, force, speed)
        return GuardedResult(found.contact, found.travel + self._gave)

    def state(self, arm: str) -> ArmState:
        there = super().state(arm)
        return ArmState(there.q, there.width - (self._gave if self.truth.hands[arm].holds else 0.0))

    def put_back(self, item: str) -> None:
        """A person takes it out of the hand and puts it where it started."""
        holder, place = self._project.cell.place_of(item)
        for hand in self.truth.hands.values():
            if hand.holds == item:
                hand.holds, hand.grasp, hand.width = None, None, 0.05
        self.truth.attach(item, f"place.{holder.name}.{place.name}", np.eye(4))

    def repair(self) -> None:
        """What a person does who is told what is wrong."""
        fault, self.fault, self._gave = self.fault, Fault(), 0.0
        assert isinstance(self.truth.draws, PlantedDraws)
        self.truth.draws.sizes.clear()
        self.truth.draws.moved.clear()
        self.truth.chains.update(self._sound)
        if fault.flipped:
            item = self.truth.items[fault.flipped]
            turn = se3.rotation(np.array([1.0, 0, 0]), np.pi)
            self.truth.attach(fault.flipped, item.parent, item.T_parent_item @ turn)
        if fault.gone:
            self.truth.attach(fault.gone, self._where.parent, self._where.T_parent_item)


def off_zero(chain: Chain, joint: int, angle: float) -> Chain:
    """The arm as it really is when the encoder of one joint reads zero at another angle."""
    placements = chain.placements.copy()
    placements[joint] = placements[joint] @ se3.rotation(chain.axes[joint], angle)
    return replace(chain, placements=placements)


def bad(cell: SimulatedCell, project: Project) -> list[str]:
    """What is wrong with the product as it really stands: each part where its mate says, the right way up.

    A pin and a cover may be off by their play and by half a millimetre along it; a screw sits in its thread.
    """
    wrong = []
    for mate in project.product.mates:
        pair, part = mate.pairs[0], project.product.part(mate.part)
        if not cell.truth.items[mate.part].parent.startswith("part."):
            wrong.append(f"{mate.part} is at {cell.truth.items[mate.part].parent}")
            continue
        moving = cell.truth.T_world(mate.part) @ part.feature(pair.moving).frame.matrix
        T = se3.inverse(cell.truth.T_world_feature(pair.fixed_part, pair.fixed)) @ moving
        if np.hypot(T[0, 3], T[1, 3]) > 0.15e-3 or abs(T[2, 3] - pair.depth) > 0.5e-3:
            wrong.append(f"{mate.part} is off by {1e3 * (T[:3, 3] - [0, 0, pair.depth])} mm")
        if T[2, 2] < 0.999:
            wrong.append(f"{mate.part} leans by {np.degrees(np.arccos(T[2, 2])):.1f} deg")
    return wrong
