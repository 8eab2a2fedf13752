"""A part once it is home: what its fit and its seat set, and what it keeps of the way it came in.

                 x, y                  z                   tilt                 roll
  insert, press  the fit, with play    as the arm left it  the fit, with play   as it came
  seat           the fit, with play    the part beneath    the part beneath     as it came
  gear-mesh      the fit, with play    the part beneath    the fit, with play   as it came
  screw, others  the fit               the part beneath    the fit              as it came

A second pair beside the first sets the roll (`second_pair`). The hand lets go or yields; what it held
against the fit is gone, but for the side of the play that it pushed to (`left_in_play`).
An interference fit leaves no play.
"""

from __future__ import annotations

import numpy as np

from handfast.model.mate import Mate
from handfast.model.scene import Attachment
from handfast.spatial import se3
from handfast.spatial.pose import Pose
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import Hand, Item, State
from handfast.uncertainty.error_form import Form, added, composed, mapped, moved, nothing, reverse
from handfast.uncertainty.home import fixed_frame
from handfast.uncertainty.instances import Instance
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.left_in_play import LeftInPlay, left_in_play
from handfast.uncertainty.pair_form import feature_form
from handfast.uncertainty.play import play_edge, play_jacobian
from handfast.uncertainty.second_pair import turn_set

# (set by the fit, set by the part beneath), freedoms of the moving feature in the fixed feature's frame.
_FIT_AND_SEAT = {"insert": ((0, 1, 3, 4), ()), "press": ((0, 1, 3, 4), ()), "seat": ((0, 1), (2, 3, 4))}
_OTHERS = ((0, 1, 3, 4), (2,))


def mated(
    given: Given, state: State, mate: Mate, delta: Form, grip: float, T_world_home: Array, element: str
) -> tuple[State, LeftInPlay | None]:
    """The state with the part at home, and how contact left it in the play of its fit, None without any.
    delta: its deviation as it came in (6 rows); grip: z of the hand's grip in the first fixed feature's
    frame, the part at home [m].
    """
    by_fit, by_seat = (_rows(rows) for rows in _FIT_AND_SEAT.get(mate.kind, _OTHERS))
    first = mate.pairs[0]
    fixed = feature_form(given, state, first.fixed_part, first.fixed, element)
    T_world_fixed = fixed_frame(state, given.project.product, first.fixed_part, first.fixed, element)
    left_over = _in_play(given, mate, delta, grip)
    play = nothing()
    if left_over is not None:
        offsets = left_over.form(given.sources.variances, mate.name)
        play = mapped(play_jacobian(mate, given.project.product), offsets)
    beneath = added(
        _relative_to(given, state, mate.into, T_world_fixed, fixed, element),
        _own_in_fixed(given, mate, T_world_fixed, T_world_home, element),
    )
    left = added(mapped(by_fit, play), mapped(by_seat, beneath))
    kept = np.eye(6) - by_fit - by_seat
    form = _part_form(given, mate, composed(fixed, added(left, mapped(kept, delta)), given.sources.variances),
                      T_world_fixed, T_world_home, element)  # fmt: skip
    T_world_into = state.nominal(mate.into, element)
    home = Pose.from_matrix(se3.inverse(T_world_into) @ T_world_home)
    state = state.placed(mate.part, Item(T_world_home, form)).attached(
        Attachment(mate.part, f"part.{mate.into}", home)
    )
    state = turn_set(given, state, mate, element)
    for arm, hand in state.hands.items():
        if hand.grasp is not None and hand.grasp.item == mate.part:
            state = state.with_hand(arm, Hand(hand.stop))
    return state, left_over


def _in_play(given: Given, mate: Mate, delta: Form, grip: float) -> LeftInPlay | None:
    """How contact left the part, None where the fit leaves no play."""
    sources = given.sources.by_edge.get(play_edge(mate.name), ())
    if not sources:
        return None
    return left_in_play(mate, given.project, Instance(sources[0].name), delta, grip, given.sources.variances)


def _relative_to(
    given: Given, state: State, into: str, T_world_fixed: Array, fixed: Form, element: str
) -> Form:
    """Twist of the part beneath relative to the fixed feature, in the fixed feature's frame."""
    T_fixed_into = se3.inverse(T_world_fixed) @ state.nominal(into, element)
    beneath = moved(T_fixed_into, state.items[into].form)
    return composed(reverse(fixed), beneath, given.sources.variances)


def _own_in_fixed(given: Given, mate: Mate, T_world_fixed: Array, T_world_home: Array, element: str) -> Form:
    """Error of the moving feature on its part, in the fixed feature's frame: the part lies flat, its hole
    need not.
    """
    feature = mate.pairs[0].moving
    T_part_moving = given.project.product.part(mate.part).feature(feature).frame.matrix
    T_fixed_moving = se3.inverse(T_world_fixed) @ T_world_home @ T_part_moving
    own = given.sources.form(f"feature.{mate.part}.{feature}", element, f"{mate.part}.{feature}")
    return moved(T_fixed_moving, own)


def _part_form(
    given: Given, mate: Mate, in_fixed: Form, T_world_fixed: Array, T_world_home: Array, element: str
) -> Form:
    """Twist of the part in its own frame from that of its moving feature in the fixed feature's frame."""
    feature = mate.pairs[0].moving
    T_part_moving = given.project.product.part(mate.part).feature(feature).frame.matrix
    T_moving_fixed = se3.inverse(T_world_home @ T_part_moving) @ T_world_fixed
    of_moving = moved(T_moving_fixed, in_fixed)
    own = given.sources.form(f"feature.{mate.part}.{feature}", element, f"{mate.part}.{feature}")
    return mapped(se3.adjoint(T_part_moving), composed(of_moving, reverse(own), given.sources.variances))


def _rows(rows: tuple[int, ...]) -> Array:
    return np.diag([1.0 if i in rows else 0.0 for i in range(6)])
