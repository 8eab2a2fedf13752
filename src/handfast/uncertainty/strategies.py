"""Other ways in than the chart's: their parameters, what they would bring, and what they cost.

Spiral: out to four sigma of the worse axis, one capture radius between turns, half of what its geometry
permits (the path then passes every point within half a capture radius). Tilt and right: by 8 degrees, about
the axis across the worse one. Rotate while lowering: a step is half of the least backlash along the pitch
circle, so many that a whole tooth is covered. Back-turn: a little over one turn. All go at the speed of
touches, with a force well above the sensor's noise and under half of what the grasp or the mate allows.
Common practice, no source, except for the geometry.
"""

from __future__ import annotations

import math

import numpy as np

from handfast.model.ledger import Band, WayIn
from handfast.model.project import Project
from handfast.model.strategy import BackTurn, RotateWhileLowering, Spiral, Strategy, TiltAndRight
from handfast.standards.threads import coarse_thread
from handfast.uncertainty.conditions_of import conditions_of
from handfast.uncertainty.entered_by import entered_by
from handfast.uncertainty.entry import Entry
from handfast.uncertainty.gear_condition import tooth_pitch
from handfast.uncertainty.insertion_condition import captured, fits_together, hole_first, lead_in_height
from handfast.uncertainty.judge import judge, question
from handfast.uncertainty.sources import Sources
from handfast.uncertainty.spread import spread_of, worse_axis

_REACH = 4.0  # sigma of the worse axis
_PRESSED, _NOISES = 5.0, 5.0  # [N]; times the sensor's noise
_BELOW = 0.2e-3  # past the chamfer [m]
_LEAN = math.radians(8.0)
_LIFT, _TURN_RATE = 0.2e-3, 1.0  # [m], [rad/s]
_GAIN = 5e-4


def strategies(project: Project, entry: Entry, sources: Sources, now: Band) -> tuple[WayIn, ...]:
    """Those that apply to a mate and would bring more than its own."""
    if now.low + _GAIN >= 1:
        return ()  # nothing could bring more
    found = (way_in(project, entry, sources, how) for how in possible(project, entry, sources))
    return tuple(w for w in found if w.probability.low > now.low + _GAIN and w.strategy != entry.strategy)


def way_in(project: Project, entry: Entry, sources: Sources, how: Strategy) -> WayIn:
    """What one strategy would bring."""
    other = entered_by(entry, how)
    band = judge(question(other, conditions_of(project, other), sources)).band
    return WayIn(how.name, band, how.seconds, how.text, how)


def possible(project: Project, entry: Entry, sources: Sources) -> tuple[Strategy, ...]:
    """The strategies that fit the kind of mate, with parameters for its errors as they are."""
    straight = entered_by(entry, None)
    found = (
        _rotating(project, straight),
        _spiral(project, straight, sources),
        _tilting(project, straight, sources),
        _back_turn(project, straight),
    )
    return tuple(how for how in found if how is not None)


def _rotating(project: Project, entry: Entry) -> RotateWhileLowering | None:
    gears = [(p, d) for p, d in zip(entry.pairs, entry.mate.pairs, strict=True) if p.moving.kind == "gear"]
    drawn = [(tooth_pitch(p), d.backlash[0], p) for p, d in gears if d.backlash is not None]
    if not drawn or any(least <= 0 or not p.moving.teeth for _, least, p in drawn):
        return None
    pitch, least, pair = max(drawn, key=lambda d: d[0] / d[1])
    chamfers = [f.chamfer for f in (pair.moving, pair.fixed) if f.chamfer is not None]
    drop = sum(c.width * math.tan(c.angle) for c in chamfers) + _BELOW
    return RotateWhileLowering(
        step=math.pi / (pair.moving.teeth or 1) * least / pitch, tries=2 * math.ceil(pitch / least) + 1,
        lift=_LIFT, rate=_TURN_RATE, speed=project.cell.controller.touch_speed, force=_force(entry),
        drop=drop,
    )  # fmt: skip


def _spiral(project: Project, entry: Entry, sources: Sources) -> Spiral | None:
    pair = entry.pairs[0]
    if entry.mate.kind not in ("insert", "seat", "gear-mesh") or not fits_together(pair):
        return None
    force = _force(entry)
    room = captured(project.product, project.cell.controller, entry, 0, force)
    radius = _off(entry, sources)
    if radius <= room:
        return None
    drop = lead_in_height(pair) + _BELOW
    return Spiral(radius, room, project.cell.controller.touch_speed, force, drop, _rest(project))


def _tilting(project: Project, entry: Entry, sources: Sources) -> TiltAndRight | None:
    pair = entry.pairs[0]
    hole, shaft = hole_first(pair) if fits_together(pair) else (None, None)
    if hole is None or shaft is None or hole.kind != "hole" or len(entry.pairs) > 1:
        return None
    x, y = (float(v) for v in worse_axis(pair.delta, sources.variances)[:2])
    speed = project.cell.controller.touch_speed
    return TiltAndRight(
        _LEAN, (-y, x, 0.0), 0.02 * (shaft.diameter or 0.0), hole.diameter or 0.0, speed, _TURN_RATE,
        _force(entry), _rest(project),
    )  # fmt: skip


def _back_turn(project: Project, entry: Entry) -> BackTurn | None:
    mate, name = entry.mate, entry.pairs[0].moving.thread
    if mate.kind != "screw" or name is None or mate.tool is None:
        return None
    spindle = project.cell.tool(mate.tool).spindle
    return BackTurn(
        turn=2.2 * math.pi, rate=spindle.slow_speed, force=_force(entry),
        torque=0.1 * (mate.torque or spindle.torque), drop=0.3 * coarse_thread(name).pitch,
        slow_turn=4 * math.pi,
    )  # fmt: skip


def _force(entry: Entry) -> float:
    return min(_PRESSED, entry.mate.force_limit / 2, entry.slip_force / 2)


def _rest(project: Project) -> float:
    """Side force that is left [N]: what can be told from the sensor's noise."""
    return max([1.0, *(_NOISES * s.noise for s in project.cell.force_sensors)])


def _off(entry: Entry, sources: Sources) -> float:
    """How far off the tip may be [m]."""
    spread = spread_of(entry.pairs[0].delta, sources.variances)
    return float(np.linalg.norm(spread.mean[:2])) + _REACH * spread.sigma_major
