"""What holds for every noun (immutable, comparable, explained), and what the few that compute give."""

from __future__ import annotations

import ast
from dataclasses import FrozenInstanceError, fields, is_dataclass
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike
from tests.files.first_fit_copy import ORIGINAL
from tests.model.any_record import any_of

import handfast.model
from handfast.files.project_reader import read_project
from handfast.model.project import Project
from handfast.model.record import Record
from handfast.model.scene import Attachment, Scene
from handfast.spatial.pose import Pose

MODULES = [import_module(f"handfast.model.{m.name}") for m in iter_modules(handfast.model.__path__)]
NOUNS = [
    value
    for module in MODULES
    for value in vars(module).values()
    if isinstance(value, type) and is_dataclass(value) and value.__module__ == module.__name__
]


def close(a: ArrayLike, b: ArrayLike) -> None:
    np.testing.assert_allclose(np.asarray(a), np.asarray(b), rtol=0, atol=1e-15)


def first_fit() -> Project:
    project, findings = read_project(ORIGINAL)
    assert project is not None, findings
    return project


def test_there_are_nouns() -> None:
    assert len(NOUNS) > 40


@pytest.mark.parametrize("noun", NOUNS, ids=lambda n: n.__name__)
def test_noun_is_frozen_and_hashable(noun: type[Any]) -> None:
    kind = Record[Pose] if noun is Record else noun
    value = any_of(kind, np.random.default_rng(1))
    with pytest.raises((FrozenInstanceError, AttributeError)):
        setattr(value, fields(noun)[0].name, None)
    assert not hasattr(value, "__dict__")
    twin = any_of(kind, np.random.default_rng(1))
    assert twin == value
    assert hash(twin) == hash(value)


@pytest.mark.parametrize("noun", NOUNS, ids=lambda n: n.__name__)
def test_noun_says_what_it_is(noun: type[Any]) -> None:
    assert noun.__doc__
    assert not noun.__doc__.startswith(f"{noun.__name__}(")  # what dataclass writes where nobody did


@pytest.mark.parametrize("module", MODULES, ids=lambda m: m.__name__.rpartition(".")[2])
def test_model_stands_on_spatial_alone(module: Any) -> None:
    tree = ast.parse(Path(str(module.__file__)).read_text())
    names = [n.module or "" for n in ast.walk(tree) if isinstance(n, ast.ImportFrom)]
    names += [a.name for n in ast.walk(tree) if isinstance(n, ast.Import) for a in n.names]
    allowed: tuple[str, ...] = (
        "handfast.model",
        "handfast.spatial",
        "handfast.standards",
        "__future__",
        "dataclasses",
        "typing",
        "collections",
        "math",
    )
    if module.__name__ == "handfast.model.package_file":
        # Planner and proof may share no code but this layer's, and both must find the same installed file.
        allowed += ("importlib.util", "pathlib", "re", "sys")
    assert [n for n in names if not n.startswith(allowed)] == []


@pytest.mark.parametrize(
    ("ask", "answer"),
    [
        (lambda p: p.product.part("pinn"), "part 'pinn' is not there; there are: block, cover, pin, screw"),
        (
            lambda p: p.product.part("pin").feature("bore"),
            "on part 'pin' the feature 'bore' is not there; there are: tip, top",
        ),
        (lambda p: p.product.mate("x"), "there are: pin-in-bore, cover-on-block, cover-screw"),
        (lambda p: p.cell.arm("third"), "arm 'third' is not there; there are: left, right"),
        (lambda p: p.cell.gripper_of("third"), "arm 'third' carries no gripper"),
        (lambda p: p.cell.place_of("gear"), "'gear' lies in no holder"),
    ],
)
def test_name_that_is_not_there_is_answered_with_those_that_are(ask: Any, answer: str) -> None:
    with pytest.raises(KeyError) as told:
        ask(first_fit())
    assert answer in told.value.args[0]


def test_scene_moves_one_thing_and_leaves_the_rest() -> None:
    on_tray = Attachment("pin", "place.tray.pin", Pose())
    cover = Attachment("cover", "place.tray.cover", Pose())
    in_hand = Attachment("pin", "hand.left", Pose((0.0, 0.0, 0.01)))
    before = Scene((on_tray, cover), (("left", 0.07),))
    after = before.moved(in_hand).opened("left", 0.008)
    assert after.of("pin") == in_hand
    assert after.of("cover") == cover
    assert dict(after.openings) == {"left": 0.008}
    assert before.of("pin") == on_tray
    with pytest.raises(KeyError, match="'screw' is not in the scene"):
        after.of("screw")


def test_first_fit_is_read_as_it_is_written() -> None:
    # Values copied by eye from the files.
    project = first_fit()
    bore = project.product.part("block").feature("bore")
    assert bore.diameter == pytest.approx(0.008)
    assert bore.length == pytest.approx(0.024)
    assert bore.fit == "H7"
    close(bore.frame.matrix[:3], [[1.0, 0, 0, -0.028], [0.0, -1, 0, 0], [0.0, 0, -1, 0.03]])
    end = project.product.part("block").feature("end").frame.matrix
    close(end[:3], [[0.0, 0, -1, -0.05], [1.0, 0, 0, 0], [0.0, -1, 0, 0.015]])
    right = project.cell.arm("right")
    assert right.urdf == project.cell.arm("left").urdf
    close(right.base.matrix[:2], [[0.0, -1, 0, 0.5], [1.0, 0, 0, 0]])
    assert right.speed == pytest.approx(0.6)
    driver = project.cell.tool("driver")
    assert driver.spindle.speed == pytest.approx(600 * 2 * np.pi / 60)
    close(driver.bit.matrix[:3, 2], [0.0, 0, -1])
    mate = project.product.mate("cover-on-block")
    assert [p.depth for p in mate.pairs] == pytest.approx([-0.02, -0.006])
    assert mate.held_until == "cover-screw"
    assert project.product.mate("pin-in-bore").touches == (("block", "end"),)
    assert project.target == pytest.approx(0.995)
