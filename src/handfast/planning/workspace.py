"""The cell and the product with their shapes ready for collision tests."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from handfast import _kernel
from handfast.geometry import cover
from handfast.geometry.body import Body, body
from handfast.kinematics.chain import load_chain
from handfast.kinematics.forward import forward_links
from handfast.model.grasp import Grasp
from handfast.model.part import Part
from handfast.model.project import Project
from handfast.model.scene import Attachment, Scene
from handfast.model.strategy import Strategy
from handfast.model.tool import Tool
from handfast.model.touch import Touch
from handfast.model.touch_demand import TouchDemand
from handfast.planning.caps import Caps
from handfast.planning.clear_line import Block, Hit, Memo, Standing
from handfast.planning.course import Course
from handfast.planning.effort import Effort
from handfast.planning.hand import Hand, gripper_bodies, gripper_spheres, link_bodies, make_hand
from handfast.planning.item import Item, make_item
from handfast.planning.old_choices import OldChoices
from handfast.planning.state import State
from handfast.planning.surroundings import Surroundings
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array


@dataclass(frozen=True, eq=False, slots=True)
class Workspace:
    """hands by name; items: parts and tools by name; fixed: what never moves, with its poses, exact, and
    fixed_boxes: as boxes by name; margin: free-space clearance [m]; caps: where the search gives up; dry:
    free paths are taken for granted; memo: answers of exact line tests; blocks, boxed, stood: tables of
    items, boxes around them, and tables of hands, that stood somewhere; own: whether an arm runs into
    itself; closed: what jaws that close on an item cut into; courses: how hands go, in time; demands:
    touches and strategies that the ledger asks for; old: choices of an earlier chart, tried first; effort:
    what may be tried before it is given up; fixture: equal only where what never moves is the same, since
    states are asked in several workspaces."""

    project: Project
    hands: dict[str, Hand]
    items: dict[str, Item]
    fixed: tuple[Block, ...]
    fixed_boxes: tuple[tuple[str, Array, Array], ...]
    margin: float
    caps: Caps = field(default_factory=Caps)
    dry: bool = False
    memo: Memo = field(default_factory=dict)
    blocks: dict[tuple[Body, bytes], Block] = field(default_factory=dict)
    boxed: dict[tuple[str, bytes], tuple[Array, Array]] = field(default_factory=dict)
    stood: dict[tuple[str, float, bytes], list[Block]] = field(default_factory=dict)
    own: dict[tuple[object, ...], Hit | None] = field(default_factory=dict)
    closed: dict[tuple[str, Grasp], Hit | None] = field(default_factory=dict)
    courses: dict[tuple[object, ...], Course] = field(default_factory=dict)
    demands: tuple[TouchDemand, ...] = ()
    old: OldChoices | None = None
    effort: Effort = field(default_factory=Effort)
    fixture: object = field(default_factory=object)

    def demanded(self, mate: str) -> tuple[Touch, ...]:
        """The touches that are to be made before a mate if they can be, in order."""
        return tuple(touch for demand in self.demands if demand.mate == mate for touch in demand.touches)

    def strategy(self, mate: str) -> Strategy | None:
        """How the ledger wants a mate to go in; None: straight."""
        return next((d.strategy for d in self.demands if d.mate == mate), None)

    def start(self) -> State:
        """Everything in its place, arms at home, jaws wide open."""
        cell = self.project.cell
        places = ((item, *cell.place_of(item)) for item in self.items)
        attachments = [Attachment(i, f"place.{holder.name}.{p.name}", Pose()) for i, holder, p in places]
        widths = {n: h.gripper.opening[1] for n, h in self.hands.items()}
        q = {n: h.chain.home for n, h in self.hands.items()}
        return State(Scene(tuple(attachments), tuple(sorted(widths.items()))), q, widths)

    def pose(self, state: State, item: str) -> Array:
        """T_world_item (4, 4), not to be written to."""
        pose = state.poses.get(item)
        if pose is None:
            attachment = state.scene.of(item)
            pose = np.asarray(self.parent_pose(state, attachment.parent) @ attachment.pose.matrix)
            pose.flags.writeable = False  # shared by everyone who asks for it
            state.poses[item] = pose
        return pose

    def parent_pose(self, state: State, parent: str) -> Array:
        """T_world_parent of a place, a hand (grip frame), a part, or a tool (bit frame)."""
        kind, _, name = parent.partition(".")
        if kind == "place":
            holder_name, _, place_name = name.partition(".")
            holder = self.project.cell.holder(holder_name)
            place = next(p for p in holder.places if p.name == place_name)
            return holder.pose.matrix @ place.pose.matrix
        if kind == "hand":
            return self.hands[name].grip(state.q[name])
        if kind == "tool":
            return self.pose(state, name) @ self.project.cell.tool(name).bit.matrix
        return self.pose(state, name)

    def carried(self, state: State, hand: str) -> list[tuple[str, Array]]:
        """What moves with a hand: (item, T_grip_item), the held item and everything that is attached to it,
        directly or through others."""
        return state.once_of(hand, ("carried",), lambda: self._carried(state, hand))

    def _carried(self, state: State, hand: str) -> list[tuple[str, Array]]:
        held = state.held_by(hand)
        if held is None:
            return []
        T_grip_held = state.scene.of(held).pose.matrix
        return [(held, T_grip_held), *self._upon(state, held, T_grip_held)]

    def _upon(self, state: State, item: str, T: Array) -> list[tuple[str, Array]]:
        """What is attached to an item, nearest first, in the frame in which the item stands at T (4, 4)."""
        out: list[tuple[str, Array]] = []
        for kind in ("part", "tool"):
            for attachment in state.upon.get(f"{kind}.{item}", ()):
                frame = self.project.cell.tool(item).bit.matrix if kind == "tool" else np.eye(4)
                out.append((attachment.item, T @ frame @ attachment.pose.matrix))
        return out + [more for name, T_there in tuple(out) for more in self._upon(state, name, T_there)]

    def group(self, state: State, item: str) -> list[tuple[str, Array]]:
        """What is built into an item so far, directly or through others: (part, T_item_part)."""
        return self._upon(state, item, np.eye(4))

    def mass(self, state: State, item: str) -> float:
        """Of an item with everything that is built into it [kg]."""
        return self.items[item].mass + sum(self.items[name].mass for name, _ in self.group(state, item))

    def hand_cover(self, state: State, hand: str, reach: bool = True) -> _kernel.Cover:
        """Spheres of an arm; with `reach` also of its gripper and what it carries."""
        h = self.hands[hand]
        return state.once_of(hand, ("cover",), lambda: self._cover(state, hand)) if reach else h.links_cover

    def bare_cover(self, state: State, hand: str) -> _kernel.Cover:
        """The same spheres, which are not tested against each other."""
        return state.once_of(hand, ("bare cover",), lambda: self._cover(state, hand, alone=True))

    def _cover(self, state: State, hand: str, alone: bool = False) -> _kernel.Cover:
        h = self.hands[hand]
        spheres, links = [h.link_spheres], [h.links]
        rows = [(gripper_spheres(h.gripper, state.widths[hand], h.folder), h.mount)]
        rows += [(self.items[name].spheres, h.mount @ T) for name, T in self.carried(state, hand)]
        for row, T in rows:
            spheres.append(np.column_stack([row[:, :3] @ T[:3, :3].T + T[:3, 3], row[:, 3]]))
            links.append(np.full(len(row), h.chain.n, dtype=np.int32))
        tested = None if alone else h.pairs
        return _kernel.Cover(h.arm, np.concatenate(spheres), np.concatenate(links), tested)

    def world(self, state: State, hand: str, without_hand: str | None = None) -> _kernel.World:
        """What stands still while one hand moves: holders, obstacles, items, the other hands with what they
        carry."""
        return self.surroundings(state, hand, without_hand).world

    def surroundings(self, state: State, hand: str, without_hand: str | None = None) -> Surroundings:
        """The same with the names of what stands there."""
        key = ("world", self.fixture, without_hand or "")
        return state.once_around(hand, key, lambda: self._surroundings(state, hand, without_hand))

    def _surroundings(self, state: State, hand: str, without_hand: str | None) -> Surroundings:
        mine = {name for name, _ in self.carried(state, hand)}
        boxes = [(np.zeros((0, 4, 4)), np.zeros((0, 3))), *(b[1:] for b in self.fixed_boxes)]
        names = ["", *(b[0] for b in self.fixed_boxes)]
        theirs: set[str] = set()
        spheres, hands = [np.zeros((0, 4))], [""]
        for name in self.hands:
            if name not in (hand, without_hand):
                spheres.append(_kernel.spheres_at(self.hand_cover(state, name), state.q[name][None])[0])
                hands.append(f"the {name} hand")
                theirs |= {item for item, _ in self.carried(state, name)}
        for name in present(state):
            if name not in mine and name not in theirs:
                boxes.append(self.boxes(name, self.pose(state, name)))
                names.append(name)
        world = _kernel.World(
            box_poses=np.concatenate([b[0] for b in boxes]),
            box_halves=np.concatenate([b[1] for b in boxes]),
            spheres=np.concatenate(spheres),
        )
        rows = np.cumsum([len(b[1]) for b in boxes]), np.cumsum([len(s) for s in spheres])
        return Surroundings(world, tuple(names), rows[0], tuple(hands), rows[1])

    def jaws(self, hand: str, width: float) -> Body:
        """The exact body of a hand's gripper, its pads `width` [m] apart, in the grip frame."""
        return gripper_bodies(self.hands[hand].gripper, width, self.hands[hand].folder)

    def tightest(self, state: State, hand: str, q: Array, reach: bool = True) -> tuple[str, float]:
        """Of what stands still, what a hand at q (k, n) comes nearest to by the covers: its name, and the
        clearance [m]."""
        around = self.surroundings(state, hand)
        found = _kernel.nearest(self.hand_cover(state, hand, reach), around.world, q)
        k = int(np.argmin(found.distance))
        return around.name(int(found.kind[k]), int(found.obstacle[k])), float(found.distance[k])

    def moving(self, state: State, hand: str) -> list[tuple[Body, Array]]:
        """Exact bodies that move with a hand near contact: gripper and what it carries, T_grip_body."""
        out = [(self.jaws(hand, state.widths[hand]), np.eye(4))]
        return out + [(self.items[name].exact, T) for name, T in self.carried(state, hand)]

    def standing(self, state: State, hand: str, without_hand: str | None = None) -> Standing:
        """Exact bodies that stand still while a hand moves, T_world_body: also the other hands with all their
        links."""
        key = ("standing", self.fixture, without_hand or "")
        return state.once_around(hand, key, lambda: _table(tuple(self._standing(state, hand, without_hand))))

    def _standing(self, state: State, hand: str, without_hand: str | None) -> list[Block]:
        mine = {name for name, _ in self.carried(state, hand)}
        out = list(self.fixed)
        out += [
            self.block(self.items[name].exact, self.pose(state, name))
            for name in present(state)
            if name not in mine
        ]
        for name in self.hands:
            if name not in (hand, without_hand):
                out += self.hand_blocks(state, name)
        return out

    def hand_blocks(self, state: State, hand: str) -> list[Block]:
        """The tables of a hand that stands still, with all links of its arm, without what it carries."""
        key = (hand, state.widths[hand], state.q[hand].tobytes())
        if key not in self.stood:
            self.stood[key] = self._hand_blocks(self.hands[hand], state.widths[hand], state.q[hand])
        return self.stood[key]

    def _hand_blocks(self, hand: Hand, width: float, q: Array) -> list[Block]:
        links = forward_links(hand.chain, q)[0]
        jaws = Block(self.jaws(hand.name, width), hand.grip(q))
        return [jaws, *(Block(b, links[i + 1]) for i, b in link_bodies(hand))]

    def boxes(self, item: str, T_world_item: Array) -> tuple[Array, Array]:
        """Poses and halves of the boxes around an item that stands somewhere, worked out once."""
        key = (item, T_world_item.tobytes())
        if key not in self.boxed:
            body = self.items[item]
            self.boxed[key] = (T_world_item @ body.box_poses, body.box_halves)
        return self.boxed[key]

    def block(self, body: Body, T_world_body: Array) -> Block:
        """The tables of a body that stands somewhere, made once."""
        key = (body, T_world_body.tobytes())
        if key not in self.blocks:
            self.blocks[key] = Block(body, T_world_body)
        return self.blocks[key]


