"""Every tolerance of the proof, in one place, with its reason. Lengths in m, angles in rad, times in s."""

from __future__ import annotations

import math

CONTINUITY = 1e-6
"""Largest step of a joint [rad] between motions, and of a knot from the constant-acceleration law."""
TIME = 1e-6
"""Largest overlap or shortfall of times [s]."""
SHARE = 1e-6
"""How far, relatively, a speed or an acceleration may lie over its limit: rounding only."""
START = 1e-6
"""How far [m, rad] the start of a chart may lie off the project's places: rounding only."""

POSITION, ANGLE = 0.05e-3, math.radians(0.05)
"""How far a grasp may lie off what the chart states, and a part off its home."""
PAD_GAP, PAD_OVERLAP = 0.1e-3, 0.1e-3
"""A closed pad lies this close to what it holds, and presses this deep into it at most."""

SKIN = 0.07e-3
"""In a corridor the part is drawn in by this much all round and must then touch nothing: it covers CORRIDOR
plus the microns by which the facets of nested cylinders may overlap. A press fit adds half its interference,
a thread its depth."""
SQUEEZE_SHARE = 0.4
"""Largest squeeze of a sealing ring, as a share of its height (common practice, no source: 0.15 to 0.3). What
is drawn deeper is no squeeze, but a collision."""
CORRIDOR, CORRIDOR_TILT = 0.05e-3, math.radians(0.1)
"""How far off the line through home a part may be on its way in, and how far tilted."""
LEAD = 2e-3
"""A corridor begins this far before the features meet: up to there nothing touches anyway."""

PLACE_EXIT = 60e-3
"""How far along the place's z, either way, or straight up, a part may brush its holder while it leaves or
comes: a pin is lifted out of a V-groove across its own axis."""
PLACE_LATERAL, PLACE_TILT = 0.3e-3, math.radians(0.5)
"""Beyond the slack of the place."""
REST_HEIGHT, REST_MARGIN = 0.05e-3, 0.5e-3
"""How far from the plane it is put down on an item may be [m], and by how much its centre of mass stands
inside what it lies on."""

TOUCH_REACH = 0.1e-3
"""A guarded move has to bring the contact point this close to the face."""
TOUCH_LEAD = 1e-3
"""The guarded move may begin this much before the stated travel."""

RESOLUTION = 0.05e-3
"""Motions are cut until the bodies of a pair move less than this in a piece; what is then not shown clear
collides."""
FINE_RESOLUTION = 0.01e-3
"""The same for drawn-in pairs, whose gap is of the size of SKIN."""
WAY = 2e-3
"""The half length of a whole way along a line is a multiple of this, so that what shapes pass over is of use
again; what is more than the way is added at the end that is further from home."""
SLIDES = (0.5e-3, 4e-3)
"""Half lengths of the ways that are certified in one go where a part slides along another. The long one is
asked for where the way goes on straight: beyond its end it would run into what the part rests on."""
CLEARANCE_CAP, CLEARANCE_SHARE = 100e-3, 0.9
"""No pair comes closer than CLEARANCE_SHARE times the smallest clearance stated, less RESOLUTION; a clearance
above the cap is a rough figure."""
TORQUE_SHARE = 0.01
"""How far the torque of a use may lie off its mate's, relatively."""
SNUG_GAP = 0.1e-3
"""How far before home a screw may be when it is said to have reached a torque that is not its last: the head
has to bear on something, and from there to the final torque an M4 turns by some tens of degrees."""
TURN_SHARE = 0.01
"""How far the turns of a use may lie off its round's, relatively."""
