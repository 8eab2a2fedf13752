"""cell.yaml of a first project."""

from __future__ import annotations

from typing import Any

from handfast.files.starter.written import mm, row

NOMINAL_REACH = 0.8
"""Reach [m] at which the cell has the measures below; another reach scales the arms and their places."""
_STOP = 8e-3  # edge of the nest's stops [m]
_PLATE = 15e-3  # of the nest [m]
_SLACK = 0.1e-3  # of the block between the stops [m]


def cell_text(v: dict[str, Any], tray: tuple[float, float, float], pin_height: float) -> str:
    """The text. tray: its edges, pin_height: of the pin's middle above the table [m]."""
    s = v["arm_reach"] / NOMINAL_REACH
    d, widest = v["pin_diameter"], v["jaw_opening"]
    palm = max(0.1, widest + 0.03)
    g = min(1.0, s)  # a small arm carries a short gripper
    x, y, z = tray
    return f"""\
# World frame: on the table top between the arms; x to the right arm, y away from the bases, z up.
{arms_text(s, v["arm_reach"], v["arm_repeatability"])}
grippers:
  left_gripper: &gripper
    arm: left
    mount: {{position: {row(0, 0, 0.16 * g)}}}
    palm:
      - {{box: {row(0.05, palm, 0.09 * g)}, at: {{position: {row(0, 0, -0.115 * g)}}}}}
    finger_size: {row(0.018, 0.012, 0.07 * g)}
    zones:
      - {{name: tip, kind: flat, start: 0 mm, end: 30 mm}}
      - {{name: groove, kind: V, start: 0 mm, end: 16 mm, diameters: {row(0.4 * d, 1.6 * d)}, groove: along}}
    opening: [0 mm, {mm(widest)}]
    force: 90 N
    friction: 0.3
    close_time: 0.4 s
  right_gripper:
    <<: *gripper
    arm: right

holders:
{_nest(v["block_size"], 0.45 * s)}
  tray:
    kind: tray
    at: {{position: {row(-0.2 * s, 0.38 * s, 0)}}}
    solids:
      - {{mesh: meshes/tray.stl, unit: mm}}          # {mm(x)} x {mm(y)} x {mm(z)}
    places:
      pocket: {{at: {{position: {row(0, 0, pin_height)}}}, holds: pin, slack: 0.15 mm}}

obstacles:
  table:
    solids: [{{box: [{mm(2 * s)}, {mm(1.5 * s)}, 40 mm], at: {{position: {row(0, 0.3 * s, -0.02)}}}}}]

force_sensors:
  left_wrist:  {{arm: left, range: 200 N, noise: 0.2 N, drift: 0.1 N, rate: 1000 Hz}}
  right_wrist: {{arm: right, range: 200 N, noise: 0.2 N, drift: 0.1 N, rate: 1000 Hz}}

controller:
  {{cycle: 4 ms, stop_delay: 8 ms, touch_speed: 5 mm/s, insert_speed: 20 mm/s, line_speed: 100 mm/s}}
"""


def arms_text(s: float, reach: float, repeatability: float) -> str:
    """Two arms of that reach [m] beside each other; s: reach over the nominal reach."""
    upper, fore, flange = 0.525 * reach, 0.475 * reach, 0.09 * s
    height, front = 0.3 * s, 0.05 * s
    wide = ", ".join(mm(s * d) for d in (0.16, 0.11, 0.1, 0.072))
    straight = row(front, 0, height + upper + fore + flange)
    level = row(front + fore + flange, 0, height + upper)
    down = row(0, front + fore, height + upper - flange)
    return f"""\
# The arms are known by lengths; for one that has a URDF write `urdf:`, `root:`, `tip:` instead of `layout:`.
arms:
  left: &arm
    layout:
      kind: spherical-wrist
      shoulder_height: {mm(height)}
      shoulder_offset: {mm(front)}
      upper_arm: {mm(upper)}
      forearm: {mm(fore)}
      flange: {mm(flange)}
      diameters: [{wide}]
      limits: [[-170 deg, 170 deg], [-100 deg, 130 deg], [-150 deg, 150 deg],
               [-190 deg, 190 deg], [-120 deg, 120 deg], [-350 deg, 350 deg]]
      speeds: [170 deg/s, 150 deg/s, 180 deg/s, 300 deg/s, 300 deg/s, 400 deg/s]
      poses:            # to check the lengths by: of your own arm, copy them from its data sheet
        - {{joints: [0 deg, 0 deg, 0 deg, 0 deg, 0 deg, 0 deg], position: {straight}}}
        - {{joints: [0 deg, 0 deg, 90 deg, 0 deg, 0 deg, 0 deg], position: {level},
           turn: [0 deg, 90 deg, 0 deg]}}
        - {{joints: [90 deg, 0 deg, 90 deg, 0 deg, 90 deg, 0 deg], position: {down}}}
    base: {{position: {row(-0.5 * s, 0, 0)}, turn: [0 deg, 0 deg, 90 deg]}}
    home: [0 deg, 0 deg, 105 deg, 0 deg, 75 deg, 0 deg]      # hand in front of its base, pointing down
    max_acceleration: [400 deg/s2, 400 deg/s2, 500 deg/s2, 800 deg/s2, 800 deg/s2, 1000 deg/s2]
    speed: 60 %
    repeatability: {mm(repeatability)}
  right:
    <<: *arm
    base: {{position: {row(0.5 * s, 0, 0)}, turn: [0 deg, 0 deg, 90 deg]}}
"""


def _nest(block: tuple[float, float, float], y: float) -> str:
    """A plate with a stop in the middle of each side of the block."""
    along, across = block[0] / 2 + _STOP / 2 + _SLACK, block[1] / 2 + _STOP / 2 + _SLACK
    height = _PLATE + min(_STOP, 0.4 * block[2]) / 2
    tall = 2 * (height - _PLATE)
    stops = [
        (sx * along, sy * across, (_STOP, 0.4 * block[1]) if sx else (0.2 * block[0], _STOP))
        for sx, sy in ((-1, 0), (1, 0), (0, -1), (0, 1))
    ]
    boxes = "\n".join(
        f"      - {{box: {row(*size, tall)}, at: {{position: {row(sx, sy, height)}}}}}"
        for sx, sy, size in stops
    )
    return f"""\
  nest:                 # a fixture: a plate with four stops around the block
    kind: nest
    at: {{position: {row(0, y, 0)}}}
    solids:
      - {{box: {row(block[0] + 0.05, block[1] + 0.04, _PLATE)}, at: {{position: {row(0, 0, _PLATE / 2)}}}}}
{boxes}
    places:
      seat: {{at: {{position: {row(0, 0, _PLATE)}}}, holds: block, slack: {mm(_SLACK)}}}"""
