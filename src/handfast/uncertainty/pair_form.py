"""How far off the moving feature of a pair is, relative to the fixed one, as one error form."""

from __future__ import annotations

from handfast.spatial import se3
from handfast.uncertainty.chain_state import State
from handfast.uncertainty.error_form import Form, composed, mapped, moved, reverse
from handfast.uncertainty.home import fixed_frame
from handfast.uncertainty.jaws import Given


def feature_form(given: Given, state: State, part: str, feature: str, element: str) -> Form:
    """Twist of a feature in its own frame: its part's deviation and its own."""
    T_part_feature = given.project.product.part(part).feature(feature).frame.matrix
    own = given.sources.form(f"feature.{part}.{feature}", element, f"{part}.{feature}")
    carried = moved(se3.inverse(T_part_feature), state.items[part].form)
    return composed(carried, own, given.sources.variances)


def pair_form(
    given: Given, state: State, moving: tuple[str, str], fixed: tuple[str, str], element: str
) -> Form:
    """Twist delta of the moving feature in the fixed feature's frame; moving, fixed: (part, feature).

    As `form_at_fixed`, with the rotation taken about the nominal moving origin, so that the first three
    freedoms say where the moving origin is. For the first pair of a mate, which enters origin on origin,
    it is the same.
    """
    product = given.project.product
    T_world_fixed = fixed_frame(state, product, *fixed, element)
    T_fixed_moving = se3.inverse(T_world_fixed) @ fixed_frame(state, product, *moving, element)
    x, y, z = (float(v) for v in -T_fixed_moving[:3, 3])
    at_fixed = form_at_fixed(given, state, moving, fixed, element)
    return mapped(se3.adjoint(se3.translation(x, y, z)), at_fixed)


def form_at_fixed(
    given: Given, state: State, moving: tuple[str, str], fixed: tuple[str, str], element: str
) -> Form:
    """T_fixed_moving,actual = Exp(delta) @ T_fixed_moving,nominal, rotation about the fixed origin.

    Of a moving axis that goes through the fixed origin, the first two freedoms say where it passes the
    plane of the fixed feature. One form of both chains: what they share counts once.
    """
    product = given.project.product
    T_world_fixed = fixed_frame(state, product, *fixed, element)
    T_fixed_moving = se3.inverse(T_world_fixed) @ fixed_frame(state, product, *moving, element)
    of_fixed = reverse(feature_form(given, state, *fixed, element))
    of_moving = moved(T_fixed_moving, feature_form(given, state, *moving, element))
    return composed(of_fixed, of_moving, given.sources.variances)
