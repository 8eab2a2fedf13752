"""A hand-written chart of the first-fit process: right in shape and order; its motions are only drawn."""

from __future__ import annotations

from handfast.model.chart import Chart
from handfast.model.element import Element, ElementKind
from handfast.model.grasp import Grasp
from handfast.model.motion import Motion
from handfast.model.scene import Attachment, Scene
from handfast.model.touch import Touch
from handfast.spatial.pose import Pose

HOME = (0.0, 0.349, -1.92, 0.0, -1.571, 0.0)
ALL = (True,) * 6
Line = tuple[str, ElementKind, str, str, str, float, float]
LEFT, RIGHT = "left", "right"
PIN, COVER, SCREW = "pin-in-bore", "cover-on-block", "cover-screw"
LINES: tuple[Line, ...] = (
    (LEFT, "reach", "pin", "place.tray.pin", PIN, 0.0, 1.82),
    (RIGHT, "reach", "pin", "hand.left", PIN, 0.0, 1.40),
    (RIGHT, "delay", "", "", PIN, 1.40, 2.62),
    (LEFT, "grasp", "pin", "place.tray.pin", PIN, 1.82, 0.40),
    (LEFT, "move", "pin", "hand.right", PIN, 2.22, 1.80),
    (LEFT, "hold", "pin", "", PIN, 4.02, 0.85),
    (RIGHT, "position", "pin", "hand.left", PIN, 4.02, 0.45),
    (RIGHT, "grasp", "pin", "hand.left", PIN, 4.47, 0.40),
    (LEFT, "release", "pin", "hand.right", PIN, 4.87, 0.90),
    (RIGHT, "move", "pin", "block.end", PIN, 5.77, 1.10),
    (LEFT, "reach", "cover", "place.tray.cover", COVER, 5.77, 1.55),
    (RIGHT, "locate", "pin", "block.end", PIN, 6.87, 2.05),
    (LEFT, "grasp", "cover", "place.tray.cover", COVER, 7.32, 0.40),
    (LEFT, "delay", "", "", COVER, 7.72, 4.85),
    (RIGHT, "move", "pin", "block.bore", PIN, 8.92, 0.75),
    (RIGHT, "assemble", "pin", "block.bore", PIN, 9.67, 1.60),
    (RIGHT, "release", "pin", "block.bore", PIN, 11.27, 1.30),
    (LEFT, "move", "cover", "block.tapped", COVER, 12.57, 1.35),
    (RIGHT, "reach", "driver", "place.stand.driver", SCREW, 12.57, 1.20),
    (RIGHT, "grasp", "driver", "place.stand.driver", SCREW, 13.77, 0.40),
    (LEFT, "assemble", "cover", "pin.top", COVER, 13.92, 1.70),
    (RIGHT, "move", "driver", "place.presenter.screw", SCREW, 14.17, 1.60),
    (LEFT, "hold", "cover", "", COVER, 15.62, 7.60),
    (RIGHT, "use", "driver", "screw", SCREW, 15.77, 1.10),
    (RIGHT, "move", "driver", "block.tapped", SCREW, 16.87, 1.90),
    (RIGHT, "use", "driver", "block.tapped", SCREW, 18.77, 4.45),
    (LEFT, "release", "cover", "block.tapped", COVER, 23.22, 0.95),
    (RIGHT, "move", "driver", "place.stand.driver", SCREW, 23.22, 2.10),
    (LEFT, "move", "", "home", COVER, 24.17, 1.50),
    (RIGHT, "release", "driver", "place.stand.driver", SCREW, 25.32, 0.60),
    (RIGHT, "move", "", "home", SCREW, 25.92, 1.40),
)
CAUSES = {3: "waits for the left hand", 6: "until the right hand has it", 14: "waits for the pin",
          23: "until cover-screw is done"}  # fmt: skip


def first_fit_chart() -> Chart:
    """31 elements, three mates, two hands; a handover, a touch, a hold spanning the screw."""
    elements = tuple(_element(number, line) for number, line in enumerate(LINES, 1))
    return Chart("first-fit", (LEFT, RIGHT), _start(), elements, (PIN, COVER, SCREW), 27.32, 21.4)


def _start() -> Scene:
    lying = (
        ("block", "nest.seat"),
        ("pin", "tray.pin"),
        ("cover", "tray.cover"),
        ("screw", "presenter.screw"),
        ("driver", "stand.driver"),
    )
    return Scene(
        tuple(Attachment(item, f"place.{place}", Pose()) for item, place in lying),
        ((LEFT, 0.07), (RIGHT, 0.07)),
    )


def _element(number: int, line: Line) -> Element:
    hand, kind, item, target, mate, start, duration = line
    moving = kind in ("reach", "move", "position", "assemble", "release", "locate")
    return Element(
        id=f"{mate}/{number:02d}-{kind}-{hand}",
        number=number,
        hand=hand,
        kind=kind,
        object=item,
        target=target,
        mate=mate,
        start_s=start,
        duration_s=duration,
        before_s=0.3 if kind == "release" else 0.0,
        motions=(_motion(hand, number, duration - (0.3 if kind == "release" else 0.0)),) if moving else (),
        opening=0.02 if kind in ("release", "reach") else None,
        grasp=_grasp(hand, item) if kind == "grasp" else None,
        leaves=_leaves(number),
        touch=_touch() if kind == "locate" else None,
        guarded=0 if kind == "locate" else None,
        torque=1.8 if number == 26 else None,
        cause=CAUSES.get(number, ""),
    )


def _leaves(number: int) -> Attachment | None:
    home = {
        9: Attachment("pin", "hand.right", Pose((0.0, 0.0, 0.008))),
        17: Attachment("pin", "part.block", Pose((-0.028, 0.0, 0.030))),
        24: Attachment("screw", "tool.driver", Pose()),
        26: Attachment("screw", "part.block", Pose((0.032, 0.0, 0.036))),
        27: Attachment("cover", "part.block", Pose((0.0, 0.0, 0.030))),
        30: Attachment("driver", "place.stand.driver", Pose()),
    }
    return home.get(number)


def _motion(hand: str, number: int, duration: float) -> Motion:
    """From one made-up place to the next, with constant acceleration up to the middle and down again."""
    a, b = _joints(hand, number - 1), _joints(hand, number)
    middle = tuple((x + y) / 2 for x, y in zip(a, b, strict=True))
    speed = tuple(2 * (y - x) / duration for x, y in zip(a, b, strict=True))
    still = (0.0,) * 6
    return Motion(hand, "free", (0.0, duration / 2, duration), (a, middle, b), (still, speed, still))


def _joints(hand: str, number: int) -> tuple[float, ...]:
    """A made-up place of the hand after the element of that number; the last move of a hand ends at home."""
    if number in (0, 29, 31):
        return HOME
    side = -1.0 if hand == LEFT else 1.0
    return (side * 0.35, 0.75 + 0.02 * (number % 5), -1.75, 0.0, -0.64, 0.1 * side)


def _grasp(hand: str, item: str) -> Grasp:
    width = {"pin": 0.008, "cover": 0.046, "driver": 0.030}[item]
    T_grip_part = Pose((0.0, 0.0, 0.15 if item == "driver" else 0.012), (0.0, 1.0, 0.0, 0.0))
    return Grasp(f"{hand}_gripper", item, T_grip_part, width, ("top",), "tip", ALL, 54.0, 0.3)


def _touch() -> Touch:
    return Touch("pin", (0.004, 0.0, 0.0), "block", "end", (0.0, 0.0, -1.0), 0.006, 0.004, 3.0, 0.005)
