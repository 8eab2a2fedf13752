"""One planned project for all tests that need one."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from tests.cli.test_commands import FIRST_FIT, answer, handfast


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """A copy of first-fit with a chart and a ledger, to be copied, never written to; what plan answered."""
    where = tmp_path_factory.mktemp("thread") / "first-fit"
    shutil.copytree(FIRST_FIT, where, ignore=shutil.ignore_patterns("records"))
    found = answer("plan", where, "--seed", "7")
    handfast("budget", where)
    return where, found


@pytest.fixture
def planned(
    planned_once: tuple[Path, dict[str, Any]], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Path, dict[str, Any]]:
    """A copy of its own for every test: what one leaves there (a run's log) is not found by the next."""
    where, found = planned_once
    return Path(shutil.copytree(where, tmp_path_factory.mktemp("own") / "first-fit")), found
