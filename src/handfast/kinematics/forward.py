"""Forward kinematics of a chain, batched."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from handfast import _kernel
from handfast.kinematics.chain import Chain
from handfast.spatial.se3 import Array


@lru_cache(maxsize=64)
def kernel_arm(chain: Chain) -> _kernel.Arm:
    """The same chain in the compiled kernel."""
    return _kernel.Arm(chain.placements, chain.axes, chain.tip, chain.base, chain.lower, chain.upper)


def forward(chain: Chain, q: ArrayLike) -> Array:
    """T_world_tip (m, 4, 4) of q (m, n) [rad]."""
    return _kernel.fk(kernel_arm(chain), np.atleast_2d(np.asarray(q, dtype=np.float64)))


def forward_links(chain: Chain, q: ArrayLike) -> Array:
    """T_world_link (m, n + 2, 4, 4) of q (m, n) [rad]: root, the links 0 .. n-1, tip."""
    links = _kernel.fk_links(kernel_arm(chain), np.atleast_2d(np.asarray(q, dtype=np.float64)))
    root = np.broadcast_to(chain.base, (len(links), 1, 4, 4))
    return np.concatenate([root, links], axis=1)
