"""errors.yaml: how far off everything may be."""

from __future__ import annotations

from math import radians
from typing import get_args

from handfast.files.schema.arm import DISTANCE
from handfast.files.schema.cell import SIX
from handfast.files.spec import (
    Choice,
    DisagreementError,
    Field,
    Fields,
    Flag,
    Named,
    Number,
    Quantity,
    Row,
    Values,
    Word,
)
from handfast.model.error_source import Changes, Distribution, ErrorSource, Six, is_compliant

_A = radians(0.1)
ASSUMED: dict[str, Six] = {
    "arm": (0.3e-3, 0.3e-3, 0.3e-3, radians(0.05), radians(0.05), radians(0.05)),
    "gripper": (0.05e-3, 0.05e-3, 0.05e-3, radians(0.05), radians(0.05), radians(0.05)),
    "grasp": (0.2e-3, 0.2e-3, 0.2e-3, radians(0.5), radians(0.5), radians(0.5)),
    "holder": (0.5e-3, 0.5e-3, 0.2e-3, _A, _A, _A),
    "place": (0.2e-3, 0.2e-3, 0.1e-3, radians(0.3), radians(0.3), radians(0.3)),
    "feature": (0.05e-3, 0.05e-3, 0.05e-3, _A, _A, _A),
    "tool": (0.1e-3, 0.1e-3, 0.1e-3, _A, _A, _A),
    "camera": (0.5e-3, 0.5e-3, 1e-3, radians(0.5), radians(0.5), radians(0.5)),
    "touch": (0.05e-3, 0.0, 0.0, 0.0, 0.0, 0.0),
}
"""What `sigma: unknown` stands for, by what it acts on: cautious guesses, common practice, no source."""
HEADS = tuple(ASSUMED)
ASSUMED_STIFFNESS: dict[str, Six] = {
    "arm": (200e3, 200e3, 400e3, 8e3, 8e3, 8e3),
    "gripper": (300e3, 300e3, 300e3, 150.0, 150.0, 150.0),
}
"""What `stiffness: unknown` stands for, at a flange [N/m, N m/rad] and of fingers: a small arm and slim
fingers of steel, on the soft side; common practice, no source."""
ASSUMED_UNCERTAINTY = 0.3
"""One sigma of a compliance, as a share of it, where nobody says: common practice, no source."""


def make_source(name: str, values: Values) -> ErrorSource:
    """An error source; an unknown sigma or stiffness becomes an assumed one, and says so."""
    head = values["acts_on"].partition(".")[0]
    if is_compliant(values["acts_on"]) != ("stiffness" in values):
        raise DisagreementError(
            "acts_on", "a `stiffness` for arm.NAME.flange and gripper.NAME.fingers, a `sigma` for all else",
            repr(values["acts_on"]),
        )  # fmt: skip
    if "stiffness" in values:
        return _giving(name, values, head)
    if "uncertain" in values:
        raise DisagreementError("uncertain", "it beside a `stiffness`", "it beside a `sigma`")
    sigma = values["sigma"]
    if sigma is None and head not in ASSUMED:
        raise DisagreementError(
            "acts_on", f"one of: {', '.join(HEADS)}, then a dot and names", repr(values["acts_on"])
        )
    optional = {k: values[k] for k in ("distribution", "truncation", "correlation_length") if k in values}
    return ErrorSource(
        name,
        values["acts_on"],
        ASSUMED[head] if sigma is None else sigma,
        values["changes"],
        assumed=sigma is None or values.get("assumed", False),
        **optional,
    )


def _giving(name: str, values: Values, head: str) -> ErrorSource:
    """Of what gives under load."""
    for key in ("distribution", "truncation", "correlation_length"):
        if key in values:
            raise DisagreementError(key, "it beside a `sigma`", "it beside a `stiffness`", "leave it out")
    given = values["stiffness"]
    x, y, z, rx, ry, rz = (1 / k for k in (ASSUMED_STIFFNESS[head] if given is None else given))
    share = values.get("uncertain", ASSUMED_UNCERTAINTY)
    return ErrorSource(
        name,
        values["acts_on"],
        (share * x, share * y, share * z, share * rx, share * ry, share * rz),
        values["changes"],
        assumed=given is None or values.get("assumed", False),
        compliance=(x, y, z, rx, ry, rz),
    )


STIFF, STIFF_TURN = Quantity("stiffness", "positive"), Quantity("angular stiffness", "positive")
SOURCE = Fields(
    "an error source",
    (
        Field("acts_on", Word("what is off, such as arm.NAME.base"), required=True),
        Field("sigma", Row(SIX, unknown=True), help="x, y, z, about x, y, z"),
        Field(
            "stiffness",
            Row((STIFF, STIFF, STIFF, STIFF_TURN, STIFF_TURN, STIFF_TURN), unknown=True),
            help="of a flange or of fingers instead: along x, y, z, about x, y, z",
        ),
        Field("uncertain", Number("not negative"), help="one sigma of the compliance, as a share of it"),
        Field("changes", Choice(get_args(Changes)), required=True, help="how often it is drawn anew"),
        Field("distribution", Choice(get_args(Distribution))),
        Field("truncation", Number("positive"), help="of a truncated one, in sigmas"),
        Field("correlation_length", DISTANCE, help="of an arm's error field"),
        Field("assumed", Flag(), help="true for a value that nobody measured"),
    ),
    make_source,
    one_of=("sigma", "stiffness"),
)
ERRORS = Fields(
    "error sources",
    (Field("sources", Named(SOURCE), required=True),),
    lambda _name, values: values["sources"],
)
