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
    Row,
    Values,
    Word,
)
from handfast.model.error_source import Changes, Distribution, ErrorSource, Six

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


def make_source(name: str, values: Values) -> ErrorSource:
    """An error source; an unknown sigma becomes an assumed one, and says so."""
    sigma, head = values["sigma"], values["acts_on"].partition(".")[0]
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


SOURCE = Fields(
    "an error source",
    (
        Field("acts_on", Word("what is off, such as arm.NAME.base"), required=True),
        Field("sigma", Row(SIX, unknown=True), required=True, help="x, y, z, about x, y, z"),
        Field("changes", Choice(get_args(Changes)), required=True, help="how often it is drawn anew"),
        Field("distribution", Choice(get_args(Distribution))),
        Field("truncation", Number("positive"), help="of a truncated one, in sigmas"),
        Field("correlation_length", DISTANCE, help="of an arm's error field"),
        Field("assumed", Flag(), help="true for a value that nobody measured"),
    ),
    make_source,
)
ERRORS = Fields(
    "error sources",
    (Field("sources", Named(SOURCE), required=True),),
    lambda _name, values: values["sources"],
)
