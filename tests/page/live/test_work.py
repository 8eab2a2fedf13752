"""The worker of the page plans an edit from the chart before."""

from __future__ import annotations

import shutil
from pathlib import Path

from handfast.files.record_json import load, sha256
from handfast.model.chart import Chart
from handfast.page.live.current import look
from handfast.page.live.work import RECORDS, _planned

FIRST_FIT = Path(__file__).parents[3] / "projects" / "first-fit"


def test_an_edit_is_planned_from_the_chart_before(tmp_path: Path) -> None:
    folder, out = tmp_path / "first-fit", tmp_path / "out"
    shutil.copytree(FIRST_FIT, folder, ignore=shutil.ignore_patterns("records"))

    def planned() -> Chart:
        looked = look(folder, out / RECORDS)
        assert looked.checked is not None
        found = _planned(looked, looked.checked, out, 7)
        assert found is not None
        return found.body

    first = planned()
    before = sha256(load(out / RECORDS / "chart.json", Chart))
    cell = folder / "cell.yaml"
    text = cell.read_text(encoding="utf-8")
    cell.write_text(text.replace("[230 mm, 520 mm, 0 mm]", "[232 mm, 520 mm, 0 mm]"), encoding="utf-8")
    second = planned()
    saved = load(out / RECORDS / "chart.json", Chart)
    assert [f.sha256 for f in saved.inputs if f.path == "chart"] == [before]
    apart = [[e.motions for e in c.elements if e.mate == "pin-in-bore"] for c in (first, second)]
    assert apart[0] == apart[1]
