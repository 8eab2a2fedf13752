"""cell.yaml: what a person sets down for the arms to touch."""

from __future__ import annotations

from handfast.files.schema.shapes import POINT, POSE, SIZE, SOLIDS
from handfast.files.spec import Field, Fields, Named, Values
from handfast.model.artefact import Artefact, Stand


def make_artefact(name: str, values: Values) -> Artefact:
    """An artefact."""
    more = {"slack": values["slack"]} if "slack" in values else {}
    return Artefact(
        name, values["diameter"] / 2, values["middle"], values.get("foot", ()), values["stands"], **more
    )


STAND = Fields(
    "a stand of an artefact",
    (Field("at", POSE, required=True, help="of the artefact in the world"),),
    lambda name, values: Stand(name, values["at"]),
)
ARTEFACT = Fields(
    "an artefact (a ground ball on a foot)",
    (
        Field("diameter", SIZE, required=True, help="of the ball"),
        Field("middle", POINT, required=True, help="of the ball, in the artefact's own frame"),
        Field("foot", SOLIDS, help="what carries the ball, in the artefact's own frame"),
        Field("slack", SIZE, help="how far off a stand a person may set it down, either way"),
        Field(
            "stands", Named(STAND, ordered=True), required=True, help="where it is set down, in this order"
        ),
    ),
    make_artefact,
)
