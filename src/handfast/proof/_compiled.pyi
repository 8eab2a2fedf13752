"""The proof's own compiled module: gaps between surfaces of triangles, and how far an arm's pieces can move.
It shares no source with the planner's kernel."""

import numpy as np
from numpy.typing import NDArray

class Surface:
    """Triangles, in a tree of boxes."""

    def __init__(self, vertices: NDArray[np.float64], triangles: NDArray[np.int32], solid: bool) -> None:
        """Vertices (v, 3) [m], triangles (t, 3); solid: convex, its triangles looking outward, with all that
        is in it. ValueError for an index that is no vertex, and for a vertex that is not finite."""

def gap_up_to(
    enough: float, a: Surface, T_world_a: NDArray[np.float64], b: Surface, T_world_b: NDArray[np.float64]
) -> float:
    """The smaller of `enough` and the least distance of two surfaces [m], 0 where they cut or one of them has
    a piece in a solid one; poses (4, 4). It may be 1e-8 m more than there is. ValueError for a pose that is
    not finite."""

def nearer(
    than: float, a: Surface, T_world_a: NDArray[np.float64], b: Surface, T_world_b: NDArray[np.float64]
) -> bool:
    """Whether two surfaces come nearer than that [m], to within 1e-8 m."""

def travel(
    axes: NDArray[np.float64],
    reach: NDArray[np.float64],
    joints: NDArray[np.float64],
    steps: NDArray[np.float64],
    centre: NDArray[np.float64],
    radius: NDArray[np.float64],
    joint_of: NDArray[np.int64],
    shift: NDArray[np.float64],
    rest: NDArray[np.float64],
    turn: NDArray[np.float64],
    travel: NDArray[np.float64],
    tail: NDArray[np.float64],
) -> None:
    """How far P pieces of an arm of n joints move at most at I instants; written into shift (I, C, P, 3),
    rest, turn, travel (I, P) and tail (I, P, n + 1 or more), which are as `Nodes` has them.

    axes (n, 3) in the joint frames; reach (n,) from each joint to the next [m]; joints (I, n + 1, 4, 4)
    T_world_joint; steps (I, C, n): in whose hull the joints move [rad]; centre (I, P, 3), radius (P,) [m];
    joint_of (P,): with which joint a piece moves, 0 for one that is left out, of which nothing is written.
    ValueError for arrays that do not fit together.

    A point p of a piece: |p(q + d) - p(q)| <= |J d| + sum over i, k of |d_i| |d_k| L_max(i,k) / 2, for the
    second derivative of p by q_i and q_k is at most the distance L of p from the later joint's origin. J d is
    linear in d, so it is largest at one of the steps. L is bounded by the lengths of the links between.
    """
