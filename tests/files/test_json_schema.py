"""The JSON Schemas by an independent validator: they take what the reader takes, refuse what it refuses."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from tests.files.first_fit_copy import copy_to, edit, errors
from tests.files.slip import Slip, read_slips

from handfast.files.project_reader import read_project
from handfast.files.schema_files import pointer, schema_name, schema_texts
from handfast.files.units_pattern import quantity_pattern
from handfast.spatial import units

ROOT = Path(__file__).parents[2]
ROLES = ("project", "product", "cell", "errors")
PROJECTS = sorted(p.parent for p in (ROOT / "projects").glob("*/project.yaml"))
SCHEMAS = {role: json.loads(schema_texts()[schema_name(role)]) for role in ROLES}
SLIPS = read_slips(Path(__file__).parent / "slips.txt")


def complaints(role: str, data: Any) -> list[str]:
    """What a validator of JSON Schema, not of ours, says about a file."""
    return [error.message for error in Draft202012Validator(SCHEMAS[role]).iter_errors(data)]


@pytest.mark.parametrize("role", ROLES)
def test_they_are_schemas(role: str) -> None:
    Draft202012Validator.check_schema(SCHEMAS[role])


@pytest.mark.parametrize("role", ROLES)
def test_those_in_the_docs_are_those_of_the_program(role: str) -> None:
    written = (ROOT / "docs" / "schema" / schema_name(role)).read_text(encoding="utf-8")
    assert written == schema_texts()[schema_name(role)], "run `handfast schema --out docs/schema`"


@pytest.mark.parametrize("project", PROJECTS, ids=lambda p: p.name)
@pytest.mark.parametrize("role", ROLES)
def test_the_examples_keep_them_and_point_at_them(project: Path, role: str) -> None:
    text = (project / f"{role}.yaml").read_text(encoding="utf-8")
    assert complaints(role, yaml.safe_load(text)) == []
    assert text.startswith(pointer(role, "../../docs/schema"))


# What a schema cannot know: other files and values, the grammar of YAML, how large a number of text is.
BEYOND = (
    *("file-missing", "path-leaves-folder", "package-file", "values-disagree"),
    *("duplicate-key", "yaml", "not-utf-8", "tag", "merge", "key"),
)
TEXTS = ("1e999 g", "160 %", "[0, 0, 0]", "free_roll: yes")  # the last is true to YAML 1.1, text to YAML 1.2
KNOWABLE = [s for s in SLIPS if s.rule not in BEYOND and not any(text in s.new for text in TEXTS)]


@pytest.mark.parametrize("slip", KNOWABLE, ids=lambda s: s.name)
def test_slips_are_refused_by_both(slip: Slip, tmp_path: Path) -> None:
    project = copy_to(tmp_path)
    edit(project, slip.file, slip.old, slip.new)
    assert errors(read_project(project)[1])
    assert complaints(slip.file.removesuffix(".yaml"), yaml.safe_load((project / slip.file).read_text()))


def _leaves(data: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    items = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    below = [leaf for key, value in items for leaf in _leaves(value, (*path, key))]
    return below or [path]


VALUES = st.sampled_from(
    [
        *("10 mm", "-10 mm", "0 mm", "3 N m", "2 deg", "5 kg", "1e3 m/s", "50 %", "10", "unknown", "+z"),
        *("block", "block.bore", "shaft", "flat", "mesh.stl", "../a.stl", 10, 10.5, -1, 0, True),
        *([1, 0, 0], ["1 mm"], [], {}, {"a": 1}),
    ]
)


@settings(max_examples=200, derandomize=True, deadline=None)
@given(role=st.sampled_from(ROLES[1:]), where=st.floats(0, 1, exclude_max=True), value=VALUES)
def test_values_put_elsewhere_are_refused_by_both_or_by_neither(
    role: str, where: float, value: Any, tmp_path_factory: pytest.TempPathFactory
) -> None:
    project = copy_to(tmp_path_factory.mktemp("put"))
    file = project / f"{role}.yaml"
    data = yaml.safe_load(file.read_text())
    leaves = _leaves(data)
    *above, last = leaves[int(where * len(leaves))]
    target = data
    for key in above:
        target = target[key]
    target[last] = value
    file.write_text(yaml.safe_dump(data, sort_keys=False))
    refused = [f for f in errors(read_project(project)[1]) if f.rule not in BEYOND]
    told = complaints(role, data)
    assert bool(refused) == bool(told), (above, last, value, refused, told)


NUMBERS = st.from_regex(r"[+-]?([0-9]{1,3}\.?[0-9]{0,2}|\.[0-9]{1,2})([eE][+-]?[0-9])?", fullmatch=True)


@settings(max_examples=400, derandomize=True, deadline=None)
@given(
    dimension=st.sampled_from(sorted(units.DIMENSIONS)),
    number=NUMBERS | st.sampled_from(["0", "-0", "0.0", "+0e5", ".0", "-.5", "nan", "1,5", "1e", ""]),
    unit=st.sampled_from(["mm", "m", " mm", "deg", " N m", " N  m", "%", "", " ", "rpm", "µm", "kg x"]),
    sign=st.sampled_from(["any", "not negative", "positive"]),
)
def test_the_pattern_of_a_quantity_takes_what_the_unit_table_takes(
    dimension: str, number: str, unit: str, sign: Any
) -> None:
    text = number + unit
    try:
        value = units.parse(text, dimension)
    except units.UnitError:
        fits = False
    else:
        fits = sign == "any" or value > 0 or (sign == "not negative" and value == 0)
    schema = {"type": "string", "pattern": quantity_pattern(dimension, sign)}
    assert Draft202012Validator(schema).is_valid(text) == fits, text
