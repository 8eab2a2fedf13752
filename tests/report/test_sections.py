"""What the sections of a report say, against the chart, the standards and counts by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from handfast.model.project import Project
from handfast.report.content import Block, ReportInput, Section, Table, Words
from handfast.report.control_plan import control_plan
from handfast.report.failure_modes import failure_modes
from handfast.report.job import assumptions, job
from handfast.report.loading_sheet import loading_rows, loading_sheet
from handfast.report.made_from import made_from
from handfast.report.parts_and_fits import parts_and_fits
from handfast.report.quantities import degrees, micrometres, millimetres, per_million, unbroken
from handfast.report.tables_csv import tables, written
from handfast.report.windows import windows


def table(made: Section, kind: str) -> dict[str, dict[str, str]]:
    """Rows by their first cell, by head."""
    found = next(b for b in made.blocks if isinstance(b, Table) and b.kind == kind)
    return {row[0]: dict(zip(found.head, row, strict=True)) for row in found.rows}


def words(blocks: tuple[Block, ...]) -> str:
    return "\n".join(b.text for b in blocks if isinstance(b, Words))


def test_every_table_has_as_many_cells_as_its_head_and_widths(given: ReportInput) -> None:
    made = (job, assumptions, parts_and_fits, windows, control_plan, failure_modes, made_from, loading_sheet)
    found = [b for section in made for b in section(given).blocks if isinstance(b, Table)]
    assert len(found) > 12
    for t in found:
        assert {len(t.head), len(t.widths)} == {len(t.head)}, t.kind
        assert {len(row) for row in t.rows} == {len(t.head)}, t.kind


def test_fits_have_the_clearances_of_the_standard(given: ReportInput) -> None:
    """ISO 286-2: 8 H7 is 0 to +15 um, 8 g6 -5 to -14 um, 8 E9 +25 to +61 um."""
    fits = table(parts_and_fits(given), "fits")
    assert (fits["pin-in-bore"]["fit"], fits["pin-in-bore"]["clearance"]) == ("8 H7/g6", "+5 to +29 µm")
    assert (fits["cover-on-block"]["fit"], fits["cover-on-block"]["clearance"]) == (
        "8 E9/g6",
        "+30 to +75 µm",
    )
    assert fits["cover-screw"]["home and limits"] == "6 mm in, 1.8 N m"


def test_every_loaded_place_is_on_the_loading_sheet(given: ReportInput, project: Project) -> None:
    head, rows = loading_rows(project)
    by_place = {row[1]: dict(zip(head, row, strict=True)) for row in rows}
    held = {f"{h.name}.{p.name}" for h in project.cell.holders for p in h.places if p.holds}
    assert set(by_place) == held
    assert by_place["tray.pin"]["load"] == "pin"
    # cell.yaml: the tray at (-230, 400, 0), the place at (0, -70, 32) on it, slack 0.15 mm.
    assert by_place["tray.pin"]["stands at x, y, z"] == "-230.0, 330.0, 32.0 mm"
    assert by_place["tray.pin"]["may lie off by"] == "± 0.15 mm"
    assert by_place["stand.driver"]["how many"] == "stays: a tool"
    pictured = {b.kind for b in loading_sheet(given).blocks if isinstance(b, Table)}
    assert pictured == {"loading-nest", "loading-tray", "loading-presenter", "loading-stand"}


def test_a_stock_is_told_on_the_loading_sheet(project: Project) -> None:
    """Four screws are presented one after another."""
    holders = tuple(
        replace(h, places=tuple(replace(p, stock=4) if p.holds == "screw" else p for p in h.places))
        for h in project.cell.holders
    )
    head, rows = loading_rows(replace(project, cell=replace(project.cell, holders=holders)))
    many = {row[head.index("load")]: row[head.index("how many")] for row in rows}
    assert many["screw"] == "4, one for each build"
    assert many["pin"] == "one for each build"


def test_windows_are_what_the_executor_judges_by(given: ReportInput) -> None:
    """The grasp slips at 54 N, half of it is 27 N; the mate's own limit is higher."""
    made = windows(given)
    insertion = table(made, "force-windows")["16"]
    assert (insertion["force at most"], insertion["because of"]) == ("27.0 N", "half of what the grasp holds")
    touch = table(made, "touch-windows")["12"]
    assert (touch["contact at"], touch["expected after"], touch["gives up after"]) == (
        "3.0 N",
        "6 mm",
        "10 mm",
    )
    screw = table(made, "torque-windows")["26"]
    assert screw["ends at"] == "1.8 N m"


