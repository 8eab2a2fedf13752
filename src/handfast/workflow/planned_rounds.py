"""Ways to an artefact planned while a person sets it down, each proven before it is given."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np

from handfast.execution.anew import NoWayAnewError, Stands
from handfast.execution.ball_round import BallRound, ToolRound
from handfast.model.element import Element
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.standing_artefact import with_artefact
from handfast.planning.ball_touch import Around, around, ball_round
from handfast.planning.bit_touch import bit_round
from handfast.planning.resumed import NoWayError
from handfast.planning.workspace import Workspace
from handfast.proof.moved_motion import Surroundings, surroundings, would_meet
from handfast.proof.standing import Hold, Standing


class PlannedRounds:
    """Implements `execution.ball_round.BallPlanner`: parts and tools lie where they do at the start."""

    def __init__(self, project: Project, seed: int = 0) -> None:
        self._project, self._seed = project, seed
        self._like: Workspace | None = None

    def touches(self, artefact: str, stand: str, hand: str, q: Stands) -> BallRound:
        """As in the protocol."""
        there, full, bare = self._there(artefact, stand)
        try:
            planned = ball_round(there, hand, {h: np.array(v) for h, v in q.items()}, self._seed)
        except NoWayError as error:
            raise NoWayAnewError(str(error)) from error
        standing = self._standing(hand, q)
        for touch in planned.touches:
            _must_be_clear(full, standing, hand, (*touch.to, touch.near, touch.away))
            _must_be_clear(bare, standing, hand, (touch.guarded,))
        _must_be_clear(full, standing, hand, planned.home)
        return planned

    def bit_touches(self, artefact: str, stand: str, tool: str, q: Stands) -> ToolRound:
        """As in the protocol."""
        there, full, bare = self._there(artefact, stand)
        found, why = self._project.cell.tool(tool), []
        for hand in q:
            try:
                planned = bit_round(there, hand, found, {h: np.array(v) for h, v in q.items()}, self._seed)
            except NoWayError as error:
                why.append(str(error))
                continue
            self._proven(planned, full, bare, q)
            return planned
        raise NoWayAnewError("; ".join(why))

    def _there(self, artefact: str, stand: str) -> tuple[Around, Surroundings, Surroundings]:
        """To plan in, and to prove in: with the artefact, and without its ball."""
        found = next(a for a in self._project.cell.artefacts if a.name == artefact)
        there = around(self._project, found, found.stand(stand), self._like)
        self._like = there.full
        full, bare = (
            surroundings(with_artefact(self._project, found, found.stand(stand), ball=ball))
            for ball in (True, False)
        )
        return there, full, bare

    def _proven(self, planned: ToolRound, full: Surroundings, bare: Surroundings, q: Stands) -> None:
        """Raises NoWayAnewError unless every motion with and without the tool is clear."""
        hand, tool = planned.hand, planned.tool
        standing = self._standing("", q)
        for element in (*planned.take, *planned.back):
            if element is planned.back[0]:
                for touch in planned.touches:
                    _must_be_clear(full, standing, hand, (*touch.to, touch.near, touch.away))
                    _must_be_clear(bare, standing, hand, (touch.guarded,))
            if element.opening is not None:
                standing = standing.opened(hand, element.opening)
            left = frozenset({tool}) if element.kind == "release" else frozenset()
            if element.kind == "release" and element.leaves is not None:
                T = element.leaves.pose.matrix
                standing = standing.placed(tool, element.leaves.parent, T).holding(hand, None)
            _must_be_clear(full, standing, hand, element.motions, element, left)
            if element.kind == "grasp":
                T = planned.T_grip_tool.matrix
                standing = standing.placed(tool, f"hand.{hand}", T).holding(hand, Hold(tool, T, 1))
                standing = standing.opened(hand, element.grasp.width if element.grasp else 0.0)
        _must_be_clear(full, standing, hand, planned.home)

    def _standing(self, hand: str, q: Stands) -> Standing:
        cell = self._project.cell
        parents = {
            place.holds: (f"place.{holder.name}.{place.name}", np.eye(4))
            for holder in cell.holders for place in holder.places if place.holds is not None
        }  # fmt: skip
        widths: Mapping[str, float] = {
            g.arm: g.opening[0] if g.arm == hand else g.opening[1] for g in cell.grippers
        }
        return Standing(parents, {name: np.array(v) for name, v in q.items()}, widths, {})


def _must_be_clear(
    there: Surroundings,
    standing: Standing,
    hand: str,
    motions: Iterable[Motion],
    element: Element | None = None,
    left: frozenset[str] = frozenset(),
) -> None:
    """Raises NoWayAnewError for a motion that the verifier does not find clear. left: what the hand has just
    let go."""
    plain = Element("commission", 1, hand, "reach", "", "", "", 0.0, 0.0) if element is None else element
    for motion in motions:
        meeting = would_meet(there, standing, plain, motion, beside_hand=left)
        if meeting is not None:
            raise NoWayAnewError(
                f"the way that was planned does not hold: {meeting.a} would meet {meeting.b}; "
                "set the artefact down at another stand"
            )
