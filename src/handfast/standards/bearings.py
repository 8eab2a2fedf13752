"""Rolling bearings, ISO 492 Normal class: deviation of the mean bore and mean outside diameter.

Source: ISO 492 (bore 3 to 18 mm looked up in a bearing maker's public table, 18 to 30 mm looked up; wider
bores and the outside diameters from memory). Radial bearings except tapered ones.
"""

from __future__ import annotations

from handfast.standards.limits_and_fits import Limits
from handfast.standards.tabled_value_error import TabledValueError

# Upper end of the size step in mm, lower deviation in um; the upper deviation is zero.
_BORE_UM = ((18, -8), (30, -10), (50, -12), (80, -15), (120, -20), (180, -25), (250, -30))
_OUTSIDE_UM = ((18, -8), (30, -9), (50, -11), (80, -13), (120, -15), (150, -18), (180, -25), (250, -30))


def bore_deviations(diameter: float) -> Limits:
    """Deviation of the mean bore diameter [m] for a bore of nominal `diameter` [m]."""
    return _lookup("bearing bore", diameter, _BORE_UM)


def outside_deviations(diameter: float) -> Limits:
    """Deviation of the mean outside diameter [m] for nominal outside `diameter` [m]."""
    return _lookup("bearing outside diameter", diameter, _OUTSIDE_UM)


def _lookup(what: str, diameter: float, table: tuple[tuple[int, int], ...]) -> Limits:
    size = diameter * 1e3
    for upper_end, deviation in table:
        if 2.5 < size <= upper_end + 1e-9:
            return Limits(deviation * 1e-6, 0.0)
    raise TabledValueError(
        f"ISO 492 {what}", f"over 2.5 mm to {table[-1][0]} mm", f"{size:g} mm", "give the limits by hand"
    )
