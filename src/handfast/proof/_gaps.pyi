"""The proof's own compiled module: gaps between surfaces of triangles. It shares no source with the planner's
kernel."""

import numpy as np
from numpy.typing import NDArray

class Surface:
    """Triangles, in a tree of boxes."""

    def __init__(self, vertices: NDArray[np.float64], triangles: NDArray[np.int32]) -> None:
        """Vertices (v, 3) [m], triangles (t, 3). ValueError for an index that is no vertex, and for a vertex
        that is not finite."""

def gap_up_to(
    enough: float, a: Surface, T_world_a: NDArray[np.float64], b: Surface, T_world_b: NDArray[np.float64]
) -> float:
    """The smaller of `enough` and the least distance of two surfaces [m], 0 where they cut; poses (4, 4). It
    may be 1e-8 m more than there is."""

def nearer(
    than: float, a: Surface, T_world_a: NDArray[np.float64], b: Surface, T_world_b: NDArray[np.float64]
) -> bool:
    """Whether two surfaces come nearer than that [m], to within 1e-8 m."""
