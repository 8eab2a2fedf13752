from __future__ import annotations

import ast
from pathlib import Path

import pytest

from handfast import _kernel

STUB = ast.parse((Path(__file__).parents[2] / "src/handfast/_kernel.pyi").read_text())
FUNCTIONS = {node.name: node for node in STUB.body if isinstance(node, ast.FunctionDef)}
CLASSES = {node.name: node for node in STUB.body if isinstance(node, ast.ClassDef)}
CONSTANTS = {ast.unparse(node.target) for node in STUB.body if isinstance(node, ast.AnnAssign)}


Parameters = tuple[list[str], list[str], list[object]]


def names(node: ast.FunctionDef) -> tuple[list[str], list[str]]:
    """Before and after the star."""
    return [a.arg for a in node.args.args], [a.arg for a in node.args.kwonlyargs]


def told(node: ast.FunctionDef) -> Parameters:
    values = [d for d in node.args.defaults + node.args.kw_defaults if d is not None]
    return *names(node), [eval(ast.unparse(d)) for d in values]


def built(thing: object) -> Parameters:
    text, _, values = thing.__nb_signature__[0]  # type: ignore[attr-defined]
    head = text.split(" -> ")[0]
    for i in range(len(values or ())):  # nanobind writes the defaults as \0, \1, ...
        head = head.replace(f"\\{i}", "None", 1)
    node = ast.parse(head + ": ...").body[0]
    assert isinstance(node, ast.FunctionDef)
    return *names(node), list(values or ())


def test_the_stub_names_what_the_module_has_and_nothing_else() -> None:
    public = {name for name in vars(_kernel) if not name.startswith("_")}
    assert public == FUNCTIONS.keys() | CLASSES.keys() | CONSTANTS


@pytest.mark.parametrize("name", FUNCTIONS)
def test_functions_take_the_parameters_the_stub_tells(name: str) -> None:
    assert built(getattr(_kernel, name)) == told(FUNCTIONS[name])


@pytest.mark.parametrize("name", CLASSES)
def test_classes_have_the_members_the_stub_tells(name: str) -> None:
    found = getattr(_kernel, name)
    members = {node.name: node for node in CLASSES[name].body if isinstance(node, ast.FunctionDef)}
    assert {m for m in vars(found) if not m.startswith("_")} == members.keys() - {"__init__"}
    if "__init__" in members:
        assert built(found.__init__) == told(members["__init__"])
