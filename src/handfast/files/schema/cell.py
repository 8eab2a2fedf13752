"""cell.yaml: arms, grippers, tools, holders, sensors and what stands around."""

from __future__ import annotations

from typing import get_args

from handfast.files.schema.arm import ANGULAR_SPEED, ARM, DISTANCE
from handfast.files.schema.artefact import ARTEFACT
from handfast.files.schema.product import FEATURE
from handfast.files.schema.shapes import FRAME_FIELDS, POSE, SIZE, SOLIDS, frame_of
from handfast.files.spec import (
    Choice,
    DisagreementError,
    Field,
    Fields,
    Flag,
    Named,
    Number,
    Quantity,
    Repeated,
    Row,
    Values,
    Word,
)
from handfast.model.camera import Camera
from handfast.model.cell import Cell, Controller, Obstacle
from handfast.model.force_sensor import ForceSensor
from handfast.model.gripper import FingerZone, Gripper, SuctionCup
from handfast.model.holder import Holder, HolderKind, Place
from handfast.model.tool import Spindle, Tool
from handfast.spatial.pose import Pose

DEVIATION = Quantity("angle", "not negative")
SIX = (DISTANCE, DISTANCE, DISTANCE, DEVIATION, DEVIATION, DEVIATION)
TIME = Quantity("time", "not negative")
FORCE = Quantity("force", "not negative")


def make_zone(_name: str, values: Values) -> FingerZone:
    """A stretch of the finger pad."""
    low, high = values.get("diameters", (0.0, 0.0))
    if values["kind"] == "V" and high <= low:
        raise DisagreementError(
            "diameters", "the diameters a V zone holds, least first", "none or the wrong order"
        )
    if values["end"] <= values["start"]:
        raise DisagreementError("end", "an end further back than the start", "one that is not")
    groove = values.get("groove", "along")
    return FingerZone(values["name"], values["kind"], values["start"], values["end"], low, high, groove)


def make_gripper(name: str, values: Values) -> Gripper:
    """A gripper."""
    optional = {
        key: values[key]
        for key in ("friction", "close_time", "gap", "suction", "width_noise")
        if key in values
    }
    cup_alone = "suction" in values and not any(key in values for key in _FINGERS)
    for key, example in _FINGERS.items():
        if key not in values and not cup_alone:
            raise DisagreementError(key, "what its two fingers are like", "none", f"add `{key}: {example}`")
    given = {**_NO_FINGERS, **values}
    low, high = given["opening"]
    if high <= low and not cup_alone:
        raise DisagreementError(
            "opening", "the least, then the largest jaw width", "the wrong order", "exchange them"
        )
    needed = (given[k] for k in ("arm", "mount", "palm", "finger_size", "zones", "opening", "force"))
    return Gripper(name, *needed, **optional)


_FINGERS = {
    "finger_size": "[20 mm, 12 mm, 60 mm]",
    "zones": "[{name: tip, kind: flat, start: 0 mm, end: 30 mm}]",
    "opening": "[0 mm, 70 mm]",
    "force": "60 N",
}
_NO_FINGERS: Values = {"finger_size": (0.0, 0.0, 0.0), "zones": (), "opening": (0.0, 0.0), "force": 0.0}


def make_spindle(_name: str, values: Values) -> Spindle:
    """A driven spindle."""
    retains = values.get("retains", "none")
    return Spindle(values["speed"], values["slow_speed"], values["torque"], retains)


def make_tool(name: str, values: Values) -> Tool:
    """A tool."""
    features = values.get("features", ())
    threads = tuple(values.get("threads", ()))
    return Tool(name, values["solids"], features, values["mass"], values["bit"], values["spindle"], threads)


def make_place(name: str, values: Values) -> Place:
    """A place on a holder."""
    slack, angle = values.get("slack", 0.0), values.get("slack_angle", 0.0)
    groove = values.get("groove", False)
    more = {key: values[key] for key in ("holding", "takes") if key in values}
    stock = int(values.get("stock", 1))
    return Place(name, values.get("at", Pose()), values.get("holds"), slack, angle, groove, stock, **more)


def make_holder(name: str, values: Values) -> Holder:
    """A holder."""
    solids, places = values.get("solids", ()), values.get("places", ())
    return Holder(name, values["kind"], values["at"], solids, places)


def make_sensor(name: str, values: Values) -> ForceSensor:
    """A force sensor."""
    return ForceSensor(name, *(values[k] for k in ("arm", "range", "noise", "drift", "rate")))


def make_cell(_name: str, values: Values) -> Cell:
    """The cell."""
    many = ("arms", "grippers", "tools", "holders", "obstacles", "cameras", "force_sensors", "artefacts")
    controller = values.get("controller", Controller())
    return Cell(**{key: values.get(key, ()) for key in many}, controller=controller)


