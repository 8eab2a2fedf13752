"""A hand as the planner sees it: chain, gripper, and their covers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from handfast import _kernel
from handfast.geometry import cover
from handfast.geometry.body import Body, body, written
from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward, kernel_arm
from handfast.model.gripper import Gripper
from handfast.model.shape import Box, Solid
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Hand:
    """An arm with its gripper. mount: T_tip_grip (4, 4); link_spheres: (k, 4) in link frames, links: (k,);
    pairs: (p, 2) link pairs that the covers test against each other; links_cover: the links alone;
    T_grip_tip: (4, 4), inverse of mount; length: of the stretched arm from its first joint to the tip [m]."""

    chain: Chain
    arm: _kernel.Arm
    gripper: Gripper
    mount: Array
    link_spheres: Array
    links: np.ndarray
    pairs: np.ndarray
    links_cover: _kernel.Cover
    folder: str
    T_grip_tip: Array
    length: float

    @property
    def name(self) -> str:
        """The arm's name."""
        return self.chain.name

    def grip(self, q: Array) -> Array:
        """T_world_grip (4, 4) at q (n,)."""
        return np.asarray(forward(self.chain, q)[0] @ self.mount)

    def tip_for(self, T_world_grip: Array) -> Array:
        """T_world_tip that puts the grip frame there; broadcasts."""
        return T_world_grip @ self.T_grip_tip


def make_hand(chain: Chain, gripper: Gripper, folder: str) -> Hand:
    """The hand of a chain and its gripper, made once as long as no mesh of theirs is written."""
    solids = [*(s for _, s in chain.solids), *gripper.palm]
    return _hand(chain, gripper, folder, tuple(written(s, folder) for s in solids))


@lru_cache(maxsize=16)
def _hand(chain: Chain, gripper: Gripper, folder: str, _written: tuple[int, ...]) -> Hand:
    arm = kernel_arm(chain)
    spheres, links = [], []
    for index in range(-1, chain.n + 1):
        solids = tuple(s for link, s in chain.solids if link == index)
        rows = cover.spheres(solids, folder, 0.05)
        spheres.append(rows)
        links.append(np.full(len(rows), index, dtype=np.int32))
    table, link = np.concatenate(spheres), np.concatenate(links)
    pairs = _pairs(arm, chain, gripper, folder, table, link)
    links_cover = _kernel.Cover(arm, table, link, pairs)
    length = np.linalg.norm(chain.placements[1:, :3, 3], axis=1).sum() + np.linalg.norm(chain.tip[:3, 3])
    mount = gripper.mount.matrix
    back = se3.inverse(mount)
    return Hand(chain, arm, gripper, mount, table, link, pairs, links_cover, folder, back, float(length))


def _pairs(
    arm: _kernel.Arm, chain: Chain, gripper: Gripper, folder: str, spheres: Array, links: np.ndarray
) -> np.ndarray:
    """Link pairs that the covers tell apart: not neighbours, and not so close that their covers mostly
    overlap. own_links.py has the others."""
    palm = gripper_spheres(gripper, gripper.opening[1], folder)
    at = palm[:, :3] @ gripper.mount.matrix[:3, :3].T + gripper.mount.matrix[:3, 3]
    spheres = np.concatenate([spheres, np.column_stack([at, palm[:, 3]])])
    links = np.concatenate([links, np.full(len(palm), chain.n, dtype=np.int32)])
    out = []
    drawn = np.random.default_rng(0).uniform(chain.lower, chain.upper, (200, chain.n))
    empty = _kernel.World()
    present = set(links.tolist())
    for a in range(-1, chain.n):
        for b in range(a + 2, chain.n + 1):
            if {a, b} <= present and not (a == chain.n - 2 and b == chain.n):
                pair = np.array([[a, b]], dtype=np.int32)
                clear = _kernel.clearance(_kernel.Cover(arm, spheres, links, pair), empty, drawn)
                if (clear < 0.005).mean() < 0.5:
                    out.append([a, b])
    return np.array(out, dtype=np.int32).reshape(-1, 2)


def finger_solids(gripper: Gripper, width: float) -> tuple[Solid, Solid]:
    """The two fingers, in the grip frame, with their pads `width` [m] apart."""
    x, y, z = gripper.finger_size
    aside = width / 2 + y / 2
    box = Box((x, y, z))
    return Solid(box, Pose((0.0, aside, -z / 2))), Solid(box, Pose((0.0, -aside, -z / 2)))


@lru_cache(maxsize=64)
def gripper_spheres(gripper: Gripper, width: float, folder: str) -> Array:
    """Spheres over palm and fingers in the grip frame, (k, 4)."""
    palm = cover.spheres(gripper.palm, folder, 0.03)
    return np.concatenate([palm, cover.spheres(finger_solids(gripper, width), folder, 0.012)])


@lru_cache(maxsize=64)
def gripper_bodies(gripper: Gripper, width: float, folder: str) -> Body:
    """Palm and fingers as one exact body in the grip frame."""
    return body(f"gripper {gripper.name}", (*gripper.palm, *finger_solids(gripper, width)), folder)


@lru_cache(maxsize=16)
def link_bodies(hand: Hand) -> tuple[tuple[int, Body], ...]:
    """Exact bodies of the links by link number."""
    chain = hand.chain
    names = {-1: f"base of the {hand.name} arm", chain.n: f"flange of the {hand.name} arm"}
    names |= {i: f"link of the {hand.name} arm that {joint} moves" for i, joint in enumerate(chain.joints)}
    return tuple(
        (i, body(names[i], tuple(s for link, s in chain.solids if link == i), hand.folder))
        for i in sorted({link for link, _ in chain.solids})
    )