@lru_cache(maxsize=512)
def _table(blocks: tuple[Block, ...]) -> Standing:
    """One table for all the states in which the same things stand in the same places."""
    return Standing(list(blocks))


def present(state: State) -> list[str]:
    """Names of the items that are in the scene at all, sorted."""
    return sorted(a.item for a in state.scene.attachments)


def make_workspace(
    project: Project, like: Workspace | None = None, demands: tuple[TouchDemand, ...] = ()
) -> Workspace:
    """The workspace of a project that has been checked.

    like: the workspace of a similar project, whose hands are taken over where they are the same, and whose
    exact answers hold here too; demands: touches to make where they can be made.
    """
    cell, folder = project.cell, project.folder
    if like is not None and (cell.arms, cell.grippers) == (
        like.project.cell.arms,
        like.project.cell.grippers,
    ):
        hands = like.hands
    else:
        hands = {a.name: make_hand(load_chain(a, folder), cell.gripper_of(a.name), folder) for a in cell.arms}
    things: tuple[Part | Tool, ...] = (*project.product.parts, *cell.tools)
    items = {thing.name: make_item(thing, folder) for thing in things}
    standing = [(f"holder {h.name}", h.solids, h.pose.matrix) for h in cell.holders]
    standing += [(f"obstacle {o.name}", o.solids, np.eye(4)) for o in cell.obstacles]
    boxes = []
    for name, solids, pose in standing:
        box_poses, box_halves = cover.boxes(solids, folder)
        boxes.append((name, pose @ box_poses, box_halves))
    return Workspace(
        project=project,
        hands=hands,
        items=items,
        fixed=tuple(Block(body(name, solids, folder), pose) for name, solids, pose in standing),
        fixed_boxes=tuple(boxes),
        margin=project.clearance,
        memo={} if like is None else like.memo,
        blocks={} if like is None else like.blocks,
        demands=demands,
    )