ZONE = Fields(
    "a finger zone",
    (
        Field("name", Word("a name"), required=True),
        Field("kind", Choice(("flat", "V")), required=True),
        Field("start", DISTANCE, required=True, help="back from the fingertip"),
        Field("end", DISTANCE, required=True, help="back from the fingertip"),
        Field("diameters", Row((DISTANCE, DISTANCE)), help="that a V zone holds"),
        Field("groove", Choice(("along", "across")), help="along the finger or across it"),
    ),
    make_zone,
)
SUCTION = Fields(
    "a suction cup",
    (
        Field("at", POSE, help="in the grip frame, z out of the cup"),
        Field("diameter", SIZE, required=True, help="of its lip"),
        Field("force", Quantity("force", "positive"), required=True, help="that it holds straight on"),
    ),
    lambda _name, values: SuctionCup(values.get("at", Pose()), values["diameter"], values["force"]),
)
GRIPPER = Fields(
    "a gripper",
    (
        Field("arm", Word("the arm that carries it"), required=True),
        Field("mount", POSE, required=True, help="of the grip frame in the arm's tip frame"),
        Field("palm", SOLIDS, required=True, help="in the grip frame"),
        Field("finger_size", Row((SIZE, SIZE, SIZE)), help="x, thickness, length back"),
        Field("zones", Repeated(ZONE), help="of the finger pads"),
        Field("opening", Row((DISTANCE, SIZE)), help="least and largest jaw width"),
        Field("force", Quantity("force", "positive"), help="of the jaws"),
        Field("friction", Number("not negative"), help="of the pads on metal"),
        Field("close_time", TIME),
        Field("gap", SIZE, help="how much wider than the item each jaw stands before and after holding it"),
        Field("width_noise", DISTANCE, help="of the width it tells, one sigma; 0.01 mm if left out"),
        Field("suction", SUCTION, help="a cup beside the fingers, or instead of them; not planned with yet"),
    ),
    make_gripper,
)
SPINDLE = Fields(
    "a spindle",
    (
        Field("speed", ANGULAR_SPEED, required=True),
        Field("slow_speed", ANGULAR_SPEED, required=True),
        Field("torque", Quantity("torque", "positive"), required=True, help="largest"),
        Field("retains", Choice(("vacuum", "spring-sleeve", "none")), help="how the bit keeps a screw"),
    ),
    make_spindle,
)
BIT = Fields("a bit", FRAME_FIELDS, lambda _name, values: frame_of(values))
TOOL = Fields(
    "a tool",
    (
        Field("solids", SOLIDS, required=True),
        Field("mass", Quantity("mass", "positive"), required=True),
        Field("features", Named(FEATURE), help="what a hand grips it by"),
        Field("bit", BIT, required=True, help="z out of the tip of the bit"),
        Field("spindle", SPINDLE, required=True),
        Field("threads", Repeated(Word("a thread such as M4")), help="that its bit fits"),
    ),
    make_tool,
)
PLACE = Fields(
    "a place",
    (
        Field("at", POSE, help="in the holder; what lies there has its own frame on it"),
        Field("holds", Word("a part or tool"), help="what lies there at the start"),
        Field("takes", Word("a part"), help="what is put there while it is built on, such as turned over"),
        Field(
            "slack", DISTANCE, help="how far it may lie off along x and y, either way; in a groove along z"
        ),
        Field("slack_angle", DEVIATION, help="how far it may be turned about z, either way"),
        Field("groove", Flag(), help="true for a V-groove along the z of the place"),
        Field(
            "stock",
            Number("positive", whole=True),
            help="how many of the part come there one after another, the first one included",
        ),
        Field("holding", FORCE, help="with which it holds what lies there sideways: tight, a clip, a magnet"),
    ),
    make_place,
)
HOLDER = Fields(
    "a holder",
    (
        Field("kind", Choice(get_args(HolderKind)), required=True),
        Field("at", POSE, required=True, help="in the world"),
        Field("solids", SOLIDS),
        Field("places", Named(PLACE)),
    ),
    make_holder,
)
OBSTACLE = Fields(
    "an obstacle",
    (Field("solids", SOLIDS, required=True, help="in the world frame"),),
    lambda name, values: Obstacle(name, values["solids"]),
)
CAMERA = Fields(
    "a camera",
    (
        Field("at", POSE, required=True, help="z along the view"),
        Field("field_of_view", Quantity("angle", "positive"), required=True),
        Field("sigma", Row(SIX), required=True, help="of a located part, in its own frame"),
    ),
    lambda name, values: Camera(name, values["at"], values["field_of_view"], values["sigma"]),
)
FORCE_SENSOR = Fields(
    "a force sensor",
    (
        Field("arm", Word("the arm that carries it"), required=True),
        Field("range", Quantity("force", "positive"), required=True),
        Field("noise", FORCE, required=True, help="one sigma"),
        Field("drift", FORCE, required=True, help="in a minute"),
        Field("rate", Quantity("frequency", "positive"), required=True),
    ),
    make_sensor,
)
SPEED = Quantity("speed", "positive")
CONTROLLER = Fields(
    "a controller",
    (
        Field("cycle", Quantity("time", "positive")),
        Field("stop_delay", TIME, help="from contact seen to standstill begun"),
        Field("touch_speed", SPEED),
        Field("insert_speed", SPEED),
        Field("line_speed", SPEED),
        Field("settle", TIME, help="wait before a measurement"),
        Field("lateral_stiffness", Quantity("stiffness", "positive")),
        Field("angular_stiffness", Quantity("angular stiffness", "positive")),
    ),
    lambda _name, values: Controller(**values),
)
CELL = Fields(
    "a cell",
    (
        Field("arms", Named(ARM, ordered=True), required=True, help="named by the hand they play"),
        Field("grippers", Named(GRIPPER), required=True),
        Field("tools", Named(TOOL)),
        Field("holders", Named(HOLDER), required=True),
        Field("obstacles", Named(OBSTACLE)),
        Field("cameras", Named(CAMERA)),
        Field("force_sensors", Named(FORCE_SENSOR)),
        Field("artefacts", Named(ARTEFACT), help="what a person sets down for the arms to touch"),
        Field("controller", CONTROLLER),
    ),
    make_cell,
)
