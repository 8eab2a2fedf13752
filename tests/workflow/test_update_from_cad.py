"""Thirty revisions of a drawn rig against a project with hand edits: none is lost, nothing is taken for
another."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.verification.cad.assemblies import rig
from tests.verification.cad.revisions import REVISIONS, drawn, holds, revise, with_hand_edits

from handfast.workflow.update_from_cad import UpdateError, update_from_cad

SOME = (
    "pin moved 3 mm", "extra hole beside a pin's", "a screw fewer", "bush wider and moved", "mirrored",
    "renamed and moved",
    "block renamed",
)  # fmt: skip


@pytest.fixture(scope="module")
def edited(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return with_hand_edits(tmp_path_factory.mktemp("update"))


@pytest.mark.slow
@pytest.mark.parametrize("name", SOME)
def test_revision(edited: Path, tmp_path: Path, name: str) -> None:
    holds(edited, tmp_path, name)


def test_what_was_done_is_told(edited: Path, tmp_path: Path) -> None:
    updated, folder = revise(edited, tmp_path, REVISIONS["pin moved 1 mm"])
    assert updated.conflicts == ()
    assert any("block.dowel_a" in q or "moved by 1 mm" in q for q in updated.questions)
    assert "pin-1-in-block" in updated.again
    assert (folder / "cad" / "product_before.yaml").read_text() == (edited / "product.yaml").read_text()
    again = update_from_cad(folder, tmp_path / "new.step")
    assert (again.changes, again.conflicts, again.again) == ((), (), ())


def test_both_changed_is_a_conflict_and_the_hand_edit_stays(edited: Path, tmp_path: Path) -> None:
    folder = tmp_path / "rig"
    shutil.copytree(edited, folder)
    path = folder / "product.yaml"
    path.write_text(path.read_text().replace("diameter: 12 mm, fit: H7", "diameter: 12.1 mm, fit: H7", 1))
    updated = update_from_cad(folder, drawn(tmp_path / "new.step", rig(REVISIONS["bush wider"])))
    (conflict,) = (c for c in updated.conflicts if c.path[-1] == "diameter")
    assert (conflict.was, conflict.mine, conflict.drawn) == ("12 mm", "12.1 mm", "13 mm")
    assert "diameter: 12.1 mm, fit: H7" in path.read_text()


def test_a_project_that_was_not_begun_from_a_drawing_is_refused(tmp_path: Path) -> None:
    (tmp_path / "product.yaml").write_text("parts: {}\n")
    with pytest.raises(UpdateError, match="expected a project that was begun from a drawing"):
        update_from_cad(tmp_path, tmp_path / "none.step")
