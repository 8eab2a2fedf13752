"""Progress where nobody watches a bar: lines, each once."""

from __future__ import annotations

import pytest

from handfast.cli.screen import progress


def test_a_line_for_every_so_many_and_none_twice_in_a_row(capsys: pytest.CaptureFixture[str]) -> None:
    with progress("planning") as tell:
        for name, done in (("pin", 0), ("pin", 0), ("cover", 1), ("pin", 0)):
            tell(name, done, 2)
    with progress("building", every=2) as tell:
        for done in range(5):
            tell("build", done, 5)
    assert capsys.readouterr().err.splitlines() == [
        "   planning: pin (1 of 2)", "   planning: cover (2 of 2)", "   planning: pin (1 of 2)",
        "   building: build (2 of 5)", "   building: build (4 of 5)",
    ]  # fmt: skip
