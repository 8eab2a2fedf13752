"""cell.yaml for parts that were drawn: two arms, a nest around the base, a pad or a bored block under each
part."""

from __future__ import annotations

from dataclasses import dataclass

from handfast.files.starter.cell_text import NOMINAL_REACH, arms_text
from handfast.files.starter.written import mm, row
from handfast.geometry.drawn_block import block_with_bore
from handfast.mates.from_cad.guess import Guessed
from handfast.spatial.se3 import Array
from handfast.workflow.from_cad.lying import Lying, lying
from handfast.workflow.from_cad.nest_of import bench_text, nest_text
from handfast.workflow.from_cad.pose_text import pose_text

_PAD = 70e-3
_BETWEEN = 44e-3  # left for fingers between two parts [m]
_OPENING = 85e-3


@dataclass(frozen=True, eq=False, slots=True)
class Cell:
    """text: of cell.yaml; meshes: by name, of bored blocks."""

    text: str
    meshes: dict[str, bytes]


def cell_of(guessed: Guessed, up: Array) -> Cell:
    """up: direction of the base's frame that points up."""
    places = lying(guessed, up)
    nest, half = nest_text(guessed, up)
    meshes: dict[str, bytes] = {}
    bench, wide = bench_text(guessed, places, half[1])
    trays, beyond = _trays(guessed, places, max(half[0], wide), meshes)
    screws = sorted(
        {f.feature.thread or "" for p in guessed.parts for f in p.features if not f.feature.internal}
    )
    threads = [t for t in screws if t]
    text = f"""\
# World frame: on the table top between the arms; x to the right arm, y away from the bases, z up.
# ? This cell is a stand-in: write your own arms, grippers and places.
{arms_text(1.0, NOMINAL_REACH, 0.03e-3)}
{_GRIPPERS}{_tools(threads, meshes)}
holders:
{nest}
{bench}{trays}{_stand(beyond) if threads else ""}
obstacles:
  table:
    solids: [{{box: [2000 mm, 1500 mm, 40 mm], at: {{position: [0 mm, 300 mm, -20 mm]}}}}]

force_sensors:
  left_wrist:  {{arm: left, range: 200 N, noise: 0.2 N, drift: 0.1 N, rate: 1000 Hz}}
  right_wrist: {{arm: right, range: 200 N, noise: 0.2 N, drift: 0.1 N, rate: 1000 Hz}}

controller:
  {{cycle: 4 ms, stop_delay: 8 ms, touch_speed: 5 mm/s, insert_speed: 20 mm/s, line_speed: 100 mm/s}}
"""
    return Cell(text, meshes)


def _sides(guessed: Guessed) -> dict[str, str]:
    """By part: the left hand holds what screws are driven through, the right one drives them; the others
    alternately."""
    driven = {m.mate.part for m in guessed.mates if m.mate.kind == "screw"}
    held = {m.mate.part for m in guessed.mates if m.mate.held_until is not None}
    sides = {**dict.fromkeys(held, "left"), **dict.fromkeys(driven, "right")}
    others = [p.name for p in guessed.parts if p.name not in sides]
    return sides | {name: "left" if k % 2 == 0 else "right" for k, name in enumerate(others)}


def _trays(
    guessed: Guessed, places: dict[str, Lying], half: float, meshes: dict[str, bytes]
) -> tuple[str, float]:
    """Parts on their sides, in columns that grow away from the nest; and how far to the right they reach
    [m]. half: extent of nest and bench along x [m]."""
    sides: dict[str, list[Lying]] = {"left": [], "right": []}
    of_part = _sides(guessed)
    built_on = {g.base for g in guessed.groups}
    for part, place in places.items():
        if part not in built_on:
            sides[of_part[part]].append(place)
    lines, beyond = [], 0.0
    for side, members in sides.items():
        sign = -1.0 if side == "left" else 1.0
        if not members:
            continue
        lines += [f"  {side}_tray:", "    kind: tray", f"    at: {{position: {row(0, 0, 0)}}}", "    solids:"]
        held = []
        for place, (x, y) in zip(members, _columns(members, half + 0.06), strict=True):
            beyond = max(beyond, sign * x + max(place.footprint[0], place.pad[0]))
            lines.append(_under(place, sign * x, y, meshes))
            held.append(_held(place, sign * x, y))
        lines.append("    # ? Where do parts lie in your trays? Slack is how far they may lie off.")
        lines += ["    places:", *held]
    return "\n".join(lines) + "\n", beyond


