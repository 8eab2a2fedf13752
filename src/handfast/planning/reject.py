"""What a hand holds, led over the reject place and let go."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from handfast.execution.rehearsal import ready_at
from handfast.geometry.mesh import surface_points
from handfast.kinematics.inverse import inverse
from handfast.model.chart import Chart
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.scene import Attachment
from handfast.planning.connect import connect, roomy
from handfast.planning.failure import Failure
from handfast.planning.leg import element
from handfast.planning.resumed import NoWayError, Resumed, done_before, joined
from handfast.planning.state import State
from handfast.planning.stream import stream
from handfast.planning.way_back import by_plan, ways_out
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array

_DROP = (
    0.01  # the lowest point of a part is let go this far above the reject place [m]; own choice, no source
)
_TURNS = np.radians(np.arange(0, 360, 30))  # about the vertical


def rejected(
    project: Project,
    chart: Chart,
    number: int,
    place: str,
    q: Mapping[str, tuple[float, ...]],
    widths: Mapping[str, float],
    seed: int = 0,
) -> Resumed:
    """The chart up to element `number`, which failed and has been backed out of, then its part led over the
    reject place "HOLDER.PLACE" and let go there.

    q (n,) [rad], widths [m]: as the cell says. Raises KeyError for a place that is not there, NoWayError if
    no way was found.
    """
    failed = chart.element(number)
    hand, part = failed.hand, failed.object
    before, time = done_before(chart, number)
    ready, ws = ready_at(project, chart, number), make_workspace(project)
    stands = {h: (ready.widths[h] if h in ready.holding else widths[h]) for h in ws.hands}
    there = {h: tuple(q[h]) if h == hand else by_plan(project, ready, h, q[h]) for h in ws.hands}
    state = State(ready.scene, {h: np.array(there[h]) for h in ws.hands}, stands)
    motions = _over(ws, state, hand, part, place, seed)
    over = state.moved(hand, np.array(motions[-1].q[-1]))
    move = element("move", hand, part, f"place.{place}", failed.mate, motions)
    steps = (
        replace(move, id=f"reject/{number:02d}-move-{hand}"),
        replace(_let_go(ws, over, hand, part, place, failed), id=f"reject/{number:02d}-release-{hand}"),
    )
    done = replace(chart, mates=tuple(m for m in chart.mates if m in ready.done))
    return Resumed(joined(done, before, steps, (), time), number, time, there, stands, to_the_end=False)


def _let_go(ws: Workspace, state: State, hand: str, part: str, place: str, failed: Element) -> Element:
    gripper = ws.hands[hand].gripper
    T_place_part = se3.inverse(ws.parent_pose(state, f"place.{place}")) @ ws.pose(state, part)
    leaves = Attachment(part, f"place.{place}", Pose.from_matrix(T_place_part))
    opening = min(state.widths[hand] + 2 * gripper.gap, gripper.opening[1])
    return element(
        "release", hand, part, f"place.{place}", failed.mate, after=gripper.close_time, opening=opening,
        leaves=leaves,
    )  # fmt: skip


def _over(ws: Workspace, state: State, hand: str, part: str, place: str, seed: int) -> tuple[Motion, ...]:
    """Motions to where the part is let go. Raises NoWayError."""
    reasons: list[str] = []
    for out, clear in ways_out(ws, state, hand):
        for target in _targets(ws, clear, hand, part, place):
            tight = roomy(ws, clear, hand, target)
            found = tight if tight is not None else connect(ws, clear, hand, target, stream(seed, hand))
            if not isinstance(found, Failure):
                return (*out, found)
            reasons.append(f"{found.cause} ({found.what})")
    why = "; ".join(dict.fromkeys(reasons)) or "it is out of reach"
    raise NoWayError(f"no way for the {hand} hand with {part} to {place}: {why}")


def _targets(ws: Workspace, state: State, hand: str, part: str, place: str) -> Iterator[Array]:
    """Configurations (n,) with the part over the place, turned about the vertical, nearest ones first."""
    h, found = ws.hands[hand], ws.project.product.part(part)
    T_world_part, T_world_place = ws.pose(state, part), ws.parent_pose(state, f"place.{place}")
    T_part_grip = se3.inverse(T_world_part) @ h.grip(state.q[hand])
    points = surface_points(found.solids, ws.project.folder)
    configurations: list[Array] = []
    for angle in _TURNS:
        T = se3.rotation(np.array([0.0, 0, 1]), float(angle)) @ T_world_part
        T[:2, 3] += T_world_place[:2, 3] - (T @ [*found.centre_of_mass, 1.0])[:2]
        lowest = float((points @ T[2, :3]).min()) + float(T[2, 3])
        T[2, 3] += T_world_place[2, 3] + _DROP - lowest
        q, valid = inverse(h.chain, h.tip_for(T @ T_part_grip)[None], state.q[hand])
        configurations += list(q[0][valid[0]])
    yield from sorted(configurations, key=lambda c: float(np.abs(c - state.q[hand]).max()))
