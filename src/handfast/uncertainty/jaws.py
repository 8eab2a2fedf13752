"""The jaws of a hand: where they really are, what closing them does to a part, and how the part then
follows the arm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from handfast.model.chart import Chart
from handfast.model.grasp import Grasp
from handfast.model.project import Project
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.arm_field import NO_STOPS, FieldStops, visit
from handfast.uncertainty.chain_state import Hand, Item, State
from handfast.uncertainty.error_form import Form, added, composed, mapped, moved, reverse
from handfast.uncertainty.hand_poses import HandPoses
from handfast.uncertainty.held_fast import held_fast
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.load import NO_LOAD, Wrench, given_way, weight
from handfast.uncertainty.refusal import ChainError
from handfast.uncertainty.sources import Sources, instance_of

_JawsKey = tuple[str, str, bytes, bytes, tuple[tuple[str, FieldStops], ...]]


@dataclass(frozen=True, eq=False, slots=True)
class Given:
    """What the chains of one chart are derived from. poses: where the hands stop; touches: whether touches
    are used; jaws: where they have been found to be, by arm, stop, place and what the arms' fields were.
    """

    project: Project
    chart: Chart
    sources: Sources
    poses: HandPoses
    touches: bool = True
    jaws: dict[_JawsKey, tuple[Mapping[str, FieldStops], Form]] = field(default_factory=dict)

    def anew(self) -> Given:
        """The same before anything is worked out of it."""
        return replace(self, sources=self.sources.for_walk(), jaws={})


def jaws_form(
    given: Given, state: State, arm: str, T_world_grip: Array, push: Wrench = NO_LOAD
) -> tuple[State, Form]:
    """Twist of the real jaws in the grip frame: arm base, tip and jaws, carried to the grip frame in turn,
    and what gives under the load. push: beside what hangs in the hand."""
    load = _load(given, state, arm, T_world_grip, push)
    before = tuple(state.fields.items())
    key = (arm, state.hands[arm].stop, T_world_grip.tobytes(), load.tobytes(), before)
    if key not in given.jaws:
        after, form = _jaws_form(given, state, arm, T_world_grip, load)
        given.jaws[key] = after.fields, form
    fields, form = given.jaws[key]
    return replace(state, fields=fields), form


def _load(given: Given, state: State, arm: str, T_world_grip: Array, push: Wrench) -> Wrench:
    """What acts on the hand; nothing where nothing gives."""
    grasp, gripper = state.hands[arm].grasp, given.project.cell.gripper_of(arm)
    gives = (f"arm.{arm}.flange", f"gripper.{gripper.name}.fingers")
    if grasp is None or not any(given.sources.by_edge.get(edge) for edge in gives):
        return NO_LOAD
    T_world_item = T_world_grip @ grasp.T_grip_part.matrix
    return np.asarray(push + weight(given.project, state, grasp.item, T_world_item))


def _jaws_form(given: Given, state: State, arm: str, T_world_grip: Array, load: Wrench) -> tuple[State, Form]:
    cell, sources = given.project.cell, given.sources
    gripper, stop = cell.gripper_of(arm), state.hands[arm].stop
    T_tip_grip = gripper.mount.matrix
    base = _base_form(given, state, arm, T_world_grip)
    T_world_tip = T_world_grip @ se3.inverse(T_tip_grip)
    state, at_tip = _tip_form(given, state, arm, T_world_tip)
    jaw = sources.form(f"gripper.{gripper.name}.jaw", stop, gripper.name)
    if load.any():
        flange = sources.by_edge.get(f"arm.{arm}.flange", ())
        at_tip = added(at_tip, given_way(flange, sources.draws, T_world_tip, load, stop))
        fingers = sources.by_edge.get(f"gripper.{gripper.name}.fingers", ())
        jaw = added(given_way(fingers, sources.draws, T_world_grip, load, stop), jaw)
    tip = moved(se3.inverse(T_tip_grip), at_tip)
    return state, composed(composed(base, tip, sources.variances), jaw, sources.variances)


def _base_form(given: Given, state: State, arm: str, T_world_grip: Array) -> Form:
    """Of where the arm stands, and of where the one stands from which that was measured."""
    own, stop = given.project.cell.arm(arm), state.hands[arm].stop
    T_base_grip = se3.inverse(own.base.matrix) @ T_world_grip
    found = moved(se3.inverse(T_base_grip), given.sources.form(f"arm.{arm}.base", stop, stop))
    if not own.measured_from:
        return found
    other = _base_form(given, state, own.measured_from, T_world_grip)
    return composed(other, found, given.sources.variances)


def close_jaws(given: Given, state: State, arm: str, grasp: Grasp, element: str) -> tuple[State, Form]:
    """The part is taken: closed freedoms lose what they had and take the jaws', free ones keep where the
    part was. Also the twist in the jaws, about the point that they close on, of what is there before.

    Holds for a part that can slide between the pads, from a place and out of another hand alike: the giving
    hand yields. A part that its place holds fast keeps all that it had.
    """
    _check_grasp(given, arm, grasp, element)
    sources = given.sources
    T_grip_item = grasp.T_grip_part.matrix
    T_world_grip = state.nominal(grasp.item, element) @ se3.inverse(T_grip_item)
    state, jaws = jaws_form(given, state, arm, T_world_grip)
    own = moved(T_grip_item, state.items[grasp.item].form)
    found = composed(reverse(jaws), own, sources.variances)
    left_free = sources.form(f"grasp.{grasp.gripper}.free", element, element)
    fast = held_fast(given.project, state, grasp.item, given.project.cell.gripper_of(arm))
    held = found if fast else mapped(_kept(grasp), added(found, left_free))
    for other, hand in state.hands.items():
        if hand.grasp is not None and hand.grasp.item == grasp.item:
            state = state.with_hand(other, Hand(hand.stop))
    state = state.with_hand(arm, Hand(state.hands[arm].stop, grasp, held))
    T_grip_middle = se3.translation(*grasp.about)
    return carry(given, state, arm, T_world_grip), moved(se3.inverse(T_grip_middle), found)


def in_hand(given: Given, state: State, arm: str, found: Form) -> tuple[Form, Form]:
    """Twist in the grip frame of what has just been taken, before the jaws closed and after, jaws where they
    should be: closed freedoms now err as the jaws do. found: as `close_jaws` gives it."""
    hand, gripper = state.hands[arm], given.project.cell.gripper_of(arm)
    if hand.grasp is None or hand.held is None:
        raise ValueError(f"expected the {arm} hand to hold something")
    jaw = given.sources.form(f"gripper.{gripper.name}.jaw", hand.stop, gripper.name)
    before = mapped(se3.adjoint(se3.translation(*hand.grasp.about)), found)
    return added(before, jaw), added(hand.held, jaw)


def _kept(grasp: Grasp) -> Array:
    """What of a twist in the grip frame (6, 6) the closing jaws leave: its free freedoms about the point that
    the pads close on."""
    T_grip_middle = se3.translation(*grasp.about)
    free = np.diag([0.0 if closed else 1.0 for closed in grasp.closed])
    return np.asarray(se3.adjoint(T_grip_middle) @ free @ se3.adjoint(se3.inverse(T_grip_middle)))


def carry(given: Given, state: State, arm: str, T_world_grip: Array | None, push: Wrench = NO_LOAD) -> State:
    """The held item where the arm has taken it. T_world_grip: None where nobody says; push: on it there."""
    hand = state.hands[arm]
    if hand.grasp is None or hand.held is None:
        return state
    if T_world_grip is None:
        return state.placed(hand.grasp.item, Item(None, state.items[hand.grasp.item].form))
    state, jaws = jaws_form(given, state, arm, T_world_grip, push)
    T_grip_item = hand.grasp.T_grip_part.matrix
    in_grip = composed(jaws, hand.held, given.sources.variances)
    form = moved(se3.inverse(T_grip_item), in_grip)
    return state.placed(hand.grasp.item, Item(T_world_grip @ T_grip_item, form))


def _tip_form(given: Given, state: State, arm: str, T_world_tip: Array) -> tuple[State, Form]:
    """Twist of the tip in its own frame: what is drawn at each stop, and smooth fields over the stops."""
    edge, stop = f"arm.{arm}.tip", state.hands[arm].stop
    acting = given.sources.by_edge.get(edge, ())
    drawn = [(instance_of(s, stop), 1.0) for s in acting if not s.correlation_length]
    for source in acting:
        if source.correlation_length:
            before = state.fields.get(source.name, NO_STOPS)
            after, weights = visit(before, stop, T_world_tip[:3, 3], source.correlation_length)
            drawn += [(Instance(source.name, name), weight) for name, weight in weights if weight != 0]
            state = replace(state, fields={**state.fields, source.name: after})
    return state, Form.weighted(given.sources.draws, drawn, stop)


def _check_grasp(given: Given, arm: str, grasp: Grasp, element: str) -> None:
    gripper = given.project.cell.gripper_of(arm)
    if gripper.name != grasp.gripper:
        raise ChainError(
            f"element {element!r}",
            f"a grasp of {gripper.name!r}, the gripper of {arm!r}",
            repr(grasp.gripper),
        )