def _held(place: Lying, x: float, y: float) -> str:
    at = [x + place.T_seat_part[0, 3], y + place.T_seat_part[1, 3], _PAD + place.T_seat_part[2, 3]]
    pose = pose_text(place.T_seat_part, at)
    line = f"      {place.part}: {{at: {pose}, holds: {place.part}, slack: 0.2 mm, slack_angle: 0.5 deg}}"
    return f"{line}   # {place.words}"


def _columns(members: list[Lying], start: float) -> list[tuple[float, float]]:
    """Where each stands, x from the middle and y [m]: columns along y from 0.24 m to 0.66 m."""
    where, x, y, wide = [], start, 0.24, 0.0
    for m in members:
        w, d = 2 * m.footprint[0], 2 * m.footprint[1]
        if y + d > 0.66 and y > 0.25:
            x, y, wide = x + wide + _BETWEEN, 0.24, 0.0
        where.append((x + w / 2, y + d / 2))
        y += d + _BETWEEN
        wide = max(wide, w)
    return where


def _top(place: Lying) -> float:
    """Height of the pad's or the block's top [m]."""
    return _PAD if place.bore is None else max(_PAD, place.bore[1] + 4e-3)


def _under(place: Lying, x: float, y: float, meshes: dict[str, bytes]) -> str:
    """The pad or the bored block below a part."""
    if place.bore is None:
        size = 2 * place.pad[0], 2 * place.pad[1], _PAD
        return f"      - {{box: {row(*size)}, at: {{position: {row(x, y, _PAD / 2)}}}}}"
    d, deep = place.bore
    tall = _top(place)
    side = 2 * place.pad[0]
    name = f"block_{1e3 * d:.4g}_{1e3 * deep:.4g}_{1e3 * side:.4g}".replace(".", "_")
    meshes[name] = block_with_bore((side, side, tall), d, deep)
    drop = f", at: {{position: {row(x, y, 0)}}}"
    return f"      - {{mesh: meshes/{name}.stl, unit: mm{drop}}}"


