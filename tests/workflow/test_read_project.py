"""Loading and checking."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import handfast as hf
from handfast.workflow.read_project import UnusableProjectError

FIRST_FIT = Path(__file__).parents[2] / "projects" / "first-fit"


def test_first_fit_is_usable() -> None:
    checked = hf.check(hf.load(FIRST_FIT))
    assert [m.name for m in checked.project.product.mates] == ["pin-in-bore", "cover-on-block", "cover-screw"]


def test_a_mistake_is_raised_with_all_findings(tmp_path: Path) -> None:
    folder = tmp_path / "p"
    shutil.copytree(FIRST_FIT, folder, ignore=shutil.ignore_patterns("records"))
    product = folder / "product.yaml"
    text = (
        product.read_text()
        .replace("diameter: 8 mm, fit: H7", "diameter: 8, fit: H7")
        .replace("mass: 16 g", "mas: 16 g")
    )
    product.write_text(text)
    with pytest.raises(UnusableProjectError, match=r"product\.yaml:\d+:\d+") as caught:
        hf.check(hf.load(folder))
    rules = {f.rule for f in caught.value.findings}
    assert {"unit", "unknown-key"} <= rules


def test_a_folder_that_is_none() -> None:
    with pytest.raises(UnusableProjectError):
        hf.check(hf.load("/nowhere/at/all"))
