from __future__ import annotations

from dataclasses import replace

import pytest
from tests.files.first_fit_copy import ORIGINAL

from handfast.checking.check import check, check_folder
from handfast.checking.checked_project import CheckedProject
from handfast.checking.registry import RULES, explain
from handfast.files.project_reader import read_folder, read_project
from handfast.model.project import Project


def first_fit() -> Project:
    project, findings = read_project(ORIGINAL)
    assert project is not None, findings
    return project


def test_only_checking_makes_a_certificate() -> None:
    project = first_fit()
    with pytest.raises(TypeError, match=r"made by handfast\.checking\.check"):
        CheckedProject(project, ())
    certified = check(project)
    assert isinstance(certified, CheckedProject)
    assert certified.project == project
    # A changed copy is no certificate either.
    with pytest.raises(TypeError, match=r"made by handfast\.checking\.check"):
        replace(certified, project=replace(project, target=0.5))


def test_project_changed_in_memory_is_checked_as_it_is() -> None:
    project = first_fit()
    arms = tuple(replace(arm, home=(9.0, *arm.home[1:])) for arm in project.cell.arms)
    changed = replace(project, cell=replace(project.cell, arms=arms))
    findings = check(changed)
    assert isinstance(findings, tuple)
    assert {(f.rule, f.where) for f in findings} == {
        ("home-outside-limits", "arms.left.home.0"),
        ("home-outside-limits", "arms.right.home.0"),
    }
    with_places = check(changed, (), read_folder(ORIGINAL).sources)
    assert isinstance(with_places, tuple)
    assert all(f.file == "cell.yaml" and f.line > 0 for f in with_places)


def test_negative_sigma_in_memory_is_found() -> None:
    project = first_fit()
    source = replace(project.errors[0], sigma=(-1e-3, 0.0, 0.0, 0.0, 0.0, 0.0))
    findings = check(replace(project, errors=(source, *project.errors[1:])))
    assert isinstance(findings, tuple)
    assert [f.rule for f in findings] == ["implausible-sigma"]


def test_folder_and_project_give_the_same_verdict() -> None:
    one, two = check_folder(ORIGINAL), check(first_fit())
    assert isinstance(one, CheckedProject)
    assert one == two


def test_every_rule_is_explained_once() -> None:
    names = [rule.name for rule in RULES]
    assert len(names) == len(set(names))
    assert all(len(explain(name)) > 30 for name in names)
    with pytest.raises(KeyError, match="there are: acts-on-nothing"):
        explain("no-such-rule")
