"""A mate as its part enters: the error forms of its pairs, before and after the touches are taken back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from handfast.belief.covariance import CovarianceError
from handfast.model.feature import Feature
from handfast.model.ledger import TouchUpdate
from handfast.model.mate import Mate
from handfast.model.strategy import Strategy
from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.uncertainty.chain_state import Item, Reading, State, TakenBack
from handfast.uncertainty.closing import Closing
from handfast.uncertainty.correction import joint_gain
from handfast.uncertainty.error_form import Form, added, covariance, mapped
from handfast.uncertainty.fit_of_pair import hole_and_shaft
from handfast.uncertainty.home import entry_pose, fixed_frame, home_pose
from handfast.uncertainty.jaws import Given
from handfast.uncertainty.left_in_play import LeftInPlay
from handfast.uncertainty.mated import mated
from handfast.uncertainty.pair_form import form_at_fixed, pair_form
from handfast.uncertainty.refusal import ChainError

# How far the chart may leave a part from its home [m].
_AT_HOME = 1e-5
# A hole of a clamped part lies on the screw's axis within this, as drawn [m].
_ON_AXIS = 1e-4
# A touch made for another mate is used where what it shows moves the part by at least this much [m, rad].
_WORTH = np.array([2e-6, 2e-6, 2e-6, 2e-5, 2e-5, 2e-5])


@dataclass(frozen=True, eq=False, slots=True)
class PairEntry:
    """moving, fixed: the features that meet; of: the part whose feature is fixed; delta: with all touches
    taken back; T_fixed_moving: nominal, as it enters; centre: from the moving origin back to the grip along
    the fixed axis [m], negative if beyond; shift (6, 6): what a twist of the part in the first fixed
    feature's frame does to delta.
    """

    moving: Feature
    fixed: Feature
    of: str
    depth: float
    delta: Form
    T_fixed_moving: Array
    centre: float = 0.0
    shift: Array = field(default_factory=lambda: np.zeros((6, 6)))


@dataclass(frozen=True, eq=False, slots=True)
class Entry:
    """pairs: of the mate; passes: the moving axis at the mouth of each hole of other parts that it goes
    through on its way; over: the axis of the goal at the mouth of each of these holes; taken: the bit over
    the socket of a screw, each time it goes in; readings, updates: the touches taken back; raw: deviation
    of the first pair before that; slip_force [N]: of the grasp; left: how contact leaves the part, None
    where the fit leaves it no play; strategy: how it goes in, None for straight; straight: the pairs as the
    hand brings them, where a strategy finds more; closings: of jaws for this mate.
    """

    mate: Mate
    element: str
    pairs: tuple[PairEntry, ...]
    passes: tuple[PairEntry, ...]
    over: tuple[PairEntry, ...]
    readings: tuple[Reading, ...]
    updates: tuple[TouchUpdate, ...]
    raw: Form
    slip_force: float
    taken: tuple[PairEntry, ...] = ()
    left: LeftInPlay | None = None
    strategy: Strategy | None = None
    straight: tuple[PairEntry, ...] = ()
    closings: tuple[Closing, ...] = ()


def enter(
    given: Given, state: State, mate: Mate, element: str, T_world_grip: Array, slip: float
) -> tuple[State, Entry]:
    """The part stands at the mouth, carried there: take the touches back, note the deviation, and let it go
    home.
    """
    product = given.project.product
    first = mate.pairs[0]
    raw = pair_form(given, state, (mate.part, first.moving), (first.fixed_part, first.fixed), element)
    readings, K, spread = _useful(given, state.readings, mate.name, raw)
    T_world_fixed = fixed_frame(state, product, first.fixed_part, first.fixed, element)
    shift = TakenBack(readings, K)
    state = take_back(state, mate.part, T_world_fixed, shift, element)
    state = replace(state, taken_back={**state.taken_back, mate.name: shift})
    held = _Held(given, state, T_world_grip, T_world_fixed, element)
    pairs = tuple(
        _pair_entry(held, (mate.part, p.moving), (p.fixed_part, p.fixed), p.depth) for p in mate.pairs
    )
    holes = _holes_on_the_way(given, state, mate, T_world_fixed, element)
    passes = tuple(_hole_entry(held, (mate.part, first.moving), hole, True) for hole in holes)
    over = tuple(_hole_entry(held, (first.fixed_part, first.fixed), hole, False) for hole in holes)
    updates = tuple(
        TouchUpdate(
            r.element,
            mate.name,
            tuple(map(float, K[:, i])),
            float(spread[i, i]) ** 0.5,
            tuple(map(float, spread[i])),
        )
        for i, r in enumerate(readings)
    )
    return state, Entry(mate, element, pairs, passes, over, readings, updates, raw, slip)


def entry_and_home(given: Given, state: State, mate: Mate, element: str) -> tuple[Array, Array]:
    """T_world_part at the mouth and at home."""
    first = mate.pairs[0]
    home = home_pose(state, given.chart, given.project.product, mate, element)
    fixed = fixed_frame(state, given.project.product, first.fixed_part, first.fixed, element)
    _check_home(given, mate, element, se3.inverse(fixed) @ home)
    return entry_pose(home, fixed, first.depth), home


def _check_home(given: Given, mate: Mate, element: str, T_fixed_home: Array) -> None:
    """A chart that leaves the part elsewhere than its mate says would be budgeted for the wrong place."""
    first = mate.pairs[0]
    moving = given.project.product.part(mate.part).feature(first.moving).frame.matrix
    x, y, z = (float(v) for v in (T_fixed_home @ moving)[:3, 3])
    beside = float(np.linalg.norm((x, y, z - first.depth)))
    if beside > _AT_HOME:
        raise ChainError(
            f"element {element!r}",
            f"{mate.part}.{first.moving} {first.depth * 1e3:g} mm in {first.fixed_part}.{first.fixed}",
            f"it {beside * 1e3:.3f} mm beside it",
        )


def go_home(given: Given, state: State, entry: Entry, T_world_home: Array) -> tuple[State, Entry]:
    """The state with the part at home, mated; the entry with how contact left it there."""
    first = entry.pairs[0]
    grip = first.depth - first.centre
    state, left = mated(given, state, entry.mate, first.delta, grip, T_world_home, entry.element)
    return state, replace(entry, left=left)


def _useful(
    given: Given, readings: Sequence[Reading], mate: str, raw: Form
) -> tuple[tuple[Reading, ...], Array, Array]:
    """The readings to take back, their joint gain and their covariance."""
    usable = tuple(r for r in readings if given.touches and _varies(given, r))
    chosen = tuple(r for r in usable if r.mate == mate or _tells(given, r, raw))
    if not chosen:
        return (), np.zeros((6, 0)), np.zeros((0, 0))
    try:
        K, spread = joint_gain(raw, [r.form for r in chosen], given.sources.variances)
    except CovarianceError as why:
        raise ChainError(
            f"mate {mate!r}", "touches that can be told apart",
            f"{', '.join(r.element for r in chosen)} without any noise of their own",
            "write an error source that acts on the arm's touches",
        ) from why  # fmt: skip
    return chosen, K, spread


def _varies(given: Given, reading: Reading) -> bool:
    """A touch that always reads the same has nothing to say."""
    return bool(covariance(reading.form, given.sources.variances)[0, 0] > 0)


def _tells(given: Given, reading: Reading, raw: Form) -> bool:
    K, spread = joint_gain(raw, [reading.form], given.sources.variances)
    return bool((np.abs(K[:, 0]) * np.sqrt(spread[0, 0]) > _WORTH).any())


def take_back(state: State, name: str, T_world_fixed: Array, shift: TakenBack, element: str) -> State:
    """The arm shifts the part or tool by Exp(-K r), written in the fixed feature's frame."""
    item, K = state.items[name], shift.gain
    T_part_fixed = se3.inverse(state.nominal(name, element)) @ T_world_fixed
    form = item.form
    for column, reading in enumerate(shift.readings):
        form = added(form, mapped(-se3.adjoint(T_part_fixed) @ K[:, column : column + 1], reading.form))
    return state.placed(name, Item(item.nominal, form))