def test_the_control_plan_checks_what_the_chart_does(given: ReportInput) -> None:
    rows = next(b for b in control_plan(given).blocks if isinstance(b, Table)).rows
    checks = [(int(r[0]), r[2]) for r in rows]
    elements = given.page.chart.body.elements
    asked = {e.number for e in elements if e.kind in ("grasp", "locate", "assemble", "use")}
    looked = {e.number for e in elements if e.kind == "reach" and e.object in ("pin", "cover", "block")
              and e.target.startswith("place.")}  # fmt: skip
    assert {n for n, _ in checks} == asked | looked
    assert (4, "width of the jaws") in checks
    assert (12, "where contact is met") in checks
    assert all(r[5].endswith("stop") for r in rows), "what is not met never goes on unsaid"
    width = next(r for r in rows if r[0] == "4")
    assert width[3] == "8 mm ± 0.5 mm"


def test_causes_are_the_ledgers_and_nothing_is_rated(given: ReportInput) -> None:
    found = table(failure_modes(given), "failure-modes")
    row = found["pin-in-bore"]
    assert row["causes, share of the variance"].startswith(
        "nest put on the table 62 %; right arm against table 9 %"
    )
    assert "<bore & drilled> 3 %, assumed" in row["causes, share of the variance"]
    assert "touch 12" in row["noticed now by"]
    assert row["predicted of a million"] == "2000 to 9000", "99.1 to 99.8 % go in"
    assert found["cover-on-block"]["predicted of a million"] == "unknown"
    assert {(r["S"], r["O"], r["D"]) for r in found.values()} == {("", "", "")}


def test_assumptions_name_file_and_line_and_what_is_not_shown(given: ReportInput) -> None:
    made = assumptions(given)
    assert table(made, "notes")["errors.yaml:12"]["to be surer"] == "measure it & write it"
    assert "cover-on-block is not budgeted" in words(made.blocks)


def test_hashes_are_whole(given: ReportInput) -> None:
    hashes = table(made_from(given), "hashes")
    assert {len(row["sha256"]) for row in hashes.values()} == {64}
    assert {f.path for f in given.page.project.inputs} < set(hashes)
    assert "record chart" in hashes


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (millimetres(0.00015), "0.15 mm"), (millimetres(0.02), "20 mm"), (millimetres(0.1), "100 mm"),
        (micrometres(-5e-6, 29e-6), "-5 to +29 µm"), (degrees(0.7853981633974483), "45 deg"),
        (per_million(0.991, 0.998), "2000 to 9000"), (per_million(0.878, 0.878), "122000"),
        (per_million(1.0, 1.0), "under 1"), (per_million(0.99999, 0.9999999), "up to 10"),
        (unbroken("at 1.8 N m, 5 mm/s, ± 3 %"), "at 1.8\u00a0N\u00a0m, 5\u00a0mm/s, ±\u00a03\u00a0%"),
        (unbroken("8 places of 3 parts"), "8 places of 3 parts"),
    ],
)  # fmt: skip
def test_quantities_as_printed(made: str, said: str) -> None:
    assert made == said


def test_tables_are_files_that_spreadsheets_read(given: ReportInput) -> None:
    """RFC 4180: a cell with a comma or a quote stands in quotes, quotes are doubled."""
    assert written(("a", "b"), [("1, 2", 'say "yes"')]) == 'a,b\n"1, 2","say ""yes"""\n'
    files = tables(given)
    named = (
        "chart",
        "ledger",
        "contributors",
        "trials",
        "loading-sheet",
        "control-plan",
        "failure-modes",
        "fits",
    )
    assert {f"{name}.csv" for name in named} <= set(files)
    assert len(files["chart.csv"].splitlines()) == 1 + len(given.page.chart.body.elements)