def extra_place(part: str, place: Lying, number: int) -> str:
    """A holder of its own for a part that a revised drawing has added; bored blocks are left to the
    engineer."""
    x, y = -0.45 - 0.09 * (number % 3), 0.3 + 0.1 * (number // 3)
    size = 2 * place.pad[0], 2 * place.pad[1], _PAD
    at = [
        float(place.T_seat_part[0, 3]),
        float(place.T_seat_part[1, 3]),
        _PAD + float(place.T_seat_part[2, 3]),
    ]
    if place.bore is not None:  # it stands on its tip, which no pad keeps upright
        at[2] += place.bore[1]
    return f"""\
  added_{part}:
    # ? Where does {part} lie? This pad is a stand-in.
    kind: tray
    at: {{position: {row(x, y, 0)}}}
    solids: [{{box: {row(*size)}, at: {{position: {row(0, 0, _PAD / 2)}}}}}]
    places:
      place: {{at: {pose_text(place.T_seat_part, at)}, holds: {part}, slack: 0.2 mm, slack_angle: 0.5 deg}}
"""


_GRIPPERS = f"""\
grippers:
  left_gripper: &gripper
    arm: left
    mount: {{position: [0 mm, 0 mm, 150 mm]}}
    palm:
      - {{box: [40 mm, 105 mm, 56 mm], at: {{position: [0 mm, 0 mm, -88 mm]}}}}
      - {{cylinder: {{diameter: 44 mm, length: 34 mm}}, at: {{position: [0 mm, 0 mm, -133 mm]}}}}
    finger_size: [8 mm, 7 mm, 60 mm]
    zones:
      - {{name: tip, kind: flat, start: 0 mm, end: 30 mm}}
      - {{name: groove, kind: V, start: 0 mm, end: 16 mm, diameters: [2 mm, 14 mm], groove: along}}
    opening: [0 mm, {mm(_OPENING)}]
    force: 60 N
    friction: 0.3
    close_time: 0.4 s
    gap: 2 mm
  right_gripper:
    <<: *gripper
    arm: right
"""


def _tools(threads: list[str], meshes: dict[str, bytes]) -> str:
    if not threads:
        return ""
    meshes["stand"] = block_with_bore((0.09, 0.06, 8e-3), 16.4e-3, 8e-3)
    from handfast.standards.socket_head_screws import socket_head

    keys = [socket_head(t).key for t in threads]
    most = (
        f"      # for {', '.join(threads)}: change the bit, or write a tool for each"
        if len(threads) > 1
        else ""
    )
    bit = mm(min(keys) - 0.1e-3)
    return f"""
tools:
  # ? Which driver do you have? This one is a stand-in.
  driver:
    solids:
      - {{cylinder: {{diameter: {bit}, length: 6 mm}}, at: {{position: [0 mm, 0 mm, 3 mm]}}}}
      - {{cylinder: {{diameter: {bit}, length: 24 mm}}, at: {{position: [0 mm, 0 mm, 18 mm]}}}}
      - {{cylinder: {{diameter: 16 mm, length: 20 mm}}, at: {{position: [0 mm, 0 mm, 40 mm]}}}}
      - {{box: [34 mm, 34 mm, 10 mm], at: {{position: [0 mm, 0 mm, 55 mm]}}}}
      - {{cylinder: {{diameter: 24 mm, length: 140 mm}}, at: {{position: [0 mm, 0 mm, 130 mm]}}}}
      - {{box: [30 mm, 30 mm, 50 mm], at: {{position: [0 mm, 0 mm, 225 mm]}}}}
    mass: 450 g
    features:
      flat_left:  {{kind: face, at: [0 mm, -15 mm, 225 mm], z_along: -y, size: [30 mm, 50 mm]}}
      flat_right: {{kind: face, at: [0 mm, 15 mm, 225 mm], z_along: +y, size: [30 mm, 50 mm]}}
      flat_front: {{kind: face, at: [-15 mm, 0 mm, 225 mm], z_along: -x, size: [30 mm, 50 mm]}}
      flat_back:  {{kind: face, at: [15 mm, 0 mm, 225 mm], z_along: +x, size: [30 mm, 50 mm]}}
    bit: {{at: [0 mm, 0 mm, 0 mm], z_along: -z}}
    spindle: {{speed: 600 rpm, slow_speed: 60 rpm, torque: 20 N m, retains: vacuum}}
    threads: [{", ".join(threads)}]{most}
"""


def _stand(beyond: float) -> str:
    """For the driver, to the right of all parts: where it hangs, nobody reaches over it."""
    return f"""\
  stand:
    kind: stand
    at: {{position: {row(max(0.35, beyond + 0.09), 0.31, 0)}}}
    solids:
      - {{mesh: meshes/stand.stl, unit: mm, at: {{position: [0 mm, 0 mm, 75 mm]}}}}
      - {{box: [8 mm, 60 mm, 75 mm], at: {{position: [-41 mm, 0 mm, 37.5 mm]}}}}
      - {{box: [8 mm, 60 mm, 75 mm], at: {{position: [41 mm, 0 mm, 37.5 mm]}}}}
      - {{box: [24 mm, 4 mm, 9 mm], at: {{position: [0 mm, -19.2 mm, 87.5 mm]}}}}
      - {{box: [24 mm, 4 mm, 9 mm], at: {{position: [0 mm, 19.2 mm, 87.5 mm]}}}}
    places:
      driver: {{at: {{position: [0 mm, 0 mm, 33 mm]}}, holds: driver, slack: 0.2 mm, slack_angle: 0.6 deg}}
"""