@dataclass(frozen=True, eq=False, slots=True)
class _Held:
    """The part at the mouth in the hand. T_world_fixed: of the first pair."""

    given: Given
    state: State
    T_world_grip: Array
    T_world_fixed: Array
    element: str

    def frame(self, of: tuple[str, str]) -> Array:
        """T_world_feature of (part, feature), nominal."""
        return fixed_frame(self.state, self.given.project.product, *of, self.element)

    def feature(self, of: tuple[str, str]) -> Feature:
        """The feature of (part, feature)."""
        return self.given.project.product.part(of[0]).feature(of[1])


def _pair_entry(held: _Held, moving: tuple[str, str], fixed: tuple[str, str], depth: float) -> PairEntry:
    delta = pair_form(held.given, held.state, moving, fixed, held.element)
    to_fixed = se3.inverse(held.frame(fixed))
    T_fixed_moving = to_fixed @ held.frame(moving)
    x, y, z = (float(v) for v in -T_fixed_moving[:3, 3])
    shift = se3.adjoint(se3.translation(x, y, z) @ to_fixed @ held.T_world_fixed)
    centre = float(T_fixed_moving[2, 3] - (to_fixed @ held.T_world_grip)[2, 3])
    return PairEntry(
        held.feature(moving), held.feature(fixed), fixed[0], depth, delta, T_fixed_moving, centre, shift
    )


