"""Parts that may go home at any turn about their axis."""

from __future__ import annotations

import numpy as np

from handfast.mates.from_cad.placed import Placed
from handfast.spatial.se3 import Array


def is_round(part: Placed, axis: Array, origin: Array) -> bool:
    """Whether all that a part has is about one axis of the assembly: then any turn about it will do."""
    for d in part.features:
        if d.feature.kind == "face":
            continue
        T = part.T_assembly_part @ d.feature.frame.matrix
        away = T[:3, 3] - origin
        if d.form == "hexagon socket" and float(np.linalg.norm(np.cross(away, axis))) < 1e-4:
            continue
        if abs(float(T[:3, 2] @ axis)) < 0.999 or float(np.linalg.norm(np.cross(away, axis))) > 50e-6:
            return False
    return True
