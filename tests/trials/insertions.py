"""Small insertions made by hand, for both contact solvers."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from handfast.spatial import se3
from handfast.spatial.se3 import Array
from handfast.trials.contact_shapes import RoundHole, RoundShaft
from handfast.trials.gear_teeth import GearTeeth, thinner_for
from handfast.trials.insertion import Insertion, Pair, Piece
from handfast.trials.insertion_model import Support

SUPPORT = Support(20e3, 20e3, 50.0, se3.translation(0, 0, -30e-3))


def peg(
    offset: float, tilt: float = 0.0, *, diameter: float = 10e-3, clearance: float = 50e-6, depth: float =
    3e-3, hole: RoundHole | None = None, azimuth: float = 0.1, limit: float = 50.0,
) -> Insertion:  # fmt: skip
    """A sharp peg over a hole with a chamfer of 0.5 mm at 45 deg, aside by an offset [m] and tilted about y
    [rad]."""
    bore = hole if hole is not None else RoundHole(diameter / 2, 24e-3, 0.5e-3)
    shaft = RoundShaft(diameter / 2 - clearance / 2, 40e-3)
    off = se3.translation(offset * math.cos(azimuth), offset * math.sin(azimuth), 0.0)
    off = off @ se3.rotation(np.array([0.0, 1, 0]), tilt)
    pieces = (Piece("peg", 0, shaft, np.eye(4)), Piece("hole", -1, bore, np.eye(4)))
    return Insertion(
        pieces, (Pair(0, 1, clearance / 2),), (), se3.translation(0, 0, -1e-3) @ off,
        se3.translation(0, 0, depth) @ off, 1, SUPPORT, 0.02, limit, 0.15,
    )  # fmt: skip


def gears(phase: float, backlash: float = 90e-6, limit: float = 25.0) -> Insertion:
    """An 18-tooth gear, module 1 mm, let down beside an equal one, its gap off that one's tooth by `phase`
    [m] along the pitch circle."""
    plain = GearTeeth(18, 1e-3, 9.97e-3, 0.0, 9.96e-3)
    teeth = replace(plain, thinner=thinner_for(backlash, plain, plain, 18e-3))
    turned = se3.rotation(np.array([0.0, 0, 1]), math.pi / 18 + phase / plain.pitch_radius)
    pieces = (
        Piece("moving", 0, teeth, np.eye(4)),
        Piece("fixed", -1, teeth, se3.translation(-18e-3, 0, 0)),
    )
    above, home = (se3.translation(0, 0, z) @ turned for z in (12e-3, 0.0))
    support = Support(20e3, 20e3, 50.0, se3.translation(0, 0, 30e-3))
    return Insertion(pieces, (Pair(0, 1, backlash / 2),), (), above, home, -1, support, 0.02, limit, 0.15)


def over_the_ridge(offset: float, friction: float = 0.15) -> Insertion:
    """A gear's rim of 19.94 mm over one of two holes of 20 mm that open into each other 18 mm apart, aside by
    an offset [m] towards the other; chamfers of 0.3 mm at 45 deg all round. It yields sideways only."""
    hole, shaft = RoundHole(10e-3, 28e-3, 0.3e-3), RoundShaft(9.97e-3, 9.96e-3, 0.3e-3)
    pieces = (
        Piece("rim", 0, shaft, np.eye(4)), Piece("lobe", -1, hole, np.eye(4), opens_into=2),
        Piece("beside", -1, hole, se3.translation(18e-3, 0, 0)),
    )  # fmt: skip
    support = Support(20e3, 20e3, 1e6, np.eye(4))
    return Insertion(
        pieces, (Pair(0, 1, 30e-6),), (), se3.translation(offset, 0, -1e-3), se3.translation(offset, 0, 2e-3),
        1, support, 0.02, 50.0, friction,
    )  # fmt: skip


def two_lobes(offset: tuple[float, float], slot: float = 0.0, spread: float = 0.0) -> Insertion:
    """Two pegs of 10 mm, 40 mm apart, over a hole and a hole or slot (its middle line 2 `slot` long, towards
    the other), `spread` further apart [m]; 50 um clearance."""
    hole, shaft = RoundHole(5e-3, 24e-3, 0.5e-3), RoundShaft(4.975e-3, 40e-3)
    apart = se3.translation(40e-3, 0, 0)
    pieces = (
        Piece("a", 0, shaft, np.eye(4)), Piece("b", 0, shaft, apart), Piece("hole", -1, hole, np.eye(4)),
        Piece("slot", -1, replace(hole, half=slot), se3.translation(40e-3 + spread, 0, 0)),
    )  # fmt: skip
    off: Array = se3.translation(*offset, 0.0)
    return Insertion(
        pieces, (Pair(0, 2, 25e-6), Pair(1, 3, 25e-6)), (), se3.translation(0, 0, -1e-3) @ off,
        se3.translation(0, 0, 6e-3) @ off, 1, SUPPORT, 0.02, 50.0, 0.15,
    )  # fmt: skip
