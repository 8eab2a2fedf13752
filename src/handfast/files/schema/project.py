"""project.yaml, and which file is written by which schema."""

from __future__ import annotations

from handfast.files.schema.cell import CELL
from handfast.files.schema.errors import ERRORS
from handfast.files.schema.product import PRODUCT
from handfast.files.spec import Field, Fields, FilePath, Quantity, Word

PROJECT_FILE = "project.yaml"
_YAML = (".yaml", ".yml")

PROJECT = Fields(
    "a project",
    (
        Field("project", Word("the name of the project"), required=True),
        Field("product", FilePath("the product file", _YAML), required=True),
        Field("cell", FilePath("the cell file", _YAML), required=True),
        Field("errors", FilePath("the file of error sources", _YAML)),
        Field("target", Quantity("ratio", "positive", 1.0), help="wanted chance that each mate goes in"),
        Field("clearance", Quantity("length", "not negative"), help="kept in free space"),
    ),
    lambda _name, values: values,
)
SCHEMAS: dict[str, Fields] = {"project": PROJECT, "product": PRODUCT, "cell": CELL, "errors": ERRORS}
"""By the role of a file, which is also the key that names it in project.yaml."""
