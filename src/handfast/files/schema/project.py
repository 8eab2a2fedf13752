"""project.yaml, and which file is written by which schema."""

from __future__ import annotations

from handfast.files.schema.cell import CELL
from handfast.files.schema.errors import ERRORS
from handfast.files.schema.product import PRODUCT
from handfast.files.spec import Field, Fields, FilePath, Number, Quantity, Word
from handfast.model.economy import Economy

PROJECT_FILE = "project.yaml"
_YAML = (".yaml", ".yml")

ECONOMY = Fields(
    "what things cost",
    (
        Field("builds", Number("positive"), help="good builds a year"),
        Field("hour", Number("not negative"), help="of the cell, in any currency"),
        Field("stop", Number("not negative"), help="of a failed mate, until a person has put it right"),
        Field("jig", Number("not negative"), help="to make one"),
        Field("weeks", Number("not negative"), help="until a jig is there"),
        Field("change", Number("not negative"), help="of a jig, when its part changes"),
        Field("changes", Number("not negative"), help="of a part, a year"),
        Field("jig_seconds", Number("not negative"), help="to lay a part into a jig and clamp it"),
    ),
    lambda _name, values: Economy(**values, written=tuple(sorted(values))),
)
PROJECT = Fields(
    "a project",
    (
        Field("project", Word("the name of the project"), required=True),
        Field("product", FilePath("the product file", _YAML), required=True),
        Field("cell", FilePath("the cell file", _YAML), required=True),
        Field("errors", FilePath("the file of error sources", _YAML)),
        Field("target", Quantity("ratio", "positive", 1.0), help="wanted chance that each mate goes in"),
        Field("clearance", Quantity("length", "not negative"), help="kept in free space"),
        Field("economy", ECONOMY, help="what things cost, for `budget --jig`"),
    ),
    lambda _name, values: values,
)
SCHEMAS: dict[str, Fields] = {"project": PROJECT, "product": PRODUCT, "cell": CELL, "errors": ERRORS}
"""By the role of a file, which is also the key that names it in project.yaml."""
