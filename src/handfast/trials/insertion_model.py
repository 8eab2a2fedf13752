"""How the physics engine is set, and what holds a part while it goes in."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from handfast.spatial.se3 import Array


@dataclass(frozen=True, slots=True)
class ContactSettings:
    """Of the engine. The defaults were measured; softer contact reports success through walls.

    step, fine_step [s]: longest and shortest; sideways_per_step: how far the part may move sideways in one,
    share of the radial clearance; crossing_speed [m/s]: at most, over the chamfers, so that forces there are
    those of statics (impacts are not modelled); wedges around the hole; effective mass at the compliance
    centre [kg]: arm and hand move with the part; damping: share of the critical one; stiffness_time: solref,
    in shortest steps; impedance: solimp.
    """

    step: float = 2e-4
    fine_step: float = 1.25e-5
    sideways_per_step: float = 0.08
    crossing_speed: float = 2.5e-3
    wedges: int = 32
    mass: float = 1.0
    damping: float = 0.7
    stiffness_time: float = 2.0
    impedance: tuple[float, float, float, float, float] = (0.99, 0.9999, 1e-5, 0.5, 2.0)


MEASURED = ContactSettings()


@dataclass(frozen=True, slots=True)
class Support:
    """Stiffness of what holds the moving feature: across and along its axis [N/m], angular [N m/rad];
    T_feature_centre (4, 4): the compliance centre in the moving feature's frame."""

    lateral: float
    axial: float
    angular: float
    T_feature_centre: Array


def set_engine(mujoco: Any, spec: Any, settings: ContactSettings) -> None:
    """Step, contact and solver options of a model that is being made."""
    option = spec.option
    option.timestep = settings.step
    option.gravity = [0.0, 0.0, 0.0]  # the arm carries the part
    option.integrator = mujoco.mjtIntegrator.mjINT_IMPLICITFAST
    option.cone = mujoco.mjtCone.mjCONE_ELLIPTIC
    option.impratio = 10.0
    option.tolerance = 1e-12
    # The default finds contacts where there are none between nearly parallel faces: false jams.
    option.ccd_tolerance = 1e-9
    option.ccd_iterations = 100
    spec.compiler.inertiafromgeom = mujoco.mjtInertiaFromGeom.mjINERTIAFROMGEOM_FALSE
