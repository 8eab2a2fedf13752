"""What has to be true before an element may start, as far as the chart itself tells."""

from __future__ import annotations

from handfast.mates.subassemblies import stands_on
from handfast.model.element import Element
from handfast.model.mate import Mate
from handfast.model.product import Product
from handfast.model.scene import Scene

_CARRIES = ("move", "position", "assemble", "locate", "hold")


def broken(
    element: Element, scene: Scene, holding: dict[str, str], done: frozenset[str], product: Product
) -> str:
    """What is missing, as a sentence for a person; "" if nothing is.

    scene: where everything should be by now; holding: what each hand's jaws are closed on; done: mates.
    """
    held = holding.get(element.hand)
    if element.kind == "grasp":
        return _may_grasp(element, scene, held)
    if element.kind in (*_CARRIES, "release") and element.object and held != element.object:
        return f"the {element.hand} hand should hold {element.object} and holds {held or 'nothing'}"
    if element.kind == "release":
        return _may_let_go(element, done, product)
    if element.kind == "locate" and (element.touch is None or element.guarded is None):
        return "the touch and its guarded move are not described"
    if element.kind == "assemble":
        return _may_join(element, scene, held, done, product)
    if element.kind == "use":
        return _may_use(element, scene, held, done, product)
    return ""


def _may_grasp(element: Element, scene: Scene, held: str | None) -> str:
    if element.grasp is None:
        return f"nobody says how the {element.hand} hand grasps {element.object}"
    if held is not None:
        return f"the {element.hand} hand should be empty and holds {held}"
    parent = scene.of(element.object).parent
    if parent != element.target:
        return f"{element.object} should be at {element.target} and is at {parent}"
    return ""


def _may_let_go(element: Element, done: frozenset[str], product: Product) -> str:
    if element.leaves is None:
        return f"nobody says where {element.object} is once the {element.hand} hand lets go"
    own = next((m for m in product.mates if m.part == element.object), None)
    if own is None or not element.leaves.parent.startswith("part."):
        return ""
    if own.name not in done:
        return f"{element.object} would be let go before {own.name} is done"
    if own.held_until is not None and own.held_until not in done:
        return f"{element.object} must be held until {own.held_until} is done"
    return ""


def _may_join(
    element: Element, scene: Scene, held: str | None, done: frozenset[str], product: Product
) -> str:
    mate = product.mate(element.mate)
    if held != mate.part:
        return f"{mate.name} needs {mate.part} in the {element.hand} hand, which holds {held or 'nothing'}"
    return _at_home(mate, scene, product) or _needs(element.mate, done, product)


def _at_home(mate: Mate, scene: Scene, product: Product) -> str:
    """What the mate goes to, or passes through, has to be where it belongs by then."""
    for part in mate.joined:
        if part not in (product.base, stands_on(product, mate)) and not scene.of(part).parent.startswith(
            ("part.", "hand.")
        ):
            return f"{mate.name} needs {part} in its place, which is at {scene.of(part).parent}"
    root = mate.into
    while scene.of(root).parent.startswith("part."):
        root = scene.of(root).parent.removeprefix("part.")
    if mate.stands not in (None, scene.of(root).parent):
        return f"{mate.name} needs {root} at {mate.stands}, which is at {scene.of(root).parent}"
    return ""


def _may_use(element: Element, scene: Scene, held: str | None, done: frozenset[str], product: Product) -> str:
    tool = product.mate(element.mate).tool
    if held != tool:
        return f"{element.mate} needs {tool} in the {element.hand} hand, which holds {held or 'nothing'}"
    if element.leaves is None:
        return f"nobody says where {element.object} is after {tool} was used on it"
    if element.leaves.parent.startswith("tool."):
        return ""
    if element.turns is None:
        return f"nobody says how many turns {element.object} is driven"
    mate = product.mate(element.mate)
    if element.torque is not None and mate.torque is not None and element.torque > mate.torque * (1 + 1e-9):
        return f"{element.torque:g} N m are asked for, {mate.name} allows {mate.torque:g} N m"
    begun = scene.of(element.object).parent == f"part.{mate.into}"  # in its thread since an earlier round
    if not begun and scene.of(element.object).parent != f"tool.{tool}":
        return f"{element.object} should be on the bit of {tool} and is at {scene.of(element.object).parent}"
    return _at_home(mate, scene, product) or _needs(element.mate, done, product)


def _needs(mate: str, done: frozenset[str], product: Product) -> str:
    missing = [n for n in product.mate(mate).needs if n not in done]
    return f"{mate} needs {', '.join(missing)} done before it" if missing else ""
