"""Ways to touch the ball of an artefact, and back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handfast.execution.ball_round import BallRound, BallTouch
from handfast.model.artefact import Artefact, Stand
from handfast.model.finger_face import FingerFace, finger_faces
from handfast.model.gripper import Gripper
from handfast.model.motion import Motion
from handfast.model.project import Project
from handfast.model.standing_artefact import with_artefact
from handfast.planning.arrive import arrivals
from handfast.planning.clear_line import blocked
from handfast.planning.connect import connect
from handfast.planning.failure import Failure
from handfast.planning.resumed import NoWayError
from handfast.planning.state import State
from handfast.planning.station import out_of_reach, reachable
from handfast.planning.stream import stream
from handfast.planning.workspace import Workspace, make_workspace
from handfast.spatial import se3
from handfast.spatial.se3 import Array

_BACK = (0.04, 0.07)  # the straight line to the start begins this far away [m]
_ROOM = 1.5e-3  # kept between hand and ball before the guarded move begins, the slack apart [m]
_YAWS = (0.0, 90.0, 45.0, -45.0, 30.0, -30.0, 60.0, -60.0)  # of the hand, from how it stands at home [deg]
_TILTS = (60.0, 45.0, 30.0)  # of the hand from straight down, the one that tells most first [deg]
_LEANS = tuple(np.radians(np.arange(0.0, 360.0, 45.0)))  # about which horizontal axes it leans
_DOWN = np.diag([1.0, -1.0, -1.0])


@dataclass(frozen=True, eq=False, slots=True)
class Around:
    """full: the workspace with the artefact in it wherever it may stand; bare: without its ball; slack,
    radius [m] and middle (3,) of the ball [m]; speeds [m/s]."""

    full: Workspace
    bare: Workspace
    slack: float
    radius: float
    middle: Array


def around(project: Project, artefact: Artefact, stand: Stand, like: Workspace | None = None) -> Around:
    """The cell with the artefact standing there."""
    full = make_workspace(with_artefact(project, artefact, stand), like)
    bare = make_workspace(with_artefact(project, artefact, stand, ball=False), full)
    return Around(full, bare, artefact.slack, artefact.radius, artefact.ball_at(stand))


def ball_round(there: Around, hand: str, q: dict[str, Array], seed: int = 0) -> BallRound:
    """Three faces of the closed fingers, the same with the hand turned half round, and the fingertips with
    the hand tilted. q: where each arm stands. Raises NoWayError if there is not one touch."""
    state = closed(there.full, hand, q)
    gripper = there.full.hands[hand].gripper
    failures: list[str] = []
    best: list[BallTouch] = []
    for yaw in _YAWS:
        tries: list[str] = []
        found, ends = _upright(there, state, hand, gripper, np.radians(yaw), seed, tries)
        if len(found) > len(best):
            best, failures, after = found, tries, ends
        elif not best:
            failures = failures or tries
        if not tries:
            break
    if not best:
        raise NoWayError(f"the {hand} hand reaches the ball nowhere: {'; '.join(dict.fromkeys(failures))}")
    tilted = _tilted(there, after, hand, gripper, seed)
    if isinstance(tilted, str):
        failures.append(tilted)
    else:
        best, after = [*best, tilted[0]], tilted[1]
    home = connect(there.full, after, hand, q[hand], stream(seed, hand, "home"))
    if isinstance(home, Failure):
        raise NoWayError(f"the {hand} hand does not come back from the ball: {home.cause} ({home.what})")
    return BallRound(tuple(best), (home,), tuple(dict.fromkeys(failures)))


def closed(ws: Workspace, hand: str, q: dict[str, Array]) -> State:
    """Everything in its place, arms at q, the jaws of one hand closed on nothing."""
    state = ws.start()
    for name, values in q.items():
        state = state.moved(name, values)
    return state.opened(hand, ws.hands[hand].gripper.opening[0])


def _upright(
    there: Around, state: State, hand: str, gripper: Gripper, yaw: float, seed: int, failures: list[str]
) -> tuple[list[BallTouch], State]:
    """Touches with the hand straight down and turned half round, and the state at the end of them."""
    by_name = {f.name: f for f in finger_faces(gripper)}
    home = there.full.hands[hand].grip(state.q[hand])[:3, :3]
    heading = float(np.arctan2(home[1, 0], home[0, 0])) + yaw
    out: list[BallTouch] = []
    for posture, turn in (("down", 0.0), ("turned", np.pi)):
        rotation = se3.rotation(np.array([0.0, 0.0, 1.0]), heading + turn)[:3, :3] @ _DOWN
        for sides in (("end",), ("+x", "-x"), ("+y", "-y")):
            # The same side of the ball is met with the hand turned: by the other side of the fingers.
            ordered = sides if turn == 0.0 else sides[::-1]
            why = ""
            for side in ordered:
                found = touch(there, state, hand, rotation, by_name[side], posture, seed)
                if not isinstance(found, str):
                    out.append(found[0])
                    state = found[1]
                    break
                why = why or found
            else:
                failures.append(f"{posture} {sides[0].lstrip('+')}: {why}")
    return out, state


def _tilted(
    there: Around, state: State, hand: str, gripper: Gripper, seed: int
) -> tuple[BallTouch, State] | str:
    """The fingertips with the hand leaning as far as it can."""
    end, why = finger_faces(gripper)[0], ""
    home = there.full.hands[hand].grip(there.full.hands[hand].chain.home)[:3, :3]
    heading = float(np.arctan2(home[1, 0], home[0, 0]))
    for tilt in _TILTS:
        for lean in _LEANS:
            axis = np.array([np.cos(lean), np.sin(lean), 0.0])
            for yaw in (0.0, np.pi):
                down = se3.rotation(np.array([0.0, 0.0, 1.0]), heading + yaw)[:3, :3] @ _DOWN
                rotation = se3.rotation(axis, np.radians(tilt))[:3, :3] @ down
                found = touch(there, state, hand, rotation, end, f"tilted {tilt:.0f} deg", seed)
                if not isinstance(found, str):
                    return found
                why = why or found
    return f"tilted: {why}"


def touch(
    there: Around, state: State, hand: str, rotation: Array, face: FingerFace, posture: str, seed: int
) -> tuple[BallTouch, State] | str:
    """One touch with a hand that stands so (3, 3), and the state behind it; or why there is none."""
    normal = rotation @ np.array(face.normal)
    at = there.middle - rotation @ (np.array(face.point) + there.radius * np.array(face.normal))
    return guarded_at(there, state, hand, se3.pose(rotation, at), normal, (posture, face.name), seed)


def guarded_at(
    there: Around, state: State, hand: str, contact: Array, normal: Array, names: tuple[str, str], seed: int,
    before: tuple[Motion, ...] = (),
) -> tuple[BallTouch, State] | str:  # fmt: skip
    """A touch along `normal` (3,) that is meant to end with the grip frame at `contact` (4, 4); names:
    posture and face; before: motions already planned from where the hand stands."""
    reach = there.slack + _ROOM + 1e-3
    start, end = _moved(contact, -reach * normal), _moved(contact, reach * normal)
    h = there.full.hands[hand]
    if not reachable(h, np.array([start, end])).all():
        failed = out_of_reach(h, contact, f"{hand} arm")
        return f"{failed.cause} ({failed.what})"
    hit = blocked(
        there.bare.moving(state, hand), there.bare.standing(state, hand), start, end[:3, 3] - start[:3, 3]
    )
    if hit is not None:
        return f"{hit.moving} on {hit.standing}"
    why = ""
    for found in _ways(there, state, hand, start, end, normal, seed):
        if isinstance(found, str):
            why = why or found
            continue
        to, (near, guarded, _, away), q = found
        made = BallTouch(*names, _vec3(normal), reach, reach, (*before, to), near, away, guarded)
        return made, state.moved(hand, q)
    return why


def _ways(
    there: Around, state: State, hand: str, start: Array, end: Array, normal: Array, seed: int
) -> Iterator[tuple[Motion, tuple[Motion, ...], Array] | str]:
    control = there.full.project.cell.controller
    speed, slow = control.line_speed, control.touch_speed
    for length in _BACK:
        for side in (-normal, np.array([0.0, 0.0, 1.0])):
            step = length * side
            hit = blocked(there.full.moving(state, hand), there.full.standing(state, hand), start, step)
            if hit is not None:
                yield f"{hit.moving} on {hit.standing}"
                continue
            back = _moved(start, step)
            grips = [back, start, end, start, back]
            for way in arrivals(there.full, state, hand, grips, (speed, slow, speed, speed),
                                stream(seed, hand, str(length))):  # fmt: skip
                if isinstance(way, Failure):
                    yield f"{way.cause} ({way.what})"
                else:
                    yield way[0], way[1], way[2][-1][-1]


def _moved(T: Array, step: Array) -> Array:
    out = T.copy()
    out[:3, 3] += step
    return out


def _vec3(v: Array) -> tuple[float, float, float]:
    return float(v[0]), float(v[1]), float(v[2])
