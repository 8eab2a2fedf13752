"""The compiled kernel: batched arm kinematics, sphere-cover collision, path search and path timing.

SI units [m, rad, s]. Poses are 4x4 homogeneous matrices, ``T_world_part``; chains read left to right.
Twists and Jacobians are ordered translation, then rotation. Every function is batched over its first axis
(``m``) and releases the interpreter lock while it computes. Inputs are C-contiguous float64 (lists and other
real arrays are converted). A wrong shape and an entry that is not finite raise ValueError, which names the
argument, what was expected and what was found.

Links of an arm with ``n`` joints are numbered: ``-1`` the fixed base, ``0 .. n-1`` the link that joint
``i`` moves (frame: the joint frame after its turn), ``n`` the tip (flange), where grippers and held parts
are attached.

Sphere tests run in float32, one configuration a lane, 4, 8 or 16 lanes by instruction level, with equal
answers at each level. Reported distances are lowered, and obstacles thickened, by ``SLACK`` (2e-5 m),
more than float32 loses while all coordinates stay within 10 m of the world origin. IK, FK, Jacobians and
timing are float64.

The level is chosen at import: the best this machine has, or HANDFAST_KERNEL_LEVEL = baseline | avx2 | avx512.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

_Floats = NDArray[np.float64]
_Singles = NDArray[np.float32]
_Ints = NDArray[np.int32]
_Bools = NDArray[np.bool_]

SLACK: float
"""Distance by which every sphere test errs on the safe side [m]."""

BOX: int
CAPSULE: int
SPHERE: int
HALF_SPACE: int
SELF: int
NOTHING: int
"""Kinds in `Nearest.kind`: 0, 1, 2, 3, 4 (own link pair), -1 (nothing to test against)."""

def level() -> Literal["baseline", "avx2", "avx512"]:
    """Instruction level in use."""

def levels() -> list[str]:
    """Instruction levels this build and this machine both have, lowest first."""

# --- the arm ----------------------------------------------------------------------------------------------

class Arm:
    """A serial chain of ``n`` revolute joints (1 to 12). Immutable.

    ``T_world_tip(q) = base @ prod_i(placements[i] @ Rot(axes[i], q[i])) @ tip``
    """

    def __init__(
        self,
        placements: ArrayLike,
        axes: ArrayLike,
        tip: ArrayLike,
        base: ArrayLike,
        lo: ArrayLike,
        hi: ArrayLike,
    ) -> None:
        """placements: parent link -> joint frame at q = 0, (n, 4, 4); axes: unit axes in the joint
        frames, (n, 3); tip: last link -> tip, (4, 4); base: T_world_base, (4, 4); lo, hi: joint limits
        [rad], (n,).

        Raises ValueError for wrong shapes, matrices that are not rigid (1e-6), axes that are not unit
        (1e-6), lo > hi."""
    @property
    def n(self) -> int: ...
    @property
    def lo(self) -> _Floats: ...
    @property
    def hi(self) -> _Floats: ...

def structure(arm: Arm) -> Literal["spherical-wrist", "three-parallel", "numeric"]:
    """Which inverse `ik` uses.

    spherical-wrist: 6 axes, the last three meet in a point, and axes 2 and 3 are parallel or axes 1 and 2
    meet. three-parallel: 6 axes, 2, 3 and 4 parallel, 5 and 6 meet. numeric: everything else."""

def fk(arm: Arm, q: ArrayLike) -> _Floats:
    """T_world_tip, (m, 4, 4), of q [rad], (m, n)."""

def fk_links(arm: Arm, q: ArrayLike) -> _Floats:
    """T_world_link of links 0 .. n-1 and the tip, (m, n + 1, 4, 4)."""

def jacobian(arm: Arm, q: ArrayLike) -> _Floats:
    """Jacobian of the tip point, world axes, linear rows then angular, (m, 6, n) [m/rad, 1]."""

def ik(arm: Arm, targets: ArrayLike, near: ArrayLike | None = None) -> tuple[_Floats, _Bools]:
    """All closed-form branches for T_world_tip targets (m, 4, 4): q (m, 8, n), valid (m, 8).

    A branch is valid if its pose error is below 1e-9 (m and rad) and some 2 pi equivalent of it lies
    within the limits; of those the one nearest to `near`, (n,) or (m, n), is given (None: the middle of
    the limits). Branches that coincide are given once. At a wrist singularity joint 4 (joint 6 for
    three-parallel arms, where the elbow then reaches) takes its value from `near`. Entries that are not
    valid hold NaN. Arms of structure "numeric" go through `ik_numeric` (start at `near`, 24 restarts,
    seed 0)."""

def ik_reaches(arm: Arm, targets: ArrayLike) -> _Bools:
    """Whether `ik` finds any valid branch for T_world_tip targets (m, 4, 4), (m,): told at the first one."""

def ik_turn(arm: Arm, targets: ArrayLike, near: ArrayLike) -> _Floats:
    """How far a joint has to turn at least from `near` (n,) to T_world_tip targets (m, 4, 4), on the branch
    where that is least, (m,) [rad]; inf where there is none. The branches as the closed form gives them:
    within 1e-6 of what `ik` says."""

def ik_numeric(
    arm: Arm,
    targets: ArrayLike,
    starts: ArrayLike | None = None,
    *,
    restarts: int = 24,
    iterations: int = 60,
    seed: int = 0,
) -> tuple[_Floats, _Bools]:
    """Damped least squares (Levenberg-Marquardt damping after Sugihara 2011) for targets (m, 4, 4): q (m,
    8, n), valid (m, 8), up to 8 distinct solutions within the limits in the order found.

    Each target is tried from every row of `starts` (s, n), then from `restarts` uniform draws within the
    limits."""

def turns(q: ArrayLike, lo: ArrayLike, hi: ArrayLike, near: ArrayLike) -> tuple[_Floats, _Bools]:
    """Of each joint's 2 pi equivalents the one within [lo, hi] nearest to `near`: q (m, n), found (m,).

    near: (n,) or (m, n). Joints without one keep their value and the row is not found.
    """

def equivalents(q: ArrayLike, lo: ArrayLike, hi: ArrayLike, near: ArrayLike, most: int = 64) -> _Floats:
    """All 2 pi equivalents of one configuration q (n,) within the limits, (e, n), nearest to `near` (n,)
    first (Euclidean), at most `most` of them."""

# --- what it may hit --------------------------------------------------------------------------------------

class Cover:
    """Spheres that move with an arm's links. Immutable; cheap to build (tens of us)."""

    def __init__(
        self,
        arm: Arm,
        spheres: ArrayLike,
        links: ArrayLike,
        pairs: ArrayLike | None = None,
        masks: ArrayLike | None = None,
    ) -> None:
        """spheres: x, y, z, radius in the link's frame [m], (k, 4); links: link of each, -1 .. n, int32 (k,);
        pairs: link pairs tested against each other, int32 (p, 2); masks: uint32 (k,), default all bits set.

        A sphere is tested against an obstacle if their masks share a bit. Base spheres (link -1) are
        tested only in link pairs. Raises ValueError for links out of range or radii that are not
        positive."""
    @property
    def arm(self) -> Arm: ...
    @property
    def count(self) -> int: ...

