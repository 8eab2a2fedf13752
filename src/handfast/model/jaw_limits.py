"""How far a jaw width may be off before it means something; common practice, no source."""

from __future__ import annotations

import math

WIDTH_OFF = 0.5e-3
"""Jaws that close further off than this hold something else, or nothing [m]."""
AT_STOP = 0.2e-3
"""Jaws that end this near to their stop have met nothing [m]."""
SLIPPED = 0.2e-3
"""What is held has slipped if the jaws' width has changed by this much [m]."""
MOST_NOISE = SLIPPED / (6 * math.sqrt(2))
"""Noise of a width reading [m], one sigma, above which two readings of jaws that stand still may differ like
a slip: six sigma of their difference."""
