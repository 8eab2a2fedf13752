"""Arms in cell.yaml: by a URDF, or by the lengths of a data sheet."""

from __future__ import annotations

from handfast.files.schema.shapes import ANGLE, LENGTH, POINT, POSE, SIZE, SOLIDS
from handfast.files.spec import (
    Choice,
    DisagreementError,
    Field,
    Fields,
    FilePath,
    Named,
    Number,
    Quantity,
    Repeated,
    Row,
    Values,
    Word,
)
from handfast.model.arm import Arm
from handfast.model.hose import Hose
from handfast.model.layout import Layout, LayoutPose
from handfast.spatial import se3
from handfast.spatial.pose import Pose

DISTANCE = Quantity("length", "not negative")
ANGULAR_SPEED = Quantity("angular speed", "positive")
LEAST_POSES = 3
_OWN = {"spherical-wrist": ("elbow_offset",), "three-parallel": ("wrist_side", "wrist")}


def make_layout_pose(_name: str, values: Values) -> LayoutPose:
    """A pose of the data sheet."""
    turned = se3.fixed_xyz(*values.get("turn", (0.0, 0.0, 0.0)))
    flange = se3.translation(*values["position"]) @ turned
    return LayoutPose(values["joints"], Pose.from_matrix(flange), "turn" in values)


def make_layout(_name: str, values: Values) -> Layout:
    """An arm by its lengths."""
    kind = values["kind"]
    for other, keys in _OWN.items():
        for key in keys:
            if other != kind and key in values:
                raise DisagreementError(key, f"it only for {other}", f"it for {kind}", "leave it out")
    for key in _OWN["three-parallel"]:
        if kind == "three-parallel" and key not in values:
            raise DisagreementError(key, f"its length for {kind}", "none", f"add `{key}: 100 mm`")
    for i, (low, high) in enumerate(values["limits"]):
        if high <= low:
            raise DisagreementError("limits", "the lower, then the upper limit", f"joint {i + 1} otherwise")
    if len(values["poses"]) < LEAST_POSES:
        fix = "copy them from the data sheet, or read them off the controller"
        found = f"{len(values['poses'])}"
        raise DisagreementError("poses", f"at least {LEAST_POSES} poses to check by", found, fix)
    reversed_ = tuple(values.get("reversed", ()))
    if any(not 1 <= number <= 6 for number in reversed_):
        raise DisagreementError("reversed", "numbers of joints, 1 to 6", str(list(reversed_)))
    return Layout(**{**values, "reversed": reversed_})


def make_arm(name: str, values: Values) -> Arm:
    """An arm."""
    by_urdf = "urdf" in values
    for key in ("root", "tip"):
        if by_urdf and key not in values:
            raise DisagreementError(key, f"the {key} link beside the urdf", "none", f"add `{key}: LINK`")
        if not by_urdf and key in values:
            raise DisagreementError(key, "a link only beside a urdf", "one beside a layout", "leave it out")
    optional = {
        key: values[key]
        for key in ("speed", "repeatability", "layout", "hoses", "measured_from")
        if key in values
    }
    urdf, root, tip = (values.get(key, default) for key, default in _LINKS)
    return Arm(name, urdf, root, tip, values["base"], values["home"], values["max_acceleration"], **optional)


_LINKS = (("urdf", ""), ("root", "base"), ("tip", "flange"))
_ANGLES = Repeated(ANGLE, 6)
LAYOUT_POSE = Fields(
    "a pose to check by",
    (
        Field("joints", _ANGLES, required=True, help="as the maker counts them"),
        Field("position", POINT, required=True, help="of the flange in the base frame"),
        Field("turn", Repeated(ANGLE, 3), help="of the flange, about the fixed x, then y, then z axis"),
    ),
    make_layout_pose,
)
LAYOUT = Fields(
    "the layout of a six-axis arm",
    (
        Field("kind", Choice(tuple(_OWN)), required=True),
        Field("shoulder_height", SIZE, required=True, help="base to axis 2"),
        Field("shoulder_offset", LENGTH, help="how far axis 2 stands in front of axis 1"),
        Field("upper_arm", SIZE, required=True, help="axis 2 to axis 3"),
        Field("elbow_offset", LENGTH, help="axis 4 behind axis 3 when upright, above it when level"),
        Field("forearm", SIZE, required=True, help="axis 3 to the wrist: to its middle, or to axis 4"),
        Field("wrist_side", LENGTH, help="three-parallel: axis 1 to axis 5, sideways"),
        Field("wrist", SIZE, help="three-parallel: axis 4 to axis 6, along axis 5"),
        Field(
            "flange",
            SIZE,
            required=True,
            help="middle of the wrist to the flange; three-parallel: axis 5 to the flange",
        ),
        Field("limits", Repeated(Row((ANGLE, ANGLE)), 6), required=True),
        Field("speeds", Repeated(ANGULAR_SPEED, 6), required=True, help="largest, of each joint"),
        Field("diameters", Row((SIZE,) * 4), required=True, help="base, upper arm, forearm, wrist"),
        Field("zero", _ANGLES, help="joint angles from straight up where the maker's are 0"),
        Field("reversed", Repeated(Number("positive", whole=True)), help="joints counted the other way"),
        Field("poses", Repeated(LAYOUT_POSE), required=True, help="three or more, to check the lengths by"),
    ),
    make_layout,
)
HOSE = Fields(
    "a hose or cable",
    (
        Field("link", Word("the link it moves with"), required=True, help="of the URDF or the layout"),
        Field("solids", SOLIDS, required=True, help="the space it may sway in, in the frame of that link"),
    ),
    lambda name, values: Hose(name, values["link"], values["solids"]),
)
ARM = Fields(
    "an arm",
    (
        Field("urdf", FilePath("a URDF", (".urdf",), packages=True)),
        Field("layout", LAYOUT, help="lengths of the data sheet instead of a URDF"),
        Field("root", Word("the link the chain starts at"), help="beside a urdf"),
        Field("tip", Word("the link the chain ends at, z out of its flange"), help="beside a urdf"),
        Field("hoses", Named(HOSE), help="hoses and cables, kept clear of everything like the links"),
        Field("base", POSE, required=True, help="of the root link in the world"),
        Field("measured_from", Word("an arm"), help="from which its base was measured: off as that one is"),
        Field("home", Repeated(ANGLE), required=True, help="one angle a joint"),
        Field("max_acceleration", Repeated(Quantity("angular acceleration", "positive")), required=True),
        Field("speed", Quantity("ratio", "positive", 1.0), help="share of the velocity limits"),
        Field("repeatability", DISTANCE, help="ISO 9283 RP of the data sheet"),
    ),
    make_arm,
    one_of=("urdf", "layout"),
)
