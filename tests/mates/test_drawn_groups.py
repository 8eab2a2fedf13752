"""Sub-assemblies of a drawing that can be built apart, and those that cannot, with the reason."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.geometry.cad.step_writer import at, write_step
from tests.verification.cad import draw

from handfast.geometry.cad.assembly import Assembly
from handfast.geometry.cad.read_step import read_step
from handfast.mates.from_cad.recognise import recognise

NAMES = ("base", "collar", "pin", "cap", "knob")
UP, ASIDE = (0, 0, 1), (1, 0, 0)


@pytest.fixture(scope="module")
def pinned(tmp_path_factory: pytest.TempPathFactory) -> Assembly:
    """A collar over a boss, a pin across both; and a cap, bored to sit on the boss above the collar."""
    base = draw.add(draw.box((-30, -30, 0), (30, 30, 10)), draw.rod((0, 0, 9), UP, 12, 31))
    base = draw.cut(base, draw.rod((-20, 0, 20), ASIDE, 4, 40))
    collar = draw.cut(draw.rod((0, 0, 10), UP, 24, 20), draw.rod((0, 0, 9), UP, 12, 22))
    collar = draw.cut(collar, draw.rod((-20, 0, 20), ASIDE, 4, 40))
    pin = draw.rod((-12, 0, 20), ASIDE, 4, 24)
    cap = draw.cut(draw.rod((0, 0, 30), UP, 24, 12), draw.rod((0, 0, 29), UP, 12, 11))
    knob = draw.rod((0, 0, 42), UP, 10, 8)
    cap = draw.cut(cap, draw.rod((0, 0, 41), UP, 6, 2))
    knob = draw.add(knob, draw.rod((0, 0, 41), UP, 6, 2))
    parts = [(n, s, at(0, 0, 0)) for n, s in zip(NAMES, (base, collar, pin, cap, knob), strict=True)]
    return read_step(write_step(tmp_path_factory.mktemp("cad") / "rig.step", "rig", parts))


def grouped(assembly: Assembly, **path: str) -> Assembly:
    """The assembly with parts drawn in sub-assemblies of these names."""
    instances = tuple(
        replace(i, path=("rig", path[i.name])) if i.name in path else replace(i, path=("rig",))
        for i in assembly.instances
    )
    return replace(assembly, instances=instances)


def test_what_comes_off_whole_is_built_apart(pinned: Assembly) -> None:
    guessed = recognise(grouped(pinned, cap="lid", knob="lid"))
    (lid,) = guessed.groups
    assert (lid.name, lid.base) == ("lid", "cap")
    knob = next(m for m in guessed.mates if m.mate.part == "knob")
    assert lid.mates == (knob.mate.name,)
    assert knob.mate.stays  # nothing clamps it: that it stays is asked
    assert [key for key, _ in knob.questions].count("stays") == 1
    order = [m.mate.part for m in guessed.mates]
    assert order.index("knob") < order.index("cap")


def test_what_is_pinned_to_the_base_is_none(pinned: Assembly) -> None:
    guessed = recognise(grouped(pinned, collar="clamped", pin="clamped"))
    assert guessed.groups == ()
    assert any("clamped is drawn as a sub-assembly, but it cannot come off whole" in n for n in guessed.notes)
    assert {"collar", "pin"} <= {m.mate.part for m in guessed.mates}
    assert not any(m.mate.stays for m in guessed.mates)


def test_a_folder_of_parts_that_do_not_touch_is_none(pinned: Assembly) -> None:
    guessed = recognise(grouped(pinned, pin="bought", knob="bought"))
    assert guessed.groups == ()
    assert any(
        "bought is drawn as a sub-assembly, but its parts do not all touch" in n for n in guessed.notes
    )