class World:
    """Obstacles that stand still, as flat tables. Immutable; cheap to build (tens of us)."""

    def __init__(
        self,
        *,
        box_poses: ArrayLike | None = None,
        box_halves: ArrayLike | None = None,
        capsules: ArrayLike | None = None,
        spheres: ArrayLike | None = None,
        half_spaces: ArrayLike | None = None,
        masks: ArrayLike | None = None,
    ) -> None:
        """box_poses: T_world_box at the box centre, (b, 4, 4); box_halves: half extents, (b, 3);
        capsules: x0 y0 z0 x1 y1 z1 radius, (c, 7); spheres: x y z radius, (s, 4); half_spaces: unit
        outward normal and offset d, solid where normal . x <= d, (h, 4); masks: uint32 (b + c + s + h,)
        in this order, default all bits set."""
    @property
    def count(self) -> int:
        """Number of obstacles, all kinds."""

class Nearest:
    """The tightest pair of each configuration."""

    @property
    def distance(self) -> _Singles:
        """Lower bound of the signed distance [m], (m,); +inf if nothing was tested."""
    @property
    def sphere(self) -> _Ints:
        """Sphere of the cover, (m,)."""
    @property
    def obstacle(self) -> _Ints:
        """Row in that kind's table, or the other sphere of the cover for kind SELF, (m,)."""
    @property
    def kind(self) -> _Ints:
        """BOX, CAPSULE, SPHERE, HALF_SPACE, SELF or NOTHING, (m,)."""

def spheres_at(cover: Cover, q: ArrayLike) -> _Floats:
    """The cover's spheres in world, x y z radius, (m, k, 4): one row is `World(spheres=...)` for another
    arm."""

def windings(points: ArrayLike, faces: ArrayLike) -> _Floats:
    """How often faces (n, 3, 3), corners anticlockwise seen from outside, go around points (m, 3), (m,):
    counted along +z, a face that is crossed from within counts one, from without minus one."""

def free(cover: Cover, world: World, q: ArrayLike, margin: float = 0.0) -> _Bools:
    """Whether the clearance is at least `margin` [m], (m,). Raises ValueError if margin <= -(smallest
    radius)."""

def clearance(cover: Cover, world: World, q: ArrayLike) -> _Singles:
    """Lower bound of the signed distance to obstacles and between link pairs [m], (m,)."""

