"""How a run stands: what is where, what is held and done, what was measured."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from handfast.execution.anew import Planner
from handfast.execution.arm_way import ArmWay
from handfast.execution.cell import Cell
from handfast.execution.corrections import Corrections, goes_home
from handfast.execution.estimates import Touched
from handfast.execution.going import Going
from handfast.execution.hand_cell import HandCell
from handfast.execution.journal import Journal
from handfast.execution.nominal import nominal_pose
from handfast.kinematics.chain import Chain
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.ledger import Ledger
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.proof.moved_motion import Surroundings
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(slots=True)
class RunState:
    """One run. scene: where everything should be; planned: where each arm stands by the chart (n,) [rad];
    around: what its motions could meet; planner: plans anew, if anybody does; holding: what each hand's
    jaws are closed on; widths: that they came to then [m]; done: mates; picks: how far an item was seen
    off its place, T_world_seen = pick @ T_world_nominal (4, 4); sideways: what a search has added to the
    targets of a mate (4, 4); touched: readings so far; going: elements on their way where both hands work
    at once, by hand; left: what each hand has yet to begin then; hands: the cell then, None elsewhere;
    strict: unlikely touches are asked about, not only impossible ones."""

    project: Project
    chart: Chart
    ledger: Ledger | None
    cell: Cell
    chains: dict[str, Chain]
    journal: Journal
    scene: Scene
    ways: dict[str, ArmWay]
    planned: dict[str, Array]
    around: Callable[[], Surroundings]
    planner: Planner | None = None
    strict: bool = False
    holding: dict[str, str] = field(default_factory=dict)
    widths: dict[str, float] = field(default_factory=dict)
    done: frozenset[str] = frozenset()
    corrections: Corrections = field(default_factory=Corrections)
    picks: dict[str, Array] = field(default_factory=dict)
    sideways: dict[str, Array] = field(default_factory=dict)
    touched: tuple[Touched, ...] = ()
    going: dict[str, Going] = field(default_factory=dict)
    hands: HandCell | None = None
    left: Mapping[str, Iterable[Element]] = field(default_factory=dict)

    def T_world(self, item: str) -> Array:
        """Where an item should be (4, 4)."""
        return nominal_pose(item, self.scene, self.project.cell, self.chains, self.planned)

    def T_world_feature(self, part: str, feature: str) -> Array:
        """Where a feature should be (4, 4)."""
        return np.asarray(self.T_world(part) @ self.project.product.part(part).feature(feature).frame.matrix)

    def wanted(self, element: Element) -> Array:
        """How far off the plan the element has to end (4, 4): by what was seen before a pick, by what touches
        have shown before a mate."""
        if element.kind in ("reach", "grasp") and element.target.startswith("place."):
            return self.picks.get(element.object, np.eye(4))
        if not goes_home(element, self.project.product):
            return np.eye(4)
        first = self.project.product.mate(element.mate).pairs[0]
        shift = np.eye(4)
        if element.mate in self.corrections.twists:
            T_world_fixed = self.T_world_feature(first.fixed_part, first.fixed)
            shift = self.corrections.shift(element.mate, T_world_fixed)
        return np.asarray(self.sideways.get(element.mate, np.eye(4)) @ shift)

    def attach(self, item: str, parent: str, T_parent_item: Array) -> None:
        """The item is elsewhere now."""
        self.scene = self.scene.moved(Attachment(item, parent, Pose.from_matrix(T_parent_item)))

    def mass(self, item: str) -> float:
        """Of a part or tool with everything that is built into it [kg]."""
        masses = {t.name: t.mass for t in self.project.cell.tools}
        masses |= {p.name: p.mass for p in self.project.product.parts}
        upon = (a.item for a in self.scene.attachments if a.parent == f"part.{item}")
        return masses.get(item, 0.0) + sum(self.mass(name) for name in upon)
