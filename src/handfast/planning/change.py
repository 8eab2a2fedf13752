"""What would make a project feasible: candidates from the failures, each applied and planned before it is
offered."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from handfast.mates.grasps import grip_widths
from handfast.model.arm import Arm
from handfast.model.cell import Cell
from handfast.model.change import Change
from handfast.model.gripper import Gripper
from handfast.model.named import N
from handfast.model.no_plan import NoPlan
from handfast.model.project import Project
from handfast.model.shape import Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose, Vec3
from handfast.spatial.se3 import Array

_UP = np.array([0.0, 0.0, 1.0])
_STEPS = (
    0.02,
    0.05,
    0.1,
    0.15,
    0.2,
    0.3,
    0.4,
    0.5,
    0.6,
    0.7,
    0.8,
)  # how far holders and obstacles are moved [m]


_NEAR = 0.2  # a holder that is in the way is moved no farther [m]
_ASIDE = (0.0, 0.25, -0.25, 0.5, -0.5)  # off the way to the middle, where it is long [rad]


def applied(project: Project, change: Change) -> Project:
    """The project with one change made. Raises KeyError if its target is not there."""
    cell = project.cell
    if change.kind == "move holder":
        moved = replace(
            cell.holder(change.target), pose=_shifted(cell.holder(change.target).pose, change.value)
        )
        return _with(project, replace(cell, holders=swapped(cell.holders, moved)))
    if change.kind == "move obstacle":
        old = next(o for o in cell.obstacles if o.name == change.target)
        solids = tuple(Solid(s.shape, _shifted(s.pose, change.value)) for s in old.solids)
        return _with(project, replace(cell, obstacles=swapped(cell.obstacles, replace(old, solids=solids))))
    if change.kind == "drop need":
        mate = project.product.mate(change.target)
        fewer = replace(mate, needs=tuple(n for n in mate.needs if n != change.what))
        return replace(project, product=replace(project.product, mates=swapped(project.product.mates, fewer)))
    if change.kind == "move arm":
        arms = tuple(
            replace(a, base=_shifted(a.base, change.value)) if change.target in (a.name, "every arm") else a
            for a in cell.arms
        )
        return _with(project, replace(cell, arms=arms))
    if change.kind == "drop hold":
        free = replace(project.product.mate(change.target), held_until=None)
        return replace(project, product=replace(project.product, mates=swapped(project.product.mates, free)))
    if change.kind == "add arm":
        return _with(project, _second_arm(cell, change))
    grippers = tuple(
        _refitted(g, change) if change.target in (g.name, "every gripper") else g for g in cell.grippers
    )
    return _with(project, replace(cell, grippers=grippers))


def _with(project: Project, cell: Cell) -> Project:
    return replace(project, cell=cell)


def _second_arm(cell: Cell, change: Change) -> Cell:
    like = cell.arm(change.target)
    x, y, z, turn = change.value
    T_base = se3.rotation(_UP, turn) @ like.base.matrix
    T_base[:3, 3] = (x, y, z)
    return with_arm(cell, like, change.what, T_base)


def with_arm(cell: Cell, like: Arm, name: str, T_base: Array) -> Cell:
    """The cell with one more arm like another, its base at T_base (4, 4), its gripper and what it senses
    with."""
    arm = replace(like, name=name, base=Pose.from_matrix(T_base))
    gripper = replace(cell.gripper_of(like.name), name=f"{name}_gripper", arm=name)
    sensors = tuple(
        replace(s, name=f"{name}_{s.name}", arm=name) for s in cell.force_sensors if s.arm == like.name
    )
    return replace(
        cell,
        arms=(*cell.arms, arm),
        grippers=(*cell.grippers, gripper),
        force_sensors=(*cell.force_sensors, *sensors),
    )


def swapped(items: tuple[N, ...], new: N) -> tuple[N, ...]:
    """The items with the new one in the place of that of its name."""
    return tuple(new if i.name == new.name else i for i in items)


def _shifted(pose: Pose, by: tuple[float, ...]) -> Pose:
    x, y, z = (a + b for a, b in zip(pose.position, by, strict=True))
    return Pose((x, y, z), pose.quaternion)


def _refitted(gripper: Gripper, change: Change) -> Gripper:
    if change.kind == "widen jaws":
        return replace(gripper, opening=(gripper.opening[0], max(gripper.opening[1], change.value[0])))
    x, y, z = gripper.finger_size
    longer = change.value[0] - z
    mount = gripper.mount.matrix.copy()
    mount[:3, 3] += longer * mount[:3, 2]
    palm = tuple(Solid(s.shape, _shifted(s.pose, (0.0, 0.0, -longer))) for s in gripper.palm)
    return replace(gripper, finger_size=(x, y, change.value[0]), mount=Pose.from_matrix(mount), palm=palm)


def candidates(project: Project, no: NoPlan, part: str, hit: tuple[str, ...]) -> Iterator[Change]:
    """Changes worth trying, for the most frequent cause first, the smallest of each kind first.

    part: of the mate that failed; hit: names of what was in the way, obstacles first, then the most frequent.
    """
    for cause in (c.cause for c in no.causes):
        if cause == "jaw too narrow":
            yield from _wider(project, part)
        elif cause == "order contradicts itself":
            yield from _fewer_needs(project)
        elif cause == "hand is taken":
            yield from _another_hand(project)
            yield from _retained(project, part)
        elif cause == "out of reach":
            yield from _nearer(project, part)
            yield from _another_hand(project)
        elif cause in (
            "collision at grasp",
            "collision at mate",
            "collision on the way",
            "tool does not fit",
        ):
            if any(" at home, " in c.nearest for c in no.causes):
                yield from _higher(project)
            for name in hit[:3]:
                yield from _aside(project, name)
            yield from _longer(project, hit)


def _wider(project: Project, part: str) -> Iterator[Change]:
    """Each gripper wide enough for this part, then for everything that is gripped; then all of them, also for
    the other ways to grip things, the narrowest first."""
    one = _opening(grip_widths(project.product.part(part).features)[:1])
    features = [i.features for i in project.product.parts] + [i.features for i in project.cell.tools]
    widths = [w for w in map(grip_widths, features) if w]
    every = _opening([w[0] for w in widths])
    wider = sorted({_opening([w]) for ways in widths for w in ways if _opening([w]) > every})
    grippers = project.cell.grippers
    tries = [(g.name, opening) for opening in sorted({one, every}) for g in grippers]
    for target, opening in [*tries, *(("every gripper", o) for o in (every, *wider))]:
        if opening > min(g.opening[1] for g in grippers if target in (g.name, "every gripper")):
            text = f"{target}: opening up to {opening * 1e3:.0f} mm"
            yield Change("widen jaws", target, (opening,), "cell.yaml", text)


def _opening(widths: list[float]) -> float:
    """The next 5 mm over the widest, with 4 mm to spare on each side."""
    return float(np.ceil((max(widths, default=0.0) + 0.008) / 0.005) * 0.005)


def _fewer_needs(project: Project) -> Iterator[Change]:
    for mate in project.product.mates:
        for need in mate.needs:
            yield Change(
                "drop need", mate.name, (), "product.yaml", f"{mate.name}: without needs: {need}", need
            )


def _another_hand(project: Project) -> Iterator[Change]:
    """A second arm like the only one: across the work from it, then at its sides, then beside it."""
    cell = project.cell
    if len(cell.arms) > 1:
        return
    arm = cell.arms[0]
    base = arm.base.matrix
    holder, place = cell.place_of(project.product.base)
    centre = (holder.pose.matrix @ place.pose.matrix)[:3, 3] * [1, 1, 0]
    name = next(n for n in ("right", "left", "second") if n != arm.name)
    foot = base[:3, 3]
    for turn in (np.pi, np.pi / 2, -np.pi / 2):
        out = (foot - centre) * [1, 1, 0]
        spot = centre + se3.so3_exp(_UP * turn) @ out + foot * [0, 0, 1]
        yield _beside(arm.name, name, spot, float(turn))
    for way in (0.5, -0.5, 0.7, -0.7):
        yield _beside(arm.name, name, foot + base[:3, 1] * way, 0.0)


def _beside(like: str, name: str, spot: np.ndarray, turn: float) -> Change:
    x, y, z = (round(float(v), 3) for v in spot)
    where = f"position: [{x * 1e3:.0f} mm, {y * 1e3:.0f} mm, {z * 1e3:.0f} mm]"
    text = f"a second arm {name} with gripper, like {like}: base at {where}"
    if turn:
        text += f", turned by {np.rad2deg(turn):.0f} deg"
    return Change("add arm", like, (x, y, z, turn), "cell.yaml", text, name)


def _retained(project: Project, part: str) -> Iterator[Change]:
    """Something that keeps the part in place by itself: a clamp, a snap, or a nest that reaches up to it."""
    for mate in project.product.mates:
        if mate.part == part and mate.held_until is not None:
            text = f"{mate.name}: without held_until, once a clamp or a snap keeps {part} there"
            yield Change("drop hold", mate.name, (), "product.yaml", text)


def _nearer(project: Project, part: str) -> Iterator[Change]:
    """Holders of the part and of the base, moved towards the middle between the arm bases and a little in
    front of it, straight or somewhat to a side."""
    cell = project.cell
    bases = np.array([a.base.position for a in cell.arms])
    ahead = np.mean([a.base.matrix[:3, 0] for a in cell.arms], axis=0)
    middle = bases.mean(axis=0) + 0.4 * ahead
    holders = {cell.place_of(name)[0].name for name in (part, project.product.base)}
    for step in _STEPS:
        for name in sorted(holders):
            position = np.array(cell.holder(name).pose.position)
            way = (middle - position) * np.array([1.0, 1.0, 0.0])
            length = float(np.linalg.norm(way))
            if length > step / 2:
                for aside in _ASIDE if step > _NEAR else (0.0,):
                    by = se3.so3_exp(_UP * aside) @ way / length * min(step, length)
                    yield _move("move holder", name, position, by)


def _aside(project: Project, name: str) -> Iterator[Change]:
    cell = project.cell
    for step in _STEPS[1:]:
        if step > _NEAR and name not in {o.name for o in cell.obstacles}:
            return
        for direction in ((1, 0, 0), (-1, 0, 0), (0, 1, 0), (0, -1, 0)):
            by = np.array(direction, dtype=float) * step
            if name in {o.name for o in cell.obstacles}:
                yield _move("move obstacle", name, None, by)
            elif name in {h.name for h in cell.holders}:
                yield _move("move holder", name, np.array(cell.holder(name).pose.position), by)


def _higher(project: Project) -> Iterator[Change]:
    """An arm on a foot, or all of them."""
    arms = project.cell.arms
    for step in (0.01, 0.02, 0.05, 0.1, 0.2):
        by = np.array([0.0, 0.0, step])
        for arm in arms:
            yield _move("move arm", arm.name, np.array(arm.base.position), by)
        if len(arms) > 1:
            yield _move("move arm", "every arm", None, by)


def _longer(project: Project, hit: tuple[str, ...]) -> Iterator[Change]:
    if not hit:
        return
    for more in (0.02, 0.05):
        for gripper in project.cell.grippers:
            length = gripper.finger_size[2] + more
            now = gripper.finger_size[2] * 1e3
            text = f"{gripper.name}: fingers {length * 1e3:.0f} mm long instead of {now:.0f} mm"
            yield Change("lengthen fingers", gripper.name, (length,), "cell.yaml", text)


def _move(kind: str, name: str, position: np.ndarray | None, by: np.ndarray) -> Change:
    value: Vec3 = (round(float(by[0]), 6), round(float(by[1]), 6), round(float(by[2]), 6))
    text = f"{name}: moved by x {value[0] * 1e3:+.0f} mm, y {value[1] * 1e3:+.0f} mm"
    if value[2]:
        text += f", z {value[2] * 1e3:+.0f} mm"
    if position is not None:
        new = position + by
        text += f" to position: [{new[0] * 1e3:.0f} mm, {new[1] * 1e3:.0f} mm, {new[2] * 1e3:.0f} mm]"
    return Change(kind, name, value, "cell.yaml", text)  # type: ignore[arg-type]