def nearest(cover: Cover, world: World, q: ArrayLike) -> Nearest:
    """`clearance`, and between what."""

def travel(cover: Cover, qa: ArrayLike, qb: ArrayLike) -> _Floats:
    """Upper bound on how far any sphere centre moves on the straight joint line from qa to qb, (m, n)
    each -> (m,) [m]."""

def edge_free(
    cover: Cover, world: World, qa: ArrayLike, qb: ArrayLike, margin: float = 0.0, resolution: float = 0.01
) -> _Bools:
    """Whether the straight joint lines qa -> qb, (m, n) each, are free, (m,).

    Sampled so that no sphere travels more than `resolution` [m] between samples, ends included: between
    samples the clearance is at least margin - resolution / 2. Ask for margin >= resolution / 2 to be sure
    of the whole line."""

def between(
    cover_a: Cover, qa: ArrayLike, cover_b: Cover, qb: ArrayLike, far: float = float("inf")
) -> _Singles:
    """Lower bound of the distance between two arms for every pair of configurations, (ma, mb) [m].

    Base spheres of either take part. Masks are not used. qa: (ma, na), qb: (mb, nb). Distances beyond
    `far` are given as `far` less SLACK: a small `far` is several times faster."""

def closer(
    cover_a: Cover,
    qa: ArrayLike,
    way_a: ArrayLike,
    cover_b: Cover,
    qb: ArrayLike,
    way_b: ArrayLike,
    margin: float,
) -> _Bools:
    """Whether `between` is less than margin + (way_a + way_b) / 2 for each pair of configurations, (ma, mb).

    qa: (ma, na), qb: (mb, nb), way_a (ma,) and way_b (mb,): how far a sphere may be off there, and no less
    than what one moves to the next row [m]: rows that follow one with room to spare are not looked at."""

# --- paths ------------------------------------------------------------------------------------------------

class Search:
    """What a search did."""

    @property
    def path(self) -> _Floats | None:
        """Waypoints from start to one of the goals, (k, n), or None."""
    @property
    def outcome(self) -> Literal["found", "start blocked", "goals blocked", "iterations"]: ...
    @property
    def goal(self) -> int:
        """Row of the goal reached, -1 if none."""
    @property
    def iterations(self) -> int: ...
    @property
    def nodes(self) -> int: ...
    @property
    def edges(self) -> int:
        """Edges tested."""

def rrt_connect(
    cover: Cover,
    world: World,
    start: ArrayLike,
    goals: ArrayLike,
    *,
    iterations: int = 20000,
    seed: int = 0,
    margin: float = 0.0,
    resolution: float = 0.01,
    stride: float = 0.6,
) -> Search:
    """Collision-free joint path from start (n,) to the easiest of goals (g, n), within the arm's limits.

    Straight lines to the goals are tried first, nearest first; then two trees (RRT-Connect, Kuffner &
    LaValle 2000), one from the start, one from all free goals, with steps of at most `stride` [rad,
    Euclidean]. Repeatable: equal arguments give equal paths at every instruction level. "iterations"
    means not found within that many, no more. Not shortened: call `shortcut`. Start or goals outside the
    limits count as blocked."""

def shortcut(
    cover: Cover,
    world: World,
    path: ArrayLike,
    *,
    iterations: int = 200,
    seed: int = 0,
    margin: float = 0.0,
    resolution: float = 0.01,
) -> _Floats:
    """A path no longer than `path` (k, n) with the same ends: waypoints are left out where possible, then
    random straight shortcuts between points of the path are tried `iterations` times. Edges that are kept
    are not tested again."""

class Timing:
    """A motion of piecewise constant acceleration, rest to rest. Between knots, exactly,
    ``v[i+1] - v[i] = a dt`` and ``q[i+1] = q[i] + (v[i] + v[i+1]) / 2 dt``."""

    @property
    def t(self) -> _Floats:
        """Knot times, from 0, strictly rising [s], (p,)."""
    @property
    def q(self) -> _Floats:
        """(p, n) [rad]"""
    @property
    def v(self) -> _Floats:
        """(p, n) [rad/s]"""
    @property
    def at(self) -> _Floats:
        """Time at which each waypoint of the input is passed (middle of its blend), (k,) [s]."""
    @property
    def deviation(self) -> float:
        """Largest distance between a waypoint and the motion at its `at` [rad, Euclidean]; it bounds the
        deviation from the polyline."""

def time_path(
    path: ArrayLike, vmax: ArrayLike, amax: ArrayLike, corner: float, durations: ArrayLike | None = None
) -> Timing:
    """Timing of the polyline path (k, n) within joint speeds vmax (n,) [rad/s] and accelerations amax
    (n,) [rad/s2].

    Straight segments with trapezoidal speed, joined by parabolic blends that pass each waypoint within
    `corner` [rad, Euclidean] and use at most half of either segment; corner speeds from a forward and a
    backward pass. durations: least time of each segment [s], (k-1,): the speed on that segment stays
    below length / duration. Repeated waypoints are passed at the same time. Raises ValueError for limits
    that are not positive."""

