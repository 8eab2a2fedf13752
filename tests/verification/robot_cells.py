"""A pin, a block and two arms of open robot data: a small cell written for each."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from handfast.files.starter.answers import Answers, parse_answers
from handfast.workflow.new_project import new_project

DATA = "package:example-robot-data/robots"


@dataclass(frozen=True)
class Robot:
    """An arm of the data: home [deg] has the hand in front of the base, pointing down; plinth [mm]."""

    urdf: str
    root: str
    tip: str
    home: tuple[float, ...]
    plinth: float = 0.0


SIX_AXES = Robot("ur_description/urdf/ur5_robot.urdf", "base_link", "tool0", (0, -90, 90, -90, -90, 0), 60.0)
SEVEN_AXES = Robot(
    "panda_description/urdf/panda.urdf", "panda_link0", "panda_link8", (0, -45, 0, -135, 0, 90, 45)
)
SEVEN_MORE = Robot("xarm_description/urdf/xarm7.urdf", "link_base", "link_eef", (0, -30, 0, 40, 0, 70, 0))


def write_cell(folder: Path, left: Robot, right: Robot, answers: dict[str, str] | None = None) -> Path:
    """The project that `new` writes, with these arms instead of its own."""
    read = parse_answers(answers or {})
    assert isinstance(read, Answers), read
    new_project(folder, read)
    cell = folder / "cell.yaml"
    text = cell.read_text()
    start, end = text.index("arms:\n"), text.index("grippers:\n")
    arms = f"arms:\n{_arm('left', left, -500)}{_arm('right', right, 500)}\n"
    cell.write_text(text[:start] + arms + text[end:])
    return folder


def _arm(name: str, robot: Robot, x: float) -> str:
    angles = ", ".join(f"{a} deg" for a in robot.home)
    return f"""\
  {name}:
    urdf: {DATA}/{robot.urdf}
    root: {robot.root}
    tip: {robot.tip}
    base: {{position: [{x} mm, 0 mm, {robot.plinth} mm], turn: [0 deg, 0 deg, 90 deg]}}
    home: [{angles}]
    max_acceleration: [{", ".join(["400 deg/s2"] * len(robot.home))}]
    speed: 50 %
"""
