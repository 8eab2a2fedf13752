"""Arms that cannot be loaded: each mistake, and the place, the expected and the found in its message."""

from __future__ import annotations

from pathlib import Path

import pytest

from handfast.kinematics.chain import ArmError, load_chain

from .urdf import Joint, arm, written

GOOD = written([Joint(), Joint()])


def solid(geometry: str) -> str:
    return written([Joint(), Joint(solid=f"<collision><geometry>{geometry}</geometry></collision>")])


def limit(text: str) -> str:
    return written([Joint(), Joint(limit=text)])


SLIPS = [
    ("not XML", "<robot>", "line 1", "expected XML", "no element found"),
    ("not a robot", "<model/>", "arm.urdf", "<robot>", "<model>"),
    ("entity", '<!DOCTYPE robot [<!ENTITY a "b">]>' + GOOD, "arm.urdf", "plain URDF", "entity"),
    ("no chain", GOOD.replace('child link="l2"', 'child link="elsewhere"'), "'l2'", "chain", "'l2'"),
    ("a ring", GOOD.replace('parent link="l0"', 'parent link="l2"'), "'l0'", "chain of joints", "ends at"),
    (
        "slides",
        written([Joint(), Joint("prismatic")]),
        "'j2'",
        "revolute, continuous or fixed",
        "'prismatic'",
    ),
    ("floats", written([Joint(), Joint("floating")]), "'j2'", "revolute, continuous or fixed", "'floating'"),
    ("nothing moves", written([Joint("fixed"), Joint("fixed")]), "'l0'", "moving joint", "'l2'"),
    ("no parent", GOOD.replace('<parent link="l1"/>', ""), "'j2'", "parent", "no parent"),
    (
        "NaN",
        GOOD.replace('xyz="0.0 0.0 0.0"', 'xyz="0 nan 0"', 1),
        "'j1', origin xyz",
        "3 finite",
        "'0 nan 0'",
    ),
    ("short", GOOD.replace('rpy="0.0 0.0 0.0"', 'rpy="0 0"', 1), "'j1', origin rpy", "3 finite", "'0 0'"),
    (
        "a word",
        GOOD.replace('xyz="0.0 0.0 0.0"', 'xyz="0 a 0"', 1),
        "'j1', origin xyz",
        "3 finite",
        "'0 a 0'",
    ),
    (
        "no way",
        GOOD.replace('axis xyz="0.0 0.0 1.0"', 'axis xyz="0 0 0"', 1),
        "'j1', axis",
        "direction",
        "0.0, 0.0",
    ),
    ("axis word", GOOD.replace('axis xyz="0.0 0.0 1.0"', 'axis xyz="z"', 1), "'j1', axis", "3 finite", "'z'"),
    ("no speed", limit('lower="0" upper="1"'), "'j2', limit velocity", "1 finite number", "''"),
    (
        "no limit",
        GOOD.replace('<limit lower="-3" upper="3" velocity="2" effort="1"/>', "", 1),
        "'j1'",
        "velocity",
        "none",
    ),
    ("still", limit('lower="0" upper="1" velocity="0"'), "'j2', limit velocity", "more than 0", "0.0"),
    (
        "speed a word",
        limit('lower="0" upper="1" velocity="fast"'),
        "'j2', limit velocity",
        "1 finite",
        "'fast'",
    ),
    (
        "back to front",
        limit('lower="1" upper="-1" velocity="1"'),
        "'j2', limit",
        "lower < upper",
        "1.0 and -1.0",
    ),
    ("limits a word", limit('lower="low" upper="1" velocity="1"'), "'j2', limit lower", "1 finite", "'low'"),
    ("endless", limit('lower="-inf" upper="1" velocity="1"'), "'j2', limit lower", "1 finite", "'-inf'"),
    ("no shape", solid(""), "'l2', collision", "box, cylinder, sphere or mesh", "nothing"),
    ("odd shape", solid("<cone/>"), "'l2', collision", "box, cylinder, sphere or mesh", "<cone>"),
    ("flat box", solid('<box size="1 0 1"/>'), "'l2', collision, box size", "more than 0", "'1 0 1'"),
    ("short box", solid('<box size="1 1"/>'), "'l2', collision, box size", "3 finite", "'1 1'"),
    ("no radius", solid('<cylinder length="1"/>'), "'l2', collision, cylinder radius", "1 finite", "''"),
    ("negative", solid('<sphere radius="-1"/>'), "'l2', collision, sphere radius", "more than 0", "'-1'"),
    ("no file", solid("<mesh/>"), "'l2', collision, mesh", "filename", "none"),
    (
        "stretched",
        solid('<mesh filename="a.stl" scale="1 2 1"/>'),
        "mesh scale",
        "one scale",
        "[1.0, 2.0, 1.0]",
    ),
]


@pytest.mark.parametrize(
    ("text", "place", "expected", "found"), [s[1:] for s in SLIPS], ids=[s[0] for s in SLIPS]
)
def test_a_bad_urdf_is_refused_in_words(
    text: str, place: str, expected: str, found: str, tmp_path: Path
) -> None:
    path = tmp_path / "arm.urdf"
    path.write_text(text)
    with pytest.raises(ArmError) as refused:
        load_chain(arm("arm.urdf", "l2", 2), str(tmp_path))
    message = str(refused.value)
    assert str(path) in message
    assert place in message
    assert expected in message
    assert found in message


def test_the_unspoilt_one_loads(tmp_path: Path) -> None:
    (tmp_path / "arm.urdf").write_text(GOOD)
    assert load_chain(arm("arm.urdf", "l2", 2), str(tmp_path)).joints == ("j1", "j2")


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(ArmError, match=r"none\.urdf: expected a URDF file, cannot be read: No such file"):
        load_chain(arm("none.urdf", "l2", 2), str(tmp_path))


def test_bytes_that_are_not_utf_8_are_named(tmp_path: Path) -> None:
    (tmp_path / "arm.urdf").write_bytes(b"<robot name='\xff'/>")
    with pytest.raises(ArmError, match=r"expected UTF-8, found the byte 0xff at 13"):
        load_chain(arm("arm.urdf", "l2", 2), str(tmp_path))


@pytest.mark.parametrize("n", [1, 3])
def test_home_and_accelerations_have_one_value_per_joint(n: int, tmp_path: Path) -> None:
    (tmp_path / "arm.urdf").write_text(GOOD)
    with pytest.raises(ArmError, match=f"arm 'left': home needs 2 values, one per joint, found {n}"):
        load_chain(arm("arm.urdf", "l2", n), str(tmp_path))
