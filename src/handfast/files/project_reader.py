"""The project folder, read into records."""

from __future__ import annotations

from collections.abc import Mapping as Values
from dataclasses import dataclass
from pathlib import Path as FilePathOnDisk
from typing import Any

from handfast.files.canonical import content_sha256
from handfast.files.inputs import hashed
from handfast.files.position import Path, Position, SourceMap
from handfast.files.reader import BROKEN, Reader
from handfast.files.report import Report, in_reading_order
from handfast.files.schema.project import PROJECT_FILE, SCHEMAS
from handfast.files.yaml_tree import read_tree
from handfast.model.error_source import ErrorSource
from handfast.model.finding import Finding
from handfast.model.project import InputFile, Project


@dataclass(frozen=True, slots=True)
class Reading:
    """What reading a folder gave.

    project: everything that could be read, or None if that is no project. It lacks the things named in
    `broken`, whose mistakes are among the findings; unless `usable`, it serves to look for more mistakes.
    """

    project: Project | None
    findings: tuple[Finding, ...]
    sources: SourceMap
    broken: frozenset[Path]

    @property
    def usable(self) -> bool:
        """True if nothing is wrong with the files."""
        return self.project is not None and not any(f.severity == "error" for f in self.findings)


def read_project(folder: str | FilePathOnDisk) -> tuple[Project | None, tuple[Finding, ...]]:
    """The project, or None, with all findings about its files. Nothing is raised, written or executed."""
    reading = read_folder(folder)
    return (reading.project if reading.usable else None), reading.findings


def read_folder(folder: str | FilePathOnDisk) -> Reading:
    """The same, with where each value was written. Nothing is raised, written or executed."""
    root = FilePathOnDisk(folder).absolute()
    report = Report()
    reader = Reader(root, report)
    inputs: list[InputFile] = []
    settings = _read_file(reader, "project", PROJECT_FILE, inputs)
    bodies: dict[str, Any] = {}
    for role in ("product", "cell", "errors"):
        named = reader.files.pop(("project", role), None)  # known even where something else is wrong
        if named is not None:
            bodies[role] = _read_file(reader, role, named, inputs)
    project = _assemble(root, settings, bodies, inputs, reader)
    _assumptions(project, reader)
    places = SourceMap(reader.places)
    return Reading(project, in_reading_order(report.findings), places, frozenset(reader.broken))


def _read_file(reader: Reader, role: str, shown: str, inputs: list[InputFile]) -> Any:
    tree = read_tree(reader.folder / shown, shown, reader.report)
    if tree is None:
        return BROKEN
    schema = SCHEMAS[role]
    inputs.append(InputFile(shown, content_sha256(tree, schema)))
    return reader.read(schema, tree, (role,), Position(shown, 1, 1))


def _assemble(
    root: FilePathOnDisk, settings: Any, bodies: Values[str, Any], inputs: list[InputFile], reader: Reader
) -> Project | None:
    if settings is BROKEN or any(bodies.get(role, BROKEN) is BROKEN for role in ("product", "cell")):
        return None
    errors = bodies.get("errors", ())
    inputs += hashed(root, set(reader.files.values()))
    return Project(
        settings["project"],
        str(root),
        bodies["product"],
        bodies["cell"],
        () if errors is BROKEN else errors,
        tuple(sorted(inputs, key=lambda i: i.path)),
        **{key: settings[key] for key in ("target", "clearance", "economy") if key in settings},
    )


def _assumptions(project: Project | None, reader: Reader) -> None:
    for source in project.errors if project is not None else ():
        if source.assumed:
            what = "stiffness" if source.gives else "sigma"
            where = ("errors", "sources", source.name, what)
            place = SourceMap(reader.places).at(*where)
            reader.report.assume(
                "assumed-error", place, where, f"a measured {what}", f"none; [{_six(source)}] is assumed",
                "measure it, or ask whoever knows",
            )  # fmt: skip


def _six(source: ErrorSource) -> str:
    if source.gives:
        shown = [f"{1e-3 / c:.3g} N/mm" for c in source.compliance[:3]]
        return ", ".join([*shown, *(f"{1 / c:.3g} N m/rad" for c in source.compliance[3:])])
    shown = [f"{1e3 * s:.3g} mm" for s in source.sigma[:3]]
    return ", ".join([*shown, *(f"{57.29577951308232 * s:.3g} deg" for s in source.sigma[3:])])
