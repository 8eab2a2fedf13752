"""The one executor: steps a chart through a cell, whatever cell it is.

Elements run one after another in the order of their start times. Nothing is tried twice on its own account:
what fails stops the run, with a reason that a person can act on.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from handfast.execution.arm_way import ArmWay
from handfast.execution.cell import Cell, CellError
from handfast.execution.corrections import Corrections, goes_home
from handfast.execution.journal import Journal
from handfast.execution.nominal import nominal_pose
from handfast.execution.preconditions import broken
from handfast.kinematics.chain import Chain, load_chain
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.ledger import Ledger
from handfast.model.mate import Mate
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.run_log import RunLog
from handfast.model.scene import Attachment
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array

# jaws that close further off than this hold something else, or nothing [m]; common practice, no source
_WIDTH_OFF = 0.5e-3


def execute(
    project: Project,
    chart: Chart,
    ledger: Ledger | None,
    cell: Cell,
    *,
    touches: bool = True,
    chart_sha256: str = "",
    chains: dict[str, Chain] | None = None,
) -> RunLog:
    """Run the chart once and say what happened.

    ledger: tells what a touch corrects; without one, touches only measure. touches: False leaves the locate
    elements and their corrections out. chains: of the arms, loaded from the project's folder if not given.
    """
    loaded = (
        chains if chains is not None else {a.name: load_chain(a, project.folder) for a in project.cell.arms}
    )
    return _Run(project, chart, ledger, cell, touches, chart_sha256, loaded).all()


class _StopError(Exception):
    """The run cannot go on; the message is for a person."""


class _Run:
    def __init__(
        self, project: Project, chart: Chart, ledger: Ledger | None, cell: Cell, touches: bool, chart_sha256:
        str, chains: dict[str, Chain],
    ) -> None:  # fmt: skip
        self._project, self._chart, self._ledger, self._cell, self._touches = (
            project,
            chart,
            ledger,
            cell,
            touches,
        )
        self._chains, self._scene = chains, chart.start
        self._journal = Journal(cell, chart_sha256)
        self._ways = {name: ArmWay(cell, name, chain) for name, chain in chains.items()}
        self._planned = {name: np.array(project.cell.arm(name).home) for name in chains}
        self._holding: dict[str, str] = {}
        self._done: frozenset[str] = frozenset()
        self._corrections = Corrections()

    def all(self) -> RunLog:
        """Every element in the order of its start."""
        for element in sorted(self._chart.elements, key=lambda e: (e.start_s, e.number)):
            try:
                self._one(element)
            except (_StopError, CellError) as stop:
                reason = f"element {element.number} ({element.id}): {stop}"
                self._journal.note(element, "stop", reason)
                return self._journal.ended(reason)
        return self._journal.ended()

    def _one(self, element: Element) -> None:
        if element.kind == "locate" and not self._touches:
            return
        if element.hand not in self._ways:
            raise _StopError(
                f"there is no {element.hand} hand in this cell; there are: {', '.join(self._ways)}"
            )
        missing = broken(element, self._scene, self._holding, self._done, self._project.product)
        if missing:
            raise _StopError(missing)
        self._journal.note(element, "start")
        steps: dict[str, Callable[[Element], None]] = {
            "grasp": self._grasp, "release": self._release, "locate": self._locate, "assemble":
            self._assemble, "use": self._use, "search": self._search, "hold": self._nothing, "delay":
            self._nothing,
        }  # fmt: skip
        steps.get(element.kind, self._go)(element)
        if element.motions:
            self._planned[element.hand] = np.array(element.motions[-1].q[-1])
        self._journal.note(element, "done")

    def _nothing(self, element: Element) -> None:
        """The other hand works; this one stands."""

    def _go(self, element: Element) -> None:
        if element.opening is not None and element.hand not in self._holding:
            self._cell.release(element.hand, element.opening)
        way = self._ways[element.hand]
        for motion in way.shifted(element, self._wanted(element)):
            way.go(motion)

    def _search(self, element: Element) -> None:
        self._go(element)
        pose = self._cell.locate(element.object, element.target)
        if pose is None:
            raise _StopError(
                f"{element.object} was not seen at {element.target}; put it there, then start again"
            )
        self._journal.note(element, "estimate", pose=pose)

    def _grasp(self, element: Element) -> None:
        self._go(element)
        grasp = element.grasp
        if grasp is None:
            raise _StopError("nobody says how to grasp")
        force = self._project.cell.gripper_of(element.hand).force
        width = self._cell.grip(element.hand, grasp.width, force)
        self._journal.note(element, "width", measured=width, expected=grasp.width)
        if abs(width - grasp.width) > _WIDTH_OFF:
            raise _StopError(
                f"the {element.hand} jaws closed to {width * 1e3:.2f} mm, {element.object} measures "
                f"{grasp.width * 1e3:.2f} mm: it is missing, lies wrong or is another part; "
                f"put {element.object} right"
            )
        self._cell.set_payload(element.hand, self._mass(element.object))
        self._holding[element.hand] = element.object
        self._scene = self._scene.moved(
            _attachment(element.object, f"hand.{element.hand}", grasp.T_grip_part.matrix)
        )

    def _release(self, element: Element) -> None:
        width = element.opening
        if width is None:
            width = self._project.cell.gripper_of(element.hand).opening[1]
        self._cell.release(element.hand, width)
        self._cell.set_payload(element.hand, 0.0)
        self._holding.pop(element.hand, None)
        leaves = element.leaves
        # Passed to the other hand: that hand's own grasp has already said where the object is.
        if leaves is not None and not leaves.parent.startswith("hand."):
            self._scene = self._scene.moved(leaves)
        way = self._ways[element.hand]
        for motion in way.shifted(element, self._wanted(element)):
            way.go(motion)

    def _locate(self, element: Element) -> None:
        touch, guarded, way = element.touch, element.guarded, self._ways[element.hand]
        if touch is None or guarded is None:
            raise _StopError("the touch is not described")
        motions = way.shifted(element, np.eye(4))
        for motion in motions[:guarded]:
            way.go(motion)
        way.at_start(motions[guarded])
        self._cell.pause(self._project.cell.controller.settle)
        self._cell.zero_force(element.hand)
        T_world_face = self._T_world_feature(touch.part, touch.feature)
        direction = T_world_face[:3, :3] @ np.array(touch.direction)
        result = self._cell.guarded_move(
            element.hand, _vec3(direction), touch.travel, touch.overtravel, touch.force, touch.speed
        )
        self._journal.note(
            element, "contact", met=result.contact, travel=result.travel, expected=touch.travel
        )
        if not result.contact:
            raise _StopError(
                f"{touch.held} did not meet {touch.part} within "
                f"{(touch.travel + touch.overtravel) * 1e3:.1f} mm; "
                f"look whether {touch.part} lies in its place"
            )
        for motion in _after_touch(motions[guarded:]):
            way.go(motion)
        if self._ledger is not None:
            self._corrections = self._corrections.after_touch(self._ledger, element, result.travel)
            self._note_corrections(element)

    def _note_corrections(self, element: Element) -> None:
        for mate, twist in self._corrections.twists.items():
            named = dict(zip(("x", "y", "z", "rx", "ry", "rz"), (-twist).tolist(), strict=True))
            self._journal.note(
                element, "correction", f"targets of {mate}, in the fixed feature's frame", **named
            )

    def _assemble(self, element: Element) -> None:
        mate = self._project.product.mate(element.mate)
        if not element.motions:
            raise _StopError("nobody says along which line the part goes in")
        way = self._ways[element.hand]
        *before, last = way.shifted(element, self._wanted(element))
        for motion in before:
            way.go(motion)
        way.at_start(last)
        self._cell.zero_force(element.hand)
        result = self._cell.insert(element.hand, last, self._force_limit(mate, element.hand))
        self._journal.note(element, "insertion", result.cause, ok=result.ok, travel=result.travel,
                           peak_force=result.peak_force)  # fmt: skip
        if not result.ok:
            raise _StopError(
                f"{mate.name} did not go in: {result.cause} (peak {result.peak_force:.1f} N); "
                f"take {mate.part} out by hand and look at it and at {mate.into}"
            )
        self._done |= {mate.name}

    def _force_limit(self, mate: Mate, hand: str) -> float:
        """Of the mate, and half of what the grasp holds before the part slips [N]."""
        slips = [
            e.grasp.slip_force / 2 for e in self._chart.elements
            if e.grasp is not None and e.hand == hand and e.object == mate.part
        ]  # fmt: skip
        return min([mate.force_limit, *slips])

    def _use(self, element: Element) -> None:
        mate, leaves = self._project.product.mate(element.mate), element.leaves
        if leaves is None or mate.tool is None:
            raise _StopError("nobody says what the tool is used for")
        if leaves.parent.startswith("tool."):
            self._go(element)
            self._cell.digital_out(f"{mate.tool}.retain", True)
            self._cell.pause(element.before_s)
            if not self._cell.digital_in(f"{mate.tool}.retained"):
                raise _StopError(
                    f"no {element.object} came up on the bit of {mate.tool}; look whether one was presented"
                )
        else:
            self._drive(element, mate)
            self._cell.digital_out(f"{mate.tool}.retain", False)
            self._done |= {mate.name}
        self._scene = self._scene.moved(leaves)

    def _drive(self, element: Element, mate: Mate) -> None:
        if not element.motions or element.torque is None or element.turns is None:
            raise _StopError("nobody says how the screw is driven")
        way = self._ways[element.hand]
        *before, last = way.shifted(element, self._wanted(element))
        for motion in before:
            way.go(motion)
        way.at_start(last)
        result = self._cell.drive(element.hand, last, element.torque, element.turns)
        self._journal.note(
            element, "screw", result.cause, ok=result.ok, torque=result.torque, angle=result.angle
        )
        if not result.ok:
            raise _StopError(
                f"{mate.name}: {result.cause}; take the screw out by hand and look at it and at its thread"
            )

    def _wanted(self, element: Element) -> Array:
        """How far off the plan the element has to end (4, 4)."""
        if not goes_home(element, self._project.product) or element.mate not in self._corrections.twists:
            return np.eye(4)
        first = self._project.product.mate(element.mate).pairs[0]
        return self._corrections.shift(element.mate, self._T_world_feature(first.fixed_part, first.fixed))

    def _T_world_feature(self, part: str, feature: str) -> Array:
        T_world_part = nominal_pose(part, self._scene, self._project.cell, self._chains, self._planned)
        return np.asarray(T_world_part @ self._project.product.part(part).feature(feature).frame.matrix)

    def _mass(self, item: str) -> float:
        masses = {t.name: t.mass for t in self._project.cell.tools}
        masses |= {p.name: p.mass for p in self._project.product.parts}
        return masses.get(item, 0.0)


def _after_touch(motions: tuple[Motion, ...]) -> tuple[Motion, ...]:
    """What is left to do once the guarded move, the first of these, has been made and undone by the cell.

    The planned way back to its start is left out with it. Raises _StopError if the plan does not lead back
    there.
    """
    start = np.array(motions[0].q[0])
    for i, motion in enumerate(motions[1:], 1):
        if np.abs(np.array(motion.q[-1]) - start).max() < 1e-9:
            return motions[i + 1 :]
        if np.abs(np.array(motion.q[0]) - start).max() < 1e-9:
            return motions[i:]
    if len(motions) == 1:
        return ()
    raise _StopError("the motions after the guarded move do not lead back to its start")


def _attachment(item: str, parent: str, T_parent_item: Array) -> Attachment:
    return Attachment(item, parent, Pose.from_matrix(T_parent_item))


def _vec3(v: Array) -> Vec3:
    return float(v[0]), float(v[1]), float(v[2])
