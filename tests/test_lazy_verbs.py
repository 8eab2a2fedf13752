"""`import handfast` is instant: nothing heavy loads before a verb is asked for."""

from __future__ import annotations

import subprocess
import sys

import pytest

import handfast

HEAVY = {
    "numpy",
    "pinocchio",
    "coal",
    "mujoco",
    "ortools",
    "manifold3d",
    "yaml",
    "typer",
    "rich",
    "handfast.workflow",
}


def test_importing_the_package_loads_nothing_heavy() -> None:
    program = "import sys, handfast; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "handfast" in loaded
    assert not HEAVY & set(loaded)


def test_an_unknown_verb_is_named_with_those_there_are() -> None:
    with pytest.raises(AttributeError, match=r"'asemble'; it has: budget, check, commission, learn, load"):
        handfast.asemble  # noqa: B018 - the access is what is tested


def test_the_verbs_are_listed_for_completion() -> None:
    assert {
        "load",
        "check",
        "plan",
        "verify",
        "settle",
        "trial",
        "reliability",
        "run",
        "budget",
        "why",
    } <= set(dir(handfast))
