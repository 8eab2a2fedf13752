"""handfast report and handfast export."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from handfast.cli.exit_codes import YES, UnusableError
from handfast.cli.open_project import open_project
from handfast.cli.saved_records import must_be_of, need, record_path
from handfast.cli.screen import progress, say, say_json
from handfast.files.project_reader import read_folder
from handfast.files.record_json import RECORDS_FOLDER
from handfast.kinematics.chain import load_chain
from handfast.model.chart import Chart
from handfast.page.saved import gather
from handfast.report.content import ReportInput

_LIBRARIES = {"reportlab": "PDF", "matplotlib": "figures"}


def do_report(folder: str, out: str, pdf: bool, as_json: bool) -> int:
    """Write one HTML file and a PDF of everything saved about the chart."""
    from handfast.page.make_sheet import make_sheet
    from handfast.report.html_report import html_report

    if pdf:
        must_have_libraries("report", "--no-pdf writes the HTML file alone")
    given, left_out = _given(folder)
    project = given.page.project
    with progress("writing", every=1) as tell:
        tell("the HTML file", 0, 2)
        sheet, geometry = make_sheet(project, read_folder(Path(folder)).sources, given.notes, given.page)
        files = {f"{project.name}-report.html": html_report(given, sheet, geometry).encode()}
        if pdf:
            from handfast.report.pdf_report import pdf_report

            tell("the PDF", 1, 2)
            files[f"{project.name}-report.pdf"] = pdf_report(given)
    return _wrote("report", Path(out), files, left_out, as_json)


def do_export(folder: str, out: str | None, figures: bool, as_json: bool) -> int:
    """Write joint paths, the animated cell, tables and figures."""
    from handfast.report.animated_cell import animated_cell
    from handfast.report.joint_paths import joint_paths_csv, joint_paths_json
    from handfast.report.tables_csv import tables

    if figures:
        must_have_libraries("export", "--no-figures leaves them out")
    given, left_out = _given(folder)
    page = given.page
    chains = {arm.name: load_chain(arm, page.project.folder) for arm in page.project.cell.arms}
    with progress("writing", every=1) as tell:
        tell("joint paths", 0, 3)
        files = {
            "joint-paths.csv": joint_paths_csv(page, chains).encode(),
            "joint-paths.json": joint_paths_json(page, chains).encode(),
        }
        tell("the animated cell", 1, 3)
        files["cell.glb"] = animated_cell(page.project, page.chart.body, chains)
        tell("tables and figures", 2, 3)
        files |= {f"tables/{name}": text.encode() for name, text in tables(given).items()}
        if figures:
            from handfast.report.figure_files import figure_files

            files |= {f"figures/{name}": data for name, data in figure_files(page).items()}
    return _wrote("export", Path(out or f"out/{page.project.name}"), files, left_out, as_json)


def _given(folder: str) -> tuple[ReportInput, tuple[str, ...]]:
    checked = open_project(folder)
    chart = need(folder, "chart", Chart)
    must_be_of(checked.project, chart, folder)
    page, left_out = gather(checked.project, chart, Path(folder) / RECORDS_FOLDER)
    said = tuple(f"left out {record_path(folder, n)}: it belongs to another chart" for n in left_out)
    return ReportInput(page, checked.notes), said


def must_have_libraries(verb: str, without: str) -> None:
    """Raises UnusableError if the extra that draws PDF and figures is not installed."""
    missing = [f"{name} ({what})" for name, what in _LIBRARIES.items() if find_spec(name) is None]
    if missing:
        raise UnusableError(
            f"{verb}: expected the libraries of the extra `report`, found no {', no '.join(missing)}; "
            f"`pip install 'handfast[report]'` brings them, {without}"
        )


def _wrote(verb: str, out: Path, files: dict[str, bytes], said: tuple[str, ...], as_json: bool) -> int:
    for name, data in files.items():
        path = out / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        except OSError as error:
            raise UnusableError(f"{path}: cannot be written: {error.strerror}") from error
    if as_json:
        written = [{"file": str(out / n), "bytes": len(d)} for n, d in files.items()]
        say_json(verb, {"files": written, "left_out": list(said)})
        return YES
    for line in said:
        say(line)
    for name, data in files.items():
        say(f"wrote {out / name}  ({max(1, len(data) // 1000)} kB)")
    if verb == "export":
        say("Joint paths move machines: read the cautions at their head, add the checks of the control plan.")
    return YES