def _hole_entry(held: _Held, moving: tuple[str, str], hole: tuple[str, str], carried: bool) -> PairEntry:
    """carried: whether the moving feature is on the part in the hand."""
    delta = form_at_fixed(held.given, held.state, moving, hole, held.element)
    to_hole = se3.inverse(held.frame(hole))
    shift = se3.adjoint(to_hole @ held.T_world_fixed) if carried else np.zeros((6, 6))
    return PairEntry(
        held.feature(moving), held.feature(hole), hole[0], 0.0, delta, to_hole @ held.frame(moving),
        shift=shift,
    )  # fmt: skip


def _holes_on_the_way(
    given: Given, state: State, mate: Mate, T_world_fixed: Array, element: str
) -> tuple[tuple[str, str], ...]:
    """Holes of parts already home that the part goes through: those put in line with the feature this mate
    goes to, and those of the parts it clamps that lie on its axis.
    """
    product = given.project.product
    goal = (mate.pairs[0].fixed_part, mate.pairs[0].fixed)
    paired = [
        (other.part, pair.moving)
        for other in product.mates
        if other.name != mate.name and state.parents[other.part].parent == f"part.{other.into}"
        for pair in other.pairs
        if (pair.fixed_part, pair.fixed) == goal
        and product.part(other.part).feature(pair.moving).kind == "hole"
        and hole_and_shaft(product, other, pair) is None
    ]
    clamped = [
        (part, hole.name)
        for part in mate.clamps
        if state.parents[part].parent.startswith("part.")
        for hole in product.part(part).features
        if hole.kind == "hole" and _on_axis(T_world_fixed, state.nominal(part, element) @ hole.frame.matrix)
    ]
    return tuple(dict.fromkeys([*paired, *clamped]))


def _on_axis(T_world_axis: Array, T_world_hole: Array) -> bool:
    T = se3.inverse(T_world_axis) @ T_world_hole
    return bool(np.hypot(T[0, 3], T[1, 3]) < _ON_AXIS and abs(T[2, 2]) > 1 - 1e-6)