def least_steps(ends_a: ArrayLike, ends_b: ArrayLike, closed: ArrayLike, never: int) -> _Ints:
    """Least steps to each cell (n, m) of the plane of two hands' own times, `never` where there is no way.

    ends_a (n,), ends_b (m,): where a hand may wait while the other goes on; closed (n, m): cells that are not
    entered, and whose corners are not cut. Raises ValueError."""

# --- contact ----------------------------------------------------------------------------------------------

def insertion(
    shapes: ArrayLike,
    planes: ArrayLike,
    T_body_shape: ArrayLike,
    rims: ArrayLike,
    points: ArrayLike,
    T_world_body: ArrayLike,
    T_world_now: ArrayLike,
    held: ArrayLike,
    way: ArrayLike,
    stops: ArrayLike,
    *,
    limit: float,
    friction: float,
    stiffness: float,
    slip: float,
) -> tuple[float, float, bool, _Floats, _Floats, int, int, int, _Floats]:
    """A held body driven along a line in contact, quasi-statically: travel [m], peak force along the line
    [N], whether it passed `limit`, deepest penetration of each rim (r,) [m], poses
    of the bodies (b, 4, 4), steps, iterations, steps that ended without balance, and step
    by step (n, 4) the travel of the command [m], the force of what holds body 0 along the line and across it
    [N] and its moment [N m].

    shapes (s, 11): kind (0 round or slot, 1 gear), body (-1 stands still), another hole it opens into (-1
    none), planes in use, sign (1 hole, -1 shaft), radius, half length of a slot's middle line, teeth, base
    radius, half a tooth's angle at it, root radius; planes (s, 6, 3): material where every a u + b z + c > 0,
    u the depth in the cross-section; T_body_shape (s, 4, 4). rims (r, 7): shape that has the points, shape
    whose material they may meet, first point, how many, their z, least and greatest distance from z; points
    (p, 3) in their shape's frame. T_world_body (b, 4, 4): centres of compliance, body 0 commanded, and
    T_world_now (b, 4, 4) where they stand; held (b, 4): stiffness across and along z [N/m], about x and y,
    about z [N m/rad]. way (3,); stops (n,): travel of the command after each step.
    Raises ValueError.
    """

# --- chances ----------------------------------------------------------------------------------------------

def chords(
    rows: ArrayLike, along: ArrayLike, middle: ArrayLike, radii: ArrayLike, *, most: float
) -> tuple[_Floats, _Floats]:
    """The stretch from `near` to `far` (k, n) of each of n lines that each of k discs leaves: of all t >= 0
    with |middle + t rows @ along| <= radius, followed as far as `most`; (0, -1) where there is none.

    rows (2 k, f): two of each disc; along (f, n): of each line; middle (2 k, n); radii (k, n). The same
    answers at each level. Raises ValueError."""

def together(
    A: ArrayLike,
    back: ArrayLike,
    off: ArrayLike,
    rooms: ArrayLike,
    *,
    sweeps: int,
    inside: float,
    step: float,
) -> _Bools:
    """For which of n lots one v (3,) has |off_j + A_j v| <= room_j in every region j, by cyclic projections.

    A (k, 2, 3); back (k, 3, 2): their pseudo-inverses; off (n, 2 k) [m]; rooms (n, k) [m]; sweeps: how often
    at most all regions are gone through; inside: the share of a room that is aimed at; step: how much of the
    way there is gone. Raises ValueError."""

def best_cut(low: ArrayLike, high: ArrayLike, middle: ArrayLike, shares: ArrayLike) -> tuple[float, _Bools]:
    """The volume saved by two boxes instead of one around boxes, of each its least and largest coordinates
    and what counts as its middle (n, 3): cut across an axis at one of some shares of the span of the middles,
    where that saves most; and which boxes lie on the low side, (n,)."""

def near_pairs(
    poses: ArrayLike,
    middle: ArrayLike,
    half: ArrayLike,
    turned: ArrayLike,
    origin: ArrayLike,
    standing_half: ArrayLike,
    step: ArrayLike,
    apart: float,
) -> list[tuple[int, int]]:
    """Pairs (i, k) of boxes that may come nearer than `apart` [m] while the first is carried by `step` (3,)
    [m] without turning; all others do not. Moving boxes: poses T_world_shape (m, 4, 4) of what they are
    around, middle and half extents in its frame (m, 3). Standing ones: turned R_box_world (n, 3, 3), origin
    R_box_world p of the middle p, and half extents (n, 3)."""
