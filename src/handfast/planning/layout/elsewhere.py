"""A workspace whose arms and holders stand elsewhere, without loading anything again."""

from __future__ import annotations

from dataclasses import replace

from handfast import _kernel
from handfast.kinematics.forward import kernel_arm
from handfast.model.arm import Arm
from handfast.model.project import Project
from handfast.planning.hand import Hand
from handfast.planning.workspace import Workspace
from handfast.spatial import se3


def elsewhere(ws: Workspace, layout: Project) -> Workspace:
    """The workspace of a project that differs from that of `ws` only in where arms and holders stand, or in
    arms that are like its own.

    It serves covers alone: exact bodies of holders are left out of it.
    """
    hands = {arm.name: _hand(ws, layout, arm) for arm in layout.cell.arms}
    moved = {
        f"holder {h.name}": h.pose.matrix @ se3.inverse(ws.project.cell.holder(h.name).pose.matrix)
        for h in layout.cell.holders
    }
    boxes = tuple(
        (n, moved[n] @ poses if n in moved else poses, halves) for n, poses, halves in ws.fixed_boxes
    )
    return replace(
        ws, project=layout, hands=hands, fixed=(), fixed_boxes=boxes, fixture=object(), memo={}, blocks={},
        stood={},
    )  # fmt: skip


def _hand(ws: Workspace, layout: Project, arm: Arm) -> Hand:
    was = next((a for a in ws.project.cell.arms if a.name == arm.name), None) or next(
        a for a in ws.project.cell.arms if replace(arm, name=a.name, base=a.base) == a
    )
    old = ws.hands[was.name]
    if arm == was:
        return old
    base = arm.base.matrix @ se3.inverse(was.base.matrix) @ old.chain.base
    chain = replace(old.chain, name=arm.name, base=base)
    links = _kernel.Cover(kernel_arm(chain), old.link_spheres, old.links, old.pairs)
    return replace(
        old,
        chain=chain,
        arm=kernel_arm(chain),
        gripper=layout.cell.gripper_of(arm.name),
        links_cover=links,
    )
