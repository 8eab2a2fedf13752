"""product.yaml: parts, features and mates."""

from __future__ import annotations

from typing import get_args

from handfast.files.schema.shapes import (
    FRAME_FIELDS,
    LENGTH,
    POINT,
    RIGHT_ANGLE,
    SIZE,
    SOLIDS,
    frame_of,
)
from handfast.files.spec import (
    Choice,
    DisagreementError,
    FeatureName,
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
from handfast.model.feature import Chamfer, Feature, FeatureKind, Lot
from handfast.model.mate import FeaturePair, Mate, MateKind
from handfast.model.part import Part
from handfast.model.product import Product
from handfast.model.subassembly import Subassembly
from handfast.model.tightening import Stage, Tightening
from handfast.standards.property_classes import PROPERTY_CLASSES

TOLERANCE = Quantity("length", "not negative")


def make_chamfer(_name: str, values: Values) -> Chamfer:
    """A lead-in."""
    return Chamfer(values["width"], values["angle"])


def make_feature(name: str, values: Values) -> Feature:
    """A feature with its frame."""
    return Feature(
        name,
        values["kind"],
        frame_of(values),
        diameter=values.get("diameter"),
        fit=values.get("fit"),
        length=values.get("length"),
        size=values.get("size"),
        chamfer=values.get("chamfer"),
        thread=values.get("thread"),
        internal=not values.get("external", False),
        position_tolerance=values.get("position_tolerance"),
        teeth=values.get("teeth"),
        module=values.get("module"),
        grip=values.get("grip", True),
        property_class=values.get("property_class"),
        wall=values.get("wall"),
        lot=values.get("lot"),
    )


def make_lot(_name: str, values: Values) -> Lot:
    """Lot data of a feature."""
    for key, other in (("mean", "sigma"), ("sigma", "mean")):
        if key in values and other not in values:
            raise DisagreementError(other, f"it beside {key}", "none", f"add `{other}:`")
    return Lot(**values)


def make_part(name: str, values: Values) -> Part:
    """A part."""
    optional = {key: values[key] for key in ("centre_of_mass", "friction", "modulus") if key in values}
    return Part(name, values["solids"], values.get("features", ()), values["mass"], **optional)


def make_pair(_name: str, values: Values) -> FeaturePair:
    """A feature pair."""
    part, feature = values["fixed"]
    return FeaturePair(values["moving"], part, feature, values.get("depth", 0.0), values.get("backlash"))


def make_mate(name: str, values: Values) -> Mate:
    """A mate."""
    optional = {
        key: values[key]
        for key in (
            "torque",
            "tool",
            "held_until",
            "needs",
            "clamps",
            "free_roll",
            "force_limit",
            "most_touches",
            "stays",
        )
        if key in values
    }
    if "stands" in values and "held_by" in values:
        raise DisagreementError("held_by", "`stands` or `held_by`", "both", "keep one of them")
    if "stands" in values:
        optional["stands"] = f"place.{values['stands']}"
    if "held_by" in values:
        optional["stands"] = f"hand.{values['held_by']}"
    return Mate(
        name,
        values["kind"],
        values["part"],
        values["into"],
        values["pairs"],
        touches=tuple(values.get("touch", ())),
        untouchable=tuple(values.get("no_touch", ())),
        **optional,
    )


def make_stage(_name: str, values: Values) -> Stage:
    """A round of a tightening pattern."""
    return Stage(values.get("turns"), values.get("torque"))


def make_tightening(name: str, values: Values) -> Tightening:
    """A tightening pattern."""
    return Tightening(name, tuple(values["screws"]), tuple(values["stages"]))


def make_subassembly(name: str, values: Values) -> Subassembly:
    """A sub-assembly."""
    return Subassembly(name, values["base"], tuple(values["mates"]))


def make_product(_name: str, values: Values) -> Product:
    """The product."""
    return Product(
        values["base"],
        values["parts"],
        values["mates"],
        values.get("order") == "given",
        values.get("tightenings", ()),
        values.get("subassemblies", ()),
    )


CHAMFER = Fields(
    "a chamfer",
    (
        Field("width", SIZE, required=True, help="radial"),
        Field("angle", Quantity("angle", "positive", RIGHT_ANGLE), required=True, help="from the part face"),
    ),
    make_chamfer,
)
RATE = Quantity("ratio", "not negative", 1.0)
LOT = Fields(
    "what is known of a feature in the lot at hand",
    (
        Field("mean", SIZE, help="of the diameter, as measured"),
        Field("sigma", TOLERANCE, help="of the diameter, as measured"),
        Field("burrs", RATE, help="share of parts with a burr there"),
        Field("missing_chamfers", RATE, help="share of parts without the lead-in"),
    ),
    make_lot,
)
FEATURE = Fields(
    "a feature",
    (
        Field("kind", Choice(get_args(FeatureKind)), required=True),
        *FRAME_FIELDS,
        Field("diameter", SIZE, help="of a hole, shaft or ring"),
        Field("fit", Word("an ISO 286 class such as H7"), help="ISO 286 class of the diameter"),
        Field("length", SIZE, help="depth of a hole; of a shaft back from its tip"),
        Field("size", Row((SIZE, SIZE)), help="edges of a face along its x and y"),
        Field("chamfer", CHAMFER),
        Field("thread", Word("a thread such as M4")),
        Field("external", Flag(), help="true for the thread of a screw"),
        Field("position_tolerance", TOLERANCE, help="ISO 1101: diameter of the zone of the axis"),
        Field("teeth", Number("positive", whole=True)),
        Field("module", SIZE),
        Field("grip", Flag(), help="false: no hand may hold the part here"),
        Field("property_class", Choice(tuple(PROPERTY_CLASSES)), help="strength of a screw"),
        Field("wall", SIZE, help="of a thin ring around a hole that something is pressed into"),
        Field("lot", LOT),
    ),
    make_feature,
)
PART = Fields(
    "a part",
    (
        Field("solids", SOLIDS, required=True, help="its shape"),
        Field("mass", Quantity("mass", "positive"), required=True),
        Field("centre_of_mass", POINT),
        Field("friction", Number("not negative"), help="with metal, dry"),
        Field(
            "modulus",
            Quantity("pressure", "positive"),
            help="of elasticity, where it is pressed; else steel's",
        ),
        Field("features", Named(FEATURE)),
    ),
    make_part,
)
PAIR = Fields(
    "a feature pair",
    (
        Field("moving", Word("a feature of the part that moves"), required=True),
        Field("fixed", FeatureName(), required=True),
        Field("depth", LENGTH, help="moving origin past the fixed origin along the fixed z, at home"),
        Field(
            "backlash", Row((TOLERANCE, TOLERANCE)), help="of two gears at the pitch circle, least and most"
        ),
    ),
    make_pair,
)
TOUCH = Fields(
    "a touch", (Field("face", FeatureName(), required=True),), lambda _name, values: values["face"]
)
MATE = Fields(
    "a mate",
    (
        Field("kind", Choice(get_args(MateKind)), required=True),
        Field("part", Word("the part that moves"), required=True),
        Field("into", Word("the part it becomes attached to"), required=True),
        Field("pairs", Repeated(PAIR), required=True),
        Field("torque", Quantity("torque", "positive")),
        Field("tool", Word("the name of a tool")),
        Field("held_until", Word("the name of a mate"), help="the mate that retains the part"),
        Field("needs", Repeated(Word("the name of a mate")), help="mates that must be done before"),
        Field("clamps", Repeated(Word("the name of a part")), help="parts that the screw holds down"),
        Field("free_roll", Flag(), help="any angle about the axis of the first pair will do"),
        Field("force_limit", Quantity("force", "positive")),
        Field("touch", Repeated(TOUCH), help="faces to touch before"),
        Field("no_touch", Repeated(TOUCH), help="faces that no touch may be added to"),
        Field("most_touches", Number("positive", whole=True), help="how many touches there may be in all"),
        Field("stands", Word("a place, HOLDER.PLACE"), help="where what it goes into stands meanwhile"),
        Field("held_by", Word("an arm"), help="the hand that holds what it goes into meanwhile"),
        Field(
            "stays", Flag(), help="stays in when what it is in is carried or turned: a snap, a light press"
        ),
    ),
    make_mate,
)
STAGE = Fields(
    "a round over all screws of the pattern",
    (
        Field("turns", Quantity("turns", "positive"), help="each screw is turned so far"),
        Field("torque", Quantity("torque", "positive"), help="each screw is turned until it has that torque"),
    ),
    make_stage,
    one_of=("turns", "torque"),
)
TIGHTENING = Fields(
    "a tightening pattern",
    (
        Field("screws", Repeated(Word("the name of a screw mate")), required=True, help="in turn, crosswise"),
        Field("stages", Repeated(STAGE), required=True, help="rounds, the last one to the final torque"),
    ),
    make_tightening,
)
SUBASSEMBLY = Fields(
    "a sub-assembly",
    (
        Field("base", Word("the part that it is built on"), required=True, help="where it lies at the start"),
        Field("mates", Repeated(Word("the name of a mate")), required=True, help="done before it is joined"),
    ),
    make_subassembly,
)
PRODUCT = Fields(
    "a product",
    (
        Field("base", Word("the part that everything is built on"), required=True),
        Field("order", Choice(("given", "free")), help="given: the mates are done as they are written"),
        Field("parts", Named(PART), required=True),
        Field("mates", Named(MATE, ordered=True), required=True),
        Field("tightenings", Named(TIGHTENING), help="screws that are tightened together, in rounds"),
        Field("subassemblies", Named(SUBASSEMBLY), help="built apart, then carried and mated as one body"),
    ),
    make_product,
)
