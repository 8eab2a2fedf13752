"""Where everything really is: true frames composed from the nominal ones and what was drawn for this
build."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from handfast.kinematics.chain import Chain
from handfast.kinematics.forward import forward
from handfast.model.feature import Feature
from handfast.model.grasp import Grasp
from handfast.model.project import Project
from handfast.model.tool import Tool
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.draw import Draws
from handfast.trials.giving import Pull, gives, weights

_NEXT = 1_000_000  # builds further on: the draws of a part that came after a rejected one
_PLACE_REACH = 0.01  # an item let go this near a place comes to lie in it [m]


@dataclass(slots=True)
class TrueItem:
    """parent: "place.HOLDER.PLACE", "hand.ARM", "part.NAME", "tool.NAME" or "dropped"; T_parent_item (4, 4),
    the parent frame as in model/scene.py."""

    parent: str
    T_parent_item: Array


@dataclass(slots=True)
class TrueHand:
    """q (n,): commanded configuration; stop: names this stop; width: of the jaws [m]; holds: item between
    the pads; force: with which they press on it [N]; slips: why it stays behind when the hand goes on, ""."""

    q: Array
    width: float
    stop: str = "start"
    holds: str | None = None
    grasp: Grasp | None = None
    force: float = 0.0
    slips: str = ""


class TrueCell:
    """The state of one simulated build. Changed only by the simulated cell's own commands."""

    def __init__(self, project: Project, chains: dict[str, Chain], draws: Draws) -> None:
        self.project, self.chains, self.draws = project, chains, draws
        self.hands = {
            a.name: TrueHand(np.array(a.home), project.cell.gripper_of(a.name).opening[1])
            for a in project.cell.arms
        }
        self.items: dict[str, TrueItem] = {}
        self.spun: dict[str, float] = {}  # how far each tool's spindle was turned by itself [rad]
        self._stops: dict[str, int] = {}
        self._rejected: dict[str, int] = {}
        for holder in project.cell.holders:
            for place in holder.places:
                if place.holds is not None:
                    self.items[place.holds] = TrueItem(f"place.{holder.name}.{place.name}", np.eye(4))

    # --- arms ---

    def stand(self, arm: str, q: Array) -> None:
        """The arm comes to rest at a new stop: what changes with each cycle is drawn anew there."""
        # + 0.0: -0.0 and 0.0 are one stop.
        key = f"{arm}/{hashlib.sha256((np.round(q, 6) + 0.0).tobytes()).hexdigest()[:16]}"
        self._stops[key] = self._stops.get(key, 0) + 1
        hand = self.hands[arm]
        hand.q, hand.stop = np.array(q), f"{key}/{self._stops[key]}"

    def T_base(self, arm: str) -> Array:
        """What an error of the arm's base does to everything it carries: T_world' = T_base @ T_world (4,
        4)."""
        found = self.project.cell.arm(arm)
        base = found.base.matrix
        own = np.asarray(base @ self.draws.deviation(f"arm.{arm}.base") @ se3.inverse(base))
        return self.T_base(found.measured_from) @ own if found.measured_from else own

    def T_world_grip(
        self, arm: str, q: Array | None = None, stop: str | None = None, push: Pull | None = None
    ) -> Array:
        """The grip frame as the arm really stands (4, 4), at its stop or, for q (n,), on the way to the
        named stop. push: on what it carries, beside the weight of that."""
        hand = self.hands[arm]
        tip = forward(self.chains[arm], hand.q if q is None else q)[0]
        reached = self.draws.deviation(f"arm.{arm}.tip", hand.stop if stop is None else stop, tip[:3, 3])
        gripper = self.project.cell.gripper_of(arm)
        flange, fingers = f"arm.{arm}.flange", f"gripper.{gripper.name}.fingers"
        T_world_tip = self.T_base(arm) @ tip @ reached
        if hand.holds is None or not (self.draws.acts(flange) or self.draws.acts(fingers)):
            return np.asarray(T_world_tip @ gripper.mount.matrix)
        T_world_grip = T_world_tip @ gripper.mount.matrix
        carried = {
            name: self.T_world(name, T_world_grip=T_world_grip)
            for name in self.items
            if self._in_hand(name, arm)
        }
        pulls = [*weights(self.project, carried), *(() if push is None else (push,))]
        T_world_tip = T_world_tip @ gives(self.draws, flange, T_world_tip, pulls)
        return np.asarray(
            T_world_tip @ gripper.mount.matrix @ gives(self.draws, fingers, T_world_grip, pulls)
        )

    def _in_hand(self, item: str, arm: str) -> bool:
        """Whether a hand carries it, or what it is joined to."""
        kind, _, name = self.items[item].parent.partition(".")
        return (kind, name) == ("hand", arm) or (kind in ("part", "tool") and self._in_hand(name, arm))

    def T_grip_jaw(self, arm: str) -> Array:
        """Where the jaws close, in the grip frame (4, 4)."""
        return self.draws.deviation(
            f"gripper.{self.project.cell.gripper_of(arm).name}.jaw", self.hands[arm].stop
        )

    # --- items ---

    def T_world(self, item: str, *, T_world_grip: Array | None = None) -> Array:
        """True pose of a part or tool (4, 4). T_world_grip: of the hand that carries it, if not where it
        stands."""
        there = self.items[item]
        kind, _, name = there.parent.partition(".")
        if kind == "place":
            parent = self._T_world_place(name)
        elif kind == "hand":
            parent = self.T_world_grip(name) if T_world_grip is None else T_world_grip
        elif kind == "part":
            parent = self.T_world(name, T_world_grip=T_world_grip)
        elif kind == "tool":
            parent = self.T_world(name, T_world_grip=T_world_grip) @ self.T_tool_bit(
                self.project.cell.tool(name)
            )
        else:
            parent = np.eye(4)
        return np.asarray(parent @ there.T_parent_item)

    def T_world_bit(self, tool: str, *, T_world_grip: Array | None = None) -> Array:
        """True pose of a tool's bit (4, 4), runout included."""
        return np.asarray(
            self.T_world(tool, T_world_grip=T_world_grip) @ self.T_tool_bit(self.project.cell.tool(tool))
        )

    def T_part_feature(self, part: str, feature: Feature) -> Array:
        """The feature where it really is on its part (4, 4)."""
        edge, draws = f"feature.{part}.{feature.name}", self.draws_of(part)
        if draws.acts(edge):
            off = draws.deviation(edge)
        else:  # nobody said how it is off: within its tolerance
            off = se3.exp(draws.within_tolerance(part, feature))
        return np.asarray(feature.frame.matrix @ off)

    def T_world_feature(self, part: str, feature: str) -> Array:
        """True pose of a feature (4, 4)."""
        found = self.project.product.part(part).feature(feature)
        return np.asarray(self.T_world(part) @ self.T_part_feature(part, found))

    def T_tool_bit(self, tool: Tool) -> Array:
        """The bit where it really is on its tool (4, 4): what it is off by goes round with the spindle."""
        turned = se3.rotation(np.array([0.0, 0.0, 1.0]), self.spun.get(tool.name, 0.0))
        off = self.draws.deviation(f"tool.{tool.name}.bit")
        return np.asarray(tool.bit.matrix @ turned @ off @ se3.inverse(turned))

    def _T_world_place(self, path: str) -> Array:
        holder_name, _, place_name = path.partition(".")
        holder = self.project.cell.holder(holder_name)
        place = next(p for p in holder.places if p.name == place_name)
        edge, draws = f"place.{path}", self.draws_of(place.holds or "")
        if draws.acts(edge):
            lies = draws.deviation(edge)
        else:  # nobody said how it lies: anywhere the place lets it
            half = np.array([*place.free, 0.0, 0.0, place.slack_angle])
            lies = se3.exp(draws.uniform(half, edge))
        stands = holder.pose.matrix @ self.draws.deviation(f"holder.{holder_name}")
        return np.asarray(stands @ place.pose.matrix @ lies)

    def draws_of(self, part: str) -> Draws:
        """The errors of a part itself and of how it lies: of one that came after a rejected one, those of
        another build, lots included."""
        count = self._rejected.get(part, 0)
        return self.draws if count == 0 else replace(self.draws, build=self.draws.build + count * _NEXT)

    # --- what changes where things are ---

    def attach(self, item: str, parent: str, T_parent_item: Array) -> None:
        """The item now moves with another parent."""
        self.items[item] = TrueItem(parent, np.array(T_parent_item))

    def let_go(self, arm: str) -> None:
        """The jaws are open. What is joined to a part stays there, what is near a place lies in it, else it
        drops."""
        hand = self.hands[arm]
        item, hand.holds, hand.grasp, hand.slips = hand.holds, None, None, ""
        if item is None or self.items[item].parent != f"hand.{arm}":
            return
        T_world_item = self.T_world(item)
        if self._falls_into_reject(T_world_item):
            self._next_of(item)
            return
        for holder in self.project.cell.holders:
            for place in holder.places:
                path = f"{holder.name}.{place.name}"
                T_place_item = se3.inverse(self._T_world_place(path)) @ T_world_item
                if np.linalg.norm(T_place_item[:3, 3]) < _PLACE_REACH:
                    self.attach(item, f"place.{path}", T_place_item)
                    return
        self.attach(item, "dropped", T_world_item)

    def _falls_into_reject(self, T_world_item: Array) -> bool:
        places = [(h, p) for h in self.project.cell.holders if h.kind == "reject" for p in h.places]
        for holder, place in places:
            off = se3.inverse(holder.pose.matrix @ place.pose.matrix) @ T_world_item
            if np.hypot(off[0, 3], off[1, 3]) < place.slack + _PLACE_REACH and off[2, 3] > 0:
                return True
        return False

    def _next_of(self, item: str) -> None:
        """The next of a rejected part comes to its place, as long as there is one."""
        holder, place = self.project.cell.place_of(item)
        count = self._rejected[item] = self._rejected.get(item, 0) + 1
        if count < place.stock:
            self.attach(item, f"place.{holder.name}.{place.name}", np.eye(4))
        else:
            self.attach(item, "dropped", se3.translation(0.0, 0.0, -1.0))
